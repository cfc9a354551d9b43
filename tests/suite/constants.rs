//! The constants of the program, each with its reason and what kind of reason that is: `docs/constants.md`.
//!
//! The table is made from the sources. `SWATHBOOK_WRITE_CONSTANTS=1 cargo test --test suite constants` makes it again.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// What a reason can be. A constant's comment names one in brackets: `(limit)`, `(published: NIMA TR8350.2)`.
const KINDS: [(&str, &str); 9] = [
    (
        "published",
        "from a standard, a handbook or a paper, which the comment or the file's head names",
    ),
    (
        "arithmetic",
        "follows from definitions or from other constants, or only marks something",
    ),
    (
        "common practice",
        "what the trade does or machines of the trade show; no single source",
    ),
    (
        "trade judgement",
        "chosen by what a foreman would say; another careful author might choose otherwise",
    ),
    (
        "by trial",
        "chosen by runs of the program on its trials: moves speed, plans or calibration",
    ),
    (
        "limit",
        "keeps input, memory or time within bounds; usual nights never meet it",
    ),
    (
        "tolerance",
        "rounding, resolution of cells and lines: finer changes nothing that is printed",
    ),
    (
        "layout",
        "how much is shown, and how it is laid out; changes no figure",
    ),
    (
        "from memory",
        "a published value that could not be looked up",
    ),
];

/// Types that hold a number.
const NUMBERS: [&str; 13] = [
    "f64", "f32", "u8", "u16", "u32", "u64", "usize", "i16", "i32", "i64", "i128", "u128",
    "Duration",
];

struct Constant {
    file: String,
    name: String,
    value: String,
    reason: String,
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        let name = path.file_stem().unwrap().to_str().unwrap();
        if ["tests", "trials", "sample"].contains(&name) {
            continue;
        }
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// The name and the rest after the colon, if a line begins a constant that holds numbers.
fn begins(line: &str) -> Option<(&str, &str)> {
    let line = line.trim_start();
    let line = line.strip_prefix("pub").map_or(line, |rest| {
        let rest = rest
            .strip_prefix('(')
            .and_then(|rest| rest.split_once(')'))
            .map_or(rest, |(_, rest)| rest);
        rest.trim_start()
    });
    let (name, rest) = line.strip_prefix("const ")?.split_once(": ")?;
    let of = rest.split_once('=').map_or(rest, |(of, _)| of);
    if name.contains(|c: char| c.is_lowercase()) {
        return None; // `const fn`
    }
    let mut words = of.split(|c: char| !c.is_alphanumeric());
    words
        .any(|word| NUMBERS.contains(&word))
        .then_some((name, rest))
}

fn constants() -> Vec<Constant> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    files(&root, &mut paths);
    let mut found = Vec::new();
    for path in paths {
        let text = fs::read_to_string(&path).unwrap();
        let text = text.split("\n#[cfg(test)]\nmod tests {").next().unwrap();
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let Some((name, rest)) = begins(line) else {
                continue;
            };
            let above = lines[..at].iter().rev().map(|line| line.trim());
            let above = above.filter(|line| !line.starts_with("#["));
            let mut reason: Vec<&str> = above
                .map_while(|line| line.strip_prefix("//"))
                .map(|line| line.trim_start_matches('/').trim())
                .collect();
            reason.reverse();
            let whole = [rest].into_iter().chain(lines[at + 1..].iter().copied());
            let whole: String = whole.collect::<Vec<_>>().join(" ");
            let value = whole.split_once('=').unwrap().1.split(';').next().unwrap();
            found.push(Constant {
                file: path
                    .strip_prefix(&root)
                    .unwrap()
                    .to_str()
                    .unwrap()
                    .to_owned(),
                name: name.to_owned(),
                value: value.split_whitespace().collect::<Vec<_>>().join(" "),
                reason: reason.join(" "),
            });
        }
    }
    found
}

/// The kinds that a reason names.
fn kinds(reason: &str) -> Vec<&'static str> {
    let named = |kind: &str| {
        [')', ':', ',', ';']
            .iter()
            .any(|end| reason.contains(&format!("({kind}{end}")))
    };
    KINDS
        .iter()
        .map(|(kind, _)| *kind)
        .filter(|kind| named(kind))
        .collect()
}

fn table(constants: &[Constant]) -> String {
    let mut text = "# Constants\n\nEvery numeric constant of the program, made from the sources by a test \
        (`SWATHBOOK_WRITE_CONSTANTS=1 cargo test --test suite constants`).\nWhat is a setting stands in \
        [method.md](method.md) with its key; what its figure means in [figures.md](figures.md).\n\n| kind of reason | \
        what it means | how many |\n|---|---|---|\n"
        .to_owned();
    for (kind, meaning) in KINDS {
        let count = constants
            .iter()
            .filter(|constant| kinds(&constant.reason) == [kind])
            .count();
        writeln!(text, "| {kind} | {meaning} | {count} |").unwrap();
    }
    let mut file = "";
    for constant in constants {
        if constant.file != file {
            file = &constant.file;
            write!(
                text,
                "\n## {file}\n\n| constant | value | reason |\n|---|---|---|\n"
            )
            .unwrap();
        }
        let value: String = constant.value.chars().take(40).collect();
        let cut = if value.len() < constant.value.len() {
            " ..."
        } else {
            ""
        };
        let (value, reason) = (
            value.replace('|', "\\|"),
            constant.reason.replace('|', "\\|"),
        );
        writeln!(text, "| `{}` | `{value}`{cut} | {reason} |", constant.name).unwrap();
    }
    text
}

#[test]
fn every_constant_has_a_reason_and_one_kind_of_it() {
    let constants = constants();
    assert!(constants.len() > 600, "only {} were found", constants.len());
    let wrong: Vec<String> = constants
        .iter()
        .filter(|constant| kinds(&constant.reason).len() != 1)
        .map(|constant| {
            format!(
                "{} {}: \"{}\"",
                constant.file, constant.name, constant.reason
            )
        })
        .collect();
    assert!(wrong.is_empty(), "no kind of reason, or two: {wrong:#?}");
}

#[test]
fn the_table_is_that_of_the_sources() {
    let made = table(&constants());
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/constants.md");
    if std::env::var_os("SWATHBOOK_WRITE_CONSTANTS").is_some() {
        fs::write(&path, &made).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap();
    let differs = made
        .lines()
        .zip(kept.lines())
        .find(|(made, kept)| made != kept);
    assert_eq!(
        differs, None,
        "docs/constants.md is not made from these sources; see this file's head"
    );
    assert_eq!(made.lines().count(), kept.lines().count());
}
