//! How coarse a total is: the least it can gain.

use super::readings::Readings;

/// A total that does not rise in this share of the readings with a section open is coarse, whatever its digits: a
/// fine one rises in nearly all. Common practice: meters pulse every 0.01 to 1 gal (common practice).
const STILL_SHARE: f64 = 0.3;
/// Fewer readings than this show no tick: a few gains have a common measure by chance (trade judgement).
const LEAST_READINGS: usize = 20;
/// A tick finer than this never shows in a dose, L (tolerance).
const LEAST_TICK_L: f64 = 0.02;
/// Gains are multiples of the tick to within this, L: readings are decimal texts in any unit (tolerance).
const DIGITS_L: f64 = 1e-4;

/// The tick of a total, L; 0 for one that is as fine as can be. `open` says of each gain whether a
/// section was open meanwhile; `None` where the log cannot say.
pub(super) fn tick_l(readings: &Readings, open: impl Fn(usize) -> Option<bool>) -> f64 {
    if readings.list.len() < LEAST_READINGS {
        return 0.0;
    }
    let gains = readings.list.windows(2).enumerate();
    let (mut quantum_l, mut greatest_l) = (0.0_f64, 0.0_f64);
    let (mut all, mut risen) = (0_usize, Vec::new());
    for (k, pair) in gains {
        let gain_l = pair[1].gain_l;
        if pair[1].anew {
            continue;
        }
        if gain_l > DIGITS_L {
            quantum_l = common_measure_l(quantum_l, gain_l);
            greatest_l = greatest_l.max(gain_l);
        }
        if open(k) == Some(true) {
            all += 1;
            if gain_l > 0.0 {
                risen.push(gain_l);
            }
        }
    }
    let still = (all - risen.len()) as f64 > STILL_SHARE * all as f64;
    // Where every gain is the same one, no ticks show.
    let seen = still || greatest_l > 1.5 * quantum_l;
    let quantum_l = if seen && quantum_l >= LEAST_TICK_L {
        quantum_l
    } else {
        0.0
    };
    if still {
        quantum_l.max(crate::rig::track::median(&mut risen))
    } else {
        quantum_l
    }
}

/// Euclid's algorithm, to within the digits.
fn common_measure_l(a_l: f64, b_l: f64) -> f64 {
    let (mut a_l, mut b_l) = (a_l, b_l);
    while a_l > DIGITS_L {
        let rest_l = (b_l - a_l * (b_l / a_l).round()).abs();
        (a_l, b_l) = (rest_l, a_l);
    }
    b_l
}

#[cfg(test)]
mod tests {
    use super::super::readings::Reading;
    use super::*;

    fn tick_of(start: &[f64]) -> f64 {
        // The same over and over, until there are readings enough.
        let rise = start[start.len() - 1] - start[0];
        let lap = |k: usize| start[1..].iter().map(move |total| total + rise * k as f64);
        let totals: Vec<f64> = [start[0]]
            .into_iter()
            .chain((0..20).flat_map(lap))
            .collect();
        let list = totals
            .iter()
            .enumerate()
            .map(|(fix, total)| Reading {
                fix,
                gain_l: if fix > 0 {
                    total - totals[fix - 1]
                } else {
                    0.0
                },
                known: true,
                anew: false,
            })
            .collect();
        let readings = Readings {
            list,
            ..Readings::default()
        };
        tick_l(&readings, |_| Some(true))
    }

    #[test]
    fn a_tick_is_what_all_gains_are_multiples_of() {
        assert!((tick_of(&[0.0, 1.0, 3.0, 5.0, 6.0]) - 1.0).abs() < 1e-9);
        let gal = 3.785_411_784;
        assert!((tick_of(&[7.0 * gal, 9.0 * gal, 12.0 * gal]) - gal).abs() < 1e-9);
    }

    #[test]
    fn a_total_that_mostly_stands_ticks_by_its_usual_gain() {
        // Gallons written as litres with one digit.
        let totals = [
            0.0, 0.0, 0.0, 3.8, 3.8, 3.8, 7.6, 7.6, 7.6, 11.4, 11.4, 11.4, 15.1,
        ];
        assert!((tick_of(&totals) - 3.8).abs() < 0.11);
    }

    #[test]
    fn a_fine_total_has_no_tick() {
        assert!(tick_of(&[0.0, 1.913_7, 3.841_2, 5.760_9]) <= 0.0);
        assert!(tick_of(&[0.0, 1.92, 3.84, 5.76]) <= 0.0);
    }
}
