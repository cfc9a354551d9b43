//! A number that may be unknown, in no more room than the number itself.
//!
//! `Option` takes twice the room of a number, and a leg keeps three such at every fix: with tens of rigs that is what
//! a night's memory is made of. Inside, unknown is not-a-number; nobody outside sees it.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// A number or nothing.
#[derive(Clone, Copy)]
pub struct Perhaps<T>(T);

/// Numbers that have a value to spare.
pub trait Number: Copy + PartialEq {
    /// Equal to nothing, not even itself.
    const NOT_ONE: Self;
}

impl Number for f32 {
    const NOT_ONE: Self = Self::NAN;
}

impl Number for f64 {
    const NOT_ONE: Self = Self::NAN;
}

impl<T: Number> Perhaps<T> {
    /// Nothing.
    pub const UNKNOWN: Self = Self(T::NOT_ONE);

    /// The number, where it is known.
    #[must_use]
    pub fn known(self) -> Option<T> {
        #[allow(clippy::eq_op, reason = "what is not a number is not equal to itself")]
        (self.0 == self.0).then_some(self.0)
    }
}

impl<T: Number> From<Option<T>> for Perhaps<T> {
    fn from(number: Option<T>) -> Self {
        number.map_or(Self::UNKNOWN, Self)
    }
}

impl<T: Number> PartialEq for Perhaps<T> {
    fn eq(&self, other: &Self) -> bool {
        self.known() == other.known()
    }
}

impl<T: Number + fmt::Debug> fmt::Debug for Perhaps<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.known().fmt(f)
    }
}

impl<T: Number + Serialize> Serialize for Perhaps<T> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        self.known().serialize(to)
    }
}

impl<'de, T: Number + Deserialize<'de>> Deserialize<'de> for Perhaps<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Option::deserialize(from).map(Self::from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_unknown_stays_unknown_through_text_and_is_itself() {
        for number in [None, Some(0.0), Some(-1.5), Some(f64::MAX)] {
            let perhaps = Perhaps::from(number);
            let text = serde_json::to_string(&perhaps).unwrap();
            assert_eq!(text, serde_json::to_string(&number).unwrap());
            let again: Perhaps<f64> = serde_json::from_str(&text).unwrap();
            assert_eq!((again, again.known()), (perhaps, number));
        }
        assert_ne!(Perhaps::from(Some(1.0_f32)), Perhaps::UNKNOWN);
        assert_eq!(size_of::<Perhaps<f32>>(), 4);
    }
}
