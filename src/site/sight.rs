//! What runs are compared with before a site's own work: its outlines, and its ground as tracts. Made when
//! the first run comes near, since most sites of a fleet's night see one rig or none.

use super::near::{NEAR_M, Outlines};
use super::tracts::Tracts;
use crate::geometry::overlay::Region;
use crate::geometry::plane::{Degrees, Xy};
use crate::ground::{Site, Zone};
use crate::input::sites::LandUse;
use rstar::Envelope;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// One site as runs see it.
pub struct Sight<'a> {
    /// The site.
    pub site: &'a Site,
    /// All sites of the night.
    all: &'a [Site],
    outlines: OnceLock<Outlines>,
    zones: OnceLock<Tracts>,
    degrees: OnceLock<Degrees>,
    /// What lies around it, by the bits of the position error that makes the fringe and of how far it reaches.
    around: Mutex<Vec<([u64; 2], Arc<Tracts>)>>,
}

impl<'a> Sight<'a> {
    /// Nothing is worked out yet.
    #[must_use]
    pub fn new(site: &'a Site, all: &'a [Site]) -> Self {
        Self {
            site,
            all,
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

    /// What lies around it, with a fringe of `position_m`: its neighbours' ground, and other sites' as far as a
    /// stride may lead.
    pub fn around(&self, position_m: f64, stride_m: Option<f64>) -> Arc<Tracts> {
        // To a power of two: one map serves many strides.
        let far_m = stride_m.map_or(0.0, |m| (2.0 * (NEAR_M + m)).log2().ceil().exp2());
        let bits = [position_m, far_m].map(f64::to_bits);
        // A thread that panicked left the list as it was: entries are only added.
        let mut known = self.around.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, tracts)) = known.iter().find(|(of, _)| *of == bits) {
            return Arc::clone(tracts);
        }
        let tracts = Tracts::around(self.site, &self.others_within(far_m), far_m, position_m);
        let tracts = Arc::new(tracts);
        known.push((bits, Arc::clone(&tracts)));
        tracts
    }

    /// Ground of other sites beyond the neighbours', on this site's plane.
    fn others_within(&self, far_m: f64) -> Vec<(LandUse, Region)> {
        let wide = self.site.bounds.grown(far_m).boxes();
        let is_near = |site: &&Site| {
            let own = site.bounds.boxes();
            own.iter().any(|a| wide.iter().any(|b| a.intersects(b)))
        };
        let others = self
            .all
            .iter()
            .filter(|site| !std::ptr::eq(*site, self.site));
        others
            .filter(|_| far_m > 0.0)
            .filter(is_near)
            .flat_map(|site| {
                site.zones
                    .iter()
                    .map(|zone| (zone.land_use, self.on_plane(site, zone)))
            })
            .collect()
    }

    /// A zone of another site; without what the plane cannot hold.
    fn on_plane(&self, site: &Site, zone: &Zone) -> Region {
        let place = |&at: &Xy| self.site.plane.to_xy(site.plane.to_lon_lat(at));
        let ring = |ring: &Vec<Xy>| ring.iter().map(place).collect::<Option<Vec<Xy>>>();
        let shapes = zone.region.shapes();
        let shapes: Vec<Vec<Vec<Xy>>> = shapes
            .iter()
            .filter_map(|shape| shape.iter().map(ring).collect())
            .collect();
        Region::of_shapes(&shapes)
    }
}
