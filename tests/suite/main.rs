//! One test binary: the program as its users meet it.
#![allow(clippy::unwrap_used)]

mod closed_forms;
mod demo;
mod documents;
mod invariants;
mod night;
