//! Random strips over random zones: whatever they look like, the ground adds up.

use super::bytes::Bytes;
use super::sites::around_m;
use swathbook::geometry::extent::Extent;
use swathbook::geometry::overlay::{self, Region};
use swathbook::geometry::plane::Xy;
use swathbook::site::coverage::{self, Over, ZoneFrame};
use swathbook::site::dose::picture::Painter;
use swathbook::site::dose::{DoseGrid, DoseGround};

/// Corners are rounded to 2^-24 m; an operation moves an edge by a step or two, and a handful follow each
/// other, m.
const SLACK_M: f64 = 1e-6;
/// Steps in which the corners lie; but for the first they are no multiples of the engine's grid.
const STEPS_M: [f64; 4] = [0.25, 0.1, 0.001, 0.007_3];
/// Most rings of one kind.
const MOST_RINGS: usize = 5;

/// Makes a zone and passes from the bytes and covers the one with the others.
pub(crate) fn check(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    let step_m = STEPS_M[bytes.below(STEPS_M.len())];
    let outer = rings(&mut bytes, step_m);
    let holes = rings(&mut bytes, step_m);
    let zone = region(&outer).difference(&region(&holes));
    let passes: Vec<Region> = (0..bytes.below(5))
        .map(|_| region(&strips(&mut bytes, step_m)))
        .collect();
    let silent = rings(&mut bytes, step_m);
    let closed = region(&rings(&mut bytes, step_m)).rings();
    let length_m: f64 = [&zone]
        .into_iter()
        .chain(&passes)
        .flat_map(Region::rings)
        .chain(silent.iter().chain(&closed).cloned())
        .map(|ring| around_m(&ring))
        .sum();
    let slack_m2 = SLACK_M * (1.0 + length_m);
    sets(&zone, &passes, slack_m2);
    cover(&zone, &passes, &silent, &closed, slack_m2);
    litres(&zone, &passes);
}

fn region(rings: &[Vec<Xy>]) -> Region {
    Region::inside_any(rings.iter().map(Vec::as_slice))
}

/// Rings of any shape: crossed, flat, repeated.
fn rings(bytes: &mut Bytes, step_m: f64) -> Vec<Vec<Xy>> {
    (0..bytes.below(MOST_RINGS))
        .map(|_| {
            let corners = bytes.below(9);
            (0..corners)
                .map(|_| Xy::new(bytes.metres(step_m), bytes.metres(step_m)))
                .collect()
        })
        .collect()
}

/// The strips of one pass: boom lines one after the other, each turned and moved a little.
fn strips(bytes: &mut Bytes, step_m: f64) -> Vec<Vec<Xy>> {
    let width_m = 1.0 + f64::from(bytes.byte()) / 16.0;
    let mut at = Xy::new(bytes.metres(step_m), bytes.metres(step_m));
    let mut heading_rad = 0.0;
    let mut line = |bytes: &mut Bytes| {
        heading_rad += f64::from(bytes.byte() as i8) / 40.0;
        at = at.plus(
            Xy::at_angle(heading_rad),
            f64::from(bytes.byte() as i8) / 8.0,
        );
        let across = Xy::at_angle(heading_rad + std::f64::consts::FRAC_PI_2);
        (
            at.plus(across, width_m / 2.0),
            at.plus(across, -width_m / 2.0),
        )
    };
    let mut old = line(bytes);
    let count = bytes.below(20);
    (0..count)
        .map(|_| {
            let new = line(bytes);
            let strip = vec![old.0, old.1, new.1, new.0];
            old = new;
            strip
        })
        .collect()
}

/// Two sets and what is in one, in both, in either.
fn sets(zone: &Region, passes: &[Region], slack_m2: f64) {
    let all = Region::union_of(passes);
    let (both, only) = (zone.intersection(&all), zone.difference(&all));
    let either = Region::union_of([zone, &all]);
    for region in [zone, &all, &both, &only, &either] {
        assert!(region.area_m2() >= 0.0, "{} m2", region.area_m2());
        let pieces: f64 = region.pieces().iter().map(Region::area_m2).sum();
        near(pieces, region.area_m2(), slack_m2, "pieces");
    }
    near(
        both.area_m2() + only.area_m2(),
        zone.area_m2(),
        slack_m2,
        "in and out",
    );
    let sum_m2 = zone.area_m2() + all.area_m2() - both.area_m2();
    near(either.area_m2(), sum_m2, slack_m2, "either");
    let mut regions = [both, only];
    overlay::share_corners(&mut regions);
    near(
        regions[0].area_m2() + regions[1].area_m2(),
        zone.area_m2(),
        slack_m2,
        "shared corners",
    );
}

