//! How sure a figure is: each setting moved alone, the swings of a side added in squares.
//!
//! A setting is a two-piece normal through its 10th, 50th and 90th percentile: below the likely value a half normal with
//! (likely - low) / 1.2816 as its deviation, above one with (high - likely) / 1.2816. Settings are independent, so their
//! swings add as deviations do. All low ones together would be far rarer than one time in ten: such a range was twice
//! as wide as it should be.

use super::setting::{Known, Setting, Values};
use crate::input::fleet::Spread;
use serde::Serialize;

/// What moving one setting alone does to a figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Swing {
    /// Key of the setting in the fleet file.
    pub key: &'static str,
    /// The figure falls by this at one end of the setting; 0 or less.
    pub down: f64,
    /// The figure rises by this at the other; 0 or more.
    pub up: f64,
}

/// A figure's range, and what makes it.
#[derive(Debug, Clone)]
pub(super) struct Ranged {
    /// Low, likely, high.
    pub(super) range: Spread,
    /// What moves it, most first.
    pub(super) swings: Vec<Swing>,
}

/// The range of a figure of the settings; `None` where a setting that it needs is not known.
pub(super) fn range(known: &Known, figure: impl Fn(&Values) -> Option<f64>) -> Option<Ranged> {
    let values = known.likely();
    let likely = figure(&values)?;
    let mut swings = Vec::new();
    for setting in Setting::ALL {
        let Some(spread) = known.get(setting).filter(|spread| !spread.is_sure()) else {
            continue;
        };
        let moved =
            |value: f64| figure(&values.with(setting, value)).map_or(0.0, |figure| figure - likely);
        let (a, b) = (moved(spread.low), moved(spread.high));
        let swing = Swing {
            key: setting.key(),
            down: a.min(b).min(0.0),
            up: a.max(b).max(0.0),
        };
        if swing.up - swing.down > 0.0 {
            swings.push(swing);
        }
    }
    swings.sort_by(|a, b| (b.up - b.down).total_cmp(&(a.up - a.down)));
    let squares = |side: fn(&Swing) -> f64| {
        swings
            .iter()
            .map(|swing| side(swing).powi(2))
            .sum::<f64>()
            .sqrt()
    };
    Some(Ranged {
        range: Spread {
            low: (likely - squares(|swing| swing.down)).max(likely.min(0.0)),
            likely,
            high: likely + squares(|swing| swing.up),
        },
        swings,
    })
}
