//! Step 11 of the flow: where every metered litre went.
//!
//! Each line is added up for itself; none is what the others leave. That the lines add up to the
//! meter is held by the tests.

use crate::near::{Near, reach_m};
use crate::result::Ledger;
use crate::run::Run;
use crate::timeline::silent_litres;
use crate::track::Link;
use crate::treatment::Laid;
use crate::visit::{NOWHERE, Whereabouts};

/// The ledger of one run. `laid`: what the sites say of it; `nears`: of each site.
#[must_use]
pub fn balance(
    index: usize,
    run: &Run,
    whereabouts: &Whereabouts,
    nears: &[Vec<Near>],
    laid: &[&Laid],
) -> Ledger {
    let sum = |line: fn(&Laid) -> f64| laid.iter().map(|laid| line(laid)).sum::<f64>();
    let in_yard = |step: u32| whereabouts.in_yard[step as usize];
    let closed = |yard: bool| {
        run.timeline
            .closed
            .iter()
            .filter(|(step, _)| in_yard(*step) == yard)
            .map(|(_, litres)| litres)
            .sum::<f64>()
    };
    Ledger {
        metered: run.metered.litres.iter().sum(),
        zones: sum(|laid| laid.zones_l),
        keep_off: sum(|laid| laid.keep_off_l),
        fringe: sum(|laid| laid.fringe_l),
        outside: sum(|laid| laid.outside_l) + far_litres(index, run, whereabouts, nears),
        yard: sum(|laid| laid.yard_l) + closed(true),
        gun: run.timeline.gun.iter().map(|(_, litres)| litres).sum(),
        closed: closed(false),
        dropout: silent_litres(&run.track, &run.metered, Link::Dropout)
            + silent_litres(&run.track, &run.metered, Link::Parking),
        between_logs: silent_litres(&run.track, &run.metered, Link::BetweenLogs),
    }
}

/// Litres on the ground too far from every site for strips.
fn far_litres(index: usize, run: &Run, whereabouts: &Whereabouts, nears: &[Vec<Near>]) -> f64 {
    let reach_m = reach_m(run);
    let has_strips = |step: usize| {
        let site = whereabouts.nearest[step];
        site != NOWHERE
            && nears[site as usize].iter().any(|near| {
                near.run == index
                    && near.fixes().contains(&step)
                    && near.has_strips(step - near.first_fix, reach_m)
            })
    };
    let mut last: Option<(u32, bool)> = None;
    let mut litres = 0.0;
    for span in run.timeline.spans.iter().filter(|span| span.litres > 0.0) {
        let near = match last {
            Some((step, near)) if step == span.step => near,
            _ => has_strips(span.step as usize),
        };
        last = Some((span.step, near));
        if !near {
            litres += span.litres;
        }
    }
    litres
}
