//! Cells that hang together.

use super::bits::Bits;
use super::cells::Cells;

/// Connected patches of cells, the greatest first.
pub(super) fn connected(left: &Bits, cells: &Cells) -> Vec<Vec<(usize, usize)>> {
    let mut waiting = left.clone();
    let mut patches: Vec<Vec<(usize, usize)>> = Vec::new();
    let mut from = 0;
    while let Some((word, start)) = waiting.first_from(from) {
        from = word;
        waiting.clear(start.1, start.0..start.0 + 1);
        let mut patch = vec![start];
        let mut next = 0;
        while next < patch.len() {
            let (column, row) = patch[next];
            next += 1;
            for (dc, dr) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                let (Some(c), Some(r)) =
                    (column.checked_add_signed(dc), row.checked_add_signed(dr))
                else {
                    continue;
                };
                if c < cells.columns && r < cells.rows && waiting.has(c, r) {
                    waiting.clear(r, c..c + 1);
                    patch.push((c, r));
                }
            }
        }
        patches.push(patch);
    }
    patches.sort_by_key(|patch| std::cmp::Reverse(patch.len()));
    patches
}
