//! The boom: where each section's edges are, and which sections a fix says are open.
//!
//! Base module, made once from a rig of the fleet file.

use crate::input::fleet::{Hitch, Rig};
use crate::input::log::Fix;
use serde::{Deserialize, Serialize};

/// A set of sections, bit 0 the leftmost.
pub type Sections = u64;

/// Numbers of sections, from 1 at the left.
#[must_use]
pub fn numbers(sections: Sections) -> Vec<usize> {
    let all = 0..Sections::BITS as usize;
    all.filter(|at| sections >> at & 1 == 1)
        .map(|at| at + 1)
        .collect()
}

/// A rig's boom, in metres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Boom {
    /// Edges of the sections to the right of the boom's centre, left to right: one more than sections.
    pub edges_m: Vec<f64>,
    /// Antenna ahead of the boom's centre.
    pub antenna_ahead_m: f64,
    /// Antenna to the right of the boom's centre.
    pub antenna_right_m: f64,
    /// Antenna ahead of the rear axle.
    pub axle_m: f64,
    /// The boom rides on a trailer.
    pub hitch: Option<Hitch>,
}

impl Boom {
    /// The boom of a rig.
    #[must_use]
    pub fn of(rig: &Rig) -> Self {
        let mut edges_m = vec![-rig.boom_width_m() / 2.0];
        for width_m in &rig.section_widths_m {
            edges_m.push(edges_m[edges_m.len() - 1] + width_m);
        }
        Self {
            edges_m,
            antenna_ahead_m: rig.antenna_ahead_m,
            antenna_right_m: rig.antenna_right_m,
            axle_m: rig.axle_m,
            hitch: rig.hitch,
        }
    }

    /// Farthest that any part of the boom can be from the antenna, m.
    #[must_use]
    pub fn reach_m(&self) -> f64 {
        let half_m = self.edges_m.last().copied().unwrap_or(0.0);
        let behind_m = self
            .hitch
            .map_or(self.antenna_ahead_m.abs(), |hitch| hitch.length_m());
        half_m + behind_m + self.antenna_right_m.abs()
    }

    /// Number of sections.
    #[must_use]
    pub fn sections(&self) -> usize {
        self.edges_m.len() - 1
    }

    /// The set of all sections.
    #[must_use]
    pub fn all(&self) -> Sections {
        // At most 64 sections; the reader of the fleet file sees to it.
        u64::MAX >> (64 - self.sections().clamp(1, 64))
    }

    /// Sum of the widths of these sections, m: the active width when they are the open ones.
    #[must_use]
    pub fn width_m(&self, sections: Sections) -> f64 {
        let mut rest = sections & self.all();
        let mut width_m = 0.0;
        while rest != 0 {
            width_m += self.section_width_m(rest.trailing_zeros() as usize);
            rest &= rest - 1;
        }
        width_m
    }

    /// Width of one section (from 0), m.
    #[must_use]
    pub fn section_width_m(&self, section: usize) -> f64 {
        self.edges_m[section + 1] - self.edges_m[section]
    }

    /// Sections that the log says are switched open at a fix. `flows`: liquid flows, which is what
    /// opens a rig with one section and no states. States not yet logged count as closed.
    #[must_use]
    pub fn switched_open(&self, fix: &Fix, flows: bool) -> Sections {
        let states = match fix.open {
            Some(states) => states & self.all(),
            None if self.sections() == 1 && flows => 1,
            None => 0,
        };
        if fix.master == Some(false) { 0 } else { states }
    }

    /// Runs of neighbouring sections in a set: first section and one past the last, left to right.
    pub fn runs(&self, sections: Sections) -> impl Iterator<Item = (usize, usize)> + use<> {
        let count = self.sections();
        let mut next = 0;
        std::iter::from_fn(move || {
            let first = (next..count).find(|&s| sections >> s & 1 == 1)?;
            let end = (first..count)
                .find(|&s| sections >> s & 1 == 0)
                .unwrap_or(count);
            next = end;
            Some((first, end))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boom() -> Boom {
        Boom {
            edges_m: vec![-2.0, -1.0, 0.5, 2.0],
            antenna_ahead_m: 0.0,
            antenna_right_m: 0.0,
            axle_m: 0.0,
            hitch: None,
        }
    }

    #[test]
    fn neighbouring_open_sections_make_one_run() {
        assert_eq!(boom().runs(0b011).collect::<Vec<_>>(), [(0, 2)]);
        assert_eq!(boom().runs(0b101).collect::<Vec<_>>(), [(0, 1), (2, 3)]);
        assert_eq!(boom().runs(0).count(), 0);
    }

    #[test]
    fn active_width_is_the_sum_of_the_open_sections() {
        assert!((boom().width_m(0b101) - 2.5).abs() < 1e-12);
        assert!((boom().width_m(boom().all()) - 4.0).abs() < 1e-12);
    }
}
