//! The orders file: CSV rows that say which work was asked for, where, by when and with what.
//!
//! [`read`] gives the rows in SI with instants; whether their sites and zones exist is seen when they
//! are placed on the ground ([`crate::orders`]). One bad cell costs the cell, not the order: an order
//! that is lost is work that nobody misses.

mod cells;
mod reading;

pub use reading::read;

use crate::findings::Finding;
use crate::geometry::place::Instant;
use serde::{Deserialize, Serialize};

/// What came out of the orders file.
#[derive(Debug, Clone, Default)]
pub struct OrdersReading {
    /// In the order of the file.
    pub orders: Vec<Order>,
    /// Rows and cells that could not be used, and remarks.
    pub findings: Vec<Finding>,
}

/// One row: a service asked for at a site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Order {
    /// Line of the row in the file, from 1.
    pub line: u64,
    /// Site id.
    pub site: String,
    /// Zone id; `None` is every zone of the site.
    pub zone: Option<String>,
    /// What the service is called, to show.
    pub service: Option<String>,
    /// Product asked for: an id of the fleet file.
    pub product: Option<String>,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Not before.
    pub from: Option<Instant>,
    /// To be finished by.
    pub by: Option<Instant>,
    /// The order's own number or name.
    pub id: Option<String>,
}

impl Order {
    /// What to call it in a sentence: its number, else its line in the file.
    #[must_use]
    pub fn label(&self) -> String {
        self.id
            .clone()
            .unwrap_or_else(|| format!("line {}", self.line))
    }
}

#[cfg(test)]
mod tests;
