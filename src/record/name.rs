//! Names of records' folders: a folded site id and the night's date. No name from input becomes a path.

use crate::input::digest::sha256;

/// Longest folded id, letters (limit).
const LONGEST: usize = 40;
/// Names that are devices on some systems, whatever their ending.
const DEVICES: [&str; 4] = ["con", "prn", "aux", "nul"];

/// The name of a site's record. An id that folding changes gets eight digits of its digest, so that two sites never
/// share a name, whatever the case of letters counts for.
#[must_use]
pub fn of(site: &str, night: &str) -> String {
    let folded = folded(site);
    if folded == site {
        return format!("{folded}-{night}");
    }
    format!("{folded}-{}-{night}", &sha256(site.as_bytes())[..8])
}

/// Small letters, digits and single hyphens.
fn folded(site: &str) -> String {
    let mut folded = String::new();
    for letter in site.chars() {
        let letter = letter.to_ascii_lowercase();
        if letter.is_ascii_alphanumeric() {
            folded.push(letter);
        } else if !folded.ends_with('-') {
            folded.push('-');
        }
        if folded.len() >= LONGEST {
            break;
        }
    }
    let folded = folded.trim_matches('-');
    let is_port = |name: &str| {
        folded.len() == 4
            && folded.starts_with(name)
            && folded.ends_with(|c: char| c.is_ascii_digit())
    };
    if folded.is_empty() || DEVICES.contains(&folded) || is_port("com") || is_port("lpt") {
        return format!("site-{folded}").trim_end_matches('-').to_owned();
    }
    folded.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plain_id_stays() {
        assert_eq!(of("quay", "2026-01-11"), "quay-2026-01-11");
        assert_eq!(of("quay-2", "2026-01-11"), "quay-2-2026-01-11");
    }

    #[test]
    fn no_id_becomes_a_path() {
        let long = "x".repeat(10_000);
        for id in [
            "../../etc",
            "a/b",
            "a\\b",
            "..",
            "",
            "nul",
            "COM1",
            "a\u{0}b",
            "ä",
            &long,
            ".hidden",
        ] {
            let name = of(id, "2026-01-11");
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
            assert!(name.chars().all(plain), "{name}");
            assert!(name.len() < 70 && !name.starts_with('-'), "{name}");
            assert!(!DEVICES.contains(&name.as_str()), "{name}");
        }
    }

    #[test]
    fn ids_that_fold_to_one_name_do_not_share_it() {
        let ids = ["a b", "a/b", "A b", "a-b", "a--b", "-a-b"];
        let names: std::collections::BTreeSet<String> =
            ids.iter().map(|id| of(id, "2026-01-11")).collect();
        assert_eq!(names.len(), ids.len());
    }
}
