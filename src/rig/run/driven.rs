//! Where a rig drove, for the map: its antenna's positions as lines, broken where nobody knows.

use crate::geometry::place::LonLat;
use crate::geometry::plane::Xy;
use crate::geometry::thinned::thinned;
use crate::rig::track::{Link, Track};

/// Lines are simplified to this, m: the position error of a good receiver (tolerance).
const TOLERANCE_M: f64 = 1.0;
/// Metres in a degree of latitude, near enough to draw a line (arithmetic).
const M_PER_DEG: f64 = 111_195.0;
/// Half the globe: a longer step east or west goes over the antimeridian, degrees (arithmetic).
const HALF_DEG: f64 = 180.0;

/// The lines of a run.
#[must_use]
pub fn lines(track: &Track) -> Vec<Vec<LonLat>> {
    let mut lines: Vec<Vec<LonLat>> = Vec::new();
    let mut line: Vec<LonLat> = Vec::new();
    for (index, fix) in track.fixes.iter().enumerate() {
        let before = index.checked_sub(1).map(|step| track.steps[step].link);
        let known = matches!(before, Some(Link::Driven | Link::Parking));
        let near = line
            .last()
            .is_none_or(|last| (last.lon_deg - fix.place.lon_deg).abs() < HALF_DEG);
        if !(known && near) {
            lines.push(std::mem::take(&mut line));
        }
        line.push(fix.place);
    }
    lines.push(line);
    lines
        .iter()
        .map(|line| simple(line))
        .filter(|line| line.len() > 1)
        .collect()
}

fn simple(line: &[LonLat]) -> Vec<LonLat> {
    let Some(first) = line.first() else {
        return Vec::new();
    };
    let east_m = M_PER_DEG * first.lat_deg.to_radians().cos();
    if east_m < 1.0 {
        return line.to_vec();
    }
    let metres = |at: &LonLat| Xy::new(at.lon_deg * east_m, at.lat_deg * M_PER_DEG);
    let kept = thinned(line.iter().map(metres), TOLERANCE_M);
    kept.into_iter().map(|k| line[k]).collect()
}
