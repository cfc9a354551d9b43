//! Step 6c of the flow: the ground of a site as parcels that leave no spot out.
//!
//! Every spot on a site's plane lies in one parcel: one of the site's zones, a neighbour's ground, the
//! fringe (outside the zones by less than the position error), or the outside. A dose piece is shared
//! among parcels by exact clipping, each share computed for itself; that they add up to one is a test,
//! not an assumption.

use crate::extent::Extent;
use crate::ground::Site;
use crate::input::sites::LandUse;
use crate::overlay::{self, Region};
use crate::plane::{Xy, signed_area_m2};
use crate::raster::{Grid, Raster};
use crate::swath::Convex;
use smallvec::SmallVec;

/// Cells of the map of whole parcels, m: about the size of a dose piece.
const MAP_CELL_M: f64 = 1.0;
/// Most cells of that map.
const MAP_CELLS: usize = 4_000_000;
/// The outside parcel reaches this far beyond all other ground, m: farther than any boom.
const OUTSIDE_M: f64 = 200.0;
/// A cell that is covered to within this share is whole (rounding of the running sums).
const WHOLE: f64 = 1e-9;

/// What a parcel is, for the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ParcelKind {
    /// A zone of this site, by its index.
    Zone(usize),
    /// Ground of another site that is to be treated.
    Neighbour,
    /// A neighbour's keep-off ground.
    NeighbourKeepOff,
    /// A neighbour's yard.
    NeighbourYard,
    /// Outside the zones by less than the position error.
    Fringe,
    /// Everything else.
    Outside,
}

/// One parcel.
pub struct Parcel {
    /// What it is.
    pub kind: ParcelKind,
    extent: Extent,
    /// Each with its own box: a lot's border has islands all over.
    rings: Vec<Ring>,
}

/// A ring of a parcel with the boxes of its stretches.
struct Ring {
    extent: Extent,
    points: Vec<Xy>,
    /// Of each [`STRETCH`] points and the next one.
    stretches: Vec<Extent>,
}

/// All parcels of a site, with a map of the cells that lie wholly in one.
pub struct Parcels {
    /// The parcels.
    pub list: Vec<Parcel>,
    grid: Grid,
    /// Of each cell: the parcel that has all of it, or [`MIXED`].
    whole: Vec<u16>,
}

/// Points of a ring that are looked at together.
const STRETCH: usize = 8;

/// A cell with a boundary in it.
const MIXED: u16 = u16::MAX;

/// The part of a piece that lies in one parcel.
pub struct Share {
    /// Index of the parcel.
    pub parcel: usize,
    /// Share of the piece's area.
    pub share: f64,
    /// The ground, as rings to add up with their signs; empty when the whole piece lies in it.
    pub rings: SmallVec<[Vec<Xy>; 1]>,
}

impl Parcels {
    /// The parcels of a site, with a fringe of `position_m`.
    #[must_use]
    pub fn of(site: &Site, position_m: f64) -> Self {
        let mut grounds: Vec<(ParcelKind, Region)> = Vec::new();
        for (index, zone) in site.zones.iter().enumerate() {
            grounds.push((ParcelKind::Zone(index), zone.region.clone()));
        }
        for (land_use, region) in &site.neighbours {
            let kind = match land_use {
                LandUse::KeepOff => ParcelKind::NeighbourKeepOff,
                LandUse::Yard => ParcelKind::NeighbourYard,
                _ => ParcelKind::Neighbour,
            };
            grounds.push((kind, region.clone()));
        }
        let all = Region::union_of(grounds.iter().map(|(_, region)| region));
        let keep_off = |kind: &ParcelKind| match kind {
            ParcelKind::Zone(index) => site.zones[*index].land_use == LandUse::KeepOff,
            kind => *kind == ParcelKind::NeighbourKeepOff,
        };
        let wanted = grounds
            .iter()
            .filter(|(kind, _)| !keep_off(kind))
            .map(|(_, region)| region);
        let fringe = Region::union_of(wanted).offset(position_m).difference(&all);
        let known = Region::union_of([&all, &fringe]);
        grounds.push((ParcelKind::Fringe, fringe));
        grounds.push((ParcelKind::Outside, frame(&known).difference(&known)));
        let (kinds, mut regions): (Vec<ParcelKind>, Vec<Region>) = grounds.into_iter().unzip();
        overlay::share_corners(&mut regions);
        let list: Vec<Parcel> = kinds
            .into_iter()
            .zip(&regions)
            .filter_map(|(kind, region)| Parcel::new(kind, region))
            .collect();
        let corners: Vec<Xy> = known.rings().concat();
        let grid = Grid::over(corners.iter(), 2.0 * MAP_CELL_M, MAP_CELL_M, MAP_CELLS);
        let whole = whole_cells(&list, grid);
        Self { list, grid, whole }
    }

