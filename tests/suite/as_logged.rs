//! Logs as real loggers write them. Each night is the healthy one, logged in another way.

mod clocks;
mod copies;
mod positions;
mod rhythms;

use crate::night::{Fix, Night, Outcome, point};

/// The healthy night's fleet with more lines for its rig.
fn fleet_with(lines: &str) -> String {
    format!("{}{lines}\n", crate::night::FLEET)
}

/// The healthy lot with only this log.
fn alone(log: impl AsRef<[u8]>) -> Outcome {
    Night::new().no_logs().log("own.gpx", log).audit(&[])
}

/// The points' text with the stamps that `stamp` makes of their seconds.
fn stamped(fixes: &[Fix], stamp: impl Fn(f64) -> String) -> String {
    fixes
        .iter()
        .map(|fix| point(fix).replace(&crate::night::time(fix.0), &stamp(fix.0)))
        .collect()
}
