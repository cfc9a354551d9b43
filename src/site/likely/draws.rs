//! Random numbers by count: every number is a function of its key and its place, whatever was drawn before it
//! and on whichever thread.
//!
//! Philox 4x32 with ten rounds (J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers: as
//! easy as 1, 2, 3", SC 2011), from memory; the test holds it against the vectors published with it. Normal
//! numbers by Box and Muller (*Annals of Mathematical Statistics* 29, 1958). Logarithm and angles come from
//! `libm`, so that they are the same bits on every machine.

use std::f64::consts::TAU;

/// Rounds (published: Salmon et al. 2011).
const ROUNDS: u32 = 10;
/// Multipliers (published: Salmon et al. 2011).
const MULTIPLIERS: [u32; 2] = [0xD251_1F53, 0xCD9E_8D57];
/// Weyl constants of the key (published: Salmon et al. 2011).
const WEYL: [u32; 2] = [0x9E37_79B9, 0xBB67_AE85];

/// What a number is for: each kind has numbers of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
pub(super) enum Purpose {
    /// Error of a receiver.
    Error,
    /// Error on top of it, where the receiver disowns its places.
    Extra,
    /// When in its interval a switch was thrown.
    Switch,
    /// How far the delays of a section differ from those stated.
    Delay,
}

/// The numbers of one leg.
#[derive(Debug, Clone, Copy)]
pub(super) struct Draws {
    key: [u32; 2],
}

impl Draws {
    /// Of the leg of a site with this rank.
    pub(super) fn of(site: &str, leg: usize) -> Self {
        // FNV-1a, 64 bits (G. Fowler, L. C. Noll, K.-P. Vo).
        let mut hash: u64 = 0xCBF2_9CE4_8422_2325;
        let bytes = site.bytes().chain((leg as u64).to_le_bytes());
        for byte in bytes {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
        }
        Self {
            key: halves(hash as i64),
        }
    }

    /// Two numbers, even in (0, 1].
    pub(super) fn even(self, purpose: Purpose, draw: u32, at: i64) -> (f64, f64) {
        let [low, high] = halves(at);
        let [a, b, c, d] = philox([low, high, draw, purpose as u32], self.key);
        (share(a, b), share(c, d))
    }

    /// Two independent normal numbers of variance 1.
    pub(super) fn normal(self, purpose: Purpose, draw: u32, at: i64) -> (f64, f64) {
        let (u, v) = self.even(purpose, draw, at);
        let radius = (-2.0 * libm::log(u)).sqrt();
        let (sin, cos) = libm::sincos(TAU * v);
        (radius * cos, radius * sin)
    }
}

fn halves(whole: i64) -> [u32; 2] {
    [whole as u32, (whole >> 32) as u32]
}

/// The upper 53 bits as a share, never 0.
fn share(low: u32, high: u32) -> f64 {
    let bits = (u64::from(high) << 32 | u64::from(low)) >> 11;
    (bits + 1) as f64 * (1.0 / (1_u64 << 53) as f64)
}

fn philox(mut counter: [u32; 4], mut key: [u32; 2]) -> [u32; 4] {
    for _ in 0..ROUNDS {
        let product = |m: u32, x: u32| {
            let product = u64::from(m) * u64::from(x);
            [(product >> 32) as u32, product as u32]
        };
        let [high0, low0] = product(MULTIPLIERS[0], counter[0]);
        let [high1, low1] = product(MULTIPLIERS[1], counter[2]);
        counter = [
            high1 ^ counter[1] ^ key[0],
            low1,
            high0 ^ counter[3] ^ key[1],
            low0,
        ];
        key = [key[0].wrapping_add(WEYL[0]), key[1].wrapping_add(WEYL[1])];
    }
    counter
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The three vectors for `philox4x32 10` in `kat_vectors` of the authors' library, from memory.
    #[test]
    fn numbers_are_those_of_the_published_vectors() {
        let ones = u32::MAX;
        assert_eq!(
            philox([0; 4], [0; 2]),
            [0x6627_E8D5, 0xE169_C58D, 0xBC57_AC4C, 0x9B00_DBD8]
        );
        assert_eq!(
            philox([ones; 4], [ones; 2]),
            [0x408F_276D, 0x41C8_3B0E, 0xA20B_C7C6, 0x6D54_51FD]
        );
        // The first digits of pi in base 16.
        assert_eq!(
            philox(
                [0x243F_6A88, 0x85A3_08D3, 0x1319_8A2E, 0x0370_7344],
                [0xA409_3822, 0x299F_31D0]
            ),
            [0xD16C_FE09, 0x94FD_CCEB, 0x5001_E420, 0x2412_6EA1]
        );
    }

    /// Mean 0, variance 1, 31.7 % beyond 1 (tables of the normal distribution), within four standard errors.
    #[test]
    fn normal_numbers_are_normal() {
        let draws = Draws::of("elm", 0);
        let numbers: Vec<f64> = (0..50_000)
            .flat_map(|at| {
                let (a, b) = draws.normal(Purpose::Error, 3, at);
                [a, b]
            })
            .collect();
        let count = numbers.len() as f64;
        let mean = numbers.iter().sum::<f64>() / count;
        let variance = numbers.iter().map(|x| x * x).sum::<f64>() / count;
        let beyond = numbers.iter().filter(|x| x.abs() > 1.0).count() as f64 / count;
        assert!(mean.abs() < 4.0 / count.sqrt(), "{mean}");
        assert!(
            (variance - 1.0).abs() < 4.0 * (2.0 / count).sqrt(),
            "{variance}"
        );
        assert!(
            (beyond - 0.3173).abs() < 4.0 * (0.3173 * 0.6827 / count).sqrt(),
            "{beyond}"
        );
    }
}
