//! The maker of legs from a logged run.
//!
//! Near a site a run becomes a wide leg: every fix within sight, wet or dry by this site's rates, split into
//! passes. What fell beside all ground is noted for the ledger. Then it is masked and cut: a section
//! whose ground in a step is not this site's is masked, and only fixes stay that were here, or at an end of
//! a step whose boom passed over the site.

mod shown;

pub use shown::Beside;

use super::leg::{Decided, Leg, LegFix, LegLink, LegSpan, LegStep, NO_PASS, Perhaps, Presence};
use super::near::Near;
use super::passes;
use super::presence::Whereabouts;
use super::rules::Rules;
use super::sight::Sight;
use super::swath::{self, OnPlane};
use crate::geometry::plane::Xy;
use crate::rig::boom::Sections;
use crate::rig::run::Run;
use crate::rig::run::outside::Outside;
use crate::rig::timeline::{self, wet};
use crate::rig::track;
use smallvec::SmallVec;
use std::ops::Range;

/// Under a coarse total a dry stretch must lack so many ticks: with fewer, the same readings fit a healthy stretch
/// (trade judgement).
const DRY_TICKS: f64 = 1.5;
/// Longest silence whose ground can be reported as unlogged, s (trade judgement).
const UNLOGGED_S: f64 = 10.0;
/// A silence was driven straight when its chord is within these shares of speed x time (trade judgement).
const STRAIGHT: std::ops::RangeInclusive<f64> = 0.8..=1.25;

/// A run near one site.
pub struct Approach<'a> {
    /// The run.
    pub run: &'a Run,
    /// What the rig carries unless a log says otherwise.
    pub product: Option<&'a str>,
    /// Most its pump can give, and how its meter reads.
    pub meter: wet::MeterTraits,
    /// The site.
    pub sight: &'a Sight<'a>,
    /// Number of the site.
    pub site: usize,
    /// Its stretches near the site, in order of time.
    pub nears: &'a [(usize, Near)],
    /// Where the run was.
    pub whereabouts: &'a Whereabouts,
    /// Its presences at the site.
    pub presences: Vec<Range<usize>>,
    /// What counts here.
    pub rules: &'a Rules,
}

/// A leg before it is cut.
struct Wide {
    leg: Leg,
    /// Of each fix: its number in the run.
    of_run: Vec<usize>,
    /// Of each fix: on the site's plane.
    xy: Vec<Xy>,
    /// Of each fix: distance to the outline of the site's ground, m; negative inside.
    distance_m: Vec<f64>,
}

