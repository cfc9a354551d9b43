//! Records that somebody changed, cut short, mixed or made to do harm: `verify` names the part and never panics.

use super::files;
use super::nights::{demo, record, record_of, small};
use std::fs;
use std::path::{Path, PathBuf};
use swathbook::input::digest::sha256;
use swathbook::record::verify::{CheckResult, Given, Verified, verify};

/// What does not hold, a line a check; `Err` where nothing could be checked.
fn faults(folder: &Path) -> Result<Vec<String>, String> {
    let verified = verify(folder, &Given::default()).map_err(|error| error.to_string())?;
    Ok(of(&verified))
}

fn of(verified: &Verified) -> Vec<String> {
    let checks = verified.checks.iter();
    let failed = checks.filter(|check| check.result == CheckResult::DoesNotHold);
    failed
        .map(|check| format!("{}: {}", check.check, check.details.join("; ")))
        .collect()
}

/// Makes the lists fit the files again, as somebody without the key would.
pub(super) fn list_again(folder: &Path) {
    let all = files(folder);
    let list = |wanted: &dyn Fn(&str) -> bool| -> String {
        let own = all.iter().filter(|(name, _)| wanted(name));
        own.map(|(name, bytes)| format!("{}  {name}\n", sha256(bytes)))
            .collect()
    };
    let payload: Vec<&Vec<u8>> = all
        .iter()
        .filter(|(name, _)| name.starts_with("data/"))
        .map(|(_, bytes)| bytes)
        .collect();
    let octets: usize = payload.iter().map(|bytes| bytes.len()).sum();
    let info = String::from_utf8(all["bag-info.txt"].clone()).unwrap();
    let (before, _) = info.split_once("Payload-Oxum").unwrap();
    fs::write(
        folder.join("bag-info.txt"),
        format!("{before}Payload-Oxum: {octets}.{}\n", payload.len()),
    )
    .unwrap();
    fs::write(
        folder.join("manifest-sha256.txt"),
        list(&|name| name.starts_with("data/")),
    )
    .unwrap();
    let all = files(folder);
    let tags = ["bag-info.txt", "bagit.txt", "manifest-sha256.txt"];
    let lines = tags.map(|name| format!("{}  {name}\n", sha256(&all[name])));
    fs::write(folder.join("tagmanifest-sha256.txt"), lines.concat()).unwrap();
}

/// The small record, with one file changed and the lists made again.
pub(super) fn changed(
    name: &str,
    change: impl Fn(String) -> String,
) -> Result<Vec<String>, String> {
    let night = small();
    let folder = record_of(&night, "quay");
    let path = folder.join(name);
    let text = fs::read_to_string(&path).unwrap();
    let new = change(text.clone());
    assert_ne!(text, new, "{name} was not changed");
    fs::write(path, new).unwrap();
    list_again(&folder);
    faults(&folder)
}

#[test]
fn lists_made_again_hold_as_long_as_nothing_else_changed() {
    let night = small();
    let folder = record_of(&night, "quay");
    list_again(&folder);
    assert_eq!(faults(&folder), Ok(vec![]));
}

/// One byte of any file, all over it.
#[test]
fn a_changed_byte_is_seen_and_its_file_named() {
    let night = small();
    let folder = record_of(&night, "quay");
    let mut tried = 0;
    for (name, bytes) in files(&folder) {
        let path = folder.join(&name);
        // Every byte of the small files, and some hundred of the others, all over them.
        let stride = (bytes.len() / 150).max(1);
        for at in (0..bytes.len()).step_by(stride) {
            let mut other = bytes.clone();
            other[at] = if other[at].is_ascii_digit() {
                b'0' + (other[at] - b'0' + 1) % 10
            } else {
                other[at] ^ 1
            };
            fs::write(&path, other).unwrap();
            match faults(&folder) {
                Ok(faults) => assert!(
                    !faults.is_empty()
                        && (faults[0].contains(&name)
                            || name.starts_with("tagmanifest")
                            || name == "manifest-sha256.txt"),
                    "{name} {at}: {faults:?}"
                ),
                Err(what) => panic!("{name} {at}: {what}"),
            }
            tried += 1;
        }
        fs::write(&path, &bytes).unwrap();
    }
    assert!(tried > 1000, "{tried}");
    assert_eq!(faults(&folder), Ok(vec![]));
}

