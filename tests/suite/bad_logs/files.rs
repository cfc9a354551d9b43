//! Whole files that are empty, cut off, bombs, no XML, or there twice.

use super::{alone, beside, gzip};
use crate::night::{Fix, Night, gpx, gpx_of, healthy, number, point};
use std::io::Write;

#[test]
fn an_empty_log_is_named() {
    let outcome = beside("bad.gpx", "");
    assert!(
        outcome
            .text("input_skipped")
            .contains("bad.gpx: not used, or not in full: the file is empty")
    );
    alone("").refused(&["bad.gpx", "the file is empty"]);
}

#[test]
fn an_empty_gzip_file_is_named() {
    assert!(
        beside("bad.gpx.gz", "")
            .text("input_skipped")
            .contains("the file is empty")
    );
    assert!(
        beside("bad2.gpx.gz", gzip(b""))
            .text("input_skipped")
            .contains("the file is empty")
    );
}

#[test]
fn a_file_that_is_not_xml_is_named() {
    for bytes in [
        &b"lat;lon;time\n45;-30;noon\n"[..],
        b"{}",
        b"\x00\x01\x02\xff\xfe",
        b"<html><p>sign in</html>",
    ] {
        let outcome = beside("bad.gpx", bytes);
        let text = outcome.text("input_skipped");
        assert!(
            text.contains("bad.gpx") && text.contains("not used"),
            "{text}"
        );
        alone(bytes).refused(&["bad.gpx"]);
    }
}

#[test]
fn a_truncated_gzip_file_is_read_as_far_as_it_goes() {
    // Noise in the low digits, so that the file has several blocks and half of it is half the points.
    let points: String = (0..5000_u64)
        .map(|i| {
            let noise_m = (i * i * 7919 % 1009) as f64 / 5000.0;
            point(&(
                i as f64,
                900.0 + i as f64 + noise_m,
                500.0 + noise_m,
                "1111",
                28.8,
            ))
        })
        .collect();
    let whole = gzip(gpx_of(&points).as_bytes());
    let outcome = beside("bad.gpx.gz", &whole[..whole.len() / 2]);
    let texts: Vec<&str> = outcome
        .findings("input_skipped")
        .iter()
        .map(|finding| finding["text"].as_str().unwrap())
        .collect();
    assert!(
        texts
            .iter()
            .any(|text| text.contains("gzip data breaks off")),
        "{texts:?}"
    );
    let run = outcome
        .runs()
        .iter()
        .find(|run| run["rig"] == "other")
        .unwrap();
    let fixes = number(&run["fixes"]);
    assert!(fixes > 500.0 && fixes < 5000.0, "{fixes}");
}

#[test]
fn gzip_that_is_none_is_named() {
    let outcome = beside("bad.gpx.gz", b"\x1f\x8b\x08\x00garbage");
    assert!(
        outcome.text("input_skipped").contains("gzip"),
        "{}",
        outcome.stdout
    );
}

#[test]
fn truncated_xml_is_read_up_to_the_damage() {
    let text = gpx(&healthy());
    // In the middle of line 50, which is the 48th point.
    let cut: usize = text
        .lines()
        .take(49)
        .map(|line| line.len() + 1)
        .sum::<usize>()
        + 30;
    let outcome = beside("bad.gpx", &text[..cut]);
    assert!(
        outcome.text("input_skipped").contains("bad.gpx, line 50:"),
        "{}",
        outcome.text("input_skipped")
    );
    let run = outcome
        .runs()
        .iter()
        .find(|run| run["rig"] == "other")
        .unwrap();
    assert_eq!(run["fixes"], 47);
}

#[test]
fn a_gzip_bomb_is_refused() {
    // 1.1 GiB of blanks in 1.1 MB.
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    let blanks = vec![b' '; 1 << 20];
    for _ in 0..1100 {
        encoder.write_all(&blanks).unwrap();
    }
    let outcome = beside("bad.gpx.gz", encoder.finish().unwrap());
    assert!(
        outcome
            .text("input_skipped")
            .contains("larger than 512 MiB")
    );
}

#[test]
fn deep_nesting_and_endless_tags_are_damage() {
    let deep = "<a>".repeat(1_000_000);
    let long = format!("<trkpt lat=\"{}", "4".repeat(200_000));
    for points in [deep, long] {
        let outcome = beside("bad.gpx", gpx_of(&points));
        assert!(
            outcome
                .text("input_skipped")
                .contains("damaged before its first fix"),
            "{}",
            outcome.text("input_skipped")
        );
    }
}

#[test]
fn entities_of_a_dtd_are_never_expanded() {
    let mut dtd = String::from("<!DOCTYPE gpx [<!ENTITY a0 \"0123456789\">");
    for i in 1..30 {
        let before = i - 1;
        dtd += &format!("<!ENTITY a{i} \"{}\">", format!("&a{before};").repeat(10));
    }
    let secret = "<!ENTITY f SYSTEM \"file:///etc/hostname\">]>\n";
    let text = gpx(&healthy())
        .replacen("28.8", "&a29;", 1)
        .replacen("1111", "&f;", 1);
    let outcome = alone(dtd + secret + &text);
    assert_ne!(outcome.code, 2, "{}", outcome.stderr);
    let texts: Vec<&str> = outcome
        .findings("reading_odd")
        .iter()
        .map(|finding| finding["text"].as_str().unwrap())
        .collect();
    assert!(
        texts
            .iter()
            .any(|text| text.contains("\"&a29;\" is not a reading of `flow`")),
        "{texts:?}"
    );
    assert!(
        texts
            .iter()
            .any(|text| text.contains("\"&f;\" is not a reading of `sections`")),
        "{texts:?}"
    );
}

#[test]
fn the_same_log_twice_counts_once() {
    let outcome = Night::new().log("copy.gpx", gpx(&healthy())).audit(&[]);
    outcome.still_audited();
    // 72 s of spraying at 0.48 L/s: the flow of a pass's last fix is 0.
    assert!((number(&outcome.runs()[0]["ledger_l"]["metered"]) - 72.0 * 0.48).abs() < 1e-9);
    assert_eq!(outcome.runs()[0]["fixes_repeated"], 75);
}

#[test]
fn one_rig_id_in_two_places_is_two_runs() {
    let elsewhere: Vec<Fix> = healthy()
        .iter()
        .map(|fix| (fix.0, fix.1 + 900.0, fix.2, fix.3, fix.4))
        .collect();
    let outcome = Night::new().log("twin.gpx", gpx(&elsewhere)).audit(&[]);
    outcome.still_audited();
    assert_eq!(outcome.runs().len(), 2);
    assert_eq!(outcome.findings("shared_rig_id").len(), 1);
}

#[test]
fn random_damage_never_panics() {
    use rand::{RngExt, SeedableRng};
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(7);
    let whole = gpx(&healthy()).into_bytes();
    for _ in 0..40 {
        let mut bytes = whole.clone();
        for _ in 0..random.random_range(1..20) {
            let at = random.random_range(0..bytes.len());
            match random.random_range(0..3) {
                0 => bytes[at] = random.random(),
                1 => drop(bytes.drain(at..(at + random.random_range(1..200)).min(bytes.len()))),
                _ => {
                    let piece = bytes[at..(at + 100).min(bytes.len())].to_vec();
                    drop(bytes.splice(at..at, piece));
                }
            }
        }
        beside("bad.gpx", bytes);
    }
}