impl Approach<'_> {
    /// The leg, and what lies beside it; no leg where nothing of the run was here.
    #[must_use]
    pub fn leg(&self) -> (Option<Leg>, Beside) {
        let wide = self.wide();
        let plane = &self.sight.site.plane;
        let on_plane = OnPlane::at(&wide.leg, wide.xy.clone(), plane);
        let mut beside = self.leaving();
        let shown: Vec<Sections> = (0..wide.leg.steps.len())
            .map(|k| self.shown(&wide, &on_plane, k, &mut beside))
            .collect();
        (self.cut(&wide, &on_plane, &shown), beside)
    }

    /// Every fix within sight.
    fn wide(&self) -> Wide {
        let mut wide = Wide {
            leg: Leg {
                products: self.products(),
                ..Leg::empty(0, self.run.boom.clone(), self.decided())
            },
            of_run: Vec::new(),
            xy: Vec::new(),
            distance_m: Vec::new(),
        };
        for (_, near) in self.nears {
            for (k, i) in near.fixes().enumerate() {
                if let Some(&last) = wide.of_run.last() {
                    self.add_step(&mut wide.leg, last, last + 1 == i);
                }
                wide.leg.fixes.push(self.fix(i, near.in_yard[k]));
                wide.of_run.push(i);
                wide.xy.push(near.xy[k]);
                wide.distance_m.push(f64::from(near.distance_m[k]));
            }
        }
        self.wet_or_dry(&mut wide);
        passes::split(&mut wide.leg);
        wide
    }

    fn decided(&self) -> Decided {
        let run = self.run;
        Decided {
            position_m: run.position_m,
            position_from: run.position_from,
            coarse_interval_s: run.track.coarse_interval_s,
            metered_by: run.metered.by,
            least_dry_m2: match (run.metered.tick_l, run.usual_l_m2) {
                (tick_l, _) if tick_l <= 0.0 => Some(0.0),
                (_, usual_l_m2) if usual_l_m2 <= 0.0 => None,
                (tick_l, usual_l_m2) => Some(DRY_TICKS * tick_l / usual_l_m2),
            },
            has_gun: run.has_gun,
            planned: run.planned,
            heading_logged: run.posed.heading_logged,
        }
    }

    /// The log's products, then what the rig carries.
    fn products(&self) -> Vec<String> {
        let logged = self.run.track.products.iter().map(String::as_str);
        logged.chain(self.product).map(str::to_owned).collect()
    }

    fn fix(&self, i: usize, in_yard: bool) -> LegFix {
        let (run, fix) = (self.run, &self.run.track.fixes[i]);
        let carried = self.product.map(|_| run.track.products.len() as u16);
        LegFix {
            time: fix.time,
            place: fix.place,
            heading_rad: run.posed.heading_rad[i],
            trailer_rad: run.posed.trailer_rad.get(i).copied().unwrap_or(0.0),
            product: fix.product.or(carried),
            set_rate_ml_m2: Some(fix.set_rate_ml_m2)
                .filter(|rate| rate.is_finite())
                .into(),
            in_yard,
            here: self.whereabouts.site_at(i) == Some(self.site),
            extra_m: run.track.extra_m.get(i).copied().unwrap_or(0.0),
        }
    }

    /// The step of the run after fix `i`, with its spans; apart where the next fix is another one's.
    fn add_step(&self, leg: &mut Leg, i: usize, joined: bool) {
        let (run, step) = (self.run, &self.run.track.steps[i]);
        let link = match step.link {
            _ if !joined => LegLink::Apart,
            track::Link::Driven => LegLink::Driven,
            track::Link::Dropout => LegLink::Silence {
                unlogged: is_unlogged(run, i),
                gained_l: run.metered.gained_l(i).into(),
            },
            track::Link::Parking | track::Link::BetweenLogs => LegLink::Apart,
        };
        if link == LegLink::Driven {
            let number = leg.steps.len() as u32;
            leg.spans
                .extend(run.timeline.of_step(i).iter().map(|span| LegSpan {
                    step: number,
                    from_u: span.from_u,
                    to_u: span.to_u,
                    open: span.open,
                    masked: 0,
                    wet: false,
                    litres: span.litres,
                    pass: NO_PASS,
                    switched_within_s: span.switched_within_s.into(),
                }));
        }
        leg.steps.push(LegStep {
            link,
            length_m: step.length_m(),
            curve: run.posed.curves[i],
            unsure: run.posed.is_unsure(i),
        });
        leg.first_span.push(leg.spans.len() as u32);
    }

    /// Wet and dry by the rates of this site.
    fn wet_or_dry(&self, wide: &mut Wide) {
        let (leg, run) = (&mut wide.leg, self.run);
        let mut dry_below = self
            .rules
            .dry_below_by_product(&self.sight.site.zones, &leg.products);
        let without = dry_below.pop().flatten();
        let shown = |span: &LegSpan| {
            let step = span.step as usize;
            let i = wide.of_run[step];
            let product = leg.fixes[step].product.map(usize::from);
            wet::Shown {
                open_m: leg.boom.width_m(span.open),
                seconds: leg.span_s(span),
                speed_m_s: run.track.steps[i].speed_m_s(),
                flow_l_s: run.metered.flow_l_s[i],
                dry_below_ml_m2: product.map_or(without, |product| dry_below[product]),
            }
        };
        let all: Vec<wet::Shown> = leg.spans.iter().map(shown).collect();
        // Nothing holds through a silence: each stretch for itself.
        let mut first = 0;
        while first < leg.spans.len() {
            let next = leg.spans[first + 1..].iter().zip(&leg.spans[first..]);
            let broken = next
                .clone()
                .position(|(next, span)| next.step > span.step + 1);
            let end = broken.map_or(leg.spans.len(), |at| first + 1 + at);
            let wet = wet::judge(&all[first..end], self.meter);
            for (span, wet) in leg.spans[first..end].iter_mut().zip(wet) {
                span.wet = wet;
            }
            first = end;
        }
    }

    /// What the steps laid that lead out of sight.
    fn leaving(&self) -> Beside {
        let mut outside = Outside::around(self.run.track.fixes[0].place);
        let last = self.nears.iter().map(|(_, near)| near.fixes().end - 1);
        let home = last.filter(|&i| {
            i < self.run.track.steps.len() && self.whereabouts.nearest(i) == Some(self.site)
        });
        let home: Vec<usize> = home.collect();
        home.iter().for_each(|&i| outside.add_step(self.run, i));
        let spans = home.iter().flat_map(|&i| self.run.timeline.of_step(i));
        Beside {
            fringe_l: 0.0,
            outside_l: spans.map(|span| span.litres).sum(),
            outside,
        }
    }

    /// The leg with everything that is not this site's masked, and without the fixes that nothing needs.
    fn cut(&self, wide: &Wide, on_plane: &OnPlane, shown: &[Sections]) -> Option<Leg> {
        let from = &wide.leg;
        let keep = self.kept(from, on_plane, shown);
        let count = keep.iter().filter(|keep| **keep).count();
        if count == 0 {
            return None;
        }
        let mut leg = Leg {
            products: from.products.clone(),
            fixes: Vec::with_capacity(count),
            steps: Vec::with_capacity(count - 1),
            ..Leg::empty(from.run, from.boom.clone(), from.decided)
        };
        let mut numbers: Vec<Option<usize>> = vec![None; keep.len()];
        let mut previous: Option<usize> = None;
        for k in (0..keep.len()).filter(|&k| keep[k]) {
            match previous {
                Some(before) if before + 1 == k => {
                    add_masked(&mut leg, from, before, shown[before])
                }
                Some(before) => add_apart(&mut leg, from, before),
                None => {}
            }
            numbers[k] = Some(leg.fixes.len());
            leg.fixes.push(from.fixes[k]);
            previous = Some(k);
        }
        leg.spans.shrink_to_fit();
        self.add_here(&mut leg, wide, &numbers);
        passes::renumber(&mut leg);
        Some(leg)
    }

    /// Fixes that were here, or at an end of a step over the site or of a silence that may have been.
    fn kept(&self, from: &Leg, on_plane: &OnPlane, shown: &[Sections]) -> Vec<bool> {
        let mut keep: Vec<bool> = from.fixes.iter().map(|fix| fix.here).collect();
        for (k, step) in from.steps.iter().enumerate() {
            let here = from.fixes[k].here || from.fixes[k + 1].here;
            let silent = matches!(step.link, LegLink::Silence { .. });
            if shown[k] != 0 || (silent && (here || self.may_reach(on_plane, k))) {
                (keep[k], keep[k + 1]) = (true, true);
            }
        }
        keep
    }

    /// Whether a silence's corridor may reach the site's ground.
    fn may_reach(&self, on_plane: &OnPlane, k: usize) -> bool {
        swath::corridor_of(on_plane, k).is_some_and(|ground| self.sight.zones().touches(&ground))
    }

    /// Gun and presences, renumbered.
    fn add_here(&self, leg: &mut Leg, wide: &Wide, numbers: &[Option<usize>]) {
        let number_of = |i: usize| {
            let at = wide.of_run.binary_search(&i).ok()?;
            numbers[at]
        };
        let gun = self.run.timeline.gun.iter();
        leg.gun = gun
            .filter_map(|&(step, litres)| {
                let number = number_of(step as usize)?;
                leg.fixes[number].here.then_some((number as u32, litres))
            })
            .collect();
        leg.presences = self
            .presences
            .iter()
            .filter_map(|fixes| {
                // Both ends were here, so both were kept.
                let (first, last) = (number_of(fixes.start)?, number_of(fixes.end - 1)?);
                Some(Presence {
                    fixes: first..last + 1,
                })
            })
            .collect();
    }
}

