//! Dose pieces to litres, swept area, length and dose: per application and zone.

use super::applications::Applications;
use super::laid::{Laid, Liquid};
use super::swath::Piece;
use crate::geometry::plane::Xy;
use crate::site::dose::DoseGrid;
use std::collections::BTreeMap;

/// Sums over the pieces of a site.
pub(super) struct Sums {
    /// Of each application: of each zone.
    pub(super) zones: Vec<Vec<ZoneSum>>,
}

/// Sums of one zone in one application.
pub(super) struct ZoneSum {
    pub(super) litres: f64,
    pub(super) swept_m2: f64,
    pub(super) length_m: f64,
    /// Swept area by leg, m2: the product that laid most decides what was asked for.
    pub(super) swept_by_leg_m2: BTreeMap<usize, f64>,
    /// Litres by cell; only where a dose is told, on ground to be treated by boom.
    pub(super) grid: Option<DoseGrid>,
}

/// Adds up all pieces of a site.
pub(super) fn add_up(laid: &Laid, done: &Applications) -> Sums {
    let empty = |zone: &crate::ground::Zone| ZoneSum {
        litres: 0.0,
        swept_m2: 0.0,
        length_m: 0.0,
        swept_by_leg_m2: BTreeMap::new(),
        grid: zone.is_by_boom().then(|| DoseGrid::over(&zone.region)),
    };
    let zones = || laid.site.zones.iter().map(empty).collect();
    let mut sums = Sums {
        zones: done.groups.iter().map(|_| zones()).collect(),
    };
    if done.groups.is_empty() {
        return sums;
    }
    for (leg, liquid) in laid.liquid.iter().enumerate() {
        add_leg(&mut sums, laid, done, leg, liquid);
    }
    sums
}

fn add_leg(sums: &mut Sums, laid: &Laid, done: &Applications, leg: usize, liquid: &Liquid) {
    let pieces = &laid.strips[leg].pieces;
    let mut of_step: Option<(u32, Option<usize>)> = None;
    for part in &liquid.parts {
        let piece = &pieces[part.piece as usize];
        let app = match of_step {
            Some((step, app)) if step == piece.step => app,
            _ => done.of_steps(leg, &(piece.step as usize..piece.step as usize + 1)),
        };
        of_step = Some((piece.step, app));
        if let Some(app) = app {
            let rings = liquid.rings(part);
            sums.zones[app][part.zone as usize].add(leg, piece, part.share, rings);
        }
    }
}

/// A leg that swept less than this share of what was swept of a zone only strayed onto it (trade judgement).
const STRAYED: f64 = 0.02;

impl ZoneSum {
    /// The legs that swept some of the zone.
    pub(super) fn legs(&self) -> Vec<usize> {
        let own = self.swept_by_leg_m2.iter();
        let own = own.filter(|(_, swept_m2)| **swept_m2 > STRAYED * self.swept_m2);
        own.map(|(leg, _)| *leg).collect()
    }

    fn add(&mut self, leg: usize, piece: &Piece, share: f64, rings: &[Vec<Xy>]) {
        let litres = piece.litres * share;
        self.litres += litres;
        self.length_m += piece.length_share_m * share;
        let area_m2 = piece.ground.area_m2();
        if piece.swept {
            self.swept_m2 += area_m2 * share;
            *self.swept_by_leg_m2.entry(leg).or_default() += area_m2 * share;
        }
        if let (Some(grid), true) = (&mut self.grid, litres > 0.0) {
            let density_l_m2 = piece.litres / area_m2;
            if rings.is_empty() {
                grid.add(piece.ground.corners(), density_l_m2);
            }
            rings.iter().for_each(|ring| grid.add(ring, density_l_m2));
        }
    }
}
