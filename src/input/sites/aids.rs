//! Features that are not ground of their own but say how a lot can be driven: obstacles, edges,
//! entrances, stalls and aisles. Only the measuring of new lots looks at them.

use super::projection::Projection;
use super::properties::text;
use super::rings;
use crate::geometry::place::LonLat;
use crate::input::fleet::Spread;
use crate::input::text::clean;
use crate::units::{self, Dimension};
use geojson::{GeometryValue, JsonObject, Position};
use serde_json::Value;

/// Greatest radius of a point obstacle, m: more is a slip in the unit (limit).
const GREATEST_RADIUS_M: f64 = 50.0;

/// What an aid says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AidKind {
    /// Nothing drives through: poles and bollards (points), corrals, docks, snow piles (polygons).
    Obstacle {
        /// Radius around a point, m.
        radius_m: f64,
        /// A boom passes over it.
        low: bool,
    },
    /// The part of a zone's edge along this line is a curb, or open ground that can be driven on.
    Edge {
        /// Open instead of a curb.
        open: bool,
    },
    /// Where rigs come in.
    Entrance,
    /// Rows of stalls; between two rows stand wheel stops.
    Stalls {
        /// Share of them with a car on, as far as known: one value or three.
        occupied: Option<Spread>,
    },
    /// The middle line of an aisle: lanes follow it.
    Aisle {
        /// Driven in the direction of the line only.
        one_way: bool,
    },
}

/// Its geometry, degrees.
#[derive(Debug, Clone, PartialEq)]
pub enum AidShape {
    /// Points.
    Points(Vec<LonLat>),
    /// Lines of two positions or more.
    Lines(Vec<Vec<LonLat>>),
    /// Polygons, as of zones.
    Polygons(Vec<Vec<Vec<LonLat>>>),
}

/// One such feature.
#[derive(Debug, Clone)]
pub struct Aid {
    /// Position of the feature in the file, from 0.
    pub feature: usize,
    /// Site id.
    pub site: String,
    /// What it says.
    pub kind: AidKind,
    /// Where.
    pub shape: AidShape,
}

/// The kind of an aid; `None` for any other use.
///
/// # Errors
/// A property that cannot be read, as a clause.
pub(super) fn kind(properties: &JsonObject) -> Result<Option<AidKind>, String> {
    let Some(word) = text(properties, "use") else {
        return Ok(None);
    };
    Ok(Some(match word.to_ascii_lowercase().as_str() {
        "obstacle" => AidKind::Obstacle {
            radius_m: radius_m(properties)?,
            low: flag(properties, "low")?,
        },
        "edge" => AidKind::Edge {
            open: edge_is_open(properties, "edge")?
                .ok_or("it has no `edge`, expected curb or open")?,
        },
        "entrance" => AidKind::Entrance,
        "stalls" => AidKind::Stalls {
            occupied: share(properties, "occupied")?,
        },
        "aisle" => AidKind::Aisle {
            one_way: flag(properties, "one_way")?,
        },
        _ => return Ok(None),
    }))
}

/// `edge` of a zone or a line: `Some(true)` is open.
pub(crate) fn edge_is_open(properties: &JsonObject, key: &str) -> Result<Option<bool>, String> {
    match text(properties, key).as_deref() {
        None => Ok(None),
        Some("curb") => Ok(Some(false)),
        Some("open") => Ok(Some(true)),
        Some(word) => Err(format!("its `{key}` is \"{word}\", expected curb or open")),
    }
}

/// `true` or `false`; false where missing.
pub(crate) fn flag(properties: &JsonObject, key: &str) -> Result<bool, String> {
    match properties.get(key) {
        None | Some(Value::Null) => Ok(false),
        Some(Value::Bool(flag)) => Ok(*flag),
        Some(_) => Err(format!("its `{key}` is neither true nor false")),
    }
}

fn radius_m(properties: &JsonObject) -> Result<f64, String> {
    match quantity(properties, "radius", Dimension::Length)? {
        None => Ok(0.0),
        Some(radius_m) if (0.0..=GREATEST_RADIUS_M).contains(&radius_m) => Ok(radius_m),
        Some(_) => Err("its `radius` is not from 0 to 50 m".to_owned()),
    }
}

