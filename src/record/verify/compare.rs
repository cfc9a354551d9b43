//! Figures as they stand against figures computed again, one by one, each with its tolerance.
//!
//! The same program on the same processor gives the same bits. Another processor may round the last digit otherwise:
//! areas then differ by the overlay's grid along an outline, draws by a cell. Where that moves a verdict over its
//! threshold, it holds at the limit.

use super::{Check, CheckResult};
use crate::geometry::place::Instant;
use crate::record::Figures;
use crate::record::figures::OrderFigures;
use crate::result::LEAST_PERHAPS;
use crate::result::OrderStatus;
use crate::site::coverage::LEAST_PATCH_M2;
use crate::site::outcome::{OrderFact, ROUNDED_M2, ROUNDED_PROBABILITY};
use serde_json::{Map, Value};

/// Areas differ by no more than this, m2, or (tolerance) ...
const AREA_M2: f64 = ROUNDED_M2;
/// ... by this on each metre of outline, m: half of the overlay's grid of 6e-8 m (tolerance).
const ALONG_M: f64 = 3e-8;
/// Litres, seconds and lengths differ by no more than this share, or this much where they are small (tolerance).
const EXACT: f64 = 1e-9;
/// Probabilities differ by no more than this (tolerance).
const PROBABILITY: f64 = ROUNDED_PROBABILITY;
/// Instants are rounded to a microsecond (tolerance).
const INSTANT_US: i64 = 1;
/// Most differences told of (limit).
const MOST_LINES: usize = 40;

/// What came of a comparison.
#[derive(Debug, Default)]
pub struct Compared {
    /// Figures that were looked at.
    pub figures: usize,
    /// Those that differ, with both values.
    pub differences: Vec<String>,
    /// Verdicts that hold at the limit only.
    pub limits: Vec<String>,
}

impl Compared {
    /// As a check.
    pub(super) fn check(mut self, check: &'static str) -> Check {
        if self.differences.is_empty() {
            let what = format!(
                "{} figures computed again from the evidence are the same",
                self.figures
            );
            let limits = self
                .limits
                .into_iter()
                .map(|what| format!("{what}: holds, at the limit"));
            let details = [what].into_iter().chain(limits).collect();
            return Check::new(check, CheckResult::Holds, details);
        }
        let more = self.differences.len().saturating_sub(MOST_LINES);
        self.differences.truncate(MOST_LINES);
        if more > 0 {
            self.differences.push(format!("and {more} more"));
        }
        Check::new(check, CheckResult::DoesNotHold, self.differences)
    }
}

/// By how much an area inside an outline of this length may differ, m2.
pub(super) fn tolerance_m2(outline_m: f64) -> f64 {
    AREA_M2.max(ALONG_M * outline_m)
}

/// Ground that a figure is about.
#[derive(Clone, Copy)]
struct Ground {
    area_m2: f64,
    outline_m: f64,
    /// Part of a patch inside its zone's edge.
    core_m2: f64,
}

impl Ground {
    fn of(self, object: &Map<String, Value>) -> Self {
        let number = |name: &str| object.get(name).and_then(Value::as_f64);
        Self {
            area_m2: number("area_m2").unwrap_or(self.area_m2),
            outline_m: number("outline_m").unwrap_or(self.outline_m),
            core_m2: number("core_m2").unwrap_or(self.core_m2),
        }
    }

    fn tolerance_m2(self) -> f64 {
        tolerance_m2(self.outline_m)
    }

    fn tolerance(self, name: &str, value: f64) -> f64 {
        let exact = EXACT * value.abs().max(1.0);
        if name == "probability" {
            PROBABILITY
        } else if name == "area_low_m2" || name == "area_high_m2" {
            PROBABILITY * self.core_m2.max(1.0)
        } else if name.ends_with("_ml_m2") || name.ends_with("_share") {
            exact + value.abs() * self.tolerance_m2() / self.area_m2.max(1.0)
        } else if name.ends_with("_m2") {
            self.tolerance_m2()
        } else {
            exact
        }
    }
}

