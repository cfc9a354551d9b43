//! Dose pieces to litres, swept area and length: per application and zone, and per run and ledger line.

use super::{Bench, Laid};
use crate::dose::DoseGrid;
use crate::input::sites::LandUse;
use crate::parcels::{ParcelKind, Parcels};
use crate::swath::Piece;

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
    pub(super) grid: DoseGrid,
}

/// Adds up all pieces of a site.
pub(super) fn add_up(bench: &Bench, parcels: &Parcels) -> Sums {
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
                grid: DoseGrid::over(&zone.region),
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
        let mut of_step: Option<(u32, Option<usize>, bool)> = None;
        for piece in &strips.pieces {
            let (_, app, home) = match of_step {
                Some(known) if known.0 == piece.step => known,
                _ => {
                    let step = piece.step as usize;
                    let home =
                        bench.work.whereabouts[*run].nearest[step] as usize == bench.work.index;
                    (piece.step, bench.application_of(*run, step), home)
                }
            };
            of_step = Some((piece.step, app, home));
            add_piece(
                bench,
                parcels,
                piece,
                app.map(|app| &mut sums.zones[app]),
                home.then_some(&mut laid),
            );
        }
        sums.laid.push(laid);
    }
    sums
}

fn add_piece(
    bench: &Bench,
    parcels: &Parcels,
    piece: &Piece,
    mut zones: Option<&mut Vec<ZoneSum>>,
    mut laid: Option<&mut Laid>,
) {
    let area_m2 = piece.ground.area_m2();
    let density_l_m2 = piece.litres / area_m2;
    for share in parcels.shares(&piece.ground) {
        let kind = parcels.list[share.parcel].kind;
        if let Some(laid) = laid.as_deref_mut() {
            *line(bench, kind, laid) += piece.litres * share.share;
        }
        let (ParcelKind::Zone(zone), Some(zones)) = (kind, zones.as_deref_mut()) else {
            continue;
        };
        let sum = &mut zones[zone];
        sum.litres += piece.litres * share.share;
        sum.length_m += piece.length_share_m * share.share;
        if piece.swept {
            sum.swept_m2 += area_m2 * share.share;
        }
        if piece.litres > 0.0 {
            if share.rings.is_empty() {
                sum.grid.add(piece.ground.corners(), density_l_m2);
            }
            share
                .rings
                .iter()
                .for_each(|ring| sum.grid.add(ring, density_l_m2));
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
