//! What is said of patches once they are known to be likely: whether the rigs bent round them, and whether sections
//! that were closed over them worked later on.

use super::applications::Applications;
use super::covers::Covers;
use super::laid::Laid;
use super::{bent, lines};
use crate::site::coverage::PatchGround;

/// Sections that spray for so long work, s (trade judgement).
const WORKS_S: f64 = 3.0;

/// Marks all patches of a site.
pub(super) fn mark(laid: &Laid, done: &Applications, covers: &mut Covers) {
    mark_bent(laid, done, covers);
    mark_again(laid, covers);
}

/// Says of likely patches which of them the rigs bent round.
fn mark_bent(laid: &Laid, done: &Applications, covers: &mut Covers) {
    for (app, zones) in covers.zones.iter_mut().enumerate() {
        let likely = |patch: &&mut PatchGround| patch.is_likely(laid.rules.likely);
        let patches = zones.iter_mut().flat_map(|cover| &mut cover.patches);
        let mut patches = patches.filter(likely).peekable();
        if patches.peek().is_none() {
            continue;
        }
        let passes = lines::of_application(laid, done, app);
        let mut ways: Vec<(usize, Vec<lines::Place>)> = Vec::new();
        for &leg in &done.legs[app] {
            let driven = lines::driven(&laid.planes[leg]);
            ways.extend(driven.into_iter().map(|way| (leg, way)));
        }
        patches.for_each(|patch| bent::mark(patch, &passes, &ways, laid.legs));
    }
}

/// Says of sections that were closed over a patch whether they sprayed later on.
fn mark_again(laid: &Laid, covers: &mut Covers) {
    let zones = covers.zones.iter_mut().flatten();
    for patch in zones.flat_map(|cover| &mut cover.patches) {
        if let Some(by) = &mut patch.closed_by {
            let leg = &laid.legs[by.leg];
            let wet_s = lines::wet_s_from(leg, by.after());
            let mut named = (0..leg.boom.sections()).filter(|at| by.sections >> at & 1 == 1);
            by.again = named.all(|section| wet_s[section] >= WORKS_S);
        }
    }
}
