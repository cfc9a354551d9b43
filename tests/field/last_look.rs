//! The last look: what a driver still sees bare when he is through.

use std::f64::consts::FRAC_PI_2;

use crate::grid::Grid;
use crate::ground::Site;
use crate::plan::Stroke;
use crate::plane::{P, ahead};

/// Strokes over what a driver still sees bare: pieces of 2.5 m2 or more, wider than half a metre.
pub(crate) fn last_look(
    site: &Site,
    meant: &Grid<bool>,
    wet: &Grid<bool>,
    width: f64,
) -> Vec<Stroke> {
    let mut bare = meant.clone();
    for (cell, covered) in bare.cells.iter_mut().zip(&wet.cells) {
        *cell = *cell && !covered;
    }
    let bare = bare.shrunk(1).grown(1);
    let lot = &site.zones[0].ring;
    let middle = [(lot[0][0] + lot[1][0]) / 2.0, lot[lot.len() - 1][1] / 2.0];
    let mut strokes = Vec::new();
    for group in bare.groups() {
        if group.len() as f64 * bare.cell_m2() < 2.5 {
            continue;
        }
        let points: Vec<P> = group.iter().map(|c| bare.centre(*c)).collect();
        let n = points.len() as f64;
        let mean = points
            .iter()
            .fold([0.0, 0.0], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
        let car_near = |c: &Vec<P>| {
            mean[0] > c[0][0] - 3.0
                && mean[0] < c[2][0] + 3.0
                && mean[1] > c[0][1] - 3.0
                && mean[1] < c[2][1] + 3.0
        };
        if site.cars.iter().any(car_near) {
            continue; // nobody shunts about between parked cars
        }
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for p in &points {
            let d = [p[0] - mean[0], p[1] - mean[1]];
            xx += d[0] * d[0];
            xy += d[0] * d[1];
            yy += d[1] * d[1];
        }
        let mut direction = 0.5 * (2.0 * xy).atan2(xx - yy);
        if (middle[0] - mean[0]) * direction.cos() + (middle[1] - mean[1]) * direction.sin() < 0.0 {
            direction += std::f64::consts::PI;
        }
        let (sin, cos) = direction.sin_cos();
        let (mut span, mut side) = ([0.0_f64; 2], [0.0_f64; 2]);
        for p in &points {
            let d = [p[0] - mean[0], p[1] - mean[1]];
            let (along, across) = (cos * d[0] + sin * d[1], -sin * d[0] + cos * d[1]);
            span = [span[0].min(along), span[1].max(along)];
            side = [side[0].min(across), side[1].max(across)];
        }
        let lines = ((side[1] - side[0]) / (0.85 * width))
            .ceil()
            .clamp(1.0, 4.0);
        for k in 0..lines as usize {
            let across = side[0] + (side[1] - side[0]) * (k as f64 + 0.5) / lines;
            let base = ahead(mean, direction + FRAC_PI_2, across);
            strokes.push(Stroke {
                from: ahead(base, direction, span[0] - 0.4),
                to: ahead(base, direction, span[1] + 0.4),
                back_in: true,
                wet_turn: false,
                push: false,
            });
        }
    }
    strokes
}
