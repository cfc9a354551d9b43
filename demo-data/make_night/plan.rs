//! The night: who drives where and when, and what goes wrong. The only file that plants faults.

use crate::ground::{self, AUK, DUNLIN, FULMAR, GANNET, ISLAND, PETREL, SKUA, TERN};
use crate::lanes::{lanes, swerve};
use crate::rigs::{CART, NORTH, SOUTH, TRAIL};
use making::driving::lands;
use making::dubins::{EAST, Pose};
use making::lot::Lot;
use making::rig::Rig;
use making::route::{Manner, Route, Stretch, While};

/// One log file.
pub(crate) struct Outing {
    pub file: &'static str,
    /// Seconds since 2026-01-11T00:00:00Z.
    pub start_s: f64,
    pub route: Route,
    /// Rate set on the controller for the whole log, gal/ac.
    pub set_rate_gal_ac: f64,
}

/// Lanes of a land.
const LAND: usize = 4;
const TARGET_GAL_AC: f64 = 35.0;
/// What petrel is to get before the night, as ordered, gal/ac.
const BEFORE_GAL_AC: f64 = 30.0;
/// What petrel is to get after it, as ordered, gal/ac.
const AFTER_GAL_AC: f64 = 40.0;
const CART_GAL_AC: f64 = 45.0;

/// Planted: the lane of fulmar that nobody drives.
pub(crate) const MISSED_LANE: usize = 8;
/// Planted: the pump stands still in this lane of gannet.
pub(crate) const DRY_LANE: usize = 4;
pub(crate) const DRY_S: f64 = 26.0;
/// Planted: the log is silent in this lane of tern.
pub(crate) const SILENT_LANE: usize = 4;
pub(crate) const SILENT_S: f64 = 8.0;
/// Planted: skua is treated with this section closed (counted from 0).
pub(crate) const STUCK_SECTION: usize = 1;
/// Planted: auk is treated at this multiple of the target.
pub(crate) const OVER_RATE: f64 = 1.25;

fn hour(hours: f64, minutes: f64) -> f64 {
    hours * 3600.0 + minutes * 60.0
}

/// All logs of the night. Local time is UTC - 2 h.
pub(crate) fn outings() -> Vec<Outing> {
    let outing = |file, start_s, route, set_rate_gal_ac| Outing {
        file,
        start_s,
        route,
        set_rate_gal_ac,
    };
    vec![
        outing(
            "north-1.gpx.gz",
            hour(22.0, 26.0),
            petrel(BEFORE_GAL_AC),
            BEFORE_GAL_AC,
        ),
        outing(
            "north-2.gpx.gz",
            hour(24.0, 50.0),
            gannet_and_fulmar(),
            TARGET_GAL_AC,
        ),
        outing(
            "north-3.gpx.gz",
            hour(28.0, 56.0),
            petrel(AFTER_GAL_AC),
            AFTER_GAL_AC,
        ),
        outing(
            "south-1.gpx.gz",
            hour(24.0, 10.0),
            tern_and_skua(),
            TARGET_GAL_AC,
        ),
        outing("south-2.gpx.gz", hour(26.0, 40.0), auk(), TARGET_GAL_AC),
        outing("cart.gpx", hour(26.0, 30.0), walks_and_steps(), CART_GAL_AC),
        outing("trail.gpx.gz", hour(25.0, 20.0), dunlin(), TARGET_GAL_AC),
    ]
}

/// The orders file, in local time. Planted: nobody goes to noddy, nobody ordered auk, and skua is
/// ordered too early.
pub(crate) const ORDERS_CSV: &str = "\
order,site,zone,service,target,from,by
D-101,petrel,,pre-treatment,30 gal/ac,2026-01-11 19:00,2026-01-11 22:00
D-102,petrel,,post-treatment,40 gal/ac,2026-01-12 02:00,2026-01-12 05:00
D-103,gannet,,post-treatment,,2026-01-11 21:00,2026-01-12 05:00
D-104,fulmar,,post-treatment,,2026-01-11 21:00,2026-01-12 05:00
D-105,tern,,post-treatment,,2026-01-11 21:00,2026-01-12 05:00
D-106,skua,,post-treatment,,2026-01-11 21:00,2026-01-11 22:40
D-107,dunlin,,post-treatment,,2026-01-11 21:00,2026-01-12 05:00
D-108,noddy,,post-treatment,,2026-01-11 21:00,2026-01-12 05:00
";
/// When skua was to be finished, seconds since the first midnight.
pub(crate) const SKUA_BY_S: f64 = 24.0 * 3600.0 + 40.0 * 60.0;
/// The ground of noddy, m2.
pub(crate) const NODDY_M2: f64 = 64.0 * 42.0;

/// A route that begins with so long a wait in the yard.
fn from_yard(rig: Rig, seconds: f64) -> Route {
    let mut route = Route::from_yard(rig);
    route.stop(seconds);
    route
}

/// There, all lanes, both ends.
fn whole(route: &mut Route, lot: &Lot, manner: &Manner) {
    route.road_to(lot.x_m.0 - 40.0);
    lanes(route, lot, &lands(0, lot.lanes, LAND), manner);
    route.ends(lot, manner);
}

/// The stretch of a lane of those that were just driven in this order.
fn stretch_of<'a>(route: &'a mut Route, order: &[usize], lane: usize) -> &'a mut Stretch {
    let first = route.stretches.len() - order.len();
    let place = order.iter().position(|&driven| driven == lane);
    &mut route.stretches[first + place.expect("the lane is one of these")]
}

