//! The night: who drives where and when, and what goes wrong. The only file that plants faults.

use crate::dubins::{EAST, Pose};
use crate::ground::{self, AUK, DUNLIN, FULMAR, GANNET, PETREL, SKUA, TERN};
use crate::rig::{GAL_AC_ML_M2, Rig};
use crate::rigs::{CART, NORTH, SOUTH, TRAIL};
use crate::route::{Manner, Route, Trouble};
use crate::work::lands;

/// One log file.
pub(crate) struct Outing {
    pub file: &'static str,
    /// Seconds since 2026-01-11T00:00:00Z.
    pub start_s: f64,
    pub route: Route,
    /// Rate set on the controller for the whole log, where it is logged, gal/ac.
    pub set_rate_gal_ac: Option<f64>,
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

fn manner(rig: &Rig, site: &'static str, rate_gal_ac: f64) -> Manner {
    Manner {
        site,
        open: vec![true; rig.sections_m.len()],
        rate_ml_m2: rate_gal_ac * GAL_AC_ML_M2,
        speed_m_s: rig.lane_speed_m_s,
    }
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
            Some(BEFORE_GAL_AC),
        ),
        outing(
            "north-2.gpx.gz",
            hour(24.0, 50.0),
            gannet_and_fulmar(),
            Some(TARGET_GAL_AC),
        ),
        outing(
            "north-3.gpx.gz",
            hour(28.0, 56.0),
            petrel(AFTER_GAL_AC),
            Some(AFTER_GAL_AC),
        ),
        outing("south-1.gpx.gz", hour(24.0, 10.0), tern_and_skua(), None),
        outing("south-2.gpx.gz", hour(26.0, 40.0), auk(), None),
        outing(
            "cart.gpx",
            hour(26.0, 30.0),
            walks_and_steps(),
            Some(CART_GAL_AC),
        ),
        outing("trail.gpx.gz", hour(25.0, 20.0), dunlin(), None),
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

fn dunlin() -> Route {
    let mut route = Route::from_yard(TRAIL, 300.0);
    let manner = manner(&TRAIL, "dunlin", TARGET_GAL_AC);
    route.road_to(DUNLIN.x0_m - 40.0);
    route.lanes(
        &DUNLIN,
        &lands(0, DUNLIN.lanes, LAND),
        Route::inner(&DUNLIN),
        &manner,
        &[],
    );
    route.ends(&DUNLIN, &manner);
    route.home(180.0);
    route
}

fn petrel(rate_gal_ac: f64) -> Route {
    let mut route = Route::from_yard(NORTH, 90.0);
    let manner = manner(&NORTH, "petrel", rate_gal_ac);
    route.road_to(PETREL.x0_m - 40.0);
    route.lanes(
        &PETREL,
        &lands(0, PETREL.lanes, LAND),
        Route::inner(&PETREL),
        &manner,
        &[],
    );
    route.ends(&PETREL, &manner);
    route.home(120.0);
    route
}

fn gannet_and_fulmar() -> Route {
    let mut route = Route::from_yard(NORTH, 900.0);
    gannet(&mut route);
    route.home(1200.0);
    fulmar(&mut route);
    route.home(240.0);
    route
}

fn gannet(route: &mut Route) {
    let lot = &GANNET;
    let manner = manner(&NORTH, "gannet", TARGET_GAL_AC);
    let (x0_m, x1_m) = Route::inner(lot);
    let (before, after) = ground::ISLAND_LANES;
    let island_x_m = ground::ISLAND_X_M;
    let dry = Trouble::Dry {
        at_m: 25.0,
        seconds: DRY_S,
    };
    route.road_to(lot.x0_m - 60.0);
    // Lanes are long here, so each follows its neighbour.
    route.lanes(
        lot,
        &lands(0, before + 1, 2),
        (x0_m, x1_m),
        &manner,
        &[(DRY_LANE, Some(dry))],
    );
    route.swerve(lot, (before + 1, before), (x0_m, x1_m), island_x_m, &manner);
    route.swerve(
        lot,
        (after - 1, after),
        (x1_m, x0_m),
        (island_x_m.1, island_x_m.0),
        &manner,
    );
    route.lanes(
        lot,
        &lands(after, lot.lanes - after, 2),
        (x0_m, x1_m),
        &manner,
        &[],
    );
    // The wedges that the swerves leave at both ends of the island: two crosswise passes each.
    let y_m = lot.island_y_m(before, after);
    let first_m = 0.1 + NORTH.width_m() / 2.0;
    for step in [1.0, 0.0] {
        let out_m = first_m + step * NORTH.spacing_m();
        route.cross(island_x_m.1 + out_m, (y_m.1, y_m.0), &manner);
        route.cross(island_x_m.0 - out_m, (y_m.0, y_m.1), &manner);
    }
    // The west end first: the way there keeps clear of the island.
    route.cross(
        lot.cross_x_m(lot.x0_m, 1.0),
        (lot.y1_m(), lot.y0_m),
        &manner,
    );
    route.cross(
        lot.cross_x_m(lot.x1_m(), -1.0),
        (lot.y0_m, lot.y1_m()),
        &manner,
    );
}

fn fulmar(route: &mut Route) {
    let lot = &FULMAR;
    let manner = manner(&NORTH, "fulmar", TARGET_GAL_AC);
    let order: Vec<usize> = lands(0, lot.lanes, LAND)
        .into_iter()
        .filter(|&lane| lane != MISSED_LANE)
        .collect();
    route.road_to(lot.x0_m - 40.0);
    route.lanes(lot, &order, Route::inner(lot), &manner, &[]);
    route.ends(lot, &manner);
    let (from_m, to_m) = ground::DRIVE_Y_M;
    let drive = Manner {
        speed_m_s: 3.6,
        ..manner
    };
    let (right_x_m, left_x_m) = (ground::drive_lane_x_m(1), ground::drive_lane_x_m(0));
    route.spray(
        (left_x_m, to_m + 1.5),
        (left_x_m, from_m - 0.5),
        &drive,
        None,
    );
    route.spray(
        (right_x_m, from_m - 2.0),
        (right_x_m, to_m + 0.5),
        &drive,
        None,
    );
}

fn tern_and_skua() -> Route {
    let mut route = Route::from_yard(SOUTH, 900.0);
    let lot = &TERN;
    let manner_tern = manner(&SOUTH, "tern", TARGET_GAL_AC);
    let silence = Trouble::Silence {
        at_m: 30.0,
        seconds: SILENT_S,
    };
    route.road_to(lot.x0_m - 60.0);
    // Planted: the bed lies across a lane, level with the paving and under snow; the boom stays open over it.
    route.lanes(
        lot,
        &lands(0, lot.lanes, LAND),
        Route::inner(lot),
        &manner_tern,
        &[(SILENT_LANE, Some(silence))],
    );
    route.ends(lot, &manner_tern);
    route.road_to(2200.0);
    route.stop(540.0);
    skua(&mut route);
    route.home(300.0);
    route
}

fn skua(route: &mut Route) {
    let lot = &SKUA;
    let mut manner = manner(&SOUTH, "skua", TARGET_GAL_AC);
    manner.open[STUCK_SECTION] = false;
    let (x0_m, x1_m) = Route::inner(lot);
    let (long, short_x1_m) = (ground::SKUA_LONG_LANES, ground::SKUA_SHORT_X1_M);
    let step_y_m = lot.line_beyond_m(long - 1);
    route.road_to(lot.x0_m - 40.0);
    route.lanes(lot, &lands(0, long, LAND), (x0_m, x1_m), &manner, &[]);
    route.lanes(
        lot,
        &lands(long, lot.lanes - long, LAND),
        (x0_m, lot.inner_x_m(short_x1_m, -1.0)),
        &manner,
        &[],
    );
    route.cross(
        lot.cross_x_m(short_x1_m, -1.0),
        (step_y_m, lot.y1_m()),
        &manner,
    );
    route.cross(
        lot.cross_x_m(lot.x1_m(), -1.0),
        (step_y_m, lot.y0_m),
        &manner,
    );
    route.cross(
        lot.cross_x_m(lot.x0_m, 1.0),
        (lot.y0_m, lot.y1_m()),
        &manner,
    );
}

fn auk() -> Route {
    let mut route = Route::from_yard(SOUTH, 420.0);
    let manner = manner(&SOUTH, "auk", TARGET_GAL_AC * OVER_RATE);
    route.road_to(AUK.x0_m - 40.0);
    route.lanes(
        &AUK,
        &lands(0, AUK.lanes, LAND),
        Route::inner(&AUK),
        &manner,
        &[],
    );
    route.ends(&AUK, &manner);
    route.home(300.0);
    route
}

fn walks_and_steps() -> Route {
    let mut route = Route::from_yard(CART, 480.0);
    let manner = manner(&CART, "fulmar", CART_GAL_AC);
    route.road_to(2680.0);
    for (_, from_m, to_m) in ground::walks_m() {
        route.spray(from_m, to_m, &manner, None);
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
