"""The same four numbers from a raster of 0.25 m: a cell is treated by a pass whose ring holds its middle.

    python3 tests/bench/raster.py NIGHT        prints a JSON object a lot, in two processes
"""

import numpy as np
from careful import main

CELL_M = 0.25


def windings(ring, origin, shape):
    """How often a ring runs round the middle of each cell of a box around it, with the box's corner."""
    corners = (ring - origin) / CELL_M
    low = np.clip(np.floor(corners.min(axis=0)).astype(int), 0, shape[::-1])
    high = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 1, 0, shape[::-1])
    columns, rows = high - low
    if columns <= 0 or rows <= 0:
        return np.zeros((0, 0), int), low
    x, y = (corners - low).T
    x2, y2 = np.roll(x, -1), np.roll(y, -1)
    # Rows whose middle an edge crosses.
    first = np.clip(np.ceil(np.minimum(y, y2) - 0.5), 0, rows).astype(int)
    count = np.clip(np.ceil(np.maximum(y, y2) - 0.5), 0, rows).astype(int) - first
    edge = np.repeat(np.arange(len(x)), count)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count) + first[edge]
    across = x[edge] + (row + 0.5 - y[edge]) * (x2 - x)[edge] / (y2 - y)[edge]
    column = np.clip(np.ceil(across - 0.5), 0, columns).astype(int)
    steps = np.zeros((rows, columns + 1), int)
    np.add.at(steps, (row, column), np.where((y2 < y)[edge], 1, -1))
    return np.cumsum(steps, axis=1)[:, :columns], low


def coverage(lot):
    """Treated, gap, overlap and all ground, m2, by counting cells."""
    origin = lot.rings[0].min(axis=0)
    columns, rows = np.ceil((lot.rings[0].max(axis=0) - origin) / CELL_M).astype(int)
    shape = (rows, columns)

    def add(ring, to):
        found, (west, south) = windings(ring, origin, shape)
        part = to[south : south + found.shape[0], west : west + found.shape[1]]
        part += found[: part.shape[0], : part.shape[1]]

    zone = np.zeros(shape, int)
    for ring in lot.rings:
        add(ring, zone)
    passes = np.zeros(shape, "i2")
    for rings in lot.runs():
        own = np.zeros(shape, "i1")
        for ring in rings:
            found, (west, south) = windings(ring, origin, shape)
            own[south : south + found.shape[0], west : west + found.shape[1]] |= found != 0
        passes += own
    zone = zone != 0
    treated, twice = zone & (passes > 0), zone & (passes > 1)
    cell_m2 = CELL_M * CELL_M
    areas = [cell_m2 * np.count_nonzero(cells) for cells in (treated, zone & ~treated, twice, zone)]
    return tuple(areas)


if __name__ == "__main__":
    main(coverage)
