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

/// Inputs changed from the corpus: a few, or as many as fit into the seconds of `SWATHBOOK_ANY_BYTES_S`, from the seed of
/// `SWATHBOOK_ANY_BYTES_SEED`. No coverage guides them as it does in `tests/fuzz/run`, but it takes no other compiler.
fn change(target: &str, check: fn(&[u8])) {
    const FEW: usize = 20;
    const MOST_BYTES: usize = 8192;
    let asked = |name: &str| Some(std::env::var(name).ok()?.parse::<u64>().unwrap());
    let seconds = asked("SWATHBOOK_ANY_BYTES_S").map(Duration::from_secs);
    let mut random = ChaCha8Rng::seed_from_u64(asked("SWATHBOOK_ANY_BYTES_SEED").unwrap_or(10));
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus");
    let files = std::fs::read_dir(corpus.join(target)).unwrap();
    let mut files: Vec<_> = files.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    let inputs: Vec<Vec<u8>> = files
        .iter()
        .map(|file| std::fs::read(file).unwrap())
        .collect();
    let begin = Instant::now();
    let mut count = 0;
    while seconds.map_or(count < FEW, |seconds| begin.elapsed() < seconds) {
        let mut bytes = inputs[random.random_range(0..inputs.len())].clone();
        for _ in 0..random.random_range(1..8) {
            let at = random.random_range(0..=bytes.len());
            let length = random.random_range(0..=(bytes.len() - at).min(64));
            match random.random_range(0..5) {
                0 => bytes[at..at + length].fill(random.random()),
                1 => drop(bytes.drain(at..at + length)),
                2 => drop(bytes.splice(at..at, (0..length).map(|_| random.random::<u8>()))),
                3 => {
                    let other = &inputs[random.random_range(0..inputs.len())];
                    let from = random.random_range(0..=other.len());
                    bytes.truncate(at);
                    bytes.extend_from_slice(&other[from..]);
                }
                _ => bytes[at..]
                    .iter_mut()
                    .take(1)
                    .for_each(|byte| *byte = random.random()),
            }
        }
        bytes.truncate(MOST_BYTES);
        let start = Instant::now();
        let holds = std::panic::catch_unwind(|| check(&bytes)).is_ok();
        if !holds || start.elapsed() > LONGEST {
            let kept = std::env::temp_dir().join(format!("any-bytes-{target}-{count}"));
            std::fs::write(&kept, &bytes).unwrap();
            panic!("{} does not hold, or takes long", kept.display());
        }
        count += 1;
    }
    println!("{target}: {count} inputs");
}

#[test]
fn changed_strips_over_changed_zones() {
    change("geometry", checks::geometry::check);
}

#[test]
fn changed_drives_over_changed_ground() {
    change("night", checks::night::check);
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
