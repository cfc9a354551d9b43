//! A site's work: from what rigs did there to areas, rates, doses and facts.
//!
//! [`treat`] is a closed function: a site's ground, its legs and its rules in, an [`Outcome`] out. It knows
//! no run, no fleet, no other site and no night, so a planned drive and a stored record are treated by the
//! same engine as a logged night.
//!
//! | module | from | to |
//! |---|---|---|
//! | [`near`], [`presence`] | clean fixes, outlines | who was where |
//! | [`cutting`], [`sight`], [`logged`] | a run near a site | its [`leg`], and what it laid on nobody's ground |
//! | [`planned`] | lanes | the leg of a drive that is only planned |
//! | [`rules`] | fleet, orders | what counts here |
//! | [`swath`] | legs | strips |
//! | `laid`, `unsure` | strips | `grounds` of passes and of swaths whose place is not known well, liquid by zone |
//! | `crowding`, `heaped` | strips | the same made of cells, where outlines lie in a heap |
//! | `visits`, [`application`], `applications` | liquid on the ground | visits, applications |
//! | [`coverage`], `sums` | passes, pieces | treated, gap, overlap; litres, dose |
//! | [`lines`], `driving` | legs, passes | where booms drove, and how |
//! | `served` | all of these | which application served which order |
//! | `bent`, `repeated` | patches, lines, passes | what the rigs drove round, and twice |
//! | `likely`, `marks` | strips, switches, position errors | how likely a bare patch is, how great, what explains it |
//! | `facts`, `reversed` | all of these | what the verdicts look at |
//! | [`blocked`] | legs, orders | blocked ground whose time is another |
//! | [`summary`] | a run, its legs | what the night still needs of it |
//! | [`outcome`] | | what became of the site |

pub mod application;
mod applications;
mod bent;
pub mod blocked;
pub mod coverage;
mod covers;
mod crowding;
pub mod cutting;
pub mod dose;
pub mod driving;
mod facts;
mod grounds;
mod heaped;
mod laid;
pub mod leg;
pub(crate) mod likely;
pub mod lines;
pub mod logged;
mod marks;
pub mod near;
pub mod outcome;
mod passes;
pub mod planned;
pub mod presence;
mod record;
mod repeated;
mod reversed;
pub mod rules;
mod served;
pub mod sight;
mod sketch;
pub mod summary;
mod sums;
pub mod swath;
pub mod tracts;
mod unsure;
mod visits;
mod zones;

pub use facts::LEAST_KEEP_OFF_M2;
pub use leg::Leg;
pub use outcome::Outcome;
pub use rules::Rules;
pub use served::NOT_DONE_SHARE;
pub(crate) use zones::point_in;

use crate::ground::Site;
use outcome::{FrameOutcome, LegOutcome};
use std::ops::Range;

/// Works on one site. `record` keeps the strips, for checking elsewhere.
#[must_use]
pub fn treat(site: &Site, legs: &[Leg], rules: &Rules, record: bool) -> Outcome {
    let laid = laid::lay(site, legs, rules, record);
    let visits = visits::judge(&laid);
    let done = applications::find(&laid, &visits);
    let mut covers = covers::cover(&laid, &done);
    likely::judge(&laid, &done, &mut covers);
    marks::mark(&laid, &done, &mut covers);
    let sums = sums::add_up(&laid, &done);
    let served = served::serve(&laid, &done, &covers, &sums);
    let zones = zones::Zones {
        laid: &laid,
        done: &done,
        covers: &covers,
        sums: &sums,
        served: &served,
    };
    Outcome {
        keep_off: facts::keep_off(&laid),
        dry: facts::dry(&laid),
        silences: facts::silences(&laid, &done, &covers),
        set_rates: facts::set_rates(&zones),
        reverse_towed: reversed::facts(&laid, &covers),
        orders: served::facts(&zones),
        not_ordered: served::not_ordered(&zones),
        strips: record.then(|| record::strips(&laid, &done, &sums)),
        applications: zones.applications(),
        legs: legs.iter().zip(&laid.liquid).map(leg_outcome).collect(),
        position_m: laid.position_m,
        cell_m: laid.grid.map(|grid| grid.cell_m),
        frames: frames(&covers),
        fallbacks: fallbacks(&laid, &covers),
        visits,
    }
}

fn fallbacks(laid: &laid::Laid, covers: &covers::Covers) -> u32 {
    let passes = laid.passes.iter().map(|pass| pass.region.fallbacks());
    let unsure = laid.unsure.iter().map(|swath| swath.reach.fallbacks());
    let frames = covers.frames.iter().map(|frame| frame.core.fallbacks());
    let zones = covers.zones.iter().flatten().map(|cover| cover.fallbacks);
    passes.chain(unsure).chain(frames).chain(zones).sum()
}

fn leg_outcome((leg, liquid): (&Leg, &laid::Liquid)) -> LegOutcome {
    LegOutcome {
        run: leg.run,
        zones_l: liquid.zones_l.clone(),
        lifted_l: liquid.lifted_l,
        boom_m: leg.boom.width_m(leg.boom.all()),
        metered: leg.is_metered(),
        sections_wet_s: lines::sections_wet_s(leg),
        wet: lines::wet(leg),
    }
}

fn frames(covers: &covers::Covers) -> Vec<FrameOutcome> {
    let frame = |frame: &crate::site::coverage::ZoneFrame| FrameOutcome {
        core: frame.core.clone(),
        narrow: frame.narrow,
    };
    covers.frames.iter().map(frame).collect()
}

/// Two ranges have something in common.
fn overlap(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start < b.end && b.start < a.end
}

/// A product's id and the litres of it.
type ByProduct = Vec<(Option<String>, f64)>;

#[cfg(test)]
mod tests;
