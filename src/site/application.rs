//! Step 6 of the flow: the treating visits of one site to applications.
//!
//! A visit joins the open application when at most half of what it treats was already treated in it
//! and the last spraying was less than 6 h ago: a refill trip, a second rig, a touch-up. With more than
//! half repeated it is a new application after the pause, and overlap before. A visit that treats less
//! than 2 % of the site opens none. One that sprays mainly over patches that are open is a touch-up and joins,
//! whatever the pause.

use crate::geometry::overlay::Region;
use crate::geometry::place::Instant;
use crate::site::coverage::{LEAST_PATCH_M2, LEAST_PATCH_WIDTH_M};
use crate::site::outcome::Covered;

/// After so long without spraying a new visit is a new application whatever it treats, s (trade judgement).
pub const LONGEST_BREAK_S: f64 = 6.0 * 3600.0;
/// A visit that repeats more than this share of itself is doing the site again (trade judgement).
const REPEATED_SHARE: f64 = 0.5;
/// Less than this share of the site opens no application (trade judgement).
const OPENING_SHARE: f64 = 0.02;

/// With more of the site open than this a visit does the rest of it: no touch-up (trade judgement).
const MOST_OPEN_SHARE: f64 = 0.2;
/// A zone has been begun with this share of it treated: what is left of it is patches, else it is work to come (trade
/// judgement).
const BEGUN_SHARE: f64 = 0.5;
/// A boom overlaps the ground beside a patch by this, m: half a usual boom (trade judgement).
const BESIDE_M: f64 = 3.0;
/// A touch-up has this share of its ground over patches, or that near to them (trade judgement).
const MAINLY_SHARE: f64 = 0.5;
/// A patch is covered with this share of it (trade judgement).
const COVERED_SHARE: f64 = 0.8;

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
    /// Patches that its visits covered, by the visit.
    pub covered: Vec<Covered>,
}

/// Whether a visit that treats so much of the site opens an application.
#[must_use]
pub fn opens(own_m2: f64, site_m2: f64) -> bool {
    own_m2 > 0.0 && own_m2 >= OPENING_SHARE * site_m2
}

/// Groups visits, given in order of their first liquid. Visits that open and join nothing are in no group.
#[must_use]
pub fn group(visits: &[Treated], zones: &[Region], site_m2: f64, pause_s: f64) -> Vec<Group> {
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
            let touch_up = touch_up(index, visit, zones, &so_far);
            let joins = (!repeats && since_s < LONGEST_BREAK_S)
                || (repeats && since_s < pause_s)
                || touch_up.is_some();
            if joins {
                open.covered
                    .extend(touch_up.filter(|covered| covered.count > 0));
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
                covered: Vec::new(),
            });
            so_far = visit.ground.clone();
        }
    }
    groups
}

/// What a visit covers of the patches that are open, where it sprays mainly over them.
fn touch_up(index: usize, visit: &Treated, zones: &[Region], so_far: &Region) -> Option<Covered> {
    let open: Vec<Region> = zones
        .iter()
        .flat_map(|zone| open_in(zone, so_far))
        .collect();
    let open_m2: f64 = open.iter().map(Region::area_m2).sum();
    let all_m2: f64 = zones.iter().map(Region::area_m2).sum();
    if open.is_empty() || open_m2 > MOST_OPEN_SHARE * all_m2 {
        return None;
    }
    let around = Region::union_of(&open).offset(BESIDE_M);
    let over_m2 = visit.ground.intersection(&around).area_m2();
    if over_m2 < MAINLY_SHARE * visit.ground.area_m2() {
        return None;
    }
    let is_covered = |patch: &&Region| {
        patch.intersection(&visit.ground).area_m2() >= COVERED_SHARE * patch.area_m2()
    };
    let covered: Vec<&Region> = open.iter().filter(is_covered).collect();
    Some(Covered {
        visit: index,
        count: covered.len(),
        area_m2: covered.iter().map(|patch| patch.area_m2()).sum(),
    })
}

/// Patches that are open on a zone; none of a zone that nobody began.
fn open_in(zone: &Region, so_far: &Region) -> Vec<Region> {
    let left = zone.difference(so_far);
    if left.area_m2() > (1.0 - BEGUN_SHARE) * zone.area_m2() {
        return Vec::new();
    }
    let open = left.opened(LEAST_PATCH_WIDTH_M / 2.0).pieces().into_iter();
    open.filter(|patch| patch.area_m2() >= LEAST_PATCH_M2)
        .collect()
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

    fn site() -> [Region; 1] {
        [visit(0, 0.0, 100.0).ground]
    }

    fn members(visits: &[Treated]) -> Vec<Vec<usize>> {
        group(visits, &site(), 1000.0, PAUSE_S)
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
    fn a_touch_up_joins_whatever_the_pause_and_says_what_it_covered() {
        // 4 m were left out; three hours later a boom goes over them and 1.5 m on either side.
        let visits = [
            visit(0, 0.0, 50.0),
            visit(15, 54.0, 100.0),
            visit(200, 48.5, 55.5),
        ];
        let groups = group(&visits, &site(), 1000.0, PAUSE_S);
        assert_eq!(groups.len(), 1);
        let covered = groups[0].covered[0];
        assert_eq!((covered.visit, covered.count), (2, 1));
        assert!((covered.area_m2 - 40.0).abs() < 0.3, "{}", covered.area_m2);
        // Seven hours later, too.
        let visits = [
            visit(0, 0.0, 50.0),
            visit(15, 54.0, 100.0),
            visit(460, 49.0, 55.0),
        ];
        assert_eq!(members(&visits), [[0, 1, 2]]);
    }

    #[test]
    fn doing_all_of_it_again_is_no_touch_up() {
        let visits = [
            visit(0, 0.0, 50.0),
            visit(15, 54.0, 100.0),
            visit(200, 0.0, 100.0),
        ];
        assert_eq!(members(&visits), [vec![0, 1], vec![2]]);
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
        let groups = group(&visits, &site(), 1000.0, PAUSE_S);
        // From minute 10 to 365 is under 6 h; had the second joined, the end would be minute 70.
        assert_eq!(groups[0].visits, [0, 2]);
        assert_eq!(
            group(&visits[..2], &site(), 1000.0, PAUSE_S)[0].end,
            visits[0].spraying.1
        );
    }

    #[test]
    fn a_corner_of_the_site_opens_none() {
        assert!(members(&[visit(0, 0.0, 1.9)]).is_empty());
    }
}
