//! Step 6 of the flow: the treating visits of one site to applications.
//!
//! A visit joins the open application when at most half of what it treats was already treated in it
//! and the last spraying was less than 6 h ago: a refill trip, a second rig, a touch-up. With more than
//! half repeated it is a new application after the pause, and overlap before. A visit that treats less
//! than 2 % of the site opens none.

use crate::geometry::overlay::Region;
use crate::geometry::place::Instant;

/// After so long without spraying a new visit is a new application whatever it treats, s.
pub const LONGEST_BREAK_S: f64 = 6.0 * 3600.0;
/// A visit that repeats more than this share of itself is doing the site again.
const REPEATED_SHARE: f64 = 0.5;
/// Less than this share of the site opens no application.
const OPENING_SHARE: f64 = 0.02;

/// What one treating visit did to the site's ground.
pub struct Treated {
    /// First and last liquid.
    pub spraying: (Instant, Instant),
    /// Ground of the site in its swaths.
    pub ground: Region,
}

/// Visits (by index) that together treat the site once.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// In order of time.
    pub visits: Vec<usize>,
    /// First liquid.
    pub start: Instant,
    /// Last liquid.
    pub end: Instant,
}

/// Whether a visit that treats so much of the site opens an application.
#[must_use]
pub fn opens(own_m2: f64, site_m2: f64) -> bool {
    own_m2 > 0.0 && own_m2 >= OPENING_SHARE * site_m2
}

/// Groups visits, given in order of their first liquid. Visits that open and join nothing are in no group.
#[must_use]
pub fn group(visits: &[Treated], site_m2: f64, pause_s: f64) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut so_far = Region::default();
    for (index, visit) in visits.iter().enumerate() {
        let own_m2 = visit.ground.area_m2();
        if own_m2 <= 0.0 {
            // It sprayed beside the zones: it neither treats the site nor makes an application longer.
            continue;
        }
        if let Some(open) = groups.last_mut() {
            let since_s = visit.spraying.0.seconds_since(open.end);
            let repeated_m2 = visit.ground.intersection(&so_far).area_m2();
            let repeats = repeated_m2 > REPEATED_SHARE * own_m2;
            if (!repeats && since_s < LONGEST_BREAK_S) || (repeats && since_s < pause_s) {
                open.visits.push(index);
                open.end = open.end.max(visit.spraying.1);
                so_far = Region::union_of([&so_far, &visit.ground]);
                continue;
            }
        }
        if opens(own_m2, site_m2) {
            groups.push(Group {
                visits: vec![index],
                start: visit.spraying.0,
                end: visit.spraying.1,
            });
            so_far = visit.ground.clone();
        }
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::plane::Xy;

    const PAUSE_S: f64 = 5400.0;

    /// Treats x from `from` to `to` of a 100 x 10 m site, starting at this minute, for ten minutes.
    fn visit(minute: i64, from: f64, to: f64) -> Treated {
        let ring = [(from, 0.0), (to, 0.0), (to, 10.0), (from, 10.0)].map(|(x, y)| Xy::new(x, y));
        let at = |minute: i64| Instant(minute * 60_000_000);
        Treated {
            spraying: (at(minute), at(minute + 10)),
            ground: Region::inside_any([ring.as_slice()]),
        }
    }

    fn members(visits: &[Treated]) -> Vec<Vec<usize>> {
        group(visits, 1000.0, PAUSE_S)
            .into_iter()
            .map(|group| group.visits)
            .collect()
    }

    #[test]
    fn a_refill_trip_is_the_same_application() {
        assert_eq!(
            members(&[visit(0, 0.0, 50.0), visit(150, 48.0, 100.0)]),
            [[0, 1]]
        );
    }

    #[test]
    fn doing_it_again_after_the_pause_is_a_second_application() {
        assert_eq!(
            members(&[visit(0, 0.0, 100.0), visit(300, 0.0, 100.0)]),
            [[0], [1]]
        );
    }

    #[test]
    fn doing_it_again_at_once_is_overlap() {
        assert_eq!(
            members(&[visit(0, 0.0, 100.0), visit(30, 0.0, 100.0)]),
            [[0, 1]]
        );
    }

    #[test]
    fn six_hours_later_other_ground_is_a_new_application() {
        assert_eq!(
            members(&[visit(0, 0.0, 50.0), visit(380, 50.0, 100.0)]),
            [[0], [1]]
        );
    }

    #[test]
    fn a_visit_that_sprays_beside_the_site_joins_none() {
        let visits = [
            visit(0, 0.0, 50.0),
            visit(60, 7.0, 7.0),
            visit(365, 50.0, 100.0),
        ];
        let groups = group(&visits, 1000.0, PAUSE_S);
        // From minute 10 to 365 is under 6 h; had the second joined, the end would be minute 70.
        assert_eq!(groups[0].visits, [0, 2]);
        assert_eq!(
            group(&visits[..2], 1000.0, PAUSE_S)[0].end,
            visits[0].spraying.1
        );
    }

    #[test]
    fn a_corner_of_the_site_opens_none() {
        assert!(members(&[visit(0, 0.0, 1.9)]).is_empty());
    }
}
