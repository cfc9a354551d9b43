//! Sections of a boom that were closed, and how they are named.

use serde::Serialize;

/// Sections of a boom that were closed over some ground while others were open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClosedSections {
    /// Numbers from 1, left to right seen forward.
    pub numbers: Vec<usize>,
    /// How many the boom has.
    pub of: usize,
    /// On which side of the boom they lie.
    pub side: Side,
    /// By the log the rig sprayed with them later on.
    pub again: bool,
}

/// A side of a boom, seen forward.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Left of its middle.
    Left,
    /// Over its middle, or on both sides of it.
    Middle,
    /// Right of its middle.
    Right,
}

impl ClosedSections {
    /// `section 2 of 6 (left side)`, `sections 1 and 2 of 6 (left side)`.
    #[must_use]
    pub fn named(&self) -> String {
        let numbers: Vec<String> = self.numbers.iter().map(usize::to_string).collect();
        let (noun, numbers) = match numbers.as_slice() {
            [rest @ .., last] if !rest.is_empty() => {
                ("sections", format!("{} and {last}", rest.join(", ")))
            }
            _ => ("section", numbers.concat()),
        };
        let side = match self.side {
            Side::Left => "left side",
            Side::Middle => "middle",
            Side::Right => "right side",
        };
        format!("{noun} {numbers} of {} ({side})", self.of)
    }

    /// Nobody sends out again what failed, unless it worked later on.
    pub(super) fn not_again(&self) -> String {
        let numbers: Vec<String> = self.numbers.iter().map(usize::to_string).collect();
        match numbers.as_slice() {
            _ if self.again => String::new(),
            [number] => format!(" Don't send this rig again before section {number} works."),
            _ => format!(
                " Don't send this rig again before sections {} work.",
                numbers.join(", ")
            ),
        }
    }

    #[cfg(test)]
    pub(crate) fn sample() -> Self {
        Self {
            numbers: vec![2],
            of: 4,
            side: Side::Left,
            again: false,
        }
    }
}
