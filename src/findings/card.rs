//! What every finding has whatever it is about: code, title, what is at stake, a figure with its limit.

use super::sections::ClosedSections;

/// What is at stake. The order is the order of the list within one severity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stake {
    /// A slip that makes every figure of a rig wrong.
    Figures,
    /// Work that was not done, or done without liquid.
    NotDone,
    /// Ground without liquid.
    Bare,
    /// Ground with too little.
    LowRate,
    /// Ground of which nobody knows.
    Unlogged,
    /// Liquid where it must not be.
    KeepOff,
    /// An order not kept as agreed.
    Order,
    /// Liquid, time or a bill.
    Money,
    /// What the files say, or do not say.
    Data,
}

/// What kind of quantity a figure is; decides its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// m2.
    Area,
    /// L.
    Volume,
    /// mL/m2.
    Rate,
    /// m.
    Length,
    /// s.
    Time,
    /// Fraction of one.
    Share,
    /// A number of these.
    Count(&'static str),
}

impl Quantity {
    /// Unit of the figure in `audit.json`.
    #[must_use]
    pub fn si_unit(self) -> &'static str {
        match self {
            Self::Area => "m2",
            Self::Volume => "L",
            Self::Rate => "mL/m2",
            Self::Length => "m",
            Self::Time => "s",
            Self::Share => "fraction",
            Self::Count(things) => things,
        }
    }
}

/// A finding's figure, the limit it is compared with, and their quantity: for programs and spreadsheets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// What was found, SI.
    pub figure: f64,
    /// What it was compared with, SI; `None` where anything counts.
    pub limit: Option<f64>,
    /// What both are.
    pub quantity: Quantity,
}

/// A finding's index card.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Card<'a> {
    /// The code, as in `audit.json`.
    pub code: &'static str,
    /// Short title.
    pub title: &'static str,
    /// What is at stake.
    pub stake: Stake,
    /// Its figure; `None` where there is nothing to count or measure.
    pub figure: Option<Figure>,
    /// The sections that it is about.
    pub closed: Option<&'a ClosedSections>,
    /// The sites that it lists, where it is about several.
    pub sites: &'a [String],
}

impl<'a> Card<'a> {
    pub(super) fn new(code: &'static str, title: &'static str, stake: Stake) -> Self {
        Self {
            code,
            title,
            stake,
            figure: None,
            closed: None,
            sites: &[],
        }
    }

    /// With a figure that counts whatever its size.
    pub(super) fn figure(mut self, figure: f64, quantity: Quantity) -> Self {
        self.figure = Some(Figure {
            figure,
            limit: None,
            quantity,
        });
        self
    }

    /// With a figure that is compared with a limit.
    pub(super) fn against(mut self, figure: f64, limit: f64, quantity: Quantity) -> Self {
        self.figure = Some(Figure {
            figure,
            limit: Some(limit),
            quantity,
        });
        self
    }

    pub(super) fn closed(mut self, closed: Option<&'a ClosedSections>) -> Self {
        self.closed = closed;
        self
    }

    pub(super) fn at(mut self, sites: &'a [String]) -> Self {
        self.sites = sites;
        self
    }
}

/// Before hands go to a boom, a pump or a valve (common practice; the maker's handbook comes first).
macro_rules! hands_on {
    ($work:literal) => {
        concat!(
            "First engine off, pressure relieved, eyes protected: ",
            $work
        )
    };
}
pub(super) use hands_on;
