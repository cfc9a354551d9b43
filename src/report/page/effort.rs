//! What going back takes: liquid at the target, and time at the pace of this night.

use super::spot::Spot;
use super::trips::{Part, Trip};
use crate::result::{self, Audit};

/// Liquid and time, overlap, driving between sites and filling not included.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Effort {
    /// Ground times target, L; `None` where some ground has no target.
    pub litres: Option<f64>,
    /// Time on the sites from first to last liquid, turns included, s; `None` where the night shows no pace.
    pub spraying_s: Option<f64>,
}

/// How fast the night's rigs worked, turns included.
#[derive(Debug, Clone, Copy)]
struct Pace {
    /// Ground in a second, m2: for whole zones.
    m2_s: f64,
    /// Driven with liquid in a second, m: for strips, each of which takes a drive of its own.
    m_s: f64,
}

/// What the trips take together.
#[must_use]
pub fn of(trips: &[Trip], audit: &Audit) -> Effort {
    let parts = || trips.iter().flat_map(|trip| &trip.parts);
    let pace = pace(audit);
    Effort {
        litres: parts().map(|part| part.litres).sum(),
        spraying_s: pace.map(|pace| parts().map(|part| pace.seconds(part)).sum()),
    }
}

impl Pace {
    fn seconds(self, part: &Part) -> f64 {
        if part.strips.is_empty() || part.spot == Some(Spot::Whole) {
            return part.area_m2 / self.m2_s;
        }
        part.strips
            .iter()
            .map(|strip| strip.length_m / self.m_s)
            .sum()
    }
}

fn pace(audit: &Audit) -> Option<Pace> {
    let applications = || audit.sites.iter().flat_map(|site| &site.applications);
    let visits = applications().flat_map(|application| &application.visits);
    let (mut seconds, mut wet_m) = (0.0, 0.0);
    for visit in visits {
        seconds += spraying_s(visit);
        wet_m += visit.wet_length_m;
    }
    let zones = applications().flat_map(|application| &application.zones);
    let treated_m2: f64 = zones.filter_map(|zone| zone.treated_m2).sum();
    let known = seconds > 0.0 && wet_m > 0.0 && treated_m2 > 0.0;
    known.then(|| Pace {
        m2_s: treated_m2 / seconds,
        m_s: wet_m / seconds,
    })
}

fn spraying_s(visit: &result::Visit) -> f64 {
    match (visit.spray_start, visit.spray_end) {
        (Some(start), Some(end)) => end.seconds_since(start),
        _ => 0.0,
    }
}
