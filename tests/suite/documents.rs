//! What the documents say, held against the program.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

const README: &str = include_str!("../../README.md");

fn program(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_swathbook"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_readme_shows_the_audits_real_output() {
    let block = README
        .split("```text\n")
        .nth(1)
        .unwrap()
        .split("```")
        .next()
        .unwrap();
    assert_eq!(
        block.trim_end(),
        program(&["audit", "demo-data/night"]).trim_end()
    );
}

/// Whoever reads it at five in the morning has the verdict first and all of it on two screens.
#[test]
fn the_demos_page_begins_with_the_verdict_and_fits_sixty_lines() {
    let page = program(&["audit", "demo-data/night"]);
    let verdict = "Check, and treat again if needed: noddy (due 05:00), skua, gannet, fulmar; ";
    assert!(page.starts_with(verdict), "{page}");
    assert!(page.trim_end().lines().count() <= 60, "{page}");
    // What was planted: the fifth lane of gannet and the ninth of fulmar, counted from the south.
    assert!(
        page.contains("lot, fifth lane from the south")
            && page.contains("lot, ninth lane from the")
    );
}

#[test]
fn the_readme_is_no_manual() {
    assert!(README.lines().count() < 200);
}

/// Every flag of the program is in `docs/formats.md`, and every flag named there or in the README exists.
#[test]
fn flags_in_the_documents_are_the_programs() {
    let flags = |text: &str| -> BTreeSet<String> {
        text.split(|c: char| !(c.is_ascii_lowercase() || c == '-'))
            .filter(|word| {
                word.starts_with("--") && word[2..].starts_with(|c: char| c.is_ascii_lowercase())
            })
            .map(str::to_owned)
            .collect()
    };
    let formats = include_str!("../../docs/formats.md");
    let (known, in_formats) = (flags(&program(&["audit", "--help"])), flags(formats));
    let own = |flag: &&String| !["--help", "--version"].contains(&flag.as_str());
    let missing: Vec<_> = known.difference(&in_formats).filter(own).collect();
    assert!(missing.is_empty(), "not in docs/formats.md: {missing:?}");
    let named: BTreeSet<String> = in_formats.union(&flags(README)).cloned().collect();
    let unknown: Vec<_> = named.difference(&known).filter(own).collect();
    assert!(unknown.is_empty(), "no such flags: {unknown:?}");
}

/// The fleet file shown in the README can be read, and so can the one in `docs/formats.md`.
#[test]
fn the_fleet_files_shown_are_fleet_files() {
    let documents = [README, include_str!("../../docs/formats.md")];
    let mut read = 0;
    for document in documents {
        for block in document
            .split("```toml\n")
            .skip(1)
            .filter_map(|rest| rest.split("```").next())
        {
            if block.contains("[[rig]]") {
                swathbook::input::fleet::read(block, Path::new("fleet.toml"))
                    .unwrap_or_else(|error| panic!("{error}"));
                read += 1;
            }
        }
    }
    assert!(read >= 2, "{read} blocks");
}
