//! Ground under booms: of passes, and of swaths whose place is not known well.

use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use std::ops::Range;

/// Ground of one pass; of several, and what they covered first or again, where outlines lie in a heap.
pub(super) struct PassGround {
    pub(super) leg: usize,
    /// Numbers of the passes.
    pub(super) numbers: Range<u32>,
    pub(super) steps: Range<usize>,
    /// What these passes covered again; the same passes have another ground that is not.
    pub(super) again: bool,
    pub(super) region: Region,
    pub(super) extent: Extent,
}

impl PassGround {
    /// With the box of its ground.
    pub(super) fn boxed(self) -> Self {
        Self {
            extent: self.region.extent(),
            ..self
        }
    }
}

/// An unbroken row of steps of one leg in which a boom may have stood elsewhere; many rows where grounds are made of cells.
pub(super) struct UnsureGround {
    pub(super) leg: usize,
    pub(super) steps: Range<usize>,
    /// Its swath.
    pub(super) ground: Region,
    /// All ground that it may have covered instead: as far as the boom is long, and the position error.
    pub(super) reach: Region,
}
