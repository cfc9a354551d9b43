//! Outlines as SVG path data: whole decimetres, relative moves, simplified.

use super::Frame;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::geometry::thinned::thinned;
use std::fmt::Write;

/// Path data.
pub(super) struct Paths;

impl Paths {
    /// All rings of some ground; holes run the other way round, so that both fill rules leave them open.
    pub(super) fn of(region: &Region, frame: &Frame, tolerance_m: f64) -> String {
        let mut d = String::new();
        for ring in region.rings() {
            let line: Vec<Xy> = ring.iter().chain(ring.first()).copied().collect();
            let kept = thinned(line.iter().copied(), tolerance_m).into_iter();
            let points: Vec<Xy> = kept.map(|k| line[k]).collect();
            // The last point is the first one: `z` closes the ring.
            let open = &points[..points.len().saturating_sub(1)];
            let moves = moves(open, frame);
            if moves.matches(' ').count() >= 3 {
                d += &moves;
                d.push('z');
            }
        }
        d
    }

    /// An open line.
    pub(super) fn line(points: &[Xy], frame: &Frame) -> String {
        moves(points, frame)
    }
}

/// `M3 4l5 0-2 7`: a move to the first point, then steps; steps of nothing are left out.
fn moves(points: &[Xy], frame: &Frame) -> String {
    let mut d = String::new();
    let mut last: Option<(i64, i64)> = None;
    for &point in points {
        let (x, y) = frame.to_dm(point);
        match last {
            None => {
                let _ = write!(d, "M{x} {y}");
            }
            Some((from_x, from_y)) if (from_x, from_y) != (x, y) => {
                let (dx, dy) = (x - from_x, y - from_y);
                let _ = write!(d, "l{dx} {dy}");
            }
            Some(_) => {}
        }
        last = Some((x, y));
    }
    d
}
