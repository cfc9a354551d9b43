//! Step 8 of the flow: what people read of a night, in the order in which they read it. The terminal, the
//! page for a phone and the list of places to drive to are made from it; they add words, and no figure.
//!
//! | module | gives |
//! |---|---|
//! | [`trips`] | where to go back to: one entry a site, with place, cause, rig and liquid |
//! | [`spot`] | where on a lot some ground lies |
//! | [`strip`] | a patch as a line to drive |
//! | [`driving_order`] | in what order to drive there |
//! | [`effort`] | liquid and time to put it right |
//! | [`merge`] | findings of one cause as one entry |

pub mod driving_order;
pub mod effort;
pub mod merge;
pub mod spot;
pub mod strip;
pub mod trips;

pub use effort::Effort;
pub use merge::Entry;
pub use spot::{Direction, Spot};
pub use strip::Strip;
pub use trips::{Due, Part, RigState, Trip};

use crate::findings::clocks::AboutClocks;
use crate::findings::liquid::AboutLiquid;
use crate::findings::{Kind, Severity};
use crate::geometry::place::LonLat;
use crate::result::Audit;
use crate::verdict::Night;

/// Share of a rig's liquid on ground already treated from which a page mentions it: laps and turns make a tenth to a
/// fifth (layout).
const MUCH_TWICE: f64 = 0.25;

/// What people read of a night.
#[derive(Debug, Clone, Default)]
pub struct Page {
    /// Sites to go back to, in the order in which to think of them.
    pub trips: Vec<Trip>,
    /// What going back takes.
    pub effort: Effort,
    /// What somebody should look into.
    pub look_into: Vec<Entry>,
    /// What explains a number.
    pub record: Vec<Entry>,
    /// Sites with something to read, worst first: indices into [`Audit::sites`].
    pub sites: Vec<usize>,
    /// Treated sites without a go-back or anything to look into.
    pub well: Vec<usize>,
    /// Sites that nobody treated and that no finding names.
    pub untouched: Vec<usize>,
}

/// Makes the page of an audited night.
#[must_use]
pub fn of(night: &Night, audit: &Audit) -> Page {
    let trips = trips::of(night, audit);
    let mut told: Vec<usize> = trips.iter().flat_map(Trip::findings).collect();
    // The head of every page says whose times were moved.
    let shifted = audit.findings.iter().enumerate();
    let shifted =
        shifted.filter(|(_, of)| matches!(of.kind, Kind::Clocks(AboutClocks::ClockShifted { .. })));
    told.extend(shifted.map(|(index, _)| index));
    // What laps lay twice on any lot stands in the files; a page mentions it where it is much.
    let laps = audit.findings.iter().enumerate().filter(
        |(_, of)| matches!(of.kind, Kind::Liquid(AboutLiquid::LaidTwice { share, .. }) if share < MUCH_TWICE),
    );
    told.extend(laps.map(|(index, _)| index));
    let entries = |severity| merge::entries(&audit.findings, severity, &told);
    let mut page = Page {
        effort: effort::of(&trips, audit),
        look_into: entries(Severity::LookInto),
        record: entries(Severity::ForTheRecord),
        trips,
        ..Page::default()
    };
    page.sort_sites(audit);
    page
}

impl Page {
    /// The sites to go back to, in an order to drive to them from `start`, or from the first of the list.
    #[must_use]
    pub fn stops(&self, start: Option<LonLat>) -> Vec<&Trip> {
        let places: Vec<LonLat> = self.trips.iter().map(|trip| trip.place).collect();
        let order = driving_order::driving_order(start, &places);
        order.into_iter().map(|index| &self.trips[index]).collect()
    }

    /// Puts every site with ground to treat in one of the three lists.
    pub fn sort_sites(&mut self, audit: &Audit) {
        let mut sites: Vec<usize> = self.trips.iter().map(|trip| trip.site).collect();
        let looked_into = self.look_into.iter().flat_map(|entry| &entry.findings);
        let named = looked_into.flat_map(|&finding| audit.findings[finding].sites());
        let index = |id: &str| audit.sites.iter().position(|site| site.site == id);
        for site in named.filter_map(index) {
            if !sites.contains(&site) {
                sites.push(site);
            }
        }
        // A site of keep-off ground or a yard has no row.
        sites.retain(|&site| audit.sites[site].area_m2 > 0.0);
        let others = (0..audit.sites.len())
            .filter(|site| audit.sites[*site].area_m2 > 0.0 && !sites.contains(site));
        (self.well, self.untouched) =
            others.partition(|&site| !audit.sites[site].applications.is_empty());
        self.sites = sites;
    }
}
