//! A record gives away nothing about anybody else, tried two ways: everything of the others is a marker that must not be
//! found; and whatever of theirs is changed, the record's bytes stay.

use super::nights::record;
use super::{files, json};
use crate::night::{Fix, Night, gpx_of, point_with, rectangle, sites, zone_with};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What others are called. Twenty random letters each: short ids hit by chance.
#[derive(Clone)]
struct Others {
    marks: Vec<&'static str>,
    /// East end of the neighbour's lot, m.
    east_m: f64,
    /// Litres that the meters' totals begin with.
    total_l: f64,
    /// One site more, ordered and treated by both rigs: more sites, orders, lines, fixes and passes.
    more: bool,
}

const MARKS: [&str; 14] = [
    "qvxkzjwpbmtrhdgnfclyu",
    "zkwqjxvbpgmhtdrfnclys",
    "xjqzvkwgbpmdthrnfclyo",
    "wvzqkxjpgbdmrthfnlcyi",
    "jzxqwvkbgpdhmtrnflcya",
    "kqzwxjvgpbhdtmrfncyle",
    "vwqkzxjbpghmdtrnfylcu",
    "zxvqjkwpbgmthdrfnylco",
    "qwzjxkvgbphdmtrnlfcyi",
    "xkwvqzjbpgtmhdrnlfcya",
    "jvkqzwxpgbdthmrlfncye",
    "wzxjqkvbgpmdhtrflncyu",
    "kvzxqwjgpbthdmrfclnyo",
    "zqjwvxkpbghtmdrfcnlyi",
];
const OTHER_MARKS: [&str; 14] = [
    "bnmqwkzxjvtrhpdgfclya",
    "mbnzkqjwxvrthdpgfclye",
    "nmbxqzwkjvhrtpdfgclyi",
    "bmnwzkqxvjtphrdfgcylo",
    "nbmkxzqjwvprthdgfcylu",
    "mnbqjwzkxvdrthpfgylca",
    "bnmzwxkjqvhtrdpgfylce",
    "mbnxkqzwvjrphtdfgylci",
    "nmbwqjxkzvtdrhpgflyco",
    "bmnkzxwqjvhprtdgflycu",
    "nbmqxkjzwvdtrphgfycla",
    "mnbzjwxqkvrhtdpfgycle",
    "bnmxwkqzjvtrdhpgfycli",
    "mbnqzjkxwvphtrdgfyclo",
];

