//! Ground as tracts, and the share of a dose piece in each.
//!
//! A site shares its liquid among its zones; the night shares what fell beside them among the fringe
//! (outside all zones by less than the position error) and the outside. Pieces are clipped exactly, each
//! share computed for itself; that the shares of both add up to one is a test, not an assumption.

use super::coverage::grown;
use super::swath::Convex;
use crate::geometry::extent::Extent;
use crate::geometry::overlay::{self, Region};
use crate::geometry::plane::{Xy, signed_area_m2};
use crate::geometry::raster::{Grid, Raster};
use crate::ground::Site;
use crate::input::sites::LandUse;
use smallvec::SmallVec;

/// Cells of the map of whole tracts, m: about the size of a dose piece (tolerance).
const MAP_CELL_M: f64 = 1.0;
/// Most cells of that map (limit).
const MAP_CELLS: usize = 4_000_000;
/// The outside tract reaches at least this far beyond all other ground, m: farther than any boom (limit).
const OUTSIDE_M: f64 = 200.0;
/// A cell that is covered to within this share is whole (rounding of the running sums) (tolerance).
const WHOLE: f64 = 1e-9;

/// What a tract is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TractKind {
    /// A zone of this site, by its index.
    Zone(usize),
    /// Ground of the site's blocked zones of another time.
    Lifted,
    /// Ground of this site or another, all zones together.
    Taken,
    /// Outside the zones by less than the position error.
    Fringe,
    /// Everything else.
    Outside,
}

/// One tract.
pub struct Tract {
    /// What it is.
    pub kind: TractKind,
    extent: Extent,
    /// Each with its own box: a lot's border has islands all over.
    rings: Vec<Ring>,
}

/// A ring of a tract with the boxes of its stretches.
struct Ring {
    extent: Extent,
    points: Vec<Xy>,
    /// Of each [`STRETCH`] points and the next one.
    stretches: Vec<Extent>,
}

/// All tracts of a site, with a map of the cells that lie wholly in one.
pub struct Tracts {
    /// The tracts.
    pub list: Vec<Tract>,
    grid: Grid,
    /// Of each cell: the tract that has all of it, [`NOTHING`] or [`MIXED`].
    whole: Vec<u16>,
}

/// Points of a ring that are looked at together (limit).
const STRETCH: usize = 8;

/// A cell with a boundary in it (arithmetic).
const MIXED: u16 = u16::MAX;
/// A cell that no tract has any of (arithmetic).
const NOTHING: u16 = u16::MAX - 1;

impl Tracts {
    /// The zones of a site, each for itself; what lies beside them is in none.
    #[must_use]
    pub fn of_zones(site: &Site) -> Self {
        let zones = site.zones.iter().enumerate();
        let grounds = zones.map(|(index, zone)| (TractKind::Zone(index), zone.region.clone()));
        let lifted = (TractKind::Lifted, site.lifted.clone());
        let regions = site.zones.iter().map(|zone| &zone.region);
        let all = Region::union_of(regions.chain([&site.lifted]));
        Self::new(grounds.chain([lifted]).collect(), &all)
    }

    /// Everything around a site, with a fringe of `position_m`: no spot is left out. Beside its neighbours' ground
    /// that of `others` counts, and the map ends at least `far_m` beyond all of it.
    #[must_use]
    pub fn around(site: &Site, others: &[(LandUse, Region)], far_m: f64, position_m: f64) -> Self {
        let own = site.zones.iter().map(|zone| (zone.land_use, &zone.region));
        let others = site
            .neighbours
            .iter()
            .chain(others)
            .map(|(land_use, region)| (*land_use, region));
        let grounds: Vec<(LandUse, &Region)> = own.chain(others).collect();
        let all = Region::union_of(grounds.iter().map(|(_, region)| *region));
        let wanted = grounds
            .iter()
            .filter(|(land_use, _)| *land_use != LandUse::KeepOff);
        let wanted = Region::union_of(wanted.map(|(_, region)| *region));
        let fringe = grown(&wanted, position_m).difference(&all);
        let known = Region::union_of([&all, &fringe]);
        let outside = frame(&known, far_m.max(OUTSIDE_M)).difference(&known);
        let grounds = vec![
            (TractKind::Taken, all),
            (TractKind::Fringe, fringe),
            (TractKind::Outside, outside),
        ];
        Self::new(grounds, &known)
    }

