//! A little disorder in what lanes are worth: ground that is filled again comes out differently. The same disorder
//! every time, so that the same input gives the same plan.

use super::lane::Lane;

/// How much disorder, and which.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Luck {
    /// A lane may be held to be worth less than it is by up to this share.
    pub(super) most: f64,
    /// Tells one disorder from another.
    pub(super) salt: u64,
}

impl Luck {
    /// What a lane's worth is multiplied by.
    pub(super) fn of(self, lane: &Lane) -> f64 {
        if self.most <= 0.0 {
            return 1.0;
        }
        let at = lane.start().at;
        let mixed = scattered(at.x_m.to_bits() ^ scattered(at.y_m.to_bits() ^ self.salt));
        // The upper 53 bits are a share of one.
        1.0 - self.most * (mixed >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Scatters bits so that neighbours come out far apart: the finalizer of MurmurHash3 (A. Appleby, public domain).
fn scattered(mut bits: u64) -> u64 {
    bits = (bits ^ (bits >> 33)).wrapping_mul(0xff51_afd7_ed55_8ccd);
    bits = (bits ^ (bits >> 33)).wrapping_mul(0xc4ce_b9fe_1a85_ec53);
    bits ^ (bits >> 33)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::plane::Xy;

    #[test]
    fn luck_is_even_and_no_greater_than_it_may_be() {
        let lucks: Vec<f64> = (0..2000)
            .map(|k| {
                let lane = Lane::straight(Xy::new(f64::from(k) * 0.1, 3.0), 0.0, 5.0);
                Luck { most: 0.4, salt: 7 }.of(&lane)
            })
            .collect();
        assert!(lucks.iter().all(|luck| (0.6..=1.0).contains(luck)));
        let mean = lucks.iter().sum::<f64>() / 2000.0;
        // Even between 0.6 and 1: the mean of 2000 is within 0.01 of 0.8 (four of its standard errors).
        assert!((mean - 0.8).abs() < 0.01, "{mean}");
        let lane = Lane::straight(Xy::new(1.0, 3.0), 0.0, 5.0);
        assert!((Luck::default().of(&lane) - 1.0).abs() < f64::EPSILON);
    }
}
