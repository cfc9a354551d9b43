//! How quantities, times and names are written for people: units and rounding, local time, lists, names made
//! harmless. SI comes in, text goes out; base of findings and of every report.

pub mod clean;
pub mod names;
pub mod numbers;
pub mod style;

pub use clean::clean;
