//! How the demo's drivers take lanes, and how they swerve round an island.

use making::dubins::{EAST, Pose, WEST};
use making::lot::{Island, Lot};
use making::route::{LEAD_M, Manner, Route};

/// A lane opens this far inside the crosswise pass: a log at 1 Hz shows the opening up to a second late.
const OPEN_EARLY_M: f64 = 4.0;
/// A lane closes this far inside the crosswise pass; the log shows that late, too.
const CLOSE_LATE_M: f64 = 0.8;
/// A swerve takes this much way, on arcs of this radius; the boom closes this far before the island.
const SWERVE_M: f64 = 11.5;
const SWERVE_RADIUS_M: f64 = 8.0;
const ISLAND_CLEAR_M: f64 = 1.0;

/// Treats lanes in the given order between the crosswise passes, turning round after each. The first is driven east.
pub(crate) fn lanes(route: &mut Route, lot: &Lot, order: &[usize], manner: &Manner) {
    let mut east = true;
    for &lane in order {
        let (y_m, (x0_m, x1_m)) = (lot.lane_y_m(lane), lot.inner_m(lane));
        let (way, from_m, to_m) = if east {
            (1.0, x0_m - OPEN_EARLY_M, x1_m + CLOSE_LATE_M)
        } else {
            (-1.0, x1_m + OPEN_EARLY_M, x0_m - CLOSE_LATE_M)
        };
        route.spray((from_m, y_m), (to_m, y_m), manner);
        let on_m = LEAD_M + OPEN_EARLY_M - CLOSE_LATE_M;
        route.run_on((to_m, y_m), way, on_m, manner.speed_m_s);
        east = !east;
    }
}

/// A lane that swerves round an island into the lane beside it, with the boom closed alongside.
pub(crate) fn swerve(
    route: &mut Route,
    lot: &Lot,
    (own, aside): (usize, usize),
    island: &Island,
    manner: &Manner,
) {
    let (own_y_m, aside_y_m) = (lot.lane_y_m(own), lot.lane_y_m(aside));
    // The first lane after the island is driven back.
    let (way, psi_rad) = if own < aside {
        (-1.0, WEST)
    } else {
        (1.0, EAST)
    };
    let along = |(west, east): (f64, f64)| {
        if way > 0.0 {
            (west, east)
        } else {
            (east, west)
        }
    };
    let (from_m, to_m) = along(lot.inner_m(own));
    let (near_m, far_m) = along(island.x_m);
    let (near_x_m, far_x_m) = (near_m - way * ISLAND_CLEAR_M, far_m + way * ISLAND_CLEAR_M);
    let behind_m = way * route.rig.boom_behind_m();
    let pose = |x_m: f64, y_m: f64| Pose::new(x_m + behind_m, y_m, psi_rad);
    route.spray(
        (from_m - way * OPEN_EARLY_M, own_y_m),
        (near_x_m - way * SWERVE_M, own_y_m),
        manner,
    );
    route.spray_on(pose(near_x_m, aside_y_m), SWERVE_RADIUS_M, manner);
    route.go(pose(far_x_m, aside_y_m), manner.speed_m_s);
    let back = pose(far_x_m + way * SWERVE_M, own_y_m);
    route.spray_afresh(back, SWERVE_RADIUS_M, manner);
    let end_m = to_m + way * CLOSE_LATE_M;
    route.spray_on(pose(end_m, own_y_m), SWERVE_RADIUS_M, manner);
    route.go(pose(end_m + way, own_y_m), manner.speed_m_s);
}
