//! Invented ground: lots with islands, drives, walks, beds, buildings and parked cars.

use crate::chance::Chance;
use crate::grid::Grid;
use crate::plane::{Frame, P};

/// Cell of the truth, metres.
pub(crate) const CELL_M: f64 = 0.1;

/// What ground is, as the sites file calls it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Use {
    Lot,
    Drive,
    Walk,
    KeepOff,
}

impl Use {
    /// Word of the sites file.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Use::Lot => "lot",
            Use::Drive => "drive",
            Use::Walk => "walk",
            Use::KeepOff => "keep_off",
        }
    }
}

/// A polygon of a site.
pub(crate) struct Zone {
    pub(crate) id: String,
    pub(crate) kind: Use,
    pub(crate) ring: Vec<P>,
    pub(crate) holes: Vec<Vec<P>>,
    pub(crate) by_hand: bool,
}

/// A site in its own frame.
pub(crate) struct Site {
    pub(crate) id: String,
    pub(crate) frame: Frame,
    pub(crate) zones: Vec<Zone>,
    /// What a vehicle must bend round: raised islands.
    pub(crate) islands: Vec<Vec<P>>,
    pub(crate) cars: Vec<Vec<P>>,
    pub(crate) buildings: Vec<Vec<P>>,
    /// The corner that the driver forgets.
    pub(crate) left_out: Option<Vec<P>>,
    /// Number of the zone plus one at every spot, 0 outside; keep-off ground outranks walk, drive and lot.
    pub(crate) zone_at: Grid<u8>,
    /// Ground that the driver means to treat.
    pub(crate) meant: Grid<bool>,
}

/// What may be on a site.
#[derive(Clone, Copy, Default)]
pub(crate) struct Wish {
    pub(crate) cars: bool,
    pub(crate) building: bool,
    /// Side of the corner that is left out.
    pub(crate) corner_m: Option<f64>,
    /// A bed level with the paving, sprayed over where `true`.
    pub(crate) bed: Option<bool>,
    pub(crate) small: bool,
}

/// An upright box.
pub(crate) fn block(x: f64, y: f64, width: f64, height: f64) -> Vec<P> {
    vec![
        [x, y],
        [x + width, y],
        [x + width, y + height],
        [x, y + height],
    ]
}

/// A site that grew there.
pub(crate) fn site(id: &str, frame: Frame, wish: Wish, chance: &mut Chance) -> Site {
    let length = if wish.small {
        chance.even(36.0, 50.0)
    } else {
        chance.even(45.0, 85.0)
    };
    let depth = if wish.small {
        chance.even(28.0, 36.0)
    } else {
        chance.even(34.0, 56.0)
    };
    let shape = chance.index(4);
    let ring = match shape {
        0 | 1 => block(0.0, 0.0, length, depth),
        2 => {
            let (x, y) = (
                length * chance.even(0.5, 0.65),
                depth * chance.even(0.5, 0.6),
            );
            vec![
                [0.0, 0.0],
                [length, 0.0],
                [length, y],
                [x, y],
                [x, depth],
                [0.0, depth],
            ]
        }
        _ => {
            let (a, b) = (chance.even(-6.0, 8.0), chance.even(-4.0, 4.0));
            vec![[0.0, 0.0], [length, b], [length - a, depth], [0.0, depth]]
        }
    };
    let mut zones = vec![lot(ring.clone())];
    let mut islands = Vec::new();
    if shape < 2 && length > 60.0 && wish.corner_m.is_none_or(|c| c < 8.0) && chance.yes(0.5) {
        let island = block(
            length * chance.even(0.35, 0.6),
            depth * 0.5 - 1.2,
            chance.even(5.0, 10.0),
            2.4,
        );
        if chance.yes(0.5) {
            zones[0].holes.push(island.clone());
        } else {
            zones.push(keep_off("island", island.clone()));
        }
        islands.push(island);
    }
    if let Some(sprayed) = wish.bed {
        let bed = block(
            length * 0.2,
            depth * 0.45,
            chance.even(7.0, 10.0),
            chance.even(4.0, 6.0),
        );
        if !sprayed {
            islands.push(bed.clone());
        }
        zones.push(keep_off("bed", bed));
    }
    if chance.yes(0.5) {
        let (x, width) = (length * chance.even(0.2, 0.5), chance.even(6.0, 8.0));
        let (foot, end) = (ring[1][1] / length, -chance.even(18.0, 34.0));
        zones.push(Zone {
            id: "drive".into(),
            kind: Use::Drive,
            ring: vec![
                [x, end],
                [x + width, end],
                [x + width, foot * (x + width) + 0.2],
                [x, foot * x + 0.2],
            ],
            holes: Vec::new(),
            by_hand: false,
        });
    }
    if chance.yes(0.35) && shape < 2 {
        let by_hand = chance.yes(0.5);
        let wide_m = if by_hand {
            chance.even(1.5, 2.4)
        } else {
            chance.even(1.5, 1.8)
        };
        zones.push(Zone {
            id: "walk".into(),
            kind: Use::Walk,
            ring: block(2.0, depth + 0.3, length - 4.0, wide_m),
            holes: Vec::new(),
            by_hand,
        });
    }
    let buildings = if wish.building {
        vec![block(3.0, depth + 3.5, length - 6.0, 14.0)]
    } else {
        Vec::new()
    };
    let cars = if wish.cars {
        parked(length, depth, chance)
    } else {
        Vec::new()
    };
    let corner = wish.corner_m.map(|side| corner(&ring, side, chance));
    finished(
        id,
        frame,
        zones,
        (islands, cars, buildings),
        (corner, wish.bed == Some(true)),
    )
}

