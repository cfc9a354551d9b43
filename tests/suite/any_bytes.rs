//! The kept corpus of the fuzz targets through the same checks: inputs that reached something new, and
//! those that once failed. `tests/fuzz/` looks for more.

#[path = "../fuzz/checks/mod.rs"]
mod checks;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::time::{Duration, Instant};

/// An input of a few kilobytes that takes longer hangs. Most take milliseconds; the passes in heaps take up to
/// 10 s in an unoptimised build on a busy machine, and took minutes before they were joined a few at a time.
const LONGEST: Duration = Duration::from_secs(60);

/// Replays a target's corpus.
fn replay(target: &str, check: fn(&[u8])) {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus");
    let mut files: Vec<_> = std::fs::read_dir(corpus.join(target))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    assert!(!files.is_empty(), "no corpus for {target}");
    for file in files {
        let bytes = std::fs::read(&file).unwrap();
        let begin = Instant::now();
        // Only to name the file; the panic's own message comes before.
        if std::panic::catch_unwind(|| check(&bytes)).is_err() {
            panic!("{} does not hold", file.display());
        }
        let took = begin.elapsed();
        assert!(took < LONGEST, "{} takes {took:?}", file.display());
    }
}

#[test]
fn any_bytes_as_a_log() {
    replay("log", checks::log::check);
}

#[test]
fn any_bytes_as_a_sites_file() {
    replay("sites", checks::sites::check);
}

#[test]
fn any_bytes_as_a_fleet_file() {
    replay("fleet", checks::fleet::check);
}

#[test]
fn any_bytes_as_an_orders_file() {
    replay("orders", checks::orders::check);
}

#[test]
fn any_strips_over_any_zone() {
    replay("geometry", checks::geometry::check);
}

#[test]
fn any_change_of_a_record() {
    replay("record", checks::record::check);
    // Each takes a millisecond: some more, from a seed.
    let mut random = ChaCha8Rng::seed_from_u64(16);
    for _ in 0..500 {
        let length = random.random_range(4..40);
        let bytes: Vec<u8> = (0..length).map(|_| random.random()).collect();
        checks::record::check(&bytes);
    }
}

#[test]
fn any_drive_over_any_ground() {
    replay("night", checks::night::check);
}
