//! The table of figures of a lot: a row a figure, a column a rig.

use super::super::words;
use super::{area, paper};
use crate::measure::cost_sheet::{ApplicationSheet, LiquidSheet, MoneySheet, Sums, TimeSheet};
use crate::measure::sheet::{PlanSheet, RigSheet, Sheet, SiteSheet};
use crate::notation::numbers::{Measure, NOT_KNOWN, Units, duration, percent};

/// Pounds in a kilogram: 1 lb = 0.453 592 37 kg, exact by definition (arithmetic).
const LB_PER_KG: f64 = 1.0 / 0.453_592_37;
/// Less liquid than this has no line of its own, L (layout).
const LEAST_SHOWN_L: f64 = 0.5;
/// Square metres in 1,000 square feet (arithmetic).
const M2_PER_1000_FT2: f64 = 92.903_04;

/// A part of something by its name in the table.
type Part<T, F> = (&'static str, fn(&T) -> F);
/// A cell about a plan.
type OfPlan<'a> = &'a dyn Fn(&PlanSheet) -> Option<String>;

/// A row of a table.
pub(super) struct Row {
    /// First cell.
    pub(super) label: String,
    /// The others.
    pub(super) cells: Vec<String>,
    /// It sums up what stands above.
    pub(super) sum: bool,
    /// It heads what stands below.
    pub(super) head: bool,
}

/// A mass such as `12 lb` or `5.4 kg`.
pub(super) fn mass(kg: f64, units: Units) -> String {
    weight(units).text(kg)
}

/// The unit of masses.
fn weight(units: Units) -> Measure {
    match units {
        Units::Us => measure("lb", LB_PER_KG, 1.0),
        Units::Metric => measure("kg", 1.0, 0.1),
    }
}

fn measure(label: &'static str, per_si: f64, step: f64) -> Measure {
    Measure {
        label,
        heading: label,
        per_si,
        step,
        cell_decimals: 1,
    }
}

/// Dry salt per area, from g/m2.
fn salt_rate(g_m2: f64, units: Units) -> String {
    match units {
        Units::Us => {
            paper(measure("lb/1000 ft2", LB_PER_KG / 1000.0 * M2_PER_1000_FT2, 0.01).text(g_m2))
        }
        Units::Metric => measure("g/m2", 1.0, 0.1).text(g_m2),
    }
}

/// Time, liquid, chloride and money of sums, a cell each.
pub(super) fn sums(of: &Sums, sheet: &Sheet, units: Units) -> [String; 4] {
    let currency = sheet.settings.costs.currency.as_deref();
    let known = |text: Option<String>| text.unwrap_or_else(|| NOT_KNOWN.to_owned());
    [
        known(of.total_s.map(|s| words::durations(&s))),
        known(of.liquid_l.map(|l| words::quantities(&l, &units.volume()))),
        known(
            of.chloride_kg
                .map(|kg| words::quantities(&kg, &weight(units))),
        ),
        known(
            of.amount
                .map(|sum| words::range(&sum, |sum| words::money(sum, currency))),
        ),
    ]
}

/// Builds rows of the rigs' figures.
struct Rows<'a> {
    rigs: &'a [RigSheet],
    rows: Vec<Row>,
}

impl Rows<'_> {
    fn head(&mut self, label: &str) {
        self.rows.push(Row {
            label: label.to_owned(),
            cells: self.rigs.iter().map(|_| String::new()).collect(),
            sum: false,
            head: true,
        });
    }

    /// A row, unless no rig has the figure.
    fn row(&mut self, label: &str, sum: bool, cell: impl Fn(&RigSheet) -> Option<String>) {
        let cells: Vec<Option<String>> = self.rigs.iter().map(cell).collect();
        if cells.iter().all(Option::is_none) {
            return;
        }
        let known = |cell: Option<String>| cell.unwrap_or_else(|| NOT_KNOWN.to_owned());
        self.rows.push(Row {
            label: label.to_owned(),
            cells: cells.into_iter().map(known).collect(),
            sum,
            head: false,
        });
    }

    fn of_cost(
        &mut self,
        label: &str,
        sum: bool,
        cell: impl Fn(&ApplicationSheet) -> Option<String>,
    ) {
        self.row(label, sum, |rig| cell(&rig.cost.as_ref()?.application));
    }
}

/// The rows of a lot.
pub(super) fn rows(of: &SiteSheet, sheet: &Sheet, units: Units) -> Vec<Row> {
    let mut rows = Rows {
        rigs: &of.rigs,
        rows: Vec::new(),
    };
    ground(&mut rows, of, units);
    times(&mut rows);
    liquids(&mut rows, units);
    sums_of_money(&mut rows, sheet);
    salts(&mut rows, units);
    rows.rows
}

