//! What the night still needs of a run once its legs are cut; the run itself is let go then.

use super::logged::Beside;
use super::presence::Whereabouts;
use crate::geometry::place::{Instant, LonLat};
use crate::rig::meter::{Late, MeteredBy, Oddities, PerhapsLeaked};
use crate::rig::pose::Motion;
use crate::rig::position::PositionFrom;
use crate::rig::run::minutes::{self, Minute};
use crate::rig::run::outside::Outside;
use crate::rig::run::{Run, driven};
use crate::rig::timeline::{Span, silent_litres};
use crate::rig::track::{Disowned, FileSpan, Link, Rhythm, Rounding};

/// One run as a whole, wherever it was.
#[derive(Debug, Clone)]
pub struct Summary {
    /// Index of the rig in the fleet file.
    pub rig: usize,
    /// Names of its log files, sorted.
    pub logs: Vec<String>,
    /// First fix.
    pub start: Instant,
    /// Last fix.
    pub end: Instant,
    /// Fixes in the files.
    pub fixes_read: usize,
    /// Fixes left after cleaning.
    pub fixes_used: usize,
    /// Fixes that say again what another file says.
    pub fixes_repeated: usize,
    /// Distance driven, m.
    pub distance_m: f64,
    /// Time with liquid on the ground, by the rates of its own products, s.
    pub wet_s: f64,
    /// The part of it in reverse, s.
    pub reverse_wet_s: f64,
    /// How forward was told from reverse.
    pub gear_from: &'static str,
    /// 95 % of positions are within this, m.
    pub position_m: f64,
    /// Where that comes from.
    pub position_from: PositionFrom,
    /// What the receiver's drift while the rig stood comes to, m, where it is far over what is stated or
    /// assumed.
    pub drift_m: Option<f64>,
    /// Places that its receiver disowns.
    pub disowned: Disowned,
    /// Added to its logged times, s.
    pub clock_offset_s: f64,
    /// What its litres come from.
    pub metered_by: MeteredBy,
    /// How late its meter reads.
    pub late: Late,
    /// Way at the ends of bouts that reads dry and is not judged, since the meter may be that late, m.
    pub not_judged_m: f64,
    /// What perhaps leaked under its coarse total.
    pub leaked: Option<PerhapsLeaked>,
    /// Readings of the total that cannot be.
    pub oddities: Oddities,
    /// Silences too long to know what happened.
    pub silences: Vec<Silence>,
    /// Its log files with their times.
    pub files: Vec<FileSpan>,
    /// When a fix was written.
    pub rhythm: Rhythm,
    /// Coarsest grid on which its positions stand.
    pub rounding: Option<Rounding>,
    /// Median time between moving fixes, s, when too long to show coverage.
    pub coarse_interval_s: Option<f64>,
    /// Longest such time that can show it, s.
    pub coarse_limit_s: f64,
    /// Of each section: width, m, and time with liquid, s.
    pub sections: Vec<(f64, f64)>,
    /// Liquid laid while it stood outside any yard.
    pub parked: Option<Parked>,
    /// Litres that no site's zones had.
    pub litres: Litres,
    /// What maps and charts show of it.
    pub trail: Trail,
}

/// What maps and charts show of a run, beside the document's figures.
#[derive(Debug, Clone)]
pub struct Trail {
    /// Where it drove, simplified to 1 m, broken where nobody knows.
    pub driven: Vec<Vec<LonLat>>,
    /// Its liquid by minutes, in order of time.
    pub minutes: Vec<Minute>,
    /// What it wetted outside all zones, in boxes, and the area of that, m2.
    pub outside: (Vec<[LonLat; 4]>, f64),
}

/// One silence.
#[derive(Debug, Clone, Copy)]
pub struct Silence {
    /// Last fix before it.
    pub start: Instant,
    /// First fix after it.
    pub end: Instant,
    /// Length, s.
    pub seconds: f64,
    /// What the meter total gained, L; `None` without a total.
    pub volume_l: Option<f64>,
}

/// Liquid laid while a rig stood.
#[derive(Debug, Clone, Copy)]
pub struct Parked {
    /// In all, L.
    pub volume_l: f64,
    /// Time, s.
    pub seconds: f64,
    /// When the stop with most liquid began.
    pub start: Instant,
    /// Where that was.
    pub place: LonLat,
}

/// A run's litres that are on no site's zone, each line added up for itself.
#[derive(Debug, Clone, Copy, Default)]
pub struct Litres {
    /// Through the meter.
    pub metered: f64,
    /// Outside the zones by less than the position error.
    pub fringe: f64,
    /// Elsewhere.
    pub outside: f64,
    /// With every section closed, in a yard.
    pub closed_in_yard: f64,
    /// By the hand gun.
    pub gun: f64,
    /// With every section closed, elsewhere.
    pub closed: f64,
    /// In silences.
    pub dropout: f64,
    /// Gained by the total between two logs.
    pub between_logs: f64,
}