    /// Tracts of these grounds, with the map over `mapped`.
    fn new(grounds: Vec<(TractKind, Region)>, mapped: &Region) -> Self {
        let (kinds, mut regions): (Vec<TractKind>, Vec<Region>) = grounds.into_iter().unzip();
        overlay::share_corners(&mut regions);
        let list: Vec<Tract> = kinds
            .into_iter()
            .zip(&regions)
            .filter_map(|(kind, region)| Tract::new(kind, region))
            .collect();
        let corners: Vec<Xy> = mapped.rings().concat();
        let grid = Grid::over(corners.iter(), 2.0 * MAP_CELL_M, MAP_CELL_M, MAP_CELLS);
        let whole = whole_cells(&list, grid);
        Self { list, grid, whole }
    }

    /// Whether a piece has ground in any tract.
    #[must_use]
    pub fn touches(&self, piece: &Convex) -> bool {
        let under = Extent::of(piece.corners());
        match self.whole_under(&under) {
            Some(tract) => tract != NOTHING,
            None => self.list.iter().any(|ground| {
                let mut signed_m2 = 0.0;
                ground.each_clipped(piece.corners(), &under, |ring| {
                    signed_m2 += signed_area_m2(ring);
                });
                signed_m2 > 0.0
            }),
        }
    }

    /// Whether nothing in a box has ground in any tract, as far as the map and the tracts' boxes tell.
    #[must_use]
    pub fn have_none(&self, under: &Extent) -> bool {
        self.whole_under(under) == Some(NOTHING)
            || !self.list.iter().any(|ground| ground.extent.meets(under))
    }

    /// Calls `each` for every tract that a piece touches, in their order: with its index, the share of the
    /// piece's area, and the ground as rings to add up with their signs; none when the whole piece lies in it.
    pub fn each_share(&self, piece: &Convex, mut each: impl FnMut(usize, f64, Vec<Vec<Xy>>)) {
        let under = Extent::of(piece.corners());
        match self.whole_under(&under) {
            Some(NOTHING) => return,
            Some(tract) => return each(usize::from(tract), 1.0, Vec::new()),
            None => {}
        }
        let area_m2 = piece.area_m2();
        for (tract, ground) in self.list.iter().enumerate() {
            let mut rings = Vec::new();
            ground.each_clipped(piece.corners(), &under, |ring| rings.push(ring.to_vec()));
            let share = rings.iter().map(|ring| signed_area_m2(ring)).sum::<f64>() / area_m2;
            // Rings that only touch leave rounding dust; the true share is never negative.
            if share > 0.0 {
                each(tract, share, rings);
            }
        }
    }

    /// Whether a piece lies so deep in one tract that the map alone tells it.
    #[must_use]
    pub fn is_whole(&self, piece: &Convex) -> bool {
        self.have_all(&Extent::of(piece.corners()))
    }

    /// The same for everything in a box.
    #[must_use]
    pub fn have_all(&self, under: &Extent) -> bool {
        self.whole_under(under)
            .is_some_and(|tract| tract != NOTHING)
    }

    /// The tract that has every cell under the piece's bounding box, or [`NOTHING`].
    fn whole_under(&self, under: &Extent) -> Option<u16> {
        let (c0, r0) = self.grid.cell_of(under.low);
        let (c1, r1) = self.grid.cell_of(under.high);
        if c0 < 0 || r0 < 0 || c1 >= self.grid.columns as isize || r1 >= self.grid.rows as isize {
            return None;
        }
        let first = self.whole[r0 as usize * self.grid.columns + c0 as usize];
        let row = |r: isize| {
            let start = r as usize * self.grid.columns;
            &self.whole[start + c0 as usize..=start + c1 as usize]
        };
        (first != MIXED && (r0..=r1).all(|r| row(r).iter().all(|&cell| cell == first)))
            .then_some(first)
    }
}

/// A box around all known ground.
fn frame(known: &Region, beyond_m: f64) -> Region {
    let Extent { low, high } = known.extent();
    let ring = [
        (low.x_m, low.y_m, -1.0, -1.0),
        (high.x_m, low.y_m, 1.0, -1.0),
        (high.x_m, high.y_m, 1.0, 1.0),
        (low.x_m, high.y_m, -1.0, 1.0),
    ]
    .map(|(x_m, y_m, dx, dy)| Xy::new(x_m + dx * beyond_m, y_m + dy * beyond_m));
    Region::inside_any([ring.as_slice()])
}

