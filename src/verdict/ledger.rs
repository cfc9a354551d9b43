//! Where every metered litre went: a night's sums over sites and runs.
//!
//! Each line is added up for itself; none is what the others leave. That the lines add up to the
//! meter is held by the tests.

use crate::ground::Site;
use crate::input::sites::LandUse;
use crate::result::Ledger;
use crate::site::Outcome;
use crate::site::summary::Summary;

/// The ledger of each run: what the sites had on their zones, and what none of them had.
#[must_use]
pub fn balance(runs: &[Summary], sites: &[Site], outcomes: &[Outcome]) -> Vec<Ledger> {
    let mut ledgers: Vec<Ledger> = runs.iter().map(without_zones).collect();
    for (site, outcome) in sites.iter().zip(outcomes) {
        for leg in &outcome.legs {
            let ledger = &mut ledgers[leg.run];
            ledger.outside += leg.lifted_l;
            for (zone, litres) in site.zones.iter().zip(&leg.zones_l) {
                let line = match zone.land_use {
                    LandUse::KeepOff => &mut ledger.keep_off,
                    LandUse::Yard => &mut ledger.yard,
                    LandUse::Blocked | LandUse::Walk | LandUse::Drive | LandUse::Lot => {
                        &mut ledger.zones
                    }
                };
                *line += litres;
            }
        }
    }
    ledgers
}

fn without_zones(run: &Summary) -> Ledger {
    let litres = &run.litres;
    Ledger {
        metered: litres.metered,
        zones: 0.0,
        keep_off: 0.0,
        fringe: litres.fringe,
        outside: litres.outside,
        yard: litres.closed_in_yard,
        gun: litres.gun,
        closed: litres.closed,
        dropout: litres.dropout,
        between_logs: litres.between_logs,
    }
}
