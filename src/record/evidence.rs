//! Evidence: all that a site's figures follow from, as files and back.
//!
//! It is the input of [`crate::site::treat`]: a site's ground, its rules and its legs. Numbers are written shortest
//! and read back to the bit; regions are rings on the overlay's grid and stay as they are, since a second union may
//! put their corners into another order.
//!
//! | file | module | holds |
//! |---|---|---|
//! | `ground.json` | [`ground`] | plane, zones as drawn and as divided |
//! | `settings.json` | [`settings`] | rules, products, booms, what was decided of whole runs |
//! | `fixes.csv` | [`fixes`] | positions, headings, curves |
//! | `spans.csv` | [`spans`] | sections and litres |

pub mod fixes;
pub mod ground;
pub mod limits;
mod row;
pub mod settings;
pub mod spans;

use crate::geometry::place::LonLat;
use crate::ground::Site;
use crate::site::{Leg, Rules};
use settings::Liquid;

/// Names of the files of one night's evidence, in the order in which they are written.
pub const FILES: [&str; 4] = ["ground.json", "settings.json", "fixes.csv", "spans.csv"];

/// Polygons in degrees: of each its rings, the outer one first.
pub type Polygons = Vec<Vec<Vec<LonLat>>>;

/// All that a site's figures follow from.
pub struct Evidence {
    /// Its ground. No neighbour is in it.
    pub site: Site,
    /// Of each zone: as it was drawn.
    pub drawn: Vec<Polygons>,
    /// What counts there.
    pub rules: Rules,
    /// What the rigs did there; [`Leg::run`] is the rig's number in the record, from 0.
    pub legs: Vec<Leg>,
    /// The products used or ordered.
    pub products: Vec<Liquid>,
}

/// Why a file is not evidence: which one, and what is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Name of the file.
    pub file: &'static str,
    /// What is wrong, as a clause.
    pub what: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.file, self.what)
    }
}

/// A clause about one file.
pub(crate) fn fault(file: &'static str, what: impl Into<String>) -> Fault {
    Fault {
        file,
        what: what.into(),
    }
}

/// The files, in the order of [`FILES`].
#[must_use]
pub fn write(evidence: &Evidence) -> [Vec<u8>; 4] {
    [
        ground::write(evidence),
        settings::write(evidence),
        fixes::write(&evidence.legs),
        spans::write(&evidence.legs),
    ]
}

/// Evidence from the files, in the order of [`FILES`]; everything that a later stage relies on is checked.
///
/// # Errors
/// The first file that is not evidence, and why.
pub fn read(files: [&[u8]; 4]) -> Result<Evidence, Fault> {
    let [ground, settings, fixes, spans] = files;
    let (site, drawn) = ground::read(ground)?;
    let settings = settings::read(settings, &site)?;
    let mut legs = fixes::read(fixes, &settings.legs)?;
    spans::read(spans, &mut legs)?;
    limits::check(&site, &legs)?;
    Ok(Evidence {
        site,
        drawn,
        rules: settings.rules,
        legs,
        products: settings.products,
    })
}

/// JSON with one field a line, which ends in a line break.
pub(crate) fn pretty(value: &impl serde::Serialize) -> Vec<u8> {
    let mut bytes = serde_json::to_vec_pretty(value).expect("plain data always makes JSON");
    bytes.push(b'\n');
    bytes
}