fn cover(zone: &Region, passes: &[Region], silent: &[Vec<Xy>], closed: &[Vec<Xy>], slack_m2: f64) {
    fn boxed(rings: &[Vec<Xy>]) -> Vec<(Extent, &[Xy])> {
        rings
            .iter()
            .map(|ring| (Extent::of(ring), ring.as_slice()))
            .collect()
    }
    let over = Over {
        passes: passes.iter().map(|pass| (pass.extent(), pass)).collect(),
        closed: boxed(closed),
        unlogged: boxed(silent),
        dropouts: boxed(silent),
        ..Over::default()
    };
    let frame = ZoneFrame::of(zone, 1.0, 1.0);
    let cover = coverage::cover(zone, &frame, &over);
    let [zone_m2, treated_m2, gap_m2, unlogged_m2, overlap_m2] = [
        zone,
        &cover.treated,
        &cover.gap,
        &cover.unlogged,
        &cover.overlap,
    ]
    .map(Region::area_m2);
    near(
        treated_m2 + gap_m2 + unlogged_m2,
        zone_m2,
        slack_m2,
        "parts of the zone",
    );
    assert!(
        overlap_m2 <= treated_m2 + slack_m2,
        "{overlap_m2} of {treated_m2} m2 twice"
    );
    let treated = zone.intersection(&Region::union_of(passes));
    near(treated_m2, treated.area_m2(), slack_m2, "treated by union");
    near(
        overlap_m2,
        twice_m2(zone, passes),
        slack_m2,
        "overlap by pairs",
    );
    let causes = cover.causes;
    assert!(causes.never_reached >= -slack_m2 && causes.closed >= 0.0 && causes.dry >= 0.0);
    near(
        causes.never_reached + causes.closed + causes.dry,
        gap_m2,
        slack_m2,
        "causes",
    );
    let patches_m2: f64 = cover.patches.iter().map(|patch| patch.area_m2).sum();
    assert!(
        patches_m2 <= gap_m2 + slack_m2,
        "patches of {patches_m2} in {gap_m2} m2"
    );
    assert!(cover.core_treated_m2 <= treated_m2 + slack_m2);
}

/// Ground in two passes or more, pair by pair.
fn twice_m2(zone: &Region, passes: &[Region]) -> f64 {
    let pairs = passes.iter().enumerate();
    let both: Vec<Region> = pairs
        .flat_map(|(i, a)| passes[..i].iter().map(|b| a.intersection(b)))
        .collect();
    Region::union_of(&both).intersection(zone).area_m2()
}

/// One litre a square metre inside the zone: as many litres as square metres.
fn litres(zone: &Region, passes: &[Region]) {
    let treated = zone.intersection(&Region::union_of(passes));
    let mut grid = DoseGrid::over(zone);
    treated.rings().iter().for_each(|ring| grid.add(ring, 1.0));
    let sum_l: f64 = grid.litres().iter().sum();
    near(
        sum_l,
        treated.area_m2(),
        1e-6 * (1.0 + zone.area_m2()),
        "litres on the grid",
    );
    let unlogged = Region::default();
    let ground = DoseGround {
        zone,
        treated: &treated,
        unlogged: &unlogged,
    };
    if zone.area_m2() < 0.01 {
        return;
    }
    let mut picture = Painter::over(std::iter::empty(), 0.5, 0.1);
    let dose = grid.statistics(&ground, Some(1000.0), 0.1, &mut picture);
    assert!(
        dose.p05_ml_m2 <= dose.p50_ml_m2 && dose.p50_ml_m2 <= dose.p95_ml_m2,
        "{dose:?}"
    );
    assert!(
        dose.mean_ml_m2.is_finite() && dose.mean_ml_m2 >= 0.0,
        "{dose:?}"
    );
    let shares =
        [dose.share_under, dose.share_within, dose.share_over].map(Option::unwrap_or_default);
    near(
        shares.iter().sum::<f64>() + dose.share_unknown,
        1.0,
        1e-6,
        "shares",
    );
}

fn near(a: f64, b: f64, slack: f64, what: &str) {
    assert!((a - b).abs() <= slack, "{what}: {a} is not {b} to {slack}");
}