fn whole_cells(list: &[Tract], grid: Grid) -> Vec<u16> {
    // More tracts than marks: where they end nothing is told of a cell.
    let told = list.len() <= usize::from(NOTHING);
    let mut whole = vec![if told { NOTHING } else { MIXED }; grid.cells()];
    let cell_m2 = grid.cell_m * grid.cell_m;
    for (index, tract) in list.iter().enumerate().take(usize::from(NOTHING)) {
        let mut raster = Raster::new(grid);
        for ring in &tract.rings {
            raster.add(&ring.points, 1.0);
        }
        for (cell, area_m2) in raster.areas().into_iter().enumerate() {
            if area_m2 > cell_m2 * (1.0 - WHOLE) {
                whole[cell] = index as u16;
            } else if area_m2 > cell_m2 * WHOLE {
                whole[cell] = MIXED;
            }
        }
    }
    whole
}

impl Tract {
    fn new(kind: TractKind, region: &Region) -> Option<Self> {
        if region.is_empty() {
            return None;
        }
        let rings = region.rings().into_iter();
        Some(Self {
            kind,
            extent: region.extent(),
            rings: rings.map(Ring::new).collect(),
        })
    }

    /// Calls `each` with the tract's rings clipped by a convex piece (Sutherland-Hodgman, ring by ring: what
    /// runs back and forth along the piece's edges cancels in every signed sum).
    fn each_clipped(&self, piece: &[Xy], under: &Extent, mut each: impl FnMut(&[Xy])) {
        if !self.extent.meets(under) {
            return;
        }
        let mut room = [Corners::new(), Corners::new()];
        for ring in self.rings.iter().filter(|ring| ring.extent.meets(under)) {
            ring.near(under, &mut room[0]);
            let clipped = clip(&mut room, piece);
            if clipped.len() > 2 {
                each(clipped);
            }
        }
    }
}

impl Ring {
    fn new(points: Vec<Xy>) -> Self {
        let stretch = |first: usize| {
            let end = (first + STRETCH).min(points.len());
            let next = points[end % points.len()];
            Extent::of(points[first..end].iter().chain([&next]))
        };
        Self {
            extent: Extent::of(&points),
            stretches: (0..points.len()).step_by(STRETCH).map(stretch).collect(),
            points,
        }
    }

    /// The ring with each stretch that lies wholly on one side of a box cut short: it winds around every
    /// spot in the box as before.
    fn near(&self, under: &Extent, points: &mut Corners) {
        points.clear();
        for (stretch, own) in self.stretches.iter().zip(self.points.chunks(STRETCH)) {
            if stretch.meets(under) {
                points.extend_from_slice(own);
            } else {
                points.push(own[0]);
            }
        }
    }
}

/// Corners of what is left of a ring near a piece: a few, so they need no heap.
type Corners = SmallVec<[Xy; 32]>;

/// A ring of any shape, in the first of two rooms, clipped by a convex counter-clockwise one.
fn clip<'a>([ring, other]: &'a mut [Corners; 2], convex: &[Xy]) -> &'a [Xy] {
    let (mut points, mut clipped) = (ring, other);
    for k in 0..convex.len() {
        let (a, b) = (convex[k], convex[(k + 1) % convex.len()]);
        clip_by_line(points, a, b, clipped);
        std::mem::swap(&mut points, &mut clipped);
        if points.is_empty() {
            break;
        }
    }
    points
}

/// The part of a ring left of the line from `a` to `b`.
fn clip_by_line(ring: &[Xy], a: Xy, b: Xy, clipped: &mut Corners) {
    clipped.clear();
    let Some(&last) = ring.last() else { return };
    let edge = b.minus(a);
    let inside = |point: Xy| edge.cross(point.minus(a));
    let (mut from, mut from_in) = (last, inside(last));
    for &to in ring {
        let to_in = inside(to);
        if (from_in >= 0.0) != (to_in >= 0.0) {
            clipped.push(from.plus(to.minus(from), from_in / (from_in - to_in)));
        }
        if to_in >= 0.0 {
            clipped.push(to);
        }
        (from, from_in) = (to, to_in);
    }
}
