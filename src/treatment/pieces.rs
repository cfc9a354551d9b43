//! Dose pieces to litres, swept area and length: per application and zone, and per run and ledger line.

use super::{Bench, Laid};
use crate::dose::DoseGrid;
use crate::input::sites::LandUse;
use crate::parcels::{ParcelKind, Parcels, Share};
use crate::swath::Piece;
use std::collections::BTreeMap;

/// Sums over the pieces of a site.
pub(super) struct Sums {
    /// Of each application: of each zone.
    pub(super) zones: Vec<Vec<ZoneSum>>,
    /// Of each run whose home the site was at the time.
    pub(super) laid: Vec<Laid>,
}

/// Sums of one zone in one application.
pub(super) struct ZoneSum {
    pub(super) litres: f64,
    pub(super) swept_m2: f64,
    pub(super) length_m: f64,
    /// Swept area by run, m2: the product that laid most decides what was asked for.
    pub(super) swept_by_run_m2: BTreeMap<usize, f64>,
    /// Litres by cell; only where a dose is told, on ground to be treated by boom.
    pub(super) grid: Option<DoseGrid>,
}

/// Adds up all pieces of a site.
pub(super) fn add_up(bench: &Bench) -> Sums {
    let mut pieces = bench.strips.iter().flat_map(|(_, strips)| &strips.pieces);
    if bench.groups.is_empty() && pieces.next().is_none() {
        // Nobody laid anything here: most sites of a fleet, and cutting up their ground takes time.
        return Sums {
            zones: Vec::new(),
            laid: Vec::new(),
        };
    }
    let parcels = Parcels::of(bench.work.site, bench.position_m);
    let zone_sums = || {
        bench
            .work
            .site
            .zones
            .iter()
            .map(|zone| ZoneSum {
                litres: 0.0,
                swept_m2: 0.0,
                length_m: 0.0,
                swept_by_run_m2: BTreeMap::new(),
                grid: zone.is_by_boom().then(|| DoseGrid::over(&zone.region)),
            })
            .collect()
    };
    let mut sums = Sums {
        zones: bench.groups.iter().map(|_| zone_sums()).collect(),
        laid: Vec::new(),
    };
    for (run, strips) in &bench.strips {
        let mut laid = Laid {
            run: *run,
            ..Laid::default()
        };
        let mut of_step: Option<(u32, Whose)> = None;
        for piece in &strips.pieces {
            let whose = match of_step {
                Some((step, known)) if step == piece.step => known,
                _ => Whose::of(bench, *run, piece.step as usize),
            };
            of_step = Some((piece.step, whose));
            let zones = whose.application.map(|app| &mut sums.zones[app]);
            let mut counts = Counts {
                bench,
                zones,
                laid: &mut laid,
                home: whose.home,
            };
            counts.add(&parcels, piece);
        }
        sums.laid.push(laid);
    }
    sums
}

/// What a step's pieces count for.
#[derive(Clone, Copy)]
struct Whose {
    /// The application they belong to.
    application: Option<usize>,
    /// The site is the run's home then: its ledger lines count here and nowhere else.
    home: bool,
}

impl Whose {
    fn of(bench: &Bench, run: usize, step: usize) -> Self {
        Self {
            application: bench.application_of(run, &(step..step + 1)),
            home: bench.work.whereabouts[run].nearest[step] as usize == bench.work.index,
        }
    }
}

/// Where one piece's litres and ground are counted.
struct Counts<'a> {
    bench: &'a Bench<'a>,
    zones: Option<&'a mut Vec<ZoneSum>>,
    laid: &'a mut Laid,
    home: bool,
}

impl Counts<'_> {
    fn add(&mut self, parcels: &Parcels, piece: &Piece) {
        for share in parcels.shares(&piece.ground) {
            let kind = parcels.list[share.parcel].kind;
            let litres = piece.litres * share.share;
            if self.home {
                *line(self.bench, kind, self.laid) += litres;
            }
            if let ParcelKind::Zone(zone) = kind {
                self.add_to_zone(zone, piece, &share);
            }
        }
    }

    fn add_to_zone(&mut self, zone: usize, piece: &Piece, share: &Share) {
        let litres = piece.litres * share.share;
        if self.bench.work.site.zones[zone].land_use == LandUse::KeepOff {
            *self.laid.keep_off_zones_l.entry(zone).or_default() += litres;
        }
        let Some(zones) = self.zones.as_deref_mut() else {
            return;
        };
        let sum = &mut zones[zone];
        sum.litres += litres;
        sum.length_m += piece.length_share_m * share.share;
        let area_m2 = piece.ground.area_m2();
        if piece.swept {
            sum.swept_m2 += area_m2 * share.share;
            *sum.swept_by_run_m2.entry(self.laid.run).or_default() += area_m2 * share.share;
        }
        if let (Some(grid), true) = (&mut sum.grid, litres > 0.0) {
            let density_l_m2 = piece.litres / area_m2;
            if share.rings.is_empty() {
                grid.add(piece.ground.corners(), density_l_m2);
            }
            share
                .rings
                .iter()
                .for_each(|ring| grid.add(ring, density_l_m2));
        }
    }
}

/// The ledger line that a parcel's litres go to.
fn line<'a>(bench: &Bench, kind: ParcelKind, laid: &'a mut Laid) -> &'a mut f64 {
    match kind {
        ParcelKind::Zone(zone) => match bench.work.site.zones[zone].land_use {
            LandUse::KeepOff => &mut laid.keep_off_l,
            LandUse::Yard => &mut laid.yard_l,
            LandUse::Blocked | LandUse::Walk | LandUse::Drive | LandUse::Lot => &mut laid.zones_l,
        },
        ParcelKind::Neighbour => &mut laid.zones_l,
        ParcelKind::NeighbourKeepOff => &mut laid.keep_off_l,
        ParcelKind::NeighbourYard => &mut laid.yard_l,
        ParcelKind::Fringe => &mut laid.fringe_l,
        ParcelKind::Outside => &mut laid.outside_l,
    }
}