/// Compares the figures of a record with those computed again; `likely`: from which probability a patch is reported; `orders`:
/// what became of the orders, computed again.
#[must_use]
pub fn figures(
    stated: &Figures,
    computed: &Figures,
    likely: f64,
    orders: &[OrderFact],
) -> Compared {
    let value = |figures: &Figures| serde_json::to_value(figures).unwrap_or_default();
    let mut walk = Walk {
        compared: Compared::default(),
        likely,
    };
    let nowhere = Ground {
        area_m2: computed.area_m2,
        outline_m: computed.ground.iter().map(|zone| zone.outline_m).sum(),
        core_m2: 0.0,
    };
    let mut stated_values = value(stated);
    let limits = orders_at_limit(stated, orders);
    for &at in &limits {
        stated_values["orders"][at]["status"] = value(computed)["orders"][at]["status"].take();
    }
    walk.value("", "", nowhere, &stated_values, &value(computed));
    let limits = limits.into_iter().map(|at| format!("orders[{at}].status"));
    walk.compared.limits.extend(limits);
    walk.compared
}

/// Orders whose stated status is not the computed one, but what rounding may have made of it. A zone's verdict and what visits
/// make an application rest on no draw, and are compared as they are.
fn orders_at_limit(stated: &Figures, orders: &[OrderFact]) -> Vec<usize> {
    let pairs = stated.orders.iter().zip(orders).enumerate();
    let at_limit = |(_, (stated, fact)): &(usize, (&OrderFigures, &OrderFact))| {
        let status: OrderStatus = stated.status;
        status != fact.status && fact.near.contains(&status)
    };
    pairs.filter(at_limit).map(|(at, _)| at).collect()
}

struct Walk {
    compared: Compared,
    likely: f64,
}

impl Walk {
    fn value(&mut self, path: &str, name: &str, ground: Ground, stated: &Value, computed: &Value) {
        match (stated, computed) {
            (Value::Object(a), Value::Object(b)) => self.object(path, ground.of(b), a, b),
            (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
                for (at, (a, b)) in a.iter().zip(b).enumerate() {
                    self.value(&format!("{path}[{at}]"), name, ground, a, b);
                }
            }
            (Value::Array(a), Value::Array(b)) => {
                let what = format!(
                    "{path}: the record has {}, computed again there are {}",
                    a.len(),
                    b.len()
                );
                self.compared.differences.push(what);
            }
            _ => self.figure(path, name, ground, stated, computed),
        }
    }

    fn object(
        &mut self,
        path: &str,
        ground: Ground,
        stated: &Map<String, Value>,
        computed: &Map<String, Value>,
    ) {
        let at_limit =
            stated.contains_key("patches") && self.patches_at_limit(path, ground, stated, computed);
        for (name, b) in computed {
            let by_patches = ["patches", "patches_m2", "perhaps_m2", "not_resolved_m2"];
            if at_limit && by_patches.contains(&name.as_str()) {
                continue;
            }
            let path = if path.is_empty() {
                name.clone()
            } else {
                format!("{path}.{name}")
            };
            match stated.get(name) {
                Some(a) => self.value(&path, name, ground, a, b),
                None => self.compared.differences.push(format!("{path} is missing")),
            }
        }
    }

    fn figure(&mut self, path: &str, name: &str, ground: Ground, stated: &Value, computed: &Value) {
        self.compared.figures += 1;
        let same = match (stated, computed) {
            (Value::Number(a), Value::Number(b)) => {
                let (a, b) = (
                    a.as_f64().unwrap_or(f64::NAN),
                    b.as_f64().unwrap_or(f64::NAN),
                );
                (a - b).abs() <= ground.tolerance(name, b)
            }
            (Value::String(a), Value::String(b)) => a == b || is_same_instant(stated, computed),
            _ => stated == computed,
        };
        if !same {
            let what = format!("{path}: the record has {stated}, computed again it is {computed}");
            self.compared
                .differences
                .push(crate::notation::clean(&what).into_owned());
        }
    }

