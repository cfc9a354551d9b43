//! A rig's evening: from site to site, drive, lot, refill, a last look, and home.

use crate::chance::Chance;
use crate::drive::{Driver, TICK_S, Tick};
use crate::grid::Grid;
use crate::ground::{Site, Use};
use crate::last_look::last_look;
use crate::plan::{Pattern, Stroke, lot_strokes, moves, strip_strokes};
use crate::plane::{P, distance};
use crate::rig::{Pose, Rig};

const TRANSIT_MPS: f64 = 9.0;

/// Straight from place to place in the night's plane, all closed.
fn transit(ticks: &mut Vec<Tick>, from: P, to: P, t: &mut f64) {
    let length = distance(from, to);
    let heading = (to[1] - from[1]).atan2(to[0] - from[0]);
    let count = (length / TRANSIT_MPS / TICK_S).ceil() as usize;
    for k in 0..count {
        let axle = crate::plane::ahead(from, heading, length * k as f64 / count as f64);
        let pose = Pose {
            axle,
            heading,
            trailer: heading,
        };
        ticks.push(Tick {
            t: *t,
            pose,
            speed_mps: TRANSIT_MPS,
            open: 0,
            lane: 0,
            site: None,
        });
        *t += TICK_S;
    }
}

fn entrance(site: &Site) -> Pose {
    let heading = 0.5;
    let axle = [
        site.zones[0].ring[0][0] - 14.0,
        site.zones[0].ring[0][1] - 9.0,
    ];
    Pose {
        axle,
        heading,
        trailer: heading,
    }
}

/// All sites of a rig, one after the other.
pub(crate) fn evening(
    rig: &Rig,
    sites: &[Site],
    jobs: &[usize],
    share: Option<usize>,
    start_s: f64,
    seed: u64,
) -> Vec<Tick> {
    let mut ticks = Vec::new();
    let mut t = start_s;
    let mut place = [-260.0, -180.0];
    for number in jobs {
        let site = &sites[*number];
        let pose = entrance(site);
        transit(&mut ticks, place, site.frame.out(pose.axle), &mut t);
        let mut chance = Chance::new(seed, 40 + *number as u64);
        let mut driver = Driver::new(
            rig,
            (*number, site),
            pose,
            t,
            Chance::new(seed, 50 + *number as u64),
        );
        work_site(
            &mut driver,
            if *number == jobs[0] { share } else { None },
            &mut chance,
        );
        t = driver.t;
        place = site.frame.out(driver.pose.axle);
        ticks.append(&mut driver.ticks);
    }
    transit(&mut ticks, place, [-260.0, -180.0], &mut t);
    ticks
}

/// The cart's evening: one walk after the other.
pub(crate) fn cart_evening(
    rig: &Rig,
    sites: &[Site],
    jobs: &[usize],
    start_s: f64,
    seed: u64,
) -> Vec<Tick> {
    let mut t = start_s;
    let mut ticks = Vec::new();
    let mut place = [-260.0, -180.0];
    for number in jobs {
        let site = &sites[*number];
        let pose = entrance(site);
        transit(&mut ticks, place, site.frame.out(pose.axle), &mut t);
        let chance = Chance::new(seed, 60 + *number as u64);
        let mut driver = Driver::new(rig, (*number, site), pose, t, chance);
        let strip = site
            .zones
            .iter()
            .position(|z| z.kind == Use::Walk)
            .expect("chosen for its walk");
        keep_to(&mut driver.meant, site, |kind| kind == Use::Walk);
        let strokes = strip_strokes(&driver, strip);
        drive_all(&mut driver, &strokes, 1);
        t = driver.t;
        place = site.frame.out(driver.pose.axle);
        ticks.append(&mut driver.ticks);
    }
    transit(&mut ticks, place, [-260.0, -180.0], &mut t);
    ticks
}

fn keep_to(meant: &mut Grid<bool>, site: &Site, wanted: impl Fn(Use) -> bool) {
    for (cell, number) in meant.cells.iter_mut().zip(&site.zone_at.cells) {
        *cell = *cell
            && *number > 0
            && (wanted(site.zones[*number as usize - 1].kind)
                || site.zones[*number as usize - 1].id == "bed");
    }
}