fn lot(ring: Vec<P>) -> Zone {
    Zone {
        id: "lot".into(),
        kind: Use::Lot,
        ring,
        holes: Vec::new(),
        by_hand: false,
    }
}

fn keep_off(id: &str, ring: Vec<P>) -> Zone {
    Zone {
        id: id.into(),
        kind: Use::KeepOff,
        ring,
        holes: Vec::new(),
        by_hand: false,
    }
}

/// One or two rows of one to eight stalls (2.6 m by 5 m), by the edge or amid the lot.
fn parked(length: f64, depth: f64, chance: &mut Chance) -> Vec<Vec<P>> {
    (0..1 + chance.index(2))
        .map(|row| {
            let stalls = (1 + chance.index(8)) as f64;
            let x = if row == 0 {
                chance.even(6.0, length * 0.2)
            } else {
                chance.even(length * 0.3, length * 0.4)
            };
            let y = if chance.yes(0.6) {
                0.3
            } else {
                depth * chance.even(0.3, 0.6)
            };
            block(x, y, 2.6 * stalls - 0.6, 5.0)
        })
        .collect()
}

/// The square of a lot's right-angled corner, a little over its line.
fn corner(ring: &[P], side: f64, chance: &mut Chance) -> Vec<P> {
    let high = ring.last().expect("a lot has corners")[1];
    if chance.yes(0.5) {
        block(-0.5, -0.5, side + 0.5, side + 0.5)
    } else {
        block(-0.5, high - side, side + 0.5, side + 0.5)
    }
}

type Things = (Vec<Vec<P>>, Vec<Vec<P>>, Vec<Vec<P>>);

fn finished(
    id: &str,
    frame: Frame,
    zones: Vec<Zone>,
    things: Things,
    plan: (Option<Vec<P>>, bool),
) -> Site {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in zones.iter().flat_map(|z| &z.ring) {
        for k in 0..2 {
            low[k] = low[k].min(p[k] - 8.0);
            high[k] = high[k].max(p[k] + 8.0);
        }
    }
    let mut zone_at = Grid::over(low, high, CELL_M, 0u8);
    for kind in [Use::Lot, Use::Drive, Use::Walk, Use::KeepOff] {
        for (number, zone) in zones.iter().enumerate().filter(|z| z.1.kind == kind) {
            let mut rings: Vec<&[P]> = vec![&zone.ring];
            rings.extend(zone.holes.iter().map(Vec::as_slice));
            for cell in zone_at.inside(&rings) {
                zone_at.cells[cell] = number as u8 + 1;
            }
        }
    }
    let (islands, cars, buildings) = things;
    let (corner, over_bed) = plan;
    let mut meant = zone_at.like(false);
    for (cell, number) in zone_at.cells.iter().enumerate().filter(|c| *c.1 > 0) {
        let zone = &zones[*number as usize - 1];
        meant.cells[cell] = match zone.kind {
            Use::Lot | Use::Drive => true,
            Use::Walk => !zone.by_hand,
            Use::KeepOff => over_bed && zone.id == "bed",
        };
    }
    for ring in cars.iter().chain(&corner) {
        for cell in zone_at.inside(&[ring]) {
            meant.cells[cell] = false;
        }
    }
    Site {
        id: id.to_owned(),
        frame,
        zones,
        islands,
        cars,
        buildings,
        left_out: corner,
        zone_at,
        meant,
    }
}

impl Site {
    /// Ground of a zone.
    pub(crate) fn zone_cells(&self, number: usize) -> impl Iterator<Item = usize> + '_ {
        let wanted = number as u8 + 1;
        self.zone_at
            .cells
            .iter()
            .enumerate()
            .filter(move |c| *c.1 == wanted)
            .map(|c| c.0)
    }
}