impl Summary {
    /// Of a run whose legs are cut. `beside`: what each leg left to the night.
    #[must_use]
    pub fn of(run: &Run, whereabouts: &Whereabouts, beside: &[Beside]) -> Self {
        let track = &run.track;
        let ends = [0, track.fixes.len() - 1].map(|fix| track.fixes[fix].time);
        Self {
            rig: track.rig,
            logs: track.logs.clone(),
            start: ends[0],
            end: ends[1],
            fixes_read: track.fixes_read,
            fixes_used: track.fixes_used(),
            fixes_repeated: track.fixes_repeated,
            distance_m: track.distance_m(),
            wet_s: run.wet_spans().map(|span| run.span_s(span)).sum(),
            reverse_wet_s: run.reverse_wet_s(),
            gear_from: run.posed.gear_from(),
            position_m: run.position_m,
            position_from: run.position_from,
            drift_m: run.drift_m,
            disowned: track.manner.disowned,
            clock_offset_s: run.clock_offset_s,
            metered_by: run.metered.by,
            late: run.metered.late,
            not_judged_m: run.timeline.not_judged_m,
            leaked: run.metered.leaked,
            oddities: run.metered.oddities,
            silences: silences(run),
            files: track.manner.files.clone(),
            rhythm: track.manner.rhythm,
            rounding: track.manner.rounding,
            coarse_interval_s: track.coarse_interval_s,
            coarse_limit_s: track.coarse_limit_s(),
            sections: sections(run),
            parked: parked(run, whereabouts),
            litres: litres(run, whereabouts, beside),
            trail: Trail {
                driven: driven::lines(track),
                minutes: minutes::of(run),
                outside: outside(run, whereabouts, beside).boxes(),
            },
        }
    }

    /// Widths of its sections, left to right, m.
    #[must_use]
    pub fn widths_m(&self) -> Vec<f64> {
        self.sections.iter().map(|(width_m, _)| *width_m).collect()
    }

    /// Width of the whole boom, m.
    #[must_use]
    pub fn boom_m(&self) -> f64 {
        self.sections.iter().map(|(width_m, _)| width_m).sum()
    }
}

fn silences(run: &Run) -> Vec<Silence> {
    let steps = run.track.steps.iter().enumerate();
    let silent = steps.filter(|(_, step)| step.link == Link::Dropout);
    silent
        .map(|(i, step)| Silence {
            start: run.track.fixes[i].time,
            end: run.track.fixes[i + 1].time,
            seconds: step.seconds,
            volume_l: run.metered.gained_l(i),
        })
        .collect()
}

fn sections(run: &Run) -> Vec<(f64, f64)> {
    let count = run.boom.sections();
    let mut sections: Vec<(f64, f64)> = (0..count)
        .map(|section| (run.boom.section_width_m(section), 0.0))
        .collect();
    for span in run.wet_spans() {
        let seconds = run.span_s(span);
        let open = sections.iter_mut().enumerate();
        open.filter(|(section, _)| span.open >> section & 1 == 1)
            .for_each(|(_, (_, wet_s))| *wet_s += seconds);
    }
    sections
}

fn parked(run: &Run, whereabouts: &Whereabouts) -> Option<Parked> {
    let stands = |span: &&Span| {
        let step = span.step as usize;
        run.posed.curves[step].motion == Motion::Parked
            && !whereabouts.in_yard[step]
            && span.litres > 0.0
    };
    let spans: Vec<&Span> = run.timeline.spans.iter().filter(stands).collect();
    // It points at the stop with most liquid: a start or a change of gear leaves a drop, too.
    let stops = spans.chunk_by(|a, b| b.step <= a.step + 1);
    let poured_l = |stop: &&[&Span]| stop.iter().map(|span| span.litres).sum::<f64>();
    let first = stops
        .max_by(|a, b| poured_l(a).total_cmp(&poured_l(b)))?
        .first()?;
    Some(Parked {
        volume_l: spans.iter().map(|span| span.litres).sum(),
        seconds: spans.iter().map(|span| run.span_s(span)).sum(),
        start: run.at(first.step as usize, first.from_u),
        place: run.track.fixes[first.step as usize].place,
    })
}

/// Ground wetted outside all zones, that of each leg and what no site saw.
fn outside(run: &Run, whereabouts: &Whereabouts, beside: &[Beside]) -> Outside {
    let mut outside = Outside::around(run.track.fixes[0].place);
    for beside in beside {
        outside.extend(&beside.outside);
    }
    let steps = 0..run.track.steps.len();
    for step in steps.filter(|&step| whereabouts.nearest(step).is_none()) {
        outside.add_step(run, step);
    }
    outside
}

fn litres(run: &Run, whereabouts: &Whereabouts, beside: &[Beside]) -> Litres {
    let closed = |yard: bool| {
        let closed = run.timeline.closed.iter();
        let here = closed.filter(|(step, _)| whereabouts.in_yard[*step as usize] == yard);
        here.map(|(_, litres)| litres).sum::<f64>()
    };
    let spans = run.timeline.spans.iter();
    let far = spans.filter(|span| whereabouts.nearest(span.step as usize).is_none());
    let far_l: f64 = far.map(|span| span.litres).sum();
    Litres {
        metered: run.metered.litres.iter().sum(),
        fringe: beside.iter().map(|beside| beside.fringe_l).sum(),
        outside: beside.iter().map(|beside| beside.outside_l).sum::<f64>() + far_l,
        closed_in_yard: closed(true),
        gun: run.timeline.gun.iter().map(|(_, litres)| litres).sum(),
        closed: closed(false),
        dropout: silent_litres(&run.track, &run.metered, Link::Dropout)
            + silent_litres(&run.track, &run.metered, Link::Parking),
        between_logs: silent_litres(&run.track, &run.metered, Link::BetweenLogs),
    }
}
