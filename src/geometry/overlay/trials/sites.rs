//! Sites as nasty as real ones can be: hatchings, borders shared exactly, everything driven twice or thrice, spirals
//! whose inner ends run backwards, spots in all directions; under zones with holes that share corners with lanes.

use super::super::{GridPoint, Region, cover, ring_to_grid};
use super::brute;
use super::cases::{Chance, Ring};
use crate::geometry::overlay::general;
use crate::geometry::overlay::rings::Winding;
use crate::geometry::plane::Xy;
use std::f64::consts::{FRAC_PI_2, TAU};
use std::time::Instant;

/// Of each of the five kinds, in a usual run; 32 make the 160 sites of a full one.
const SITES: u64 = 2;
/// The site's side, m.
const SIDE_M: f64 = 120.0;

#[derive(Debug, Clone, Copy)]
enum Kind {
    Hatching,
    SharedBorders,
    DrivenAgain,
    Spirals,
    Spots,
}

/// A share from 0 to below 1.
fn share(chance: &mut Chance) -> f64 {
    chance.below(1 << 30) as f64 / (1_u64 << 30) as f64
}

/// Ground of a boom along a path of places and headings: a new ring where it turns.
fn pass(path: &[(Xy, f64)], width_m: f64) -> Region {
    let mut rings: Vec<Vec<Xy>> = Vec::new();
    let ends = |(place, heading): (Xy, f64)| {
        let across = Xy::at_angle(heading + FRAC_PI_2);
        [
            place.plus(across, width_m / 2.0),
            place.plus(across, -width_m / 2.0),
        ]
    };
    let straight = |a: &(Xy, f64), b: &(Xy, f64)| (a.1 - b.1).abs() <= 0.1;
    let mut begin = 0;
    for run in path.chunk_by(straight) {
        let end = (begin + run.len() + 1).min(path.len());
        let positions: Vec<[Xy; 2]> = path[begin..end].iter().map(|step| ends(*step)).collect();
        let right = positions.iter().map(|ends| ends[1]);
        rings.push(
            right
                .chain(positions.iter().rev().map(|ends| ends[0]))
                .collect(),
        );
        begin += run.len();
    }
    Region::union_of_positive(rings.iter().map(Vec::as_slice))
}

/// A straight lane that drifts.
fn lane(
    chance: &mut Chance,
    from: Xy,
    heading: f64,
    length_m: f64,
    drift_m: f64,
    width_m: f64,
) -> Region {
    let (ahead, aside) = (Xy::at_angle(heading), Xy::at_angle(heading + FRAC_PI_2));
    let mut off_m = 0.0;
    let path: Vec<(Xy, f64)> = (0..=(length_m / 2.5) as usize)
        .map(|step| {
            off_m = off_m * 0.9 + (share(chance) - 0.5) * drift_m;
            let turn = (share(chance) - 0.5) * drift_m * 0.2;
            (
                from.plus(ahead, 2.5 * step as f64).plus(aside, off_m),
                heading + turn,
            )
        })
        .collect();
    pass(&path, width_m)
}

fn passes(kind: Kind, slanted: bool, chance: &mut Chance) -> Vec<Region> {
    let turn = if slanted { share(chance) * TAU } else { 0.0 };
    let middle = Xy::new(SIDE_M / 2.0, SIDE_M / 2.0);
    let at = |along_m: f64, across_m: f64| {
        middle
            .plus(Xy::at_angle(turn), along_m)
            .plus(Xy::at_angle(turn + FRAC_PI_2), across_m)
    };
    let anywhere = |chance: &mut Chance| Xy::new(SIDE_M * share(chance), SIDE_M * share(chance));
    match kind {
        Kind::Hatching => (0..25)
            .flat_map(|k| {
                let off_m = f64::from(k) * 4.2 - 52.0;
                [
                    (at(-60.0, off_m), turn),
                    (at(off_m, -60.0), turn + FRAC_PI_2),
                ]
            })
            .map(|(from, heading)| lane(chance, from, heading, 120.0, 0.1, 4.0))
            .collect(),
        Kind::SharedBorders => (0..28)
            .map(|k| at(-60.0 - 1.25 * f64::from(k % 2), f64::from(k) * 4.0 - 54.0))
            .map(|from| lane(chance, from, turn, 120.0, 0.0, 4.0))
            .collect(),
        Kind::DrivenAgain => (0..14)
            .flat_map(|k| {
                let from = at(-60.0, f64::from(k) * 3.9 - 26.0);
                vec![lane(chance, from, turn, 120.0, 0.1, 4.0); if k % 3 == 0 { 3 } else { 2 }]
            })
            .collect(),
        Kind::Spirals => (0..12)
            .map(|k| {
                let centre = anywhere(chance);
                let (mut radius_m, mut angle) = (1.0 + 2.0 * share(chance), share(chance) * TAU);
                let path: Vec<(Xy, f64)> = (0..120)
                    .map(|_| {
                        let step = (
                            centre.plus(Xy::at_angle(angle), radius_m),
                            angle + FRAC_PI_2,
                        );
                        angle += 1.5 / radius_m;
                        radius_m += 0.12;
                        step
                    })
                    .collect();
                pass(&path, 4.0 + f64::from(k % 3))
            })
            .collect(),
        Kind::Spots => (0..40)
            .map(|_| {
                let (from, heading) = (anywhere(chance), share(chance) * TAU);
                let (length_m, width_m) = (10.0 + 60.0 * share(chance), 1.0 + 3.0 * share(chance));
                lane(chance, from, heading, length_m, 0.3, width_m)
            })
            .collect(),
    }
}

