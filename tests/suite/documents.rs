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
    let page = program(&["audit", "demo-data/night"]);
    // A line of dots stands for what is left out, to keep the README short.
    let (begin, end) = block.split_once("[...]\n").unwrap();
    assert!(page.starts_with(begin), "{begin}");
    assert!(page.trim_end().ends_with(end.trim_end()), "{end}");
    assert!(begin.len() + end.len() > page.len() / 2);
}

/// Whoever reads it at five in the morning has the verdict first and all of it in sixty lines.
#[test]
fn the_demos_page_begins_with_the_verdict_and_fits_sixty_lines() {
    let page = program(&["audit", "demo-data/night"]);
    let verdict = "Check, and treat again if needed: noddy (due 05:00), gannet (due 05:00), fulmar (due 05:00), skua;";
    assert!(page.starts_with(verdict), "{page}");
    assert!(page.trim_end().lines().count() <= 60, "{page}");
    // What was planted: the fifth lane of gannet and the ninth of fulmar, counted from the south.
    assert!(
        page.contains("lot, fifth lane from the south")
            && page.contains("lot, ninth lane from the")
    );
}

/// The questions that `docs/figures.md` answers are put to what the page says.
#[test]
fn the_ten_questions_quote_the_demos_page() {
    let figures = include_str!("../../docs/figures.md");
    let questions = figures.split("## Ten questions to a page").nth(1).unwrap();
    let page = program(&["audit", "demo-data/night"]);
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let page = words(&page);
    // Every other piece stands between backticks; a dot in it means a file.
    let quoted: Vec<String> = questions.split('`').skip(1).step_by(2).map(words).collect();
    assert!(quoted.len() > 10, "{quoted:?}");
    for phrase in quoted {
        assert!(
            phrase.contains(".csv") || page.contains(&phrase),
            "{phrase}"
        );
    }
}

/// The table says which outside source checks which figure; a place that has moved would make it a rumour.
#[test]
fn every_place_that_the_table_of_checks_names_is_there() {
    let method = include_str!("../../docs/method.md");
    let (_, checks) = method.split_once("\n## Checks\n").unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut places = 0;
    for name in checks.split('`').skip(1).step_by(2) {
        let folders = ["src/", "tests/", "fixtures/", "demo-data/"];
        if !folders.iter().any(|folder| name.starts_with(folder)) {
            continue;
        }
        let of_group = match (name.find('{'), name.find('}')) {
            (Some(from), Some(to)) => name[from + 1..to]
                .split(',')
                .map(|one| format!("{}{one}{}", &name[..from], &name[to + 1..]))
                .collect(),
            _ => vec![name.to_owned()],
        };
        for place in of_group {
            assert!(root.join(&place).exists(), "{place} is not there");
            places += 1;
        }
    }
    // As many rows as the table had when this was written, a place each.
    assert!(places >= 50, "{places}");
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
    let helps = [
        &["audit", "--help"][..],
        &["measure", "--help"],
        &["new", "--help"],
        &["completions", "--help"],
        &["intake", "--help"],
        &["record", "--help"],
        &["verify", "--help"],
    ];
    let known: BTreeSet<String> = helps
        .iter()
        .flat_map(|help| flags(&program(help)))
        .collect();
    let in_formats = flags(formats);
    let own = |flag: &&String| !["--help", "--version"].contains(&flag.as_str());
    let missing: Vec<_> = known.difference(&in_formats).filter(own).collect();
    assert!(missing.is_empty(), "not in docs/formats.md: {missing:?}");
    // Those of cargo are cargo's.
    let readme = README.lines().filter(|line| !line.contains("cargo "));
    let readme: String = readme.collect::<Vec<_>>().join("\n");
    let named: BTreeSet<String> = in_formats.union(&flags(&readme)).cloned().collect();
    let unknown: Vec<_> = named.difference(&known).filter(own).collect();
    assert!(unknown.is_empty(), "no such flags: {unknown:?}");
}

/// The night that the README shows is the one that `swathbook new` writes.
#[test]
fn the_smallest_night_in_the_readme_is_the_one_that_new_makes() {
    let place = tempfile::tempdir().unwrap();
    let night = place.path().join("night");
    program(&["new", night.to_str().unwrap()]);
    for name in [
        "fleet.toml",
        "sites.geojson",
        "orders.csv",
        "logs/north.gpx",
    ] {
        let text = std::fs::read_to_string(night.join(name)).unwrap();
        assert!(text.lines().count() <= 10, "{name}");
        assert!(
            README.contains(&format!("\n{text}```")),
            "README.md does not show {name}"
        );
    }
}

/// The manual page is made from the flags. `SWATHBOOK_WRITE_MAN=1 cargo test --test suite manual` makes it again.
#[test]
fn the_manual_page_is_current() {
    let page = manual_page();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/swathbook.1");
    if std::env::var_os("SWATHBOOK_WRITE_MAN").is_some() {
        std::fs::write(&path, &page).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap();
    assert!(
        kept == page,
        "docs/swathbook.1 is not what the flags say; see this test's comment"
    );
}

/// One page for all commands: each has its own synopsis and options in it.
fn manual_page() -> String {
    let mut page = Vec::new();
    let mut whole = swathbook::cli::command();
    whole.build();
    let man = clap_mangen::Man::new(whole.clone());
    man.render_title(&mut page).unwrap();
    man.render_name_section(&mut page).unwrap();
    man.render_synopsis_section(&mut page).unwrap();
    man.render_description_section(&mut page).unwrap();
    man.render_options_section(&mut page).unwrap();
    let mut page = String::from_utf8(page).unwrap();
    for command in whole
        .get_subcommands()
        .filter(|command| command.get_name() != "help")
    {
        let name = command.get_name().to_uppercase();
        let man = clap_mangen::Man::new(command.clone());
        let mut part = Vec::new();
        man.render_description_section(&mut part).unwrap();
        man.render_synopsis_section(&mut part).unwrap();
        man.render_options_section(&mut part).unwrap();
        let part = String::from_utf8(part).unwrap();
        page += &part
            .replace(".SH DESCRIPTION", &format!(".SH {name}"))
            .replace(".SH SYNOPSIS", ".SS Synopsis")
            .replace(".SH OPTIONS", ".SS Options");
    }
    let mut rest = Vec::new();
    man.render_extra_section(&mut rest).unwrap();
    man.render_version_section(&mut rest).unwrap();
    page + &String::from_utf8(rest).unwrap()
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
