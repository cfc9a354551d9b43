//! The order in which findings are read: severity, then what is at stake, then weight.
//!
//! At five in the morning the first lines decide what a rig is sent for. A slip in the fleet file that makes all
//! figures of a rig wrong comes first within its severity. Then ground that was to be
//! treated and got nothing comes before ground that got too little, and both before liquid that was
//! wasted; what only concerns the files comes last.

use crate::findings::Finding;

/// Puts findings in the order in which they are read. Equals stay in the order of the flow, which
/// follows the order of the input.
pub(super) fn rank(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        let by_stake = a.kind.card().stake.cmp(&b.kind.card().stake);
        a.severity
            .cmp(&b.severity)
            .then(by_stake)
            .then(b.weight.total_cmp(&a.weight))
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::cover::AboutCover;
    use crate::findings::log::AboutLog;
    use crate::findings::rate::AboutRate;
    use crate::findings::{Kind, Severity};

    fn finding(severity: Severity, kind: impl Into<Kind>, weight: f64) -> Finding {
        let mut finding = Finding::new(severity, kind);
        finding.weight = weight;
        finding
    }

    #[test]
    fn bare_ground_comes_before_waste_and_waste_before_files() {
        let off = |rate_ml_m2| AboutRate::OffRate {
            rate_ml_m2,
            target_ml_m2: 30.0,
            band: 0.1,
        };
        let thin = |gap_m2| AboutCover::ThinCover {
            treated_share: 0.5,
            zone_share: None,
            limit: 0.9,
            gap_m2,
            error_untold: false,
        };
        let mut findings = vec![
            finding(Severity::LookInto, AboutLog::NoLog, 1e6),
            finding(Severity::LookInto, off(40.0), 5e5),
            finding(Severity::LookInto, off(20.0), 1.0),
            finding(Severity::GoBack, thin(1.0), 1.0),
            finding(Severity::GoBack, thin(2.0), 2.0),
        ];
        rank(&mut findings);
        let kinds: Vec<Kind> = findings.into_iter().map(|f| f.kind).collect();
        assert_eq!(
            kinds,
            [
                thin(2.0).into(),
                thin(1.0).into(),
                off(20.0).into(),
                off(40.0).into(),
                Kind::from(AboutLog::NoLog)
            ]
        );
    }
}