    /// Whether the patches of a zone differ, and only in what lies at a threshold.
    fn patches_at_limit(
        &mut self,
        path: &str,
        ground: Ground,
        stated: &Map<String, Value>,
        computed: &Map<String, Value>,
    ) -> bool {
        let patches = |of: &Map<String, Value>| -> Option<Vec<(f64, f64, bool)>> {
            let patches = of.get("patches")?.as_array()?.iter();
            let number = |patch: &Value, name: &str| patch.get(name)?.as_f64();
            patches
                .map(|patch| {
                    let likely = patch.get("likely")?.as_bool()?;
                    Some((
                        number(patch, "area_m2")?,
                        number(patch, "probability")?,
                        likely,
                    ))
                })
                .collect()
        };
        let (Some(mut a), Some(mut b)) = (patches(stated), patches(computed)) else {
            return false;
        };
        let near = |x: f64, y: f64, by: f64| (x - y).abs() <= by;
        let least_m2 = ground.tolerance_m2();
        let limit = |patch: &(f64, f64, bool)| {
            near(patch.1, LEAST_PERHAPS, PROBABILITY) || near(patch.0, LEAST_PATCH_M2, least_m2)
        };
        let mut turned = false;
        // Those that are the same on both sides go; what is left must lie at a threshold.
        a.retain(|x| {
            let twin = b
                .iter()
                .position(|y| near(x.0, y.0, least_m2) && near(x.1, y.1, PROBABILITY));
            let Some(twin) = twin else { return true };
            let y = b.remove(twin);
            let at_limit = near(x.1, self.likely, PROBABILITY);
            turned |= x.2 != y.2;
            x.2 != y.2 && !at_limit
        });
        let left = a.len() + b.len();
        if (left == 0 && !turned) || !a.iter().chain(&b).all(limit) {
            return false;
        }
        // At a threshold the computed sums say nothing of the stated ones: these must follow from the stated patches.
        if !self.adds_up(ground, stated, computed) {
            return false;
        }
        self.compared.limits.push(format!("{path}.patches"));
        true
    }
}

impl Walk {
    /// Whether what a zone states of its patches follows from the patches it lists: each told or perhaps by its own
    /// probability, their sums, and all columns together the ground computed again.
    fn adds_up(
        &self,
        ground: Ground,
        stated: &Map<String, Value>,
        computed: &Map<String, Value>,
    ) -> bool {
        let of = |map: &Map<String, Value>, name: &str| map.get(name).and_then(Value::as_f64);
        let Some(patches) = stated.get("patches").and_then(Value::as_array) else {
            return false;
        };
        let mut sums_m2 = (0.0, 0.0);
        for patch in patches {
            let number = |name: &str| patch.get(name).and_then(Value::as_f64);
            let (Some(area_m2), Some(probability), Some(likely)) = (
                number("area_m2"),
                number("probability"),
                patch.get("likely").and_then(Value::as_bool),
            ) else {
                return false;
            };
            let fits = if likely {
                probability >= self.likely - PROBABILITY
            } else {
                (LEAST_PERHAPS - PROBABILITY..self.likely + PROBABILITY).contains(&probability)
            };
            if !fits || area_m2 < 0.0 {
                return false;
            }
            *(if likely {
                &mut sums_m2.0
            } else {
                &mut sums_m2.1
            }) += area_m2;
        }
        let near = |a: f64, b: f64| (a - b).abs() <= ground.tolerance_m2();
        let parts = [
            "liquid_m2",
            "patches_m2",
            "perhaps_m2",
            "no_fixes_m2",
            "not_resolved_m2",
        ];
        let parts: Option<Vec<f64>> = parts.iter().map(|name| of(stated, name)).collect();
        let (Some(parts), Some(area_m2)) = (parts, of(computed, "area_m2")) else {
            return false;
        };
        near(parts[1], sums_m2.0)
            && near(parts[2], sums_m2.1)
            && near(parts.iter().sum(), area_m2)
            && parts[4] >= -ground.tolerance_m2()
    }
}