/// A polygon of many corners with islands, one of them a lane's own outline.
fn zone(passes: &[Region], chance: &mut Chance) -> Region {
    let count = 4 + chance.below(30);
    let outer: Vec<Xy> = (0..count)
        .map(|k| {
            let ahead = Xy::at_angle(TAU * k as f64 / count as f64);
            Xy::new(SIDE_M / 2.0, SIDE_M / 2.0).plus(ahead, 40.0 + 15.0 * share(chance))
        })
        .collect();
    let islands: Vec<Vec<Xy>> = (0..4)
        .map(|_| {
            let (x_m, y_m) = (40.0 + 40.0 * share(chance), 40.0 + 40.0 * share(chance));
            [(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0)]
                .map(|(x, y)| Xy::new(x_m + x, y_m + y))
                .to_vec()
        })
        .collect();
    let ground = Region::inside_any([outer.as_slice()]);
    let ground = ground.difference(&Region::inside_any(islands.iter().map(Vec::as_slice)));
    if chance.below(3) == 0 {
        ground.difference(&passes[0])
    } else {
        ground
    }
}

fn weighted(region: &Region, weight: Winding) -> impl Iterator<Item = Ring> + '_ {
    region
        .shapes
        .iter()
        .flatten()
        .map(move |ring| (ring.clone(), weight))
}

/// What was seen over all sites.
#[derive(Default)]
struct Seen {
    worst_m2: f64,
    general_faults: usize,
    edges: usize,
    own_s: f64,
    general_s: f64,
}

impl Seen {
    /// One site by both engines.
    fn site(&mut self, zone: &Region, passes: &[Region], points: &[GridPoint], which: &str) {
        let begin = Instant::now();
        let cover = cover(zone, &passes.iter().collect::<Vec<_>>());
        self.own_s += begin.elapsed().as_secs_f64();
        assert_eq!(cover.fallbacks, 0, "{which}");
        let own = [&cover.gap, &cover.overlap, &cover.treated];
        let outlines: Vec<&Vec<Vec<GridPoint>>> =
            passes.iter().flat_map(|pass| &pass.shapes).collect();
        let begin = Instant::now();
        let general = general::cover(&zone.shapes, &outlines);
        self.general_s += begin.elapsed().as_secs_f64();
        self.edges += outlines.into_iter().flatten().map(Vec::len).sum::<usize>();
        for (own, shapes) in own.into_iter().zip(general) {
            assert_eq!(brute::fault(&own.shapes), None, "{which}");
            self.general_faults += usize::from(brute::fault(&shapes).is_some());
            let general = Region {
                shapes,
                fallbacks: 0,
            };
            self.worst_m2 = self.worst_m2.max((own.area_m2() - general.area_m2()).abs());
        }
        let whole_m2 = cover.gap.area_m2() + cover.treated.area_m2();
        assert!((whole_m2 - zone.area_m2()).abs() < 1e-4, "{which}");
        let of_passes = passes.iter().flat_map(|pass| weighted(pass, Winding::OF));
        let rings: Vec<Ring> = of_passes.chain(weighted(zone, Winding::BY)).collect();
        for &p in points {
            let Winding { of, by } = brute::windings(&rings, p);
            let wanted = [by > 0 && of <= 0, by > 0 && of > 1, by > 0 && of > 0];
            let covers = |region: &Region| -> i32 {
                region
                    .shapes
                    .iter()
                    .flatten()
                    .map(|ring| brute::winding(ring, p))
                    .sum()
            };
            let got = own.map(|region| covers(region) > 0);
            assert!(
                got == wanted || brute::is_near(&rings, p, 1.5),
                "{which} {p:?}"
            );
        }
    }
}

#[test]
fn nasty_sites_have_valid_covers_that_agree_with_points_and_with_the_general_engine() {
    let sites = if super::cases() > super::CASES {
        32
    } else {
        SITES
    };
    let mut seen = Seen::default();
    let kinds = [
        Kind::Hatching,
        Kind::SharedBorders,
        Kind::DrivenAgain,
        Kind::Spirals,
        Kind::Spots,
    ];
    for (number, kind) in kinds.into_iter().enumerate() {
        for case in 0..sites {
            let mut chance = Chance::of(1_000_000 + 1_000 * number as u64 + case);
            let passes = passes(kind, case % 2 == 1, &mut chance);
            let zone = zone(&passes, &mut chance);
            let mut along = || SIDE_M * share(&mut chance);
            let points: Vec<Xy> = (0..200).map(|_| Xy::new(along(), along())).collect();
            seen.site(
                &zone,
                &passes,
                &ring_to_grid(&points),
                &format!("{kind:?} {case}"),
            );
        }
    }
    let Seen {
        worst_m2,
        general_faults,
        edges,
        own_s,
        general_s,
    } = seen;
    println!(
        "{edges} edges: areas off the general engine's by {worst_m2:.1e} m2, {general_faults} invalid regions of its"
    );
    let ns = |seconds: f64| seconds * 1e9 / edges as f64;
    println!(
        "ns an edge: own {:.0}, general {:.0}",
        ns(own_s),
        ns(general_s)
    );
    assert!(worst_m2 < 5e-5, "{worst_m2:e} m2");
}
