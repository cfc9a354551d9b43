//! See `checks/fleet.rs`.
#![no_main]

#[path = "../checks/mod.rs"]
#[allow(dead_code, reason = "one target needs one check")]
mod checks;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| checks::fleet::check(bytes));
