//! Sections that close over ground that lanes before covered, for controllers that do so.

use super::field::{ground, strict};
use super::lane::Lane;
use super::lot::Lot;
use super::minkowski::edges;
use super::switches::Switches;
use super::vehicle::Vehicle;

/// The lanes in driving order with sections closed over ground that lanes before them covered.
pub(super) fn reclosed(lot: &Lot, vehicle: &Vehicle, lanes: Vec<Lane>) -> Vec<Lane> {
    let mut left = lot.target.clone();
    let mut reclosed = Vec::with_capacity(lanes.len());
    for mut lane in lanes {
        let switches = Switches::of(edges(&left), strict(lot));
        lane.open = switches.open(vehicle, &lane);
        left = left.difference(&ground(std::slice::from_ref(&lane), vehicle));
        reclosed.push(lane);
    }
    reclosed.retain(|lane| !lane.open.is_empty());
    reclosed
}
