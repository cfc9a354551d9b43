//! A site's ground as a rig meets it: what is to be treated by boom and by hand, what can be driven on,
//! what stands in the way, which edges are curbs.

use super::edges::Edge;
use super::places::disc;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::ground::Zone;
use crate::input::sites::aids::quantity;
use crate::units::Dimension;

/// The middle line of an aisle.
#[derive(Debug, Clone)]
pub(super) struct Aisle {
    /// From its beginning to its end.
    pub(super) line: Vec<Xy>,
    /// Driven in the direction of the line only.
    pub(super) one_way: bool,
}

/// One site's ground.
pub(super) struct Lot {
    /// Lots and drives: all that is paved for driving.
    pub(super) pavement: Region,
    /// To be treated by boom.
    pub(super) by_boom: Region,
    /// To be treated by hand whatever the rig.
    pub(super) by_hand: Region,
    /// By boom, less what is nearer to curbs and objects than the boom's tips may come.
    pub(super) target: Region,
    /// No boom passes over it.
    pub(super) tall: Region,
    /// No wheel goes there: islands, objects, blocked ground, wheel stops.
    pub(super) blocked: Region,
    /// Not to be sprayed.
    pub(super) keep_off: Region,
    /// Sections open only where all of them is over it.
    pub(super) keep_inside: Region,
    /// The edges of the pavement where wheels stop.
    pub(super) curbs: Vec<Edge>,
    /// Edges of the pavement that can be driven over, pavement on the left.
    pub(super) open_edges: Vec<Edge>,
    /// People walk there.
    pub(super) walks: Region,
    /// Where rigs come in.
    pub(super) entrances: Vec<Xy>,
    /// Middle lines of aisles.
    pub(super) aisles: Vec<Aisle>,
    /// Ground that cars are likely to stand on, m2; `None` where no row of stalls says how full it is.
    pub(super) cars_expected_m2: Option<f64>,
    /// What was assumed, as clauses.
    pub(super) assumed: Vec<String>,
    /// What could not be read of the zones' properties.
    pub(super) remarks: Vec<String>,
}

impl Lot {
    /// What the body can stand on when it may leave the pavement over open edges by `depth_m`.
    pub(super) fn drivable(&self, depth_m: f64) -> Region {
        let mut rings: Vec<Vec<Xy>> = Vec::new();
        for &(a, b) in &self.open_edges {
            let along = b.minus(a);
            let length_m = along.length_m();
            let out = Xy::new(along.y_m / length_m, -along.x_m / length_m);
            rings.push(vec![a, a.plus(out, depth_m), b.plus(out, depth_m), b]);
            // Round corners between two open edges.
            let follows = |other: &&(Xy, Xy)| other.0 == b && along.cross(other.1.minus(b)) > 0.0;
            if self.open_edges.iter().any(|other| follows(&other)) {
                rings.push(disc(b, depth_m));
            }
        }
        let blocked = Region::union_of([&self.blocked, &self.walks]);
        if rings.is_empty() {
            return self.pavement.difference(&blocked);
        }
        let beyond = Region::union_of_positive(rings.iter().map(Vec::as_slice));
        Region::union_of([&self.pavement, &beyond]).difference(&blocked)
    }
}

/// Area that a contract names for a zone, m2.
pub(super) fn contract_m2(zone: &Zone) -> Result<Option<f64>, String> {
    quantity(&zone.others, "contract_area", Dimension::Area)
}