/// Whoever makes the lists fit again still cannot change a figure.
#[test]
fn a_changed_figure_is_told_with_both_values() {
    let change = |text: String| {
        let at = text.find("\"liquid_m2\": ").unwrap() + 13;
        format!("{}2{}", &text[..at], &text[at + 1..])
    };
    let faults = changed("data/service-record.json", change).unwrap();
    assert!(
        faults[0].contains("figures: applications[0].zones[0].liquid_m2: the record has 2"),
        "{faults:?}"
    );
    assert!(
        faults.iter().any(|fault| fault.starts_with("page")),
        "{faults:?}"
    );
}

/// A little less liquid in one row of the evidence.
#[test]
fn changed_evidence_gives_other_figures() {
    let change = |text: String| {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let cells: Vec<&str> = lines[11].split(',').collect();
        assert_eq!((cells[3], cells[4]), ("1111", "1"), "liquid on the lot");
        let less = format!("{},0.4,{},{}", cells[..5].join(","), cells[6], cells[7]);
        lines[11] = less;
        lines.join("\n") + "\n"
    };
    let faults = changed("data/evidence/1/spans.csv", change).unwrap();
    let told = |fault: &String| fault.starts_with("figures") && fault.contains("volume_l");
    assert!(faults.iter().any(told), "{faults:?}");
}

#[test]
fn a_page_that_says_something_else_is_seen() {
    let faults = changed("data/service-record.html", |text| {
        text.replacen("Rig 1", "Rig 2", 1)
    })
    .unwrap();
    assert!(faults[0].starts_with("page"), "{faults:?}");
    let faults = changed("data/services.csv", |text| text.replacen("2026", "2025", 1)).unwrap();
    assert!(faults[0].starts_with("spreadsheet"), "{faults:?}");
}

/// Evidence that is none: each is told by its file, and by its row where there is one.
#[test]
fn evidence_that_cannot_be_is_named() {
    let fixes = "data/evidence/1/fixes.csv";
    let spans = "data/evidence/1/spans.csv";
    let row = |text: &str, row: usize, column: usize, new: &str| -> String {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let mut cells: Vec<String> = lines[row + 1].split(',').map(str::to_owned).collect();
        cells[column] = new.to_owned();
        lines[row + 1] = cells.join(",");
        lines.join("\n") + "\n"
    };
    let cells = [
        (fixes, 3, "NaN", "row 5"),
        (fixes, 3, "1e308", "row 5"),
        (fixes, 4, "inf", "row 5"),
        (fixes, 3, "12.5", "row 5 lies nowhere near"),
        (fixes, 2, "2026-01-12T09:00:00Z", "row 6 is not later"),
        (fixes, 2, "yesterday", "row 5"),
        (fixes, 5, "1e308", "row 5"),
        (fixes, 7, "flown", "row 5"),
        (fixes, 8, "1e9", "row 5"),
        (fixes, 8, "900", "row 5"),
        (fixes, 12, "200", "row 5"),
        (fixes, 12, "0", "row 5"),
        (fixes, 1, "7", "row 5"),
        (fixes, 0, "9", "row 5"),
        (fixes, 20, "-1", "row 5"),
        (fixes, 21, "3", "row 5"),
        (fixes, 17, "-3", "row 5"),
        (spans, 0, "99999", "row 5"),
        (spans, 1, "2", "row 5"),
        (spans, 2, "0", "row 5"),
        (spans, 3, "11111", "row 5"),
        (spans, 3, "1x11", "row 5"),
        (spans, 5, "NaN", "row 5"),
        (spans, 5, "1e308", "row 5"),
        (spans, 5, "-1", "row 5"),
        (spans, 6, "4000000000", "passes"),
        (spans, 7, "inf", "row 5"),
        (spans, 0, "0", "holes"),
        (spans, 2, "0.5", "holes"),
    ];
    for (file, column, new, says) in cells {
        let faults = changed(file, |text| row(&text, 5, column, new)).unwrap();
        let name = file.rsplit('/').next().unwrap();
        let told = faults.iter().any(|fault| {
            fault.starts_with("figures") && fault.contains(name) && fault.contains(says)
        });
        assert!(told, "{file} {column} {new}: {faults:?}");
    }
    // Rows swapped, and the last ones gone.
    let swap = |text: String| {
        let mut lines: Vec<&str> = text.lines().collect();
        lines.swap(6, 7);
        lines.join("\n") + "\n"
    };
    let short = |text: String| {
        text[..text.len() * 2 / 3]
            .rsplit_once('\n')
            .unwrap()
            .0
            .to_owned()
    };
    for file in [fixes, spans] {
        assert!(!changed(file, swap).unwrap().is_empty());
        assert!(!changed(file, short).unwrap().is_empty());
    }
}