fn ground(rows: &mut Rows, of: &SiteSheet, units: Units) {
    let square = |m2: f64| paper(units.area().text(m2));
    rows.head("Ground and lanes");
    rows.row("reached by the boom", false, |rig| {
        let m2 = rig.reach_m2?;
        Some(format!("{} ({})", square(m2), percent(m2 / of.area_m2)))
    });
    rows.row("edge strip, not reached", false, |rig| {
        let strip = square(rig.edge_strip_m2?);
        Some(format!(
            "{strip}, {}",
            units.length().text(rig.edge_strip_m?)
        ))
    });
    rows.row("hand work", false, |rig| {
        super::super::csv::hand_m2(rig).map(square)
    });
    let plan: [(&str, OfPlan); 4] = [
        ("lanes", &|plan| Some(plan.lanes.to_string())),
        ("driven in lanes", &|plan| {
            Some(units.length().text(plan.length_m))
        }),
        ("treated by the boom", &|plan| {
            plan.treated_m2.map(|m2| area(m2, units))
        }),
        ("swept again (laps, ends, corners)", &|plan| {
            let again = (plan.swept_m2? - plan.treated_m2?) / plan.treated_m2?;
            Some(percent(again))
        }),
    ];
    for (label, figure) in plan {
        rows.row(label, false, |rig| figure(rig.plan.as_ref()?));
    }
}

fn times(rows: &mut Rows) {
    rows.head("Time");
    let parts: [Part<TimeSheet, Option<f64>>; 6] = [
        ("in lanes", |time| time.spraying_s),
        ("between lanes", |time| time.turning_s),
        ("filling", |time| time.filling_s),
        ("hand work", |time| time.hand_s),
        ("fixed, on site", |time| time.fixed_s),
        ("deadhead", |time| time.deadhead_s),
    ];
    for (label, part) in parts {
        rows.of_cost(label, false, |of| part(&of.time).map(duration));
    }
    rows.of_cost("in all", true, |of| {
        of.total_s.map(|s| words::durations(&s))
    });
    rows.of_cost("field efficiency", false, |of| {
        of.field_efficiency.map(|share| format!("{share:.2}"))
    });
}

fn liquids(rows: &mut Rows, units: Units) {
    rows.head("Liquid");
    let volume = units.volume();
    let rate = units.default_rate().measure();
    rows.of_cost("rate asked for", false, |of| {
        of.target_ml_m2.map(|target| paper(rate.text(target)))
    });
    let parts: [Part<LiquidSheet, f64>; 6] = [
        ("on the ground once", |of| of.ground_l),
        ("on overlap", |of| of.overlap_l),
        ("outside the zones", |of| of.outside_l),
        ("by hand", |of| of.hand_l),
        ("by cart", |of| of.cart_l),
        ("heel and rinse", |of| of.heel_l + of.rinse_l),
    ];
    for (label, part) in parts {
        rows.of_cost(label, false, |of| {
            let litres = of.liquid.as_ref().map(part)?;
            (litres > LEAST_SHOWN_L).then(|| volume.text(litres))
        });
    }
    rows.of_cost("in all", true, |of| {
        of.liquid_l.map(|l| words::quantities(&l, &volume))
    });
    rows.of_cost("tank loads", false, |of| {
        of.loads.map(|loads| words::range(&loads, words::loads))
    });
}

fn sums_of_money(rows: &mut Rows, sheet: &Sheet) {
    let currency = sheet.settings.costs.currency.as_deref();
    let money = |sum: f64| words::money(sum, currency);
    if rows.rigs.iter().any(|rig| {
        rig.cost
            .as_ref()
            .is_some_and(|cost| cost.application.amount.is_some())
    }) {
        rows.head("Money");
    }
    let parts: [Part<MoneySheet, Option<f64>>; 4] = [
        ("rig", |of| of.rig),
        ("crew", |of| of.crew),
        ("product", |of| of.product),
        ("trip", |of| of.trip),
    ];
    for (label, part) in parts {
        rows.of_cost(label, false, |of| part(&of.money).map(money));
    }
    rows.of_cost("direct cost", true, |of| {
        of.direct_cost.map(|sum| words::range(&sum, money))
    });
    rows.of_cost("overhead and insurance", false, |of| {
        of.money.overhead.map(money)
    });
    rows.of_cost("margin", false, |of| of.money.margin.map(money));
    rows.of_cost("price", true, |of| {
        of.price.map(|sum| words::range(&sum, money))
    });
    let raised = |of: &ApplicationSheet| {
        let own = of.price.or(of.direct_cost);
        own.zip(of.amount)
            .is_some_and(|(own, amount)| amount.low > own.low)
    };
    let mut costs = rows.rigs.iter().filter_map(|rig| rig.cost.as_ref());
    if costs.any(|cost| raised(&cost.application)) {
        let least = sheet.settings.costs.minimum_charge.unwrap_or(0.0);
        let label = format!("with the minimum charge of {}", money(least));
        rows.of_cost(&label, true, |of| {
            of.amount.map(|sum| words::range(&sum, money))
        });
    }
}

fn salts(rows: &mut Rows, units: Units) {
    if rows.rigs.iter().all(|rig| {
        rig.cost
            .as_ref()
            .is_none_or(|cost| cost.application.dry_salt_kg.is_none())
    }) {
        return;
    }
    rows.head("Salt");
    rows.of_cost("dry salt at the rate asked for", false, |of| {
        of.dry_salt_g_m2.map(|g_m2| salt_rate(g_m2, units))
    });
    let both = |kg: f64| match units {
        Units::Us => format!("{}, {}", mass(kg, units), mass(kg, Units::Metric)),
        Units::Metric => mass(kg, units),
    };
    rows.of_cost("dry salt", false, |of| {
        of.dry_salt_kg.map(|kg| both(kg.likely))
    });
    rows.of_cost("chloride", false, |of| {
        of.chloride_kg.map(|kg| both(kg.likely))
    });
}
