//! Edges of ground as lanes along one heading meet them: turned into its frame and sorted into rows across it.

use crate::geometry::plane::Xy;
use smallvec::SmallVec;

/// Stretches of a line, from and to, m.
pub(super) type Stretches = SmallVec<[(f64, f64); 4]>;

/// Width of a row, m (tolerance) ...
const ROW_M: f64 = 1.0;
/// ... and most of them; above, rows are wider (limit).
const MOST_ROWS: f64 = 4096.0;

/// Edges in a heading's frame: x along it, y to its left, both from the plane's origin.
pub(super) struct Rows {
    low_m: f64,
    row_m: f64,
    /// Of each row: the edges that touch it.
    rows: Vec<Vec<u32>>,
    edges: Vec<(Xy, Xy)>,
}

impl Rows {
    pub(super) fn of(edges: &[(Xy, Xy)], heading_rad: f64) -> Self {
        let ahead = Xy::at_angle(heading_rad);
        let turned = |point: Xy| Xy::new(point.dot(ahead), ahead.cross(point));
        let edges: Vec<(Xy, Xy)> = edges.iter().map(|&(a, b)| (turned(a), turned(b))).collect();
        let across = edges.iter().flat_map(|(a, b)| [a.y_m, b.y_m]);
        let low_m = across.clone().fold(f64::INFINITY, f64::min);
        let high_m = across.fold(f64::NEG_INFINITY, f64::max);
        let row_m = ROW_M.max((high_m - low_m) / MOST_ROWS);
        let mut rows = Self {
            low_m,
            row_m,
            rows: Vec::new(),
            edges: Vec::new(),
        };
        if edges.is_empty() {
            return rows;
        }
        rows.rows = vec![Vec::new(); rows.row(high_m) + 1];
        for (index, (a, b)) in edges.iter().enumerate() {
            for row in rows.row(a.y_m.min(b.y_m))..=rows.row(a.y_m.max(b.y_m)) {
                rows.rows[row].push(index as u32);
            }
        }
        rows.edges = edges;
        rows
    }

    fn row(&self, across_m: f64) -> usize {
        // Below the first row the cast gives 0.
        ((across_m - self.low_m) / self.row_m).floor() as usize
    }

    /// Least and greatest place of the edges across the heading, m.
    pub(super) fn spread_m(&self) -> Option<(f64, f64)> {
        let across = self.edges.iter().flat_map(|(a, b)| [a.y_m, b.y_m]);
        let low_m = across.clone().min_by(f64::total_cmp)?;
        Some((low_m, across.max_by(f64::total_cmp)?))
    }

    /// Stretches inside the ground on a line along the heading, from and to.
    pub(super) fn stretches(&self, across_m: f64) -> Stretches {
        if across_m < self.low_m {
            return Stretches::new();
        }
        let Some(row) = self.rows.get(self.row(across_m)) else {
            return Stretches::new();
        };
        let mut at: SmallVec<[f64; 8]> = row
            .iter()
            .map(|&index| self.edges[index as usize])
            .filter(|(a, b)| (a.y_m <= across_m) != (b.y_m <= across_m))
            .map(|(a, b)| a.x_m + (across_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m))
            .collect();
        at.sort_by(f64::total_cmp);
        at.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
    }

    /// Whether a point of the heading's frame lies in the ground.
    pub(super) fn has(&self, point: Xy) -> bool {
        let mut stretches = self.stretches(point.y_m).into_iter();
        stretches.any(|(from_m, to_m)| from_m <= point.x_m && point.x_m <= to_m)
    }

    /// Calls `each` with every edge that touches a band along the heading.
    pub(super) fn each_in(&self, low_m: f64, high_m: f64, mut each: impl FnMut(Xy, Xy)) {
        if self.rows.is_empty() || high_m < self.low_m {
            return;
        }
        let (first, last) = (self.row(low_m), self.row(high_m).min(self.rows.len() - 1));
        for row in first..=last {
            for &index in &self.rows[row] {
                let (a, b) = self.edges[index as usize];
                let (from_m, to_m) = (a.y_m.min(b.y_m), a.y_m.max(b.y_m));
                // An edge stands in several rows; it is told in the first of them that is looked at.
                let told = row == self.row(from_m).max(first);
                if told && from_m <= high_m && to_m >= low_m {
                    each(a, b);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::switches::stretches;
    use rand::{RngExt, SeedableRng};

    fn star(corners: u32) -> Vec<(Xy, Xy)> {
        let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let ring: Vec<Xy> = (0..corners)
            .map(|k| {
                let angle = f64::from(k) / f64::from(corners) * std::f64::consts::TAU;
                Xy::at_angle(angle).plus(Xy::at_angle(angle), chance.random_range(5.0..60.0))
            })
            .collect();
        (0..ring.len())
            .map(|k| (ring[k], ring[(k + 1) % ring.len()]))
            .collect()
    }

    #[test]
    fn rows_tell_what_all_edges_tell() {
        let edges = star(97);
        for heading_rad in [0.0, 0.7, 2.1, 3.0] {
            let rows = Rows::of(&edges, heading_rad);
            let left = Xy::at_angle(heading_rad + std::f64::consts::FRAC_PI_2);
            for k in -700..700 {
                let across_m = f64::from(k) * 0.1 + 0.003;
                let from = Xy::default().plus(left, across_m);
                let expected = stretches(&edges, from, heading_rad);
                let found = rows.stretches(across_m);
                assert_eq!(found.len(), expected.len(), "{heading_rad} {across_m}");
                for ((a, b), (c, d)) in found.iter().zip(&expected) {
                    assert!((a - c).abs() < 1e-6 && (b - d).abs() < 1e-6);
                }
                let mut touching = 0;
                rows.each_in(across_m, across_m + 2.3, |_, _| touching += 1);
                let ahead = Xy::at_angle(heading_rad);
                let across = |point: Xy| ahead.cross(point);
                let in_band = |edge: &&(Xy, Xy)| {
                    let (a, b) = (across(edge.0), across(edge.1));
                    a.min(b) <= across_m + 2.3 && a.max(b) >= across_m
                };
                assert_eq!(touching, edges.iter().filter(in_band).count());
            }
        }
    }
}