#[test]
fn ground_and_settings_that_cannot_be_are_named() {
    let (ground, settings) = (
        "data/evidence/1/ground.json",
        "data/evidence/1/settings.json",
    );
    for (file, old, new) in [
        (ground, "\"turn_rad\": ", "\"turn_rad\": 1e300, \"x\": "),
        (ground, "\"lat\": 45", "\"lat\": 145"),
        (
            ground,
            "\"divided\": [",
            "\"divided\": [[[[0.0,0.0],[1e308,0.0],[0.0,1e308]]],",
        ),
        (
            ground,
            "\"divided\": [",
            "\"divided\": [[[[0.0,0.0],[0.0,1.0],[1.0,0.0]]],",
        ),
        (
            ground,
            "\"divided\": [",
            "\"divided\": [[[[0.0,0.0],[9.0,9.0],[9.0,0.0],[0.0,8.0]]],",
        ),
        (ground, "\"divided\": [", "\"divided\": [[],"),
        (ground, "\"use\": \"lot\"", "\"use\": \"moon\""),
        (settings, "\"band\": 0.1", "\"band\": 1e308"),
        (settings, "\"position_m\": 1.0", "\"position_m\": -1.0"),
        (settings, "\"draws\": 64", "\"draws\": 4000000000"),
        (settings, "\"planned\": false", "\"planned\": true"),
        (settings, "\"edges_m\": [", "\"edges_m\": [5.0,"),
        (settings, "\"rig\": 0", "\"rig\": 99999999"),
        (settings, "\"legs\": [", "\"legs\": [7,"),
    ] {
        let faults = changed(file, |text| text.replacen(old, new, 1)).unwrap();
        let name = file.rsplit('/').next().unwrap();
        let told = faults
            .iter()
            .any(|fault| fault.starts_with("figures") && fault.contains(name));
        assert!(told, "{file} {new}: {faults:?}");
    }
}

#[test]
fn files_that_are_missing_or_too_many_are_named() {
    let night = small();
    let folder = record_of(&night, "quay");
    for (name, bytes) in files(&folder) {
        let path = folder.join(&name);
        fs::remove_file(&path).unwrap();
        let faults = faults(&folder).unwrap();
        assert!(faults[0].contains(&name), "{name}: {faults:?}");
        fs::write(path, bytes).unwrap();
    }
    for name in [
        "notes.txt",
        "data/extra.bin",
        "data/evidence/2/fixes.csv",
        "fetch.txt",
    ] {
        let path = folder.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, "x").unwrap();
        let faults = faults(&folder).unwrap();
        assert!(faults[0].contains(name), "{name}: {faults:?}");
        fs::remove_file(&path).unwrap();
        let _ = fs::remove_dir(folder.join("data/evidence/2"));
    }
}

/// Links are not followed, wherever they lead; a file without end is not read.
#[test]
#[cfg(unix)]
fn links_and_huge_files_are_named_and_not_read() {
    use std::os::unix::fs::symlink;
    let night = small();
    let folder = record_of(&night, "quay");
    let name = "data/evidence/1/fixes.csv";
    let (path, bytes) = (folder.join(name), fs::read(folder.join(name)).unwrap());
    fs::write(night.path("elsewhere.csv"), &bytes).unwrap();
    for target in [
        night.path("elsewhere.csv"),
        PathBuf::from("/dev/zero"),
        PathBuf::from("nowhere"),
        PathBuf::from("."),
    ] {
        fs::remove_file(&path).unwrap();
        symlink(&target, &path).unwrap();
        let faults = faults(&folder).unwrap();
        assert!(faults[0].contains("fixes.csv: a link"), "{faults:?}");
    }
    fs::remove_file(&path).unwrap();
    // A gigabyte that takes no room on the disk.
    fs::File::create(&path).unwrap().set_len(1 << 30).unwrap();
    let faults = faults(&folder).unwrap();
    assert!(faults[0].contains("fixes.csv: larger than"), "{faults:?}");
}