/// Drive, lot, refill, last look.
fn work_site(driver: &mut Driver, share: Option<usize>, chance: &mut Chance) {
    let site = driver.site;
    keep_to(&mut driver.meant, site, |kind| kind != Use::Walk);
    let ring = &site.zones[0].ring;
    let (low, high) = ring
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| {
            (l.min(p[0]), h.max(p[0]))
        });
    let cut = low + (high - low) * 0.47;
    let span = match share {
        None => (low - 1.0, high + 1.0),
        Some(0) => (low - 1.0, cut + 0.3),
        Some(_) => (cut - 0.3, high + 1.0),
    };
    for cell in 0..driver.meant.cells.len() {
        let x = driver.meant.centre(cell)[0];
        driver.meant.cells[cell] &= x >= span.0 && x <= span.1;
    }
    let pattern = match chance.index(6) {
        0 | 1 => Pattern::LapsThenLanes(1),
        2 => Pattern::LapsThenLanes(2),
        3 | 4 => Pattern::Lanes,
        _ if driver.rig.hitch.is_none() && ring.len() == 4 => Pattern::Spiral,
        _ => Pattern::LapsThenLanes(1),
    };
    let mut strokes = Vec::new();
    if let (Some(number), None | Some(0)) =
        (site.zones.iter().position(|z| z.kind == Use::Drive), share)
    {
        strokes.extend(strip_strokes(driver, number));
    }
    strokes.extend(lot_strokes(driver, span, pattern, chance));
    for stroke in &mut strokes {
        keep_out(stroke, site);
    }
    let refill_at = chance.yes(0.2).then_some(strokes.len() / 2);
    match refill_at {
        Some(half) => {
            drive_all(driver, &strokes[..half], 1);
            refill(driver, chance);
            drive_all(driver, &strokes[half..], 1 + half as u32);
        }
        None => drive_all(driver, &strokes, 1),
    }
    let rounds = if driver.rig.hitch.is_some() { 2 } else { 3 };
    for round in 0..rounds {
        let (meant, wet) = seen_bare(driver);
        let more = last_look(site, &meant, &wet, driver.rig.width_m());
        if more.is_empty() || driver.ticks.len() as f64 * TICK_S > 2400.0 {
            break;
        }
        drive_all(driver, &more, 1000 + 100 * round);
    }
}

fn drive_all(driver: &mut Driver, strokes: &[Stroke], first_lane: u32) {
    for (k, stroke) in strokes.iter().enumerate() {
        let ways = moves(driver, stroke, first_lane + k as u32);
        for (i, way) in ways.iter().enumerate() {
            let rolls_on = ways
                .get(i + 1)
                .map_or(k + 1 < strokes.len(), |n| n.reverse == way.reverse);
            driver.drive(way, rolls_on);
        }
    }
}

/// Who forgets a corner does not drive into it.
fn keep_out(stroke: &mut Stroke, site: &Site) {
    let Some(corner) = &site.left_out else { return };
    let low = corner[0][1] < 0.0;
    let inside = |p: P| {
        p[0] < corner[2][0]
            && if low {
                p[1] < corner[2][1]
            } else {
                p[1] > corner[0][1]
            }
    };
    let heading = (stroke.to[1] - stroke.from[1]).atan2(stroke.to[0] - stroke.from[0]);
    for _ in 0..60 {
        if distance(stroke.from, stroke.to) < 2.0 {
            break;
        }
        if inside(stroke.from) {
            stroke.from = crate::plane::ahead(stroke.from, heading, 0.4);
        } else if inside(stroke.to) {
            stroke.to = crate::plane::ahead(stroke.to, heading, -0.4);
        } else {
            break;
        }
    }
}

/// To the tank and back to where it left off.
fn refill(driver: &mut Driver, chance: &mut Chance) {
    let here = driver.site.frame.out(driver.pose.axle);
    let tank = [
        here[0] - chance.even(120.0, 220.0),
        here[1] + chance.even(-60.0, 60.0),
    ];
    driver.stand(2.0);
    transit(&mut driver.ticks, here, tank, &mut driver.t);
    let pose = Pose {
        axle: tank,
        heading: 0.3,
        trailer: 0.3,
    };
    for _ in 0..(chance.even(90.0, 200.0) / TICK_S) as usize {
        driver.ticks.push(Tick {
            t: driver.t,
            pose,
            speed_mps: 0.0,
            open: 0,
            lane: 0,
            site: None,
        });
        driver.t += TICK_S;
    }
    transit(&mut driver.ticks, tank, here, &mut driver.t);
    driver.stand(2.0);
}

/// What the driver means to treat and what he believes wet, on cells of a quarter metre.
fn seen_bare(driver: &Driver) -> (Grid<bool>, Grid<bool>) {
    let fine = &driver.meant;
    let high = [
        fine.corner[0] + fine.columns as f64 * fine.cell_m,
        fine.corner[1] + fine.rows as f64 * fine.cell_m,
    ];
    let mut meant = Grid::over(fine.corner, high, 0.25, false);
    for cell in 0..meant.cells.len() {
        meant.cells[cell] = fine.at(meant.centre(cell)) == Some(true);
    }
    let mut wet = meant.like(false);
    let mut before: Option<(Vec<P>, u64)> = None;
    for tick in driver.ticks.iter().filter(|t| t.site.is_some()).step_by(4) {
        let ends = driver.rig.section_ends(tick.pose);
        if let Some((past, open)) = &before {
            for i in (0..ends.len() - 1).filter(|i| open >> i & 1 == 1) {
                for cell in wet.inside(&[&[past[i], past[i + 1], ends[i + 1], ends[i]]]) {
                    wet.cells[cell] = true;
                }
            }
        }
        before = Some((ends, tick.open));
    }
    (meant, wet)
}
