//! The rate asked for on a spot: the one place where it is decided.

use crate::input::fleet::Fleet;
use crate::input::orders::Order;
use serde::{Deserialize, Serialize};

/// Rates that go with products, and the one for all others.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Targets {
    /// By product id, mL/m2.
    pub products: Vec<(String, f64)>,
    /// Where nothing nearer says otherwise, mL/m2.
    pub otherwise_ml_m2: Option<f64>,
}

impl Targets {
    /// Those of a fleet file.
    #[must_use]
    pub fn of(fleet: &Fleet) -> Self {
        let products = fleet.products.iter();
        Self {
            products: products
                .filter_map(|product| Some((product.id.clone(), product.target_ml_m2?)))
                .collect(),
            otherwise_ml_m2: fleet.defaults.target_ml_m2,
        }
    }

    /// Rate asked for when the product is all that is known, mL/m2.
    #[must_use]
    pub fn of_product(&self, product: Option<&str>) -> Option<f64> {
        let own = self
            .products
            .iter()
            .find(|(id, _)| Some(id.as_str()) == product);
        own.map(|(_, target)| *target).or(self.otherwise_ml_m2)
    }

    /// Rate asked for on a zone: the order's, else the zone's own, else that of the product (the one
    /// ordered, else the one carried), else the fleet's, mL/m2.
    #[must_use]
    pub fn on_zone(
        &self,
        order: Option<&Order>,
        zone_target_ml_m2: Option<f64>,
        carried: Option<&str>,
    ) -> Option<f64> {
        let ordered = order.and_then(|order| order.product.as_deref());
        order
            .and_then(|order| order.target_ml_m2)
            .or(zone_target_ml_m2)
            .or_else(|| self.of_product(ordered.or(carried)))
    }
}
