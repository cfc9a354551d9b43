//! What could not be used of a log: counted by cause while reading, reported once at the end.

use crate::findings::clocks::{AboutClocks, ClockFault};
use crate::findings::log::AboutLog;
use crate::findings::{Finding, Kind, Severity};
use crate::input::channels::Channel;
use crate::input::fleet::Fleet;
use crate::input::text::clean;

/// Longest sample of a wrong text shown, in characters (limit).
const LONGEST_SAMPLE: usize = 40;

/// One kind of trouble; each gives one finding for a file (and a rig, where it is the rig's).
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Cause {
    /// `lat` or `lon` missing or not a number.
    NoPosition,
    /// A latitude or longitude that does not exist.
    OutOfRange,
    /// No `<time>`.
    NoTime,
    /// A `<time>` that cannot be read.
    BadTime,
    /// A time that no receiver gives.
    NoReceiverTime,
    /// A time without zone.
    NoZone,
    /// A time before that of the fix before.
    Backwards,
    /// Constants of a track that stand after its points.
    LateConstants,
    /// A channel's text that cannot be read.
    BadText(Channel),
    /// An unknown unit.
    BadUnit(Channel),
    /// Fewer states than the rig has sections.
    FewStates,
    /// A product that the fleet file does not have.
    UnknownProduct(String),
}

#[derive(Debug, Clone)]
struct Trouble {
    cause: Cause,
    rig: Option<usize>,
    count: u64,
    line: u32,
    sample: String,
}

/// The troubles of one file.
#[derive(Debug, Default)]
pub(super) struct Troubles {
    all: Vec<Trouble>,
}

impl Troubles {
    /// Counts one more; `sample` is kept of the first.
    pub(super) fn add(&mut self, cause: Cause, rig: Option<usize>, line: u32, sample: &str) {
        if let Some(known) = self
            .all
            .iter_mut()
            .find(|known| known.rig == rig && known.cause == cause)
        {
            known.count += 1;
            return;
        }
        let sample = clean(sample).chars().take(LONGEST_SAMPLE).collect();
        self.all.push(Trouble {
            cause,
            rig,
            count: 1,
            line,
            sample,
        });
    }

    /// One finding for each cause, in order of their first lines.
    pub(super) fn findings(mut self, file: &str, fleet: &Fleet) -> Vec<Finding> {
        self.all.sort_by_key(|trouble| trouble.line);
        self.all
            .into_iter()
            .map(|trouble| trouble.finding(file, fleet))
            .collect()
    }
}

/// What a trouble is about.
enum About {
    /// A point that is left out.
    Point,
    /// A reading of a point that stays.
    Reading,
    /// The clock.
    Clock,
}

impl Trouble {
    fn finding(self, file: &str, fleet: &Fleet) -> Finding {
        let (severity, about, words) = self.words();
        let file = file.to_owned();
        let (line, count) = (Some(u64::from(self.line)), self.count);
        let kind: Kind = match about {
            About::Clock => AboutClocks::ClockOdd {
                file,
                line,
                count,
                what: ClockFault::Read(words),
            }
            .into(),
            About::Reading => AboutLog::ReadingOdd {
                file,
                line,
                count,
                what: words,
            }
            .into(),
            About::Point => AboutLog::InputSkipped {
                file,
                line,
                count,
                why: words,
            }
            .into(),
        };
        let mut finding = Finding::new(severity, kind);
        finding.rig = self
            .rig
            .and_then(|rig| fleet.rigs.get(rig))
            .map(|rig| rig.id.clone());
        finding
    }

    /// Severity, what it is about, and the clause.
    fn words(&self) -> (Severity, About, String) {
        let sample = &self.sample;
        let skipped = |words: String| (Severity::LookInto, About::Point, words);
        let odd = |words: String| (Severity::LookInto, About::Reading, words);
        match &self.cause {
            Cause::NoPosition => skipped(
                "latitude or longitude is missing or not a number; point left out".to_owned(),
            ),
            Cause::OutOfRange => skipped(format!(
                "there is no such position ({sample}); point left out"
            )),
            Cause::NoTime => skipped("the point has no time; point left out".to_owned()),
            Cause::BadTime => skipped(format!("\"{sample}\" is not a time; point left out")),
            Cause::NoReceiverTime => skipped(format!(
                "\"{sample}\" is not within 1980 to 2199, so not a receiver's time; point left out"
            )),
            // Some loggers always write it so: nothing to do about it night after night.
            Cause::NoZone => (
                Severity::ForTheRecord,
                About::Clock,
                "the time names no zone; read as UTC".to_owned(),
            ),
            Cause::Backwards => (
                Severity::LookInto,
                About::Clock,
                "the time is before that of the fix before it".to_owned(),
            ),
            Cause::LateConstants => odd(
                "the track's extensions stand after its points and hold for none of them"
                    .to_owned(),
            ),
            Cause::BadText(channel) => odd(format!(
                "\"{sample}\" is not a reading of `{}`; taken as unknown",
                channel.name()
            )),
            Cause::BadUnit(channel) => odd(format!(
                "\"{sample}\" is not a unit of `{}`; taken as unknown",
                channel.name()
            )),
            Cause::FewStates => odd(format!("{sample}; the missing ones taken as closed")),
            Cause::UnknownProduct(id) => {
                odd(format!("the product \"{id}\" is not in the fleet file"))
            }
        }
    }
}
