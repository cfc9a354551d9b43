//! What runs are held against before a site's own work: its outlines, and its ground as tracts. Made when
//! the first run comes near, since most sites of a fleet's night see one rig or none.

use super::near::Outlines;
use super::tracts::Tracts;
use crate::geometry::plane::Degrees;
use crate::ground::Site;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// One site as runs see it.
pub struct Sight<'a> {
    /// The site.
    pub site: &'a Site,
    outlines: OnceLock<Outlines>,
    zones: OnceLock<Tracts>,
    degrees: OnceLock<Degrees>,
    /// What lies around it, by the bits of the position error that makes the fringe.
    around: Mutex<Vec<(u64, Arc<Tracts>)>>,
}

impl<'a> Sight<'a> {
    /// Nothing is worked out yet.
    #[must_use]
    pub fn new(site: &'a Site) -> Self {
        Self {
            site,
            outlines: OnceLock::new(),
            zones: OnceLock::new(),
            degrees: OnceLock::new(),
            around: Mutex::default(),
        }
    }

    /// For distances.
    pub fn outlines(&self) -> &Outlines {
        self.outlines.get_or_init(|| Outlines::of(self.site))
    }

    /// Its zones.
    pub fn zones(&self) -> &Tracts {
        self.zones.get_or_init(|| Tracts::of_zones(self.site))
    }

    /// For drawing in degrees.
    pub(crate) fn degrees(&self) -> &Degrees {
        self.degrees.get_or_init(|| Degrees::of(&self.site.plane))
    }

    /// What lies around it, with a fringe of `position_m`.
    pub fn around(&self, position_m: f64) -> Arc<Tracts> {
        let bits = position_m.to_bits();
        // A thread that panicked left the list as it was: entries are only added.
        let mut known = self.around.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, tracts)) = known.iter().find(|(of, _)| *of == bits) {
            return Arc::clone(tracts);
        }
        let tracts = Arc::new(Tracts::around(self.site, position_m));
        known.push((bits, Arc::clone(&tracts)));
        tracts
    }
}