fn dunlin() -> Route {
    let mut route = from_yard(TRAIL, 300.0);
    let manner = Manner::usual(&TRAIL, "dunlin", TARGET_GAL_AC);
    whole(&mut route, &DUNLIN, &manner);
    route.home(180.0);
    route
}

fn petrel(rate_gal_ac: f64) -> Route {
    let mut route = from_yard(NORTH, 90.0);
    let manner = Manner::usual(&NORTH, "petrel", rate_gal_ac);
    whole(&mut route, &PETREL, &manner);
    route.home(120.0);
    route
}

fn gannet_and_fulmar() -> Route {
    let mut route = from_yard(NORTH, 900.0);
    gannet(&mut route);
    route.home(1200.0);
    fulmar(&mut route);
    route.home(240.0);
    route
}

fn gannet(route: &mut Route) {
    let (lot, (before, after)) = (&GANNET, ISLAND.lanes);
    let manner = Manner::usual(&NORTH, "gannet", TARGET_GAL_AC);
    route.road_to(lot.x_m.0 - 60.0);
    // Lanes are long here, so each follows its neighbour.
    let order = lands(0, before + 1, 2);
    lanes(route, lot, &order, &manner);
    stretch_of(route, &order, DRY_LANE).dry = Some(While {
        at_m: 25.0,
        seconds: DRY_S,
    });
    swerve(route, lot, (before + 1, before), &ISLAND, &manner);
    swerve(route, lot, (after - 1, after), &ISLAND, &manner);
    lanes(route, lot, &lands(after, lot.lanes - after, 2), &manner);
    // The wedges that the swerves leave at both ends of the island: two crosswise passes each.
    let (near_s_m, far_s_m) = lot.island_s_m(&ISLAND);
    let y_m = (lot.y_m(near_s_m), lot.y_m(far_s_m));
    let first_m = 0.1 + NORTH.width_m() / 2.0;
    for step in [1.0, 0.0] {
        let out_m = first_m + step * NORTH.spacing_m();
        route.cross(ISLAND.x_m.1 + out_m, (y_m.1, y_m.0), &manner);
        route.cross(ISLAND.x_m.0 - out_m, (y_m.0, y_m.1), &manner);
    }
    // The west end first: the way there keeps clear of the island.
    let half_m = lot.half_m();
    route.cross(lot.x_m.0 + half_m, (lot.y1_m(), lot.y0_m), &manner);
    route.cross(lot.x_m.1 - half_m, (lot.y0_m, lot.y1_m()), &manner);
}

fn fulmar(route: &mut Route) {
    let lot = &FULMAR;
    let manner = Manner::usual(&NORTH, "fulmar", TARGET_GAL_AC);
    let mut order = lands(0, lot.lanes, LAND);
    order.retain(|&lane| lane != MISSED_LANE);
    route.road_to(lot.x_m.0 - 40.0);
    lanes(route, lot, &order, &manner);
    route.ends(lot, &manner);
    route.drive(lot, &manner);
}

fn tern_and_skua() -> Route {
    let mut route = from_yard(SOUTH, 900.0);
    let lot = &TERN;
    let manner = Manner::usual(&SOUTH, "tern", TARGET_GAL_AC);
    route.road_to(lot.x_m.0 - 60.0);
    // Planted: the bed lies across a lane, level with the paving and under snow; the boom stays open over it.
    let order = lands(0, lot.lanes, LAND);
    lanes(&mut route, lot, &order, &manner);
    stretch_of(&mut route, &order, SILENT_LANE).silent = Some(While {
        at_m: 30.0,
        seconds: SILENT_S,
    });
    route.ends(lot, &manner);
    route.road_to(2200.0);
    route.stop(540.0);
    skua(&mut route);
    route.home(300.0);
    route
}

fn skua(route: &mut Route) {
    let lot = &SKUA;
    let mut manner = Manner::usual(&SOUTH, "skua", TARGET_GAL_AC);
    manner.open[STUCK_SECTION] = false;
    let (long, step_x_m) = (ground::SKUA_LONG_LANES, ground::SKUA_SHORT_X1_M);
    let (half_m, step_y_m) = (lot.half_m(), lot.y_m(lot.step_s_m(long)));
    route.road_to(lot.x_m.0 - 40.0);
    lanes(route, lot, &lands(0, long, LAND), &manner);
    lanes(route, lot, &lands(long, lot.lanes - long, LAND), &manner);
    route.cross(step_x_m - half_m, (step_y_m, lot.y1_m()), &manner);
    route.cross(lot.x_m.1 - half_m, (step_y_m, lot.y0_m), &manner);
    route.cross(lot.x_m.0 + half_m, (lot.y0_m, lot.y1_m()), &manner);
}

fn auk() -> Route {
    let mut route = from_yard(SOUTH, 420.0);
    let manner = Manner::usual(&SOUTH, "auk", TARGET_GAL_AC * OVER_RATE);
    whole(&mut route, &AUK, &manner);
    route.home(300.0);
    route
}

fn walks_and_steps() -> Route {
    let mut route = from_yard(CART, 480.0);
    let manner = Manner::usual(&CART, "fulmar", CART_GAL_AC);
    route.road_to(2680.0);
    for (_, from_m, to_m) in ground::walks_m() {
        route.spray(from_m, to_m, &manner);
    }
    let (corner_m, _) = ground::steps_m();
    route.go(Pose::new(corner_m.0 - 2.0, corner_m.1 - 3.0, EAST), 2.0);
    // The crew sprays in bursts while the cart stands.
    let bursts = (0..9)
        .map(|i| (20.0 + 27.0 * f64::from(i), 42.0 + 27.0 * f64::from(i)))
        .collect();
    route.stop_with_gun(300.0, bursts);
    route.home(240.0);
    route
}