/// Both are instants, within their rounding.
fn is_same_instant(a: &Value, b: &Value) -> bool {
    let instant = |value: &Value| serde_json::from_value::<Instant>(value.clone()).ok();
    let both = instant(a).zip(instant(b));
    both.is_some_and(|(Instant(a), Instant(b))| (a - b).abs() <= INSTANT_US)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// A lot of 400 m2 with a patch of 12 m2 and this probability, told when `likely`.
    fn lot(liquid_m2: f64, probability: f64, likely: bool) -> Figures {
        let (told_m2, perhaps_m2) = if likely { (12.0, 0.0) } else { (0.0, 12.0) };
        let patch = json!({ "area_m2": 12.0, "core_m2": 12.0, "probability": probability, "area_low_m2": 8.0,
            "area_high_m2": 16.0, "likely": likely });
        let zone = json!({ "zone": "lot", "verdict": "area", "area_m2": 400.0, "outline_m": 80.0, "liquid_m2": liquid_m2,
            "patches_m2": told_m2, "perhaps_m2": perhaps_m2, "no_fixes_m2": 0.0, "not_resolved_m2": 8.0, "overlap_m2": 3.0,
            "swept_m2": 390.0, "wet_length_m": 100.0, "patches": [patch], "volume_l": 12.0, "target_ml_m2": 30.0,
            "rate_over_zone_ml_m2": 30.0, "rate_swept_ml_m2": 30.7, "order": null });
        let application = json!({ "number": 1, "start": "2026-01-12T02:00:00Z", "end": "2026-01-12T02:10:00Z", "rigs": [1],
            "visits": [], "zones": [zone] });
        serde_json::from_value(json!({ "area_m2": 400.0, "ground": [], "applications": [application], "other_visits": [],
            "without_liquid": [], "orders": [] }))
        .unwrap()
    }

    #[test]
    fn the_last_digit_may_differ_and_a_square_foot_may_not() {
        let stated = lot(380.0, 0.9, true);
        assert!(
            figures(&stated, &lot(380.000_09, 0.9, true), 0.75, &[])
                .differences
                .is_empty()
        );
        let compared = figures(&stated, &lot(380.1, 0.9, true), 0.75, &[]);
        assert_eq!(compared.differences.len(), 1, "{compared:?}");
        assert!(
            compared.differences[0]
                .contains("liquid_m2: the record has 380.0, computed again it is 380.1")
        );
    }

    #[test]
    fn a_patch_at_the_threshold_holds_at_the_limit() {
        let at_limit = figures(
            &lot(380.0, 0.745, false),
            &lot(380.0, 0.755, true),
            0.75,
            &[],
        );
        assert!(
            at_limit.differences.is_empty() && at_limit.limits.len() == 1,
            "{at_limit:?}"
        );
        let turned = figures(&lot(380.0, 0.9, false), &lot(380.0, 0.9, true), 0.75, &[]);
        assert!(
            !turned.differences.is_empty(),
            "nowhere near it, it does not"
        );
        let mut invented = lot(380.0, 0.9, true);
        let zone = &mut invented.applications[0].zones[0];
        let mut extra = zone.patches[0].clone();
        (extra.probability, extra.likely) = (0.3, false);
        zone.patches.push(extra);
        let moved = zone.patches_m2.replace(0.0).unwrap();
        zone.not_resolved_m2 = zone.not_resolved_m2.map(|m2| m2 + moved);
        let forged = figures(&invented, &lot(380.0, 0.9, true), 0.75, &[]);
        assert!(
            !forged.differences.is_empty(),
            "a patch at the limit hides no other"
        );
        let drawn = figures(&lot(380.0, 0.6, false), &lot(380.0, 0.7, false), 0.75, &[]);
        assert!(
            !drawn.differences.is_empty(),
            "probabilities are equal within 0.02"
        );
    }

    /// An order that rounding could make either of; nothing makes it the third.
    #[test]
    fn an_order_at_its_limit_holds_there_and_nowhere_else() {
        use OrderStatus::{Done, InPart, NotDone};
        let with = |status: OrderStatus| {
            let mut lot = lot(380.0, 0.9, true);
            let order = json!({ "order": "A-1", "zone": null, "service": null, "product": null, "target_ml_m2": null,
                "from": null, "by": null, "status": status, "application": 1, "liquid_share": 0.95, "finished": null,
                "other_products_m2": [] });
            lot.orders.push(serde_json::from_value(order).unwrap());
            lot
        };
        let fact = |near: [OrderStatus; 2]| OrderFact {
            application: Some(0),
            zones: Vec::new(),
            status: Done,
            near,
            treated_share: Some(0.95),
            finished: None,
            not_shown: Vec::new(),
            other_products: std::collections::BTreeMap::new(),
        };
        let compared = |stated, near| figures(&with(stated), &with(Done), 0.75, &[fact(near)]);
        let at_limit = compared(InPart, [InPart, Done]);
        assert!(at_limit.differences.is_empty(), "{at_limit:?}");
        assert_eq!(at_limit.limits, ["orders[0].status"]);
        for (stated, near) in [(InPart, [Done, Done]), (NotDone, [InPart, Done])] {
            let differs = compared(stated, near);
            assert!(differs.limits.is_empty() && differs.differences.len() == 1);
            assert!(differs.differences[0].contains("orders[0].status"));
        }
    }
}
