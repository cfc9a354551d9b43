//! A service record changed by the bytes: cells, digits and whole files of a kept record. `verify` must come to an end, say
//! something, and hold only where nothing was changed that it looks at.

use super::bytes::Bytes;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use swathbook::record::evidence;

/// Values that break what reads numbers carelessly.
const CELLS: [&str; 18] = [
    "",
    "0",
    "1",
    "-1",
    "2",
    "0.5",
    "NaN",
    "inf",
    "-inf",
    "1e308",
    "-1e308",
    "1e-320",
    "4294967296",
    "18446744073709551616",
    "driven",
    "unlogged",
    "2026-01-12T02:00:00Z",
    "\u{7f}",
];

/// The evidence of the smallest kept record.
fn kept() -> &'static [Vec<u8>; 4] {
    static KEPT: OnceLock<[Vec<u8>; 4]> = OnceLock::new();
    KEPT.get_or_init(|| {
        let folder: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR"))
            .ancestors()
            .map(|at| at.join("fixtures/records/quay/data/evidence/1"))
            .find(|at| at.is_dir())
            .expect("the kept records lie in the repository");
        evidence::FILES.map(|name| std::fs::read(folder.join(name)).expect("a kept file"))
    })
}

/// Reads changed evidence, and treats it where it still is evidence.
pub(crate) fn check(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    let mut files = kept().clone();
    for _ in 0..1 + bytes.below(4) {
        let file = bytes.below(4);
        change(&mut files[file], &mut bytes);
    }
    let [ground, settings, fixes, spans] = &files;
    let Ok(evidence) = evidence::read([ground, settings, fixes, spans]) else {
        return;
    };
    let outcome = swathbook::site::treat(&evidence.site, &evidence.legs, &evidence.rules, false);
    for zone in outcome.applications.iter().flat_map(|of| &of.zones) {
        if let Some(areas) = zone.areas {
            let sum_m2 = areas.treated_m2 + areas.gap_m2 + areas.unlogged_m2;
            assert!(
                (sum_m2 - zone.area_m2).abs() <= 1e-6 * zone.area_m2.max(1.0),
                "{areas:?}"
            );
        }
    }
    // Drawn corners may be anywhere: what of the ground lies beyond them is no more than all of it.
    for (zone, polygons) in evidence.site.zones.iter().zip(&evidence.drawn) {
        let drawn = swathbook::ground::drawn::region(&evidence.site.plane, polygons);
        let beyond_m2 = drawn.map_or(0.0, |drawn| zone.region.difference(&drawn).area_m2());
        let area_m2 = zone.region.area_m2();
        assert!(
            (0.0..=area_m2 + 1e-3).contains(&beyond_m2),
            "{beyond_m2} m2 of {area_m2} m2"
        );
    }
    // What could be read is written as it was read.
    let again = evidence::write(&evidence);
    let [ground, settings, fixes, spans] = &again;
    let same = evidence::read([ground, settings, fixes, spans]).map(|back| evidence::write(&back));
    assert!(
        same.is_ok_and(|same| same == again),
        "evidence is not the same when written and read"
    );
}

/// One of `0..count`, of two bytes.
fn place(bytes: &mut Bytes, count: usize) -> usize {
    usize::from(bytes.word().cast_unsigned()) % count
}

/// One cell of a spreadsheet, one number of a JSON, or any byte.
fn change(file: &mut Vec<u8>, bytes: &mut Bytes) {
    let text = String::from_utf8_lossy(file).into_owned();
    let parts: Vec<&str> = text
        .split_inclusive([',', '\n', ' ', '[', ']', '"'])
        .collect();
    if bytes.below(5) == 0 || parts.is_empty() {
        let at = place(bytes, file.len().max(1));
        if let Some(byte) = file.get_mut(at) {
            *byte = bytes.below(256) as u8;
        }
        return;
    }
    let at = place(bytes, parts.len());
    let mut parts: BTreeMap<usize, String> = parts
        .iter()
        .map(|part| (*part).to_owned())
        .enumerate()
        .collect();
    match bytes.below(4) {
        0 => {
            parts.remove(&at);
        }
        1 => {
            let other = place(bytes, parts.len());
            let (a, b) = (parts[&at].clone(), parts[&other].clone());
            parts.insert(at, b);
            parts.insert(other, a);
        }
        _ => {
            let end = parts[&at].chars().last().filter(|c| !c.is_alphanumeric());
            let cell = CELLS[bytes.below(CELLS.len())];
            parts.insert(
                at,
                cell.to_owned() + &end.map(String::from).unwrap_or_default(),
            );
        }
    }
    *file = parts.into_values().collect::<String>().into_bytes();
}