    /// Shares of a piece in the parcels it touches, in the order of the parcels.
    #[must_use]
    pub fn shares(&self, piece: &Convex) -> SmallVec<[Share; 2]> {
        let mut shares = SmallVec::new();
        let under = Extent::of(piece.corners());
        if let Some(parcel) = self.whole_under(&under) {
            shares.push(Share {
                parcel,
                share: 1.0,
                rings: SmallVec::new(),
            });
            return shares;
        }
        let area_m2 = piece.area_m2();
        for (parcel, ground) in self.list.iter().enumerate() {
            let rings = ground.clipped(piece.corners(), &under);
            if rings.is_empty() {
                continue;
            }
            let share = rings.iter().map(|ring| signed_area_m2(ring)).sum::<f64>() / area_m2;
            // Rings that only touch leave rounding dust; the true share is never negative.
            if share > 0.0 {
                shares.push(Share {
                    parcel,
                    share,
                    rings,
                });
            }
        }
        shares
    }

    /// The parcel that has every cell under the piece's bounding box.
    fn whole_under(&self, under: &Extent) -> Option<usize> {
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
            .then_some(usize::from(first))
    }
}

/// A box around all known ground.
fn frame(known: &Region) -> Region {
    let Extent { low, high } = known.extent();
    let ring = [
        (low.x_m, low.y_m, -1.0, -1.0),
        (high.x_m, low.y_m, 1.0, -1.0),
        (high.x_m, high.y_m, 1.0, 1.0),
        (low.x_m, high.y_m, -1.0, 1.0),
    ]
    .map(|(x_m, y_m, dx, dy)| Xy::new(x_m + dx * OUTSIDE_M, y_m + dy * OUTSIDE_M));
    Region::inside_any([ring.as_slice()])
}

fn whole_cells(list: &[Parcel], grid: Grid) -> Vec<u16> {
    let mut whole = vec![MIXED; grid.cells()];
    let cell_m2 = grid.cell_m * grid.cell_m;
    for (index, parcel) in list.iter().enumerate().take(usize::from(MIXED)) {
        let mut raster = Raster::new(grid);
        for ring in &parcel.rings {
            raster.add(&ring.points, 1.0);
        }
        for (cell, area_m2) in raster.areas().into_iter().enumerate() {
            if area_m2 > cell_m2 * (1.0 - WHOLE) {
                whole[cell] = index as u16;
            }
        }
    }
    whole
}

impl Parcel {
    fn new(kind: ParcelKind, region: &Region) -> Option<Self> {
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

    /// The parcel's rings clipped by a convex piece (Sutherland-Hodgman, ring by ring: what runs back
    /// and forth along the piece's edges cancels in every signed sum).
    fn clipped(&self, piece: &[Xy], under: &Extent) -> SmallVec<[Vec<Xy>; 1]> {
        if !self.extent.meets(under) {
            return SmallVec::new();
        }
        self.rings
            .iter()
            .filter(|ring| ring.extent.meets(under))
            .map(|ring| clip(&ring.near(under), piece))
            .filter(|ring| ring.len() > 2)
            .collect()
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
    fn near(&self, under: &Extent) -> SmallVec<[Xy; 32]> {
        let mut points = SmallVec::new();
        for (stretch, own) in self.stretches.iter().zip(self.points.chunks(STRETCH)) {
            if stretch.meets(under) {
                points.extend_from_slice(own);
            } else {
                points.push(own[0]);
            }
        }
        points
    }
}

/// A ring of any shape clipped by a convex counter-clockwise one.
fn clip(ring: &[Xy], convex: &[Xy]) -> Vec<Xy> {
    let mut points = Vec::with_capacity(ring.len() + convex.len());
    let mut clipped = Vec::with_capacity(ring.len() + convex.len());
    for k in 0..convex.len() {
        let (a, b) = (convex[k], convex[(k + 1) % convex.len()]);
        let whole = if k == 0 { ring } else { &points };
        clip_by_line(whole, a, b, &mut clipped);
        std::mem::swap(&mut points, &mut clipped);
        if points.is_empty() {
            break;
        }
    }
    points
}

/// The part of a ring left of the line from `a` to `b`.
fn clip_by_line(ring: &[Xy], a: Xy, b: Xy, clipped: &mut Vec<Xy>) {
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