/// A share of one value, or of three: low, likely, high.
fn share(properties: &JsonObject, key: &str) -> Result<Option<Spread>, String> {
    let values = match properties.get(key) {
        None | Some(Value::Null) => return Ok(None),
        Some(Value::Array(values)) => values.as_slice(),
        Some(value) => std::slice::from_ref(value),
    };
    let values: Vec<f64> = values
        .iter()
        .map(|value| {
            quantity_of(value, key, Dimension::Share)?
                .ok_or_else(|| format!("its `{key}` has a null among its values"))
        })
        .collect::<Result<_, _>>()?;
    let spread = match values[..] {
        [value] => Spread::sure(value),
        [low, likely, high] if low <= likely && likely <= high => Spread { low, likely, high },
        [_, _, _] => {
            return Err(format!(
                "the three values of its `{key}` do not rise: low, likely, high"
            ));
        }
        _ => {
            let found = values.len();
            return Err(format!(
                "its `{key}` has {found} values, expected one or three"
            ));
        }
    };
    if (0.0..=1.0).contains(&spread.low) && (0.0..=1.0).contains(&spread.high) {
        Ok(Some(spread))
    } else {
        Err(format!("its `{key}` is not from 0 to 100 %"))
    }
}

/// A quantity with its unit.
pub(crate) fn quantity(
    properties: &JsonObject,
    key: &str,
    dimension: Dimension,
) -> Result<Option<f64>, String> {
    properties
        .get(key)
        .map_or(Ok(None), |value| quantity_of(value, key, dimension))
}

fn quantity_of(value: &Value, key: &str, dimension: Dimension) -> Result<Option<f64>, String> {
    match value {
        Value::Null => Ok(None),
        Value::String(text) => units::parse(text, dimension)
            .map(Some)
            .map_err(|why| format!("its `{key}` cannot be read: {}", clean(&why))),
        _ => Err(format!(
            "its `{key}` needs a unit, such as \"{}\"",
            dimension.sample()
        )),
    }
}

/// The geometry that such an aid has.
///
/// # Errors
/// Another geometry, or positions that are none, as a clause.
pub(super) fn shape(
    kind: AidKind,
    geometry: GeometryValue,
    projection: &Projection,
) -> Result<AidShape, String> {
    let place = |p: &Position| rings::place(p, projection);
    let line = |positions: &Vec<Position>| positions.iter().map(place).collect::<Result<_, _>>();
    let polygons = |drawn: Vec<Vec<Vec<Position>>>| {
        let ready = drawn.iter().map(|polygon| rings::read(polygon, projection));
        let ready = ready.collect::<Result<Vec<_>, _>>()?;
        let ready = ready.into_iter().map(|polygon| polygon.rings);
        Ok::<_, String>(AidShape::Polygons(
            ready.filter(|rings| !rings.is_empty()).collect(),
        ))
    };
    match (kind, geometry) {
        (AidKind::Obstacle { .. } | AidKind::Entrance, GeometryValue::Point { coordinates: p }) => {
            Ok(AidShape::Points(vec![place(&p)?]))
        }
        (
            AidKind::Obstacle { .. } | AidKind::Entrance,
            GeometryValue::MultiPoint { coordinates: p },
        ) => Ok(AidShape::Points(
            p.iter().map(place).collect::<Result<_, _>>()?,
        )),
        (
            AidKind::Obstacle { .. } | AidKind::Stalls { .. },
            GeometryValue::Polygon { coordinates },
        ) => polygons(vec![coordinates]),
        (
            AidKind::Obstacle { .. } | AidKind::Stalls { .. },
            GeometryValue::MultiPolygon { coordinates },
        ) => polygons(coordinates),
        (
            AidKind::Edge { .. } | AidKind::Aisle { .. },
            GeometryValue::LineString { coordinates },
        ) => Ok(AidShape::Lines(vec![line(&coordinates)?])),
        (
            AidKind::Edge { .. } | AidKind::Aisle { .. },
            GeometryValue::MultiLineString { coordinates },
        ) => Ok(AidShape::Lines(
            coordinates.iter().map(line).collect::<Result<_, _>>()?,
        )),
        (_, other) => Err(format!(
            "it is a {}, which its `use` cannot be",
            other.type_name()
        )),
    }
}