/// Adds the step after the `k`-th fix of a wide leg, with all but these sections masked.
fn add_masked(leg: &mut Leg, from: &Leg, k: usize, shown: Sections) {
    let number = leg.steps.len() as u32;
    let step = from.steps[k];
    let all = from.boom.all();
    if step.link == LegLink::Driven && shown == 0 {
        leg.spans.push(LegSpan {
            step: number,
            from_u: 0.0,
            to_u: 1.0,
            open: 0,
            masked: all,
            wet: false,
            litres: 0.0,
            pass: NO_PASS,
            switched_within_s: Perhaps::UNKNOWN,
        });
    } else if step.link == LegLink::Driven {
        leg.spans.extend(from.of_step(k).iter().map(|span| {
            let open = span.open & shown;
            let wet = span.wet && open != 0;
            let share = if open == span.open {
                1.0
            } else {
                from.boom.width_m(open) / from.boom.width_m(span.open)
            };
            LegSpan {
                step: number,
                open,
                masked: all & !shown,
                wet,
                litres: span.litres * share,
                pass: if wet { span.pass } else { NO_PASS },
                ..*span
            }
        }));
    }
    leg.steps.push(step);
    leg.first_span.push(leg.spans.len() as u32);
}

/// Adds a step over fixes that were left out.
fn add_apart(leg: &mut Leg, from: &Leg, k: usize) {
    leg.add_step(LegStep {
        link: LegLink::Apart,
        length_m: 0.0,
        unsure: false,
        ..from.steps[k]
    });
}

/// Short, driven straight, and liquid may have flowed.
fn is_unlogged(run: &Run, i: usize) -> bool {
    run.track.steps[i].seconds <= UNLOGGED_S && driven_straight(run, i) && may_have_sprayed(run, i)
}

/// The chord of a silence is as long as the speeds beside it make it.
fn driven_straight(run: &Run, i: usize) -> bool {
    let speed = |step: usize| {
        let step = run.track.steps.get(step)?;
        (step.link == track::Link::Driven).then(|| step.speed_m_s())
    };
    let beside: SmallVec<[f64; 2]> = [i.checked_sub(1).and_then(speed), speed(i + 1)]
        .into_iter()
        .flatten()
        .collect();
    let mean_m_s = beside.iter().sum::<f64>() / beside.len() as f64;
    // Without a speed beside it the mean is NaN, which is in no range.
    STRAIGHT.contains(&(run.track.steps[i].length_m() / (mean_m_s * run.track.steps[i].seconds)))
}

/// The total advanced or, without a total, a section was open on either side.
fn may_have_sprayed(run: &Run, i: usize) -> bool {
    let open_beside = || {
        let sides = timeline::open_beside(&run.track, &run.metered, &run.boom, i);
        sides.before != 0 || sides.after != 0
    };
    run.metered
        .gained_l(i)
        .map_or_else(open_beside, |litres| litres > 0.0)
}
