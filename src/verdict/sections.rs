//! Sections by number and side, and whether they worked later on.

use super::Night;
use crate::findings::sections::{ClosedSections, Side};
use crate::geometry::place::Instant;

/// A section that sprayed for this share of the longest time of any works (trade judgement).
const WORKS_SHARE: f64 = 0.5;

/// Sections whose middle is nearer to the boom's than this share of its width lie in the middle (layout).
const MIDDLE_SHARE: f64 = 0.05;

/// Sections of a boom, by their numbers from 1 and the widths of all of its sections, left to right, m.
pub(super) fn named(numbers: Vec<usize>, widths_m: &[f64]) -> ClosedSections {
    let boom_m: f64 = widths_m.iter().sum();
    let off_m = |number: &usize| {
        let before_m: f64 = widths_m[..number - 1].iter().sum();
        before_m + widths_m[number - 1] / 2.0 - boom_m / 2.0
    };
    let least_m = MIDDLE_SHARE * boom_m;
    let side = if numbers.iter().all(|number| off_m(number) < -least_m) {
        Side::Left
    } else if numbers.iter().all(|number| off_m(number) > least_m) {
        Side::Right
    } else {
        Side::Middle
    };
    ClosedSections {
        numbers,
        of: widths_m.len(),
        side,
        again: false,
    }
}

/// Where and from when a rig sprayed with these sections after some time (with none named: at all), the first such site.
#[must_use]
pub fn sprayed_again(
    night: &Night,
    rig: &str,
    numbers: &[usize],
    after: Instant,
) -> Option<(String, Instant)> {
    let sites = night.sites.iter().zip(night.outcomes);
    let legs = sites.flat_map(|(site, outcome)| outcome.legs.iter().map(move |leg| (site, leg)));
    let later = legs.filter_map(|(site, leg)| {
        let (start, end) = leg.wet?;
        let longest_s = leg.sections_wet_s.iter().copied().fold(0.0, f64::max);
        let works = |&number: &usize| {
            let wet_s = leg.sections_wet_s.get(number - 1);
            wet_s.is_some_and(|wet_s| *wet_s >= WORKS_SHARE * longest_s)
        };
        let is_later = if numbers.is_empty() {
            end > after
        } else {
            start > after
        };
        let counts = is_later && night.rig_id(leg.run) == rig;
        (counts && numbers.iter().all(works)).then(|| (start.max(after), site.id.clone()))
    });
    later.min().map(|(time, site)| (site, time))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sides_are_those_seen_forward() {
        let side = |numbers: &[usize]| named(numbers.to_vec(), &[1.0, 1.5, 1.5, 1.0]).side;
        assert_eq!([side(&[1]), side(&[1, 2])], [Side::Left, Side::Left]);
        assert_eq!([side(&[3]), side(&[4])], [Side::Right, Side::Right]);
        assert_eq!(side(&[2, 3]), Side::Middle);
        let odd = |number: usize| named(vec![number], &[2.1, 1.8, 2.1]).side;
        assert_eq!(
            [odd(1), odd(2), odd(3)],
            [Side::Left, Side::Middle, Side::Right]
        );
    }
}
