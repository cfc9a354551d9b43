//! The floor of detection, as the README states it, written before anything was measured.

use crate::classes::Class;
use crate::judge::SMALLEST_M2;
use crate::night::Night;

/// Least truly bare ground, inside the edge, that positions and switches of a night can tell from none, m2; infinite where it
/// is too narrow for any length.
///
/// w: least width of the bare ground, p: 95 % position error, v: speed, T: interval between fixes.
/// A = max(10 m2, 10 m2 x w / (w - 0.6 p)) + w x v T / 2, for w - 0.6 p >= 1 m.
pub(crate) fn least_m2(night: &Night) -> f64 {
    let rig = &night.works[0].rig;
    let within_m = rig.receiver.within_m;
    let width_m = match night.class {
        Class::Corner4 => 3.0,
        Class::Corner6 => 5.0,
        Class::Corner10 => 9.0,
        Class::Corner15 => 14.0,
        Class::Section => night
            .closed_section
            .map_or(0.0, |s| rig.sections_m[s - 1] - 0.1 * rig.width_m() / 2.0),
        _ => rig.width_m() * 0.8,
    };
    let left_m = width_m - 0.6 * within_m;
    if left_m < 1.0 {
        return f64::INFINITY;
    }
    SMALLEST_M2 * width_m / left_m + width_m * rig.lane_speed_mps * rig.receiver.interval_s / 2.0
}

/// Keep-off ground farther inside its line than the position error, m2: what a finding can lean on.
pub(crate) fn keep_off_m2(night: &Night) -> f64 {
    let within_m = night.works[0].rig.receiver.within_m;
    let bed = night.sites[0].zones.iter().find(|z| z.id == "bed");
    bed.map_or(0.0, |z| {
        let (width_m, height_m) = (z.ring[2][0] - z.ring[0][0], z.ring[2][1] - z.ring[0][1]);
        (width_m - 2.0 * within_m).max(0.0) * (height_m - 2.0 * within_m).max(0.0)
    })
}
