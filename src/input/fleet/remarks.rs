//! What is possible in a fleet file and unlikely: asked about, not refused.

use super::Fleet;
use crate::findings::rig::AboutRig;
use crate::findings::{Finding, Severity};
use crate::units::M_PER_FT;

/// A boom of this width is asked about, m. Bars with nozzles for three lanes of 12 ft reach 36 ft; a boom over 40 ft
/// is more likely feet written for inches (common practice).
const WIDE_M: f64 = 40.0 * M_PER_FT;

impl Fleet {
    /// Findings about the rigs' descriptions.
    #[must_use]
    pub fn remarks(&self) -> Vec<Finding> {
        let wide = self.rigs.iter().filter(|rig| rig.boom_width_m() >= WIDE_M);
        wide.map(|rig| {
            let kind = AboutRig::WideBoom {
                width_m: rig.boom_width_m(),
                sections: rig.section_widths_m.len(),
                limit_m: WIDE_M,
            };
            let mut finding = Finding::new(Severity::LookInto, kind);
            finding.rig = Some(rig.id.clone());
            finding.weight = rig.boom_width_m();
            finding
        })
        .collect()
    }
}
