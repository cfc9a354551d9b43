//! Presences to visits: what each rig laid on the site's ground while it was there.
//!
//! Figures stop at the site's line: liquid on the approach and next door is not in them. A span counts
//! with its whole time if any of its strip lies on ground to treat, with its liquid and length by share.

use super::ByProduct;
use super::laid::{Laid, Liquid};
use super::leg::{Leg, NO_PASS, Presence};
use super::outcome::Visit;
use crate::result::VisitKind;

/// Spraying this long makes a visit a treating one, s (trade judgement).
const TREATING_S: f64 = 10.0;
/// Without spraying, a shorter presence is passing by, s (trade judgement).
const PASSING_S: f64 = 60.0;

/// All visits, by leg, then in order of time.
pub(super) fn judge(laid: &Laid) -> Vec<Visit> {
    let legs = laid.legs.iter().zip(&laid.liquid).enumerate();
    legs.flat_map(|(index, (leg, liquid))| {
        let presences = leg.presences.iter();
        presences.filter_map(move |presence| visit(index, leg, liquid, presence))
    })
    .collect()
}

/// The visit, unless the rig only passed by.
fn visit(index: usize, leg: &Leg, liquid: &Liquid, presence: &Presence) -> Option<Visit> {
    let mut visit = Visit {
        leg: index,
        fixes: presence.fixes.clone(),
        kind: VisitKind::Present,
        arrive: leg.fixes[presence.fixes.start].time,
        depart: leg.fixes[presence.fixes.end - 1].time,
        spraying: None,
        wet_s: 0.0,
        wet_length_m: 0.0,
        passes: 0,
        gun_l: None,
        products: Vec::new(),
    };
    let mut products: ByProduct = Vec::new();
    let mut last_pass = NO_PASS;
    for step in leg.steps_of(presence) {
        for at in leg.span_range(step) {
            let (span, on_ground) = (&leg.spans[at], &liquid.spans[at]);
            if on_ground.touches {
                visit.wet_s += leg.span_s(span);
                let (from, to) = (leg.at(step, span.from_u), leg.at(step, span.to_u));
                visit.spraying = Some(visit.spraying.map_or((from, to), |(first, _)| (first, to)));
                visit.passes += usize::from(span.pass != last_pass);
                last_pass = span.pass;
            }
            visit.wet_length_m += on_ground.length_m;
            if on_ground.touches || on_ground.litres > 0.0 {
                add(&mut products, leg.product(step), on_ground.litres);
            }
        }
    }
    let mut gun_l = 0.0;
    let gun = leg.gun.iter().map(|&(fix, litres)| (fix as usize, litres));
    for (fix, litres) in gun.filter(|(fix, _)| presence.fixes.contains(fix)) {
        gun_l += litres;
        add(&mut products, leg.product(fix), litres);
    }
    visit.gun_l = leg.decided.has_gun.then_some(gun_l);
    let known = |(product, litres)| (product, leg.is_metered().then_some(litres));
    visit.products = products.into_iter().map(known).collect();
    if visit.wet_s >= TREATING_S || (leg.decided.planned && visit.wet_s > 0.0) {
        visit.kind = VisitKind::Treating;
    }
    let stay_s = visit.depart.seconds_since(visit.arrive);
    (visit.wet_s > 0.0 || stay_s >= PASSING_S).then_some(visit)
}

fn add(products: &mut ByProduct, product: Option<&str>, litres: f64) {
    match products
        .iter_mut()
        .find(|(known, _)| known.as_deref() == product)
    {
        Some((_, sum_l)) => *sum_l += litres,
        None => products.push((product.map(str::to_owned), litres)),
    }
}
