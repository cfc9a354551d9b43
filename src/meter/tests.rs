//! Tests of litres from totals and flows; one fix a second.
