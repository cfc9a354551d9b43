//! Remarks on sites whose grounds are made of cells.

use super::Case;
use crate::findings::sites::AboutSites;
use crate::findings::{Finding, Severity};
use std::f64::consts::FRAC_1_SQRT_2;

/// One where outlines lay in a heap.
pub(super) fn told(case: &Case) -> Option<Finding> {
    let cell_m = case.outcome.cell_m?;
    // A cell counts by its middle: an outline runs within half a diagonal of the true one.
    let off_m = cell_m * FRAC_1_SQRT_2;
    let kind = AboutSites::GroundByCells { cell_m, off_m };
    let mut finding = Finding::new(Severity::ForTheRecord, kind);
    finding.site = case.id();
    Some(finding)
}
