//! What counts at a site beside its ground and the legs: everything of fleet file and orders that its
//! figures may depend on.

use crate::ground::Zone;
use crate::input::fleet::Fleet;
use crate::orders::Placed;
use crate::orders::targets::Targets;
use crate::rig::timeline::wet;
use serde::{Deserialize, Serialize};

/// The rules of one site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rules {
    /// Half-width of the band around the target, as a fraction.
    pub band: f64,
    /// Ground this near to a zone's line is kept separate, m.
    pub edge_m: f64,
    /// From this pause on, spraying a site again is a new application, s.
    pub application_pause_s: f64,
    /// Position error (95 %) where nobody came, m.
    pub position_m: f64,
    /// Probability from which a bare patch is reported.
    pub likely: f64,
    /// Likely bare ground of a zone from which it is worth going back, m2.
    pub go_back_m2: f64,
    /// The same as a share of the zone.
    pub go_back_share: f64,
    /// Rates by product.
    pub targets: Targets,
    /// The orders placed here; `None` where there is no orders file.
    pub orders: Option<Vec<Placed>>,
}

impl Rules {
    /// Those of a fleet file, with a site's orders.
    #[must_use]
    pub fn of(fleet: &Fleet, orders: Option<&[Placed]>) -> Self {
        Self {
            band: fleet.defaults.band,
            edge_m: fleet.defaults.edge_m,
            application_pause_s: fleet.defaults.application_pause_s,
            position_m: fleet.defaults.position_m,
            likely: fleet.defaults.likely,
            go_back_m2: fleet.defaults.go_back_m2,
            go_back_share: fleet.defaults.go_back_share,
            targets: Targets::of(fleet),
            orders: orders.map(<[Placed]>::to_vec),
        }
    }

    /// Whether likely bare ground of a zone is worth a trip: much of it, or a great share, or ground that matters more
    /// than others. Less is for somebody who is near.
    #[must_use]
    pub fn is_for_a_trip(&self, bare_m2: f64, zone_m2: f64, priority: f64) -> bool {
        bare_m2 >= self.go_back_m2 || bare_m2 >= self.go_back_share * zone_m2 || priority > 1.0
    }

    /// The site's orders.
    #[must_use]
    pub fn placed(&self) -> &[Placed] {
        self.orders.as_deref().unwrap_or_default()
    }

    /// Rate under which a boom is dry here, mL/m2: with each of these products, and last without any.
    #[must_use]
    pub fn dry_below_by_product(&self, zones: &[Zone], products: &[String]) -> Vec<Option<f64>> {
        let zones = zones.iter().filter(|zone| zone.is_to_treat());
        let of_zones = zones.filter_map(|zone| zone.target_ml_m2);
        let of_orders = self
            .placed()
            .iter()
            .filter_map(|placed| placed.order.target_ml_m2);
        let here_ml_m2: Vec<f64> = of_zones.chain(of_orders).collect();
        let products = products.iter().map(|id| Some(id.as_str())).chain([None]);
        products
            .map(|product| {
                let own_ml_m2: Vec<f64> = self.targets.of_product(product).into_iter().collect();
                wet::dry_below_ml_m2(&own_ml_m2, &here_ml_m2)
            })
            .collect()
    }
}
