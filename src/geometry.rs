//! Base module: places, planes and areas. Knows nothing of rigs, liquid or files.
//!
//! | module | holds |
//! |---|---|
//! | [`place`] | degrees and instants |
//! | [`plane`] | a site's metres, and back to degrees |
//! | [`bounds`], [`extent`] | boxes in degrees and in metres |
//! | [`overlay`] | set operations on regions (`docs/overlay.md` has the proof) |
//! | [`raster`] | exact areas on a grid |
//! | [`cells`] | ground as whole cells of a grid |
//! | [`thinned`] | lines with fewer corners, for drawings |

pub mod angle;
pub mod bounds;
pub mod cells;
pub mod extent;
pub mod overlay;
pub mod place;
pub mod plane;
pub mod raster;
pub mod thinned;