fn others(marks: &[&'static str; 14]) -> Others {
    Others {
        marks: marks.to_vec(),
        east_m: 160.0,
        total_l: 777_123.0,
        more: false,
    }
}

/// `quay` shares its east line with a neighbour that is treated in the same passes; between two visits to it the rig
/// refills and does another site; a bed next door is sprayed by mistake; another rig with another product never comes.
fn night(of: &Others) -> Night {
    let m = &of.marks;
    let fleet = format!(
        r#"[defaults]
target = "30 mL/m2"
[[product]]
id = "brine"
solute = "NaCl"
[[product]]
id = "{}"
solute = "{}"
target = "47 mL/m2"
[[rig]]
id = "north"
product = "brine"
log_lag = "0 s"
logs = ["{}*"]
sections = ["1 m", "1 m", "1 m", "1 m"]
[[rig]]
id = "{}"
product = "{}"
logs = ["{}*"]
sections = ["1.5 m", "1.5 m"]
"#,
        m[0], m[1], m[2], m[3], m[0], m[4]
    );
    let own = zone_with(
        r#""site":"quay","zone":"lot","use":"lot","client":"harbour""#,
        &rectangle(0.0, 0.0, 80.0, 12.0),
    );
    let next = zone_with(
        &format!(
            r#""site":"{}","zone":"{}","use":"lot","client":"{}","name":"{}","{}":"{}","target":"41 mL/m2""#,
            m[5], m[6], m[7], m[8], m[9], m[10]
        ),
        &rectangle(80.0, 0.0, of.east_m, 12.0),
    );
    let bed = zone_with(
        &format!(
            r#""site":"{}","zone":"{}-bed","use":"keep_off""#,
            m[5], m[6]
        ),
        &rectangle(84.0, 12.0, of.east_m, 16.0),
    );
    let far = zone_with(
        &format!(r#""site":"{}","zone":"lot","use":"lot""#, m[11]),
        &rectangle(1500.0, 0.0, 1580.0, 12.0),
    );
    let orders = format!(
        "order,site,zone,service,from,by\nQ-1,quay,,salt,2026-01-12 01:00,2026-01-12 06:00\n{},{},,{},,\n",
        m[12], m[5], m[13]
    );
    let (mut all, mut orders) = (vec![next, own, bed, far], orders);
    let mut south = along(0.0, 1495.0, 1585.0, 6.0);
    if of.more {
        let more = format!(r#""site":"{}-2","zone":"lot","use":"lot""#, m[11]);
        all.insert(
            0,
            zone_with(&more, &rectangle(1500.0, 100.0, 1580.0, 112.0)),
        );
        let order = format!("{}-2,{}-2,,{},,\n", m[12], m[11], m[13]);
        let head = orders.find('\n').unwrap() + 1;
        orders.insert_str(head, &order);
        south.extend(along(60.0, 1495.0, 1585.0, 106.0));
    }
    Night::empty()
        .fleet(&fleet)
        .sites(&sites(&all))
        .file("orders.csv", orders)
        .log(&format!("{}.gpx", m[2]), track(&north(of.more), of.total_l))
        .log(&format!("{}.gpx", m[4]), track(&south, of.total_l + 5.0))
}

/// Across both lots on three lanes, the last one over the bed's edge; then away, and back for a touch-up.
fn north(more: bool) -> Vec<Fix> {
    let mut fixes = along(0.0, -8.0, 168.0, 2.0);
    fixes.extend(along(60.0, 168.0, -8.0, 6.0));
    fixes.extend(along(120.0, -8.0, 168.0, 11.0));
    // A refill and another site, a mile away.
    fixes.extend(along(900.0, 1495.0, 1585.0, 2.0));
    if more {
        fixes.extend(along(1000.0, 1495.0, 1585.0, 110.0));
        fixes.extend(along(1060.0, 1585.0, 1495.0, 102.0));
    }
    // Back at the lot alone.
    fixes.extend(along(2400.0, -8.0, 60.0, 10.0));
    fixes
}

/// A pass at 4 m/s and 1 Hz with all sections open on target; closed at its last fix.
fn along(start_s: f64, from_m: f64, to_m: f64, north_m: f64) -> Vec<Fix> {
    crate::night::pass(start_s, (from_m, north_m), (to_m, north_m))
}

/// A log with a running total, a tank's level and a dilution.
fn track(fixes: &[Fix], total_l: f64) -> String {
    let mut litres = total_l;
    let points = fixes.iter().map(|&(s, x, y, states, flow)| {
        litres += flow / 60.0;
        let channels = format!(
            "<s:flow>{flow}</s:flow><s:volume>{litres:.3}</s:volume><s:sections>{states}</s:sections><s:level>{:.3}</s:level>",
            7_770_000.0 - litres
        );
        point_with(s, x, y, &channels)
    });
    gpx_of(&points.collect::<String>())
}

/// The record's files, its folder's name with them.
fn quay(night: &Night) -> (String, BTreeMap<String, Vec<u8>>, std::path::PathBuf) {
    let out = record(night, &["--site", "quay"]);
    let folder = std::fs::read_dir(out)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.is_dir())
        .unwrap();
    let name = folder.file_name().unwrap().to_string_lossy().into_owned();
    (name, files(&folder), folder)
}

/// The bytes themselves, and what any run of hexadecimal or base64 digits in them unpacks to.
fn unpacked(bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut all = vec![bytes.to_ascii_lowercase()];
    let is_64 = |c: &u8| c.is_ascii_alphanumeric() || *c == b'+' || *c == b'/';
    for run in bytes.split(|c| !is_64(c)).filter(|run| run.len() >= 16) {
        for skip in 0..4 {
            all.push(base64(&run[skip..]));
        }
        if run.iter().all(u8::is_ascii_hexdigit) {
            let pairs = run
                .chunks_exact(2)
                .map(|pair| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap());
            all.push(pairs.collect());
        }
    }
    all
}

fn base64(run: &[u8]) -> Vec<u8> {
    let value = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        _ => 63,
    };
    let fours = run.chunks_exact(4).flat_map(|four| {
        let bits = four
            .iter()
            .fold(0_u32, |bits, &c| bits << 6 | u32::from(value(c)));
        [(bits >> 16) as u8, (bits >> 8) as u8, bits as u8]
    });
    fours.collect::<Vec<u8>>().to_ascii_lowercase()
}

#[test]
fn the_search_finds_what_is_hidden() {
    let found = |text: &str| {
        unpacked(text.as_bytes())
            .iter()
            .any(|bytes| bytes.windows(9).any(|of| of == b"qvxkzjwpb"))
    };
    assert!(found("a QVXKZJWPB"));
    // What `printf qvxkzjwpbdef | base64` and `printf qvxkzjwpb | xxd -p` print.
    assert!(found("xx cXZ4a3pqd3BiZGVm yy"));
    assert!(found("\"7176786b7a6a777062\""));
    assert!(!found("qvxk zjwpb"));
}

#[test]
fn nothing_of_the_others_is_in_a_record() {
    let of = others(&MARKS);
    let made = night(&of);
    let (name, files, folder) = quay(&made);
    let sizes: Vec<String> = std::fs::read_dir(made.path("logs"))
        .unwrap()
        .map(|entry| entry.unwrap().metadata().unwrap().len().to_string())
        .collect();
    for (file, bytes) in files.iter().chain([(&name, &Vec::new())]) {
        let mut all = unpacked(file.as_bytes());
        all.extend(unpacked(bytes));
        for mark in &of.marks {
            // Half of a marker is enough.
            let found = all.iter().any(|text| {
                text.windows(10)
                    .any(|part| part == &mark.as_bytes()[..10] || part == &mark.as_bytes()[10..20])
            });
            assert!(!found, "{mark} in {file}");
        }
        let text = String::from_utf8_lossy(bytes);
        // No picture, in whose compressed bytes something could be.
        assert!(
            !text.contains("image/") && !bytes.starts_with(b"\x89PNG"),
            "{file}"
        );
        // Totals and levels, sizes of the originals.
        for number in ["77712", "77713", "77718", "699287"]
            .into_iter()
            .chain(sizes.iter().map(String::as_str))
        {
            let found = text
                .split(|c: char| !(c.is_ascii_digit() || c == '.'))
                .any(|of| of.starts_with(number) || (of == number));
            assert!(!found, "{number} in {file}");
        }
    }
    let settings = json(&folder, "data/evidence/1/settings.json");
    assert_eq!(
        settings["rules"]["targets"]["products"],
        serde_json::json!([]),
        "others' rates"
    );
    assert_eq!(settings["rules"]["orders"].as_array().unwrap().len(), 1);
    positions_and_times(&folder);
}

/// Every shown fix lies within 10 m of the lot, or at the end of a step with liquid on it, or beside one; every time
/// lies in a visit that is told, or in an order's window.
fn positions_and_times(folder: &Path) {
    let record = json(folder, "data/service-record.json");
    let text =
        |name: &str| std::fs::read_to_string(folder.join("data/evidence/1").join(name)).unwrap();
    let rows = |name: &str| -> Vec<Vec<String>> {
        text(name)
            .lines()
            .skip(1)
            .map(|line| line.split(',').map(str::to_owned).collect())
            .collect()
    };
    let wet: Vec<usize> = rows("spans.csv")
        .iter()
        .filter(|row| row[4] == "1")
        .map(|row| row[0].parse().unwrap())
        .collect();
    let [west, south] = crate::night::lon_lat(0.0, 0.0);
    let [east, north] = crate::night::lon_lat(80.0, 12.0);
    let m = |degrees: f64, all: f64, metres: f64| degrees / all * metres;
    let fixes = rows("fixes.csv");
    assert!(fixes.len() > 60, "{}", fixes.len());
    let mut beyond = 0;
    for (at, row) in fixes.iter().enumerate() {
        let (lon, lat): (f64, f64) = (row[3].parse().unwrap(), row[4].parse().unwrap());
        let dx = m((west - lon).max(lon - east).max(0.0), east - west, 80.0);
        let dy = m((south - lat).max(lat - north).max(0.0), north - south, 12.0);
        let near = dx.hypot(dy) <= 10.0 && lon <= east + 1e-9;
        let beside = wet
            .iter()
            .any(|&step| (step.saturating_sub(2)..=step + 3).contains(&at));
        beyond += usize::from(!near);
        assert!(near || beside, "fix {at} lies {dx:.1} m, {dy:.1} m off");
    }
    assert!(beyond < 20, "{beyond} fixes from beyond");
    let applications = record["figures"]["applications"].as_array().unwrap();
    let visits: Vec<&serde_json::Value> = applications
        .iter()
        .flat_map(|of| of["visits"].as_array().unwrap())
        .collect();
    assert!(visits.len() >= 2);
    let time = |value: &serde_json::Value| {
        value
            .as_str()
            .unwrap()
            .parse::<jiff::Timestamp>()
            .unwrap()
            .as_microsecond()
    };
    for row in &fixes {
        let at = row[2].parse::<jiff::Timestamp>().unwrap().as_microsecond();
        // Steps at the shared line end up to three seconds after the rig is nearer to the neighbour.
        let told = visits.iter().any(|visit| {
            at >= time(&visit["arrive"]) - 3_000_000 && at <= time(&visit["depart"]) + 3_000_000
        });
        assert!(told, "{} is in no visit", row[2]);
    }
    // Nothing says when the refill or the site a mile off was.
    for hour in ["12T02:15:", "12T02:16:", "12 02:15:"] {
        for (file, bytes) in files(folder) {
            assert!(
                !String::from_utf8_lossy(&bytes).contains(hour),
                "{hour} in {file}"
            );
        }
    }
}

/// Other names, ids, properties, order numbers, totals and outlines of all others, and more of them.
#[test]
fn what_others_are_changes_no_byte() {
    let (name, first, _) = quay(&night(&others(&MARKS)));
    let of = Others {
        east_m: 171.0,
        more: true,
        ..others(&OTHER_MARKS)
    };
    let (other_name, second, _) = quay(&night(&of));
    assert_eq!(name, other_name);
    assert_eq!(
        first.keys().collect::<Vec<_>>(),
        second.keys().collect::<Vec<_>>()
    );
    // Salted digests, and the lists over them.
    let salted = [
        "data/evidence/commitments.json",
        "manifest-sha256.txt",
        "tagmanifest-sha256.txt",
    ];
    // When the night's files were taken in is the clock's: it is set aside.
    let without_intake = |bytes: &[u8]| {
        let text = String::from_utf8_lossy(bytes);
        let lines = text.lines().filter(|line| {
            !line.contains("\"intake\"") && !line.contains("<dt>Logs taken in</dt>")
        });
        lines.collect::<Vec<_>>().join("\n")
    };
    for (file, bytes) in &first {
        if !salted.contains(&file.as_str()) && !file.starts_with("bag-info") {
            assert_eq!(
                without_intake(bytes),
                without_intake(&second[file]),
                "{file}"
            );
        }
    }
}

/// The neighbour's record beside this one: nothing in both but what is public.
#[test]
fn two_records_of_one_night_have_nothing_in_common() {
    let of = others(&MARKS);
    let made = night(&of);
    let out = record(&made, &["--site", "quay", "--site", of.marks[5]]);
    let folders: Vec<_> = std::fs::read_dir(out)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .collect();
    let digests = |folder: &Path| -> Vec<String> {
        let digests = json(folder, "data/evidence/commitments.json");
        digests["files"]
            .as_array()
            .unwrap()
            .iter()
            .map(|of| of["digest"].as_str().unwrap().to_owned())
            .collect()
    };
    let [one, other] = [digests(&folders[0]), digests(&folders[1])];
    assert!(
        one.iter().all(|digest| !other.contains(digest)),
        "{one:?} {other:?}"
    );
    assert!(one.len() >= 4 && other.len() >= 4);
    // The lots share a line: its corner and the moments at which the rig crossed it are each client's own.
    let taken = json(&folders[0], "data/service-record.json")["intake"].clone();
    let own = |value: &str| {
        let is_place = value.starts_with("-29.9989853") || value.starts_with("45.000");
        value.starts_with("2026-01-12T02:0") || is_place || taken == value
    };
    let [one, other] = [&folders[0], &folders[1]].map(|folder| values(folder));
    let both: Vec<&String> = one.intersection(&other).collect();
    let known = |value: &&String| own(value) || PUBLIC.contains(&value.as_str());
    let told: Vec<&&String> = both.iter().filter(|value| !known(value)).collect();
    assert!(told.is_empty(), "in both records: {told:?}");
    assert!(both.len() > 10 && both.len() < one.len(), "{both:?}");
    // Nowhere is the rig's position told in the same words.
    let [one, other] = [&folders[0], &folders[1]].map(|folder| fixes(folder));
    assert!(one.len() > 60 && other.len() > 60);
    assert_eq!(one.intersection(&other).next(), None);
}

/// What two records of one night have in common: version, layout, product, how the rig is metered, settings that the
/// fleet file does not have (500 ft2 and 90 minutes), the day, and the words of the formats.
const PUBLIC: [&str; 21] = [
    "0.1.0",
    "2026-01-12",
    "2026-01-13",
    "46.45152",
    "5400.0",
    "NaCl",
    "SHA-256 over 32 bytes of salt and then the file, hexadecimal",
    "area",
    "boom",
    "brine",
    "default",
    "done",
    "fleet",
    "flow_and_volume",
    "log",
    "lot",
    "orders",
    "record",
    "sites",
    "swathbook-record/1",
    "us",
];

/// Every text and every number of five digits or more in a record's documents.
fn values(folder: &Path) -> BTreeSet<String> {
    fn leaves(value: &serde_json::Value, all: &mut BTreeSet<String>) {
        match value {
            serde_json::Value::Object(map) => map.values().for_each(|of| leaves(of, all)),
            serde_json::Value::Array(list) => list.iter().for_each(|of| leaves(of, all)),
            serde_json::Value::String(text) => drop(all.insert(text.clone())),
            serde_json::Value::Number(number) => drop(all.insert(number.to_string())),
            _ => {}
        }
    }
    let mut all = BTreeSet::new();
    for (name, bytes) in files(folder) {
        if name.ends_with(".json") {
            leaves(&serde_json::from_slice(&bytes).unwrap(), &mut all);
        }
    }
    let digits = |value: &str| value.chars().filter(char::is_ascii_digit).count();
    let is_number = |value: &str| value.parse::<f64>().is_ok();
    all.retain(|value| !is_number(value) || digits(value) >= 5);
    all
}

/// The rows of the fixes, without their numbers.
fn fixes(folder: &Path) -> BTreeSet<String> {
    let text = std::fs::read_to_string(folder.join("data/evidence/1/fixes.csv")).unwrap();
    let rows = text.lines().skip(1).filter_map(|line| line.split_once(','));
    rows.map(|(_, row)| row.to_owned()).collect()
}

/// Visits without liquid, rigs' ids, log names and properties come only when asked for.
#[test]
fn what_is_shown_is_chosen() {
    let of = others(&MARKS);
    let made = night(&of).sites(&sites(&[zone_with(
        r#""site":"quay","zone":"lot","use":"lot","gate":"vxqkzjwpbmtrhdgnfcla""#,
        &rectangle(0.0, 0.0, 80.0, 12.0),
    )]));
    let found = |flags: &[&str], text: &str| {
        let mut all = vec!["--site", "quay"];
        all.extend(flags);
        let out = record(&made, &all);
        let hit = files(&out).into_iter().any(|(name, bytes)| {
            name != "openings.json" && String::from_utf8_lossy(&bytes).contains(text)
        });
        std::fs::remove_dir_all(out).unwrap();
        hit
    };
    let log = format!("{}.gpx", of.marks[2]);
    for (flag, text) in [
        ("rigs", "(north)"),
        ("logs", log.as_str()),
        ("properties", "vxqkzjwpbmtrhdgnfcla"),
    ] {
        assert!(!found(&[], text), "{text} without --show");
        assert!(found(&["--show", flag], text), "{text} with --show {flag}");
    }
}
