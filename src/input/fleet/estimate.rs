//! What the measuring of new lots needs of the fleet file: a rig's outline and `[estimate]`.

use super::costs::{self, Costs};
use super::limits::{in_range, not_negative, positive, share};
use super::section::Section;
use crate::error::Result;
use crate::units::{Dimension, M_PER_FT};

/// The boom's tips stay this far from curbs, m: 2 ft (common practice).
const CURB_CLEARANCE_M: f64 = 2.0 * M_PER_FT;
/// ... and this far from cars, corrals and docks, m: 3 ft (common practice).
const OBJECT_CLEARANCE_M: f64 = 3.0 * M_PER_FT;
/// A plan is driven on until this share of the reach is covered: the last few per cent cost most (trade judgement).
const PLAN_UNTIL: f64 = 0.97;
/// Greatest clearance either way, m: more is a slip in the unit (limit).
const GREATEST_CLEARANCE_M: f64 = 10.0;
/// Greatest side of a vehicle, m: more is a slip in the unit (limit).
const GREATEST_BODY_M: f64 = 30.0;
/// Least side of a vehicle, m (limit).
const LEAST_BODY_M: f64 = 0.1;

const BODY_ADVICE: &str = "Measure from the rear axle to either end:\n\
    body = { width = \"6.7 ft\", ahead_of_axle = \"15.5 ft\", behind_axle = \"4.5 ft\" }";

/// `body` of a rig: the rectangle that must lie on drivable ground, m. With a trailer it is the
/// vehicle with its trailer, standing straight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Width, mirrors included.
    pub width_m: f64,
    /// Front end ahead of the rear axle.
    pub ahead_of_axle_m: f64,
    /// Rear end behind the rear axle.
    pub behind_axle_m: f64,
}

/// `[estimate]`: how new lots are measured. What is `None` is left out of the sheet, which says so.
#[derive(Debug, Clone)]
pub struct Estimate {
    /// Lanes overlap by this, m.
    pub lap_m: Option<f64>,
    /// Speed while spraying, m/s.
    pub speed_m_s: Option<f64>,
    /// The boom's tips stay this far from curbs, m; negative: they may overhang. Default 2 ft.
    pub curb_clearance_m: f64,
    /// ... and this far from obstacles and blocked ground, m. Default 3 ft.
    pub object_clearance_m: f64,
    /// The body stays this far from what it must not touch, m. Default 0.
    pub body_clearance_m: f64,
    /// How far a drawn line may be off, m.
    pub outline_m: Option<f64>,
    /// Share of the reach at which a plan ends. Default 97 %.
    pub plan_until: f64,
    /// Sections close over ground that was planned before. Default false: drivers do not.
    pub reclose: bool,
    /// Length of the hand hose, m.
    pub hose_m: Option<f64>,
    /// What time and liquid cost.
    pub costs: Costs,
}

impl Default for Estimate {
    fn default() -> Self {
        Self {
            lap_m: None,
            speed_m_s: None,
            curb_clearance_m: CURB_CLEARANCE_M,
            object_clearance_m: OBJECT_CLEARANCE_M,
            body_clearance_m: 0.0,
            outline_m: None,
            plan_until: PLAN_UNTIL,
            reclose: false,
            hose_m: None,
            costs: Costs::default(),
        }
    }
}

/// Keys of `[estimate]` that are read here.
const KEYS: [&str; 9] = [
    "lap",
    "speed",
    "curb_clearance",
    "object_clearance",
    "body_clearance",
    "outline",
    "plan_until",
    "reclose",
    "hose",
];

/// Reads `[estimate]`.
pub(super) fn read(section: &Section<'_, '_>) -> Result<Estimate> {
    let keys: Vec<&str> = KEYS.iter().chain(&costs::KEYS).copied().collect();
    section.only(&keys)?;
    let standard = Estimate::default();
    let clearance = |key: &str, least_m: f64| {
        let value_m = section.quantity(key, Dimension::Length)?;
        let fits = |m: f64| (least_m..=GREATEST_CLEARANCE_M).contains(&m);
        in_range(section, key, value_m, fits, "within 10 m")
    };
    let costs = costs::read(section)?;
    Ok(Estimate {
        lap_m: not_negative(section, "lap", Dimension::Length)?,
        speed_m_s: costs.speed_m_s.map(|speed| speed.likely),
        curb_clearance_m: clearance("curb_clearance", -GREATEST_CLEARANCE_M)?
            .unwrap_or(standard.curb_clearance_m),
        object_clearance_m: clearance("object_clearance", 0.0)?
            .unwrap_or(standard.object_clearance_m),
        body_clearance_m: clearance("body_clearance", 0.0)?.unwrap_or(standard.body_clearance_m),
        outline_m: clearance("outline", 0.0)?,
        plan_until: share(section, "plan_until")?.unwrap_or(standard.plan_until),
        reclose: section.flag("reclose")?.unwrap_or(standard.reclose),
        hose_m: positive(section, "hose", Dimension::Length)?,
        costs,
    })
}

/// Reads `body` of a rig.
pub(super) fn body(section: &Section<'_, '_>) -> Result<Option<Body>> {
    let Some(table) = section.table("body", "body")? else {
        return Ok(None);
    };
    table.only(&["width", "ahead_of_axle", "behind_axle"])?;
    let needed = |key: &str, least_m: f64| {
        let value_m = table.quantity(key, Dimension::Length)?;
        let fits = |m: f64| (least_m..=GREATEST_BODY_M).contains(&m);
        let missing = || table.error_at(key, &format!("`body` has no `{key}`"), BODY_ADVICE);
        in_range(&table, key, value_m, fits, "from 0 to 30 m")?.ok_or_else(missing)
    };
    Ok(Some(Body {
        width_m: needed("width", LEAST_BODY_M)?,
        ahead_of_axle_m: needed("ahead_of_axle", LEAST_BODY_M)?,
        behind_axle_m: needed("behind_axle", 0.0)?,
    }))
}
