//! One overlay of rings that hardly cross: from weighted rings to regions of windings.
//!
//! | step | in | what |
//! |---|---|---|
//! | 1 | [`super::grid`] | edges by place; pairs that may meet |
//! | 2 | [`super::snap`] | hot pixels; edges are bent through those they pass |
//! | 3 | [`super::arcs`] | bent rings cut into arcs where they meet |
//! | 4 | [`super::windings`] | windings on both sides of every arc, with a certificate |
//! | 5 | [`super::faces`] | borders of any set of windings |
//!
//! One graph gives any number of regions. Everything is exact but the one rounding of step 2; the proof stands in
//! `docs/overlay.md`. What fails is never a wrong region but a [`Fail`], on which [`super::general`] does the work.

use super::arcs::Arcs;
use super::faces::{self, Shapes};
use super::grid::Grid;
use super::rings::{Edge, Fail, Rings, Winding};
use super::snap;
use super::windings::Windings;

/// What to do where so many edges lie near each other that rings had better be joined a few at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Heaps {
    /// Say so: [`Fail::Heap`].
    Refused,
    /// Work through them.
    Taken,
}

/// Rings with the windings on both sides of every piece of them.
pub(super) struct Graph {
    rings: Rings,
    /// None when there are no rings.
    parts: Option<(Grid, Arcs, Windings)>,
}

impl Graph {
    /// The graph of these rings.
    ///
    /// # Errors
    ///
    /// See [`Fail`].
    pub(super) fn of(rings: Rings, heaps: Heaps) -> Result<Self, Fail> {
        Self::without(rings, heaps, |_| false)
    }

    /// The graph when pairs of edges are overlooked. Tests overlook some, to see whether the certificate tells.
    pub(super) fn without(
        rings: Rings,
        heaps: Heaps,
        overlooked: impl FnMut(&(Edge, Edge)) -> bool,
    ) -> Result<Self, Fail> {
        if rings.rings.is_empty() {
            return Ok(Self { rings, parts: None });
        }
        #[cfg(test)]
        if super::general::is_alone() {
            return Err(Fail::Label);
        }
        let grid = Grid::of(&rings)?;
        let mut pairs = grid.pairs(&rings, heaps == Heaps::Taken)?;
        let mut overlooked = overlooked;
        pairs.retain(|pair| !overlooked(pair));
        let cuts = snap::cuts(&rings, &grid, &pairs)?;
        drop(pairs);
        let arcs = Arcs::of(&rings, &cuts)?;
        let windings = Windings::of(&rings, &grid, &arcs)?;
        Ok(Self {
            rings,
            parts: Some((grid, arcs, windings)),
        })
    }

    /// The ground with these windings; where there are no rings, windings are 0 and it must not be inside.
    ///
    /// # Errors
    ///
    /// [`Fail::Trace`].
    pub(super) fn region(&self, inside: impl Fn(Winding) -> bool) -> Result<Shapes, Fail> {
        match &self.parts {
            Some((grid, arcs, windings)) => {
                faces::region(&self.rings, grid, arcs, windings, inside)
            }
            None => Ok(Vec::new()),
        }
    }
}
