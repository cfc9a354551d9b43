"""Holds the kept unions of `fixtures/unions` against exact fractions, and GEOS on its precision grid against both.

GEOS without a grid loses ground on each of them; whether the version at hand still does is told, not judged. That the
program has these areas is checked by the suite (`tests/suite/kept_unions.rs`)."""

import json
import pathlib
import sys

import shapely

import exact

GRID_M = 1e-7
LIMIT = 1e-6  # of the union's area
FIXTURES = pathlib.Path(__file__).resolve().parents[2] / "fixtures" / "unions"
SQUARE = [(0, 0), (2, 0), (2, 2), (0, 2)]
# Areas that can be worked out on squared paper: squares that overlap, share an edge, or are the same; a cross of two bars.
BY_HAND = [
    ([SQUARE, [(x + 1, y + 1) for x, y in SQUARE]], 7),
    ([SQUARE, [(x + 2, y) for x, y in SQUARE]], 8),
    ([SQUARE, SQUARE], 4),
    ([[(0, -1), (10, 9), (9, 10), (-1, 0)], [(0, 9), (9, 0), (10, 1), (1, 10)]], 36),
]


def without_grid(polygons):
    try:
        return shapely.unary_union(polygons).area
    except shapely.GEOSException:
        return 0.0


def main():
    for rings, area in BY_HAND:
        if exact.union_area(rings) != area:
            sys.exit(f"exact area of {rings}: {exact.union_area(rings)}, by hand {area}")
    if exact.union_area(BY_HAND[0][0], least=2) != 1:
        sys.exit("two squares that share a unit square do not cover it twice")
    files = sorted(FIXTURES.glob("*.json"))
    largest, lost = 0.0, 0.0
    for file in files:
        kept = json.loads(file.read_text())
        true = float(exact.union_area(kept["rings"]))
        if true != kept["area_m2"]:
            sys.exit(f"{file.name}: area_m2 is {kept['area_m2']}, in fractions {true}")
        twice = float(exact.union_area(kept["rings"], least=2))
        if twice != kept["twice_m2"]:
            sys.exit(f"{file.name}: twice_m2 is {kept['twice_m2']}, in fractions {twice}")
        polygons = [shapely.Polygon(ring) for ring in kept["rings"]]
        largest = max(largest, abs(shapely.unary_union(polygons, grid_size=GRID_M).area / true - 1))
        lost = max(lost, abs(without_grid(polygons) / true - 1))
    verdict = "ok" if files and largest <= LIMIT else "TOO MUCH"
    print(f"{len(files)} kept unions against exact fractions: GEOS on a grid off by {largest:.1e} at most {verdict}, without by {lost:.1e}")
    sys.exit(0 if verdict == "ok" else 1)


if __name__ == "__main__":
    main()