/// Parts of two records in one folder.
#[test]
fn mixed_records_do_not_hold() {
    let night = demo();
    let out = record(&night, &["--site", "gannet", "--site", "fulmar"]);
    let [one, other] = ["gannet", "fulmar"].map(|id| out.join(format!("{id}-2026-01-11")));
    for name in files(&other)
        .into_keys()
        .filter(|name| name.starts_with("data/"))
    {
        let bytes = fs::read(one.join(&name)).unwrap();
        fs::copy(other.join(&name), one.join(&name)).unwrap();
        list_again(&one);
        let faults = faults(&one).unwrap();
        // Digests alone say nothing of which record they belong to: the signature does, and the night's files.
        assert!(
            !faults.is_empty() || name == "data/evidence/commitments.json",
            "{name}"
        );
        fs::write(one.join(&name), bytes).unwrap();
    }
}

/// A later version is no fault of the record: nothing is checked, and the version that reads it is named.
#[test]
fn a_later_format_or_later_rules_are_not_judged() {
    for (old, new) in [
        ("swathbook-record/1", "swathbook-record/2"),
        ("\"rules\": 1", "\"rules\": 2"),
    ] {
        let what = changed("data/service-record.json", |text| {
            text.replacen(old, new, 1)
        })
        .unwrap_err();
        assert!(
            what.contains("this program knows 1") && what.contains("swathbook 0.1.0 wrote it"),
            "{what}"
        );
    }
    // Changed without the lists, it is.
    let night = small();
    let folder = record_of(&night, "quay");
    let path = folder.join("data/service-record.json");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(
        &path,
        text.replacen("swathbook-record/1", "swathbook-record/2", 1),
    )
    .unwrap();
    assert!(faults(&folder).unwrap()[0].contains("service-record.json"));
}

/// What is not judged is said, and is no fault.
#[test]
fn what_is_not_checked_is_said() {
    let night = small();
    let folder = record_of(&night, "quay");
    let path = folder.join("data/service-record.json");
    let text = fs::read_to_string(&path).unwrap();
    for (old, new, check, result, says) in [
        (
            "\"program\": \"0.1.0\"",
            "\"program\": \"0.0.9\"",
            "page",
            CheckResult::NotChecked,
            "swathbook 0.0.9 wrote it",
        ),
        (
            "\"rules\": 1",
            "\"rules\": 0",
            "figures",
            CheckResult::DoesNotHold,
            "there have never been such rules",
        ),
        (
            "\"rules\": 1",
            "\"rules\": 0",
            "page",
            CheckResult::NotChecked,
            "were not computed again",
        ),
    ] {
        fs::write(&path, text.replacen(old, new, 1)).unwrap();
        list_again(&folder);
        let verified = verify(&folder, &Given::default()).unwrap();
        let of = verified.checks.iter().find(|of| of.check == check).unwrap();
        assert_eq!(of.result, result, "{of:?}");
        assert!(of.details[0].contains(says), "{of:?}");
    }
    fs::write(&path, &text).unwrap();
    fs::write(folder.join("timestamp.tsr"), "an authority's answer").unwrap();
    list_again(&folder);
    let verified = verify(&folder, &Given::default()).unwrap();
    assert!(verified.holds());
    let stamp = verified
        .checks
        .iter()
        .find(|of| of.check == "time stamp")
        .unwrap();
    assert_eq!(stamp.result, CheckResult::NotChecked);
}

#[test]
fn what_is_no_record_is_exit_2() {
    let night = small();
    let none = night.path("none");
    for path in ["logs", "fleet.toml", "nowhere"] {
        let path = night.path(path);
        let outcome = night.run(&["verify", path.to_str().unwrap()], &none, &[]);
        outcome.refused(&[path.to_str().unwrap()]);
    }
}
