//! Bit rows against cell by cell.

use super::Bits;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::measure::cells::Cells;
use rand::{RngExt, SeedableRng};

const CELLS: Cells = Cells {
    low: Xy {
        x_m: -3.0,
        y_m: 2.0,
    },
    cell_m: 0.5,
    columns: 150,
    rows: 40,
};

fn random(seed: u64, share: f64) -> Bits {
    let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    let mut bits = Bits::none(&CELLS);
    for row in 0..CELLS.rows {
        for column in 0..CELLS.columns {
            if chance.random_bool(share) {
                bits.set(row, column..column + 1);
            }
        }
    }
    bits
}

#[test]
fn cells_of_a_region_are_those_whose_middles_lie_in_it() {
    let ring = [
        (0.0, 4.0),
        (60.0, 3.0),
        (40.0, 20.0),
        (30.0, 8.0),
        (5.0, 19.0),
    ]
    .map(|(x, y)| Xy::new(x, y));
    let bits = Bits::of(&Region::inside_any([ring.as_slice()]), &CELLS);
    let inside = |point: Xy| {
        let crossed = (0..ring.len()).filter(|&k| {
            let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
            (a.y_m > point.y_m) != (b.y_m > point.y_m)
                && point.x_m < a.x_m + (point.y_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m)
        });
        crossed.count() % 2 == 1
    };
    for row in 0..CELLS.rows {
        for column in 0..CELLS.columns {
            assert_eq!(
                bits.has(column, row),
                inside(CELLS.middle(column, row)),
                "{column} {row}"
            );
        }
    }
}

#[test]
fn moving_is_moving_every_cell() {
    let (from, within) = (random(1, 0.3), random(2, 0.7));
    for by in [
        (0, 0),
        (1, 0),
        (-1, 2),
        (64, 1),
        (-65, -3),
        (3, -1),
        (149, 0),
    ] {
        let mut moved = Bits::none(&CELLS);
        let changed = moved.add_moved(&from, by, &within);
        let mut expected = Bits::none(&CELLS);
        for (column, row) in from.cells() {
            let (Some(c), Some(r)) = (
                column.checked_add_signed(by.0),
                row.checked_add_signed(by.1),
            ) else {
                continue;
            };
            if c < CELLS.columns && r < CELLS.rows && within.has(c, r) {
                expected.set(r, c..c + 1);
            }
        }
        assert!(moved == expected, "{by:?}");
        assert_eq!(changed, !expected.is_empty());
    }
}

#[test]
fn spreading_is_stepping_as_long_as_anything_changes() {
    let within = random(3, 0.8);
    for by in [(1, 0), (0, 1), (1, 1), (-1, 1), (1, -1), (-1, 0)] {
        let mut seed = random(4, 0.01);
        seed.keep(&within);
        let mut expected = seed.clone();
        loop {
            let before = expected.clone();
            expected.add_moved(&before, by, &within);
            expected.add_moved(&before, (-by.0, -by.1), &within);
            if expected == before {
                break;
            }
        }
        seed.spread(by, &within);
        assert!(seed == expected, "{by:?}");
    }
}
