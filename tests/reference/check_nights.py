"""Recomputes random nights with GEOS and GeographicLib and prints the largest differences.

GEOS's default union can lose area or fail on such input, so everything is computed on a fixed precision grid of
1e-7 m (`grid_size`); how often the default comes out otherwise is counted and told. Sources: GEOS through shapely; C. F. F. Karney, GeographicLib (doi:10.1007/s00190-012-0578-z)."""

import collections
import json
import multiprocessing
import pathlib
import random
import subprocess
import sys
import tempfile

import shapely

import geodesic
import nights

GRID_M = 1e-7
AREA_LIMIT = 1e-6  # of the zone's area
VOLUME_LIMIT = 1e-8  # of the night's litres: GEOS has the zone on its grid of 1e-7 m, the program on one of 6e-8 m
CELL_LIMIT = 1e-6  # of a cell's litres at the zone's mean rate, or at the densest spot there
PATCH_LIMIT = 0.01  # of the patch area: round corners of two different buffers
MIN_PATCH_M2 = 10.0
CELLS = 40  # looked at on each dose grid, by chance
PROCESSES = 2
# Nights on which GEOS without a precision grid loses area (GEOS 3.14): kept by their seeds, always checked.
KEPT = (171, 176, 183, 187)
# What a run without each of these would not show: a check that never ran has not passed.
KINDS = {
    "dose cells' sum against litres",
    "dose grid's mean against litres",
    "dose shares against 1",
    "drawn area against GeographicLib",
    "gap area against GEOS",
    "ledger lines against the meter",
    "litres of a cell against GEOS",
    "litres on a zone against GEOS",
    "overlap area against GEOS",
    "patches against GEOS buffers",
    "treated area against GEOS",
    "unlogged area against GEOS",
    "written polygons not valid",
    *(f"written {kind} against GeographicLib" for kind in ("zone", "treated", "overlap", "unlogged", "gap", "patch")),
}


def polygon(rings):
    """Polygons of a zone: outer rings run counter-clockwise, holes clockwise."""
    # The greatest first: an island in a hole is put back after the hole was taken out.
    ground = shapely.MultiPolygon()
    for shape in sorted((shapely.Polygon(ring) for ring in rings), key=lambda shape: -shape.area):
        ground = union([ground, shape]) if shape.exterior.is_ccw else difference(ground, shape)
    return ground


def areal(shape):
    """The polygons of a result: GEOS adds lines and points where grounds only touch."""
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return shapely.MultiPolygon(parts)


def union(shapes):
    return areal(shapely.unary_union(shapes, grid_size=GRID_M))


def intersection(a, b):
    return areal(shapely.intersection(a, b, grid_size=GRID_M))


def difference(a, b):
    return areal(shapely.difference(a, b, grid_size=GRID_M))


def twice_covered(passes):
    """Ground in two passes or more: the union of what every two of them share."""
    tree = shapely.STRtree(passes)
    first, second = tree.query(passes, predicate="intersects")
    return union([intersection(passes[i], passes[k]) for i, k in zip(first, second) if i < k])


class Worst:
    """Largest difference by kind, with its limit."""

    def __init__(self):
        self.seen = {}
        self.counts = collections.Counter()
        self.default_unions = 0
        self.default_failed = []

    def note(self, kind, difference, limit, where):
        self.counts[kind] += 1
        known = self.seen.get(kind)
        if known is None or difference / limit > known[0] / known[1]:
            self.seen[kind] = (difference, limit, where)

    def add(self, other):
        counts = self.counts + other.counts
        for kind, (difference, limit, where) in other.seen.items():
            self.note(kind, difference, limit, where)
        self.counts = counts
        self.default_unions += other.default_unions
        self.default_failed += other.default_failed

    def report(self):
        failed = 0
        for kind, (difference, limit, where) in sorted(self.seen.items()):
            verdict = "ok" if difference <= limit else "TOO MUCH"
            failed += difference > limit
            print(f"  {kind:38} {self.counts[kind]:6} times  largest {difference:.2e}  limit {limit:g}  {verdict}  ({where})")
        for kind in sorted(KINDS - self.seen.keys()):
            failed += 1
            print(f"  {kind:38} NEVER CHECKED")
        wrong = "".join(f"; {where}" for where in self.default_failed[:5])
        print(f"  GEOS without a precision grid failed or lost area in {len(self.default_failed)} of {self.default_unions} unions{wrong}")
        return failed


def check_night(program, folder, seed, worst):
    out = folder / "out"
    run = subprocess.run([program, "audit", folder, "--out", out, "--strips", "--fail-on", "never"], capture_output=True, text=True)
    if run.returncode != 0:
        sys.exit(f"night {seed}: exit {run.returncode}\n{run.stderr}")
    audit = json.loads((out / "audit.json").read_text())
    strips = json.loads((out / "strips.json").read_text())
    sites = json.loads((folder / "sites.geojson").read_text())
    drawn = {feature["properties"]["zone"]: feature["geometry"]["coordinates"] for feature in sites["features"]}
    metered = sum(run["ledger_l"]["metered"] for run in audit["runs"])
    for run in audit["runs"]:
        lines = run["ledger_l"]
        total = sum(value for name, value in lines.items() if name != "metered")
        worst.note("ledger lines against the meter", abs(total - lines["metered"]) / max(lines["metered"], 1.0), 1e-9, f"night {seed}")
    check_written(json.loads((out / "coverage.geojson").read_text()), seed, worst)
    for site, made in zip(audit["sites"], strips):
        grounds = {zone: polygon(rings) for zone, rings in made["zones"]}
        for ground in site["ground"]:
            true = geodesic.drawn_area(drawn[ground["zone"]])
            # Two zones may be stars that cross themselves: then the program repairs, and geodesic areas mean nothing.
            if shapely.Polygon(drawn[ground["zone"]][0]).is_valid:
                share = abs(ground["area_drawn_m2"] - true) / (geodesic.KARNEY_M2 + AREA_LIMIT * true)
                worst.note("drawn area against GeographicLib", share, 1.0, f"night {seed} {ground['zone']}")
        for application, parts in zip(site["applications"], made["applications"]):
            radius = 0.5
            check_application(application, parts, grounds, metered, radius, seed, worst)


def check_written(coverage, seed, worst):
    """Polygons of coverage.geojson: valid as GEOS sees it, and their areas on the ellipsoid as shares of what is allowed."""
    for feature in coverage["features"]:
        told, polygons = feature["properties"], feature["geometry"]["coordinates"]
        invalid = not shapely.geometry.shape(feature["geometry"]).is_valid
        worst.note("written polygons not valid", float(invalid), 0.5, f"night {seed} {told['zone']} {told['kind']}")
        if told.get("area_m2") is not None:  # driven lines have none
            share = abs(told["area_m2"] - geodesic.written_area(polygons)) / geodesic.allowed_m2(told["kind"], polygons)
            worst.note(f"written {told['kind']} against GeographicLib", share, 1.0, f"night {seed} {told['zone']}")


def check_application(application, parts, grounds, metered, radius, seed, worst):
    passes = [union([shapely.Polygon(ring) for ring in rings]) for rings in parts["passes"]]
    once, twice = union(passes), twice_covered(passes)
    check_default_union(parts["passes"], once, f"night {seed}", worst)
    grids = {grid["zone"]: grid for grid in parts["grids"]}
    corridor = union([shapely.Polygon(ring) for ring in parts["unlogged"]]) if parts["unlogged"] else shapely.Polygon()
    pieces = [(shapely.Polygon(ring), litres) for ring, litres in parts["pieces"]]
    tree = shapely.STRtree([piece for piece, _ in pieces]) if pieces else None
    for zone in application["zones"]:
        ground, where = grounds[zone["zone"]], f"night {seed} {zone['zone']}"
        area = zone["area_m2"]
        treated = intersection(ground, once)
        bare = difference(ground, once)
        unlogged = intersection(bare, corridor)
        gap = difference(bare, corridor)
        overlap = intersection(ground, twice)
        if zone["treated_m2"] is not None:
            check_areas(zone, area, {"treated": treated, "gap": gap, "overlap": overlap, "unlogged": unlogged}, where, worst)
            if zone["patches"] is not None:
                check_patches(zone, gap, radius, where, worst)
        if tree is not None and zone["volume_l"] is not None:
            litres = sum(
                pieces[k][1] * pieces[k][0].intersection(ground).area / pieces[k][0].area
                for k in tree.query(ground)
                if pieces[k][0].area > 0
            )
            worst.note("litres on a zone against GEOS", abs(litres - zone["volume_l"]) / metered, VOLUME_LIMIT, where)
            check_cells(grids[zone["zone"]], ground, tree, pieces, zone["volume_l"], random.Random(seed), where, worst)
        if zone["dose"] is not None:
            on_unlogged = sum(volume * piece.intersection(unlogged).area / piece.area for piece, volume in pieces if piece.area > 0)
            check_dose(zone, on_unlogged, where, worst)


def check_areas(zone, area, grounds, where, worst):
    for kind, ground in grounds.items():
        worst.note(f"{kind} area against GEOS", abs(zone[f"{kind}_m2"] - ground.area) / area, AREA_LIMIT, where)


def check_default_union(passes, once, where, worst):
    """The same union without a precision grid: GEOS may be wrong there, and what it says is only counted."""
    worst.default_unions += 1
    try:
        area = shapely.unary_union([shapely.Polygon(ring) for rings in passes for ring in rings]).area
    except shapely.GEOSException:
        area = 0.0
    if once.area > 0 and abs(area / once.area - 1) > AREA_LIMIT:
        worst.default_failed.append(f"{where}: {area:.6f} for {once.area:.6f} m2")


def check_cells(grid, ground, tree, pieces, volume, chance, where, worst):
    """Litres of a dose grid: their sum, and those of some cells by clipping every piece with cell and zone."""
    litres, side = grid["litres"], grid["cell_m"]
    worst.note("dose cells' sum against litres", abs(sum(litres) - volume) / max(volume, 1.0), VOLUME_LIMIT, where)
    mean = max(volume, 1.0) / ground.area * side * side
    for index in chance.sample(range(len(litres)), min(CELLS, len(litres))):
        row, column = divmod(index, grid["columns"])
        x, y = grid["origin"][0] + column * side, grid["origin"][1] + row * side
        cell = shapely.box(x, y, x + side, y + side).intersection(ground)
        here = [pieces[k] for k in tree.query(cell) if pieces[k][0].area > 0]
        want = sum(volume * piece.intersection(cell).area / piece.area for piece, volume in here)
        # A rig that stands puts much on little ground, and a border's rounding counts for as much more there.
        densest = max([mean] + [volume / piece.area * side * side for piece, volume in here])
        worst.note("litres of a cell against GEOS", abs(litres[index] - want) / densest, CELL_LIMIT, where)


def check_patches(zone, gap, radius, where, worst):
    opened = gap.buffer(-radius, quad_segs=16).buffer(radius, quad_segs=16).intersection(gap)
    parts = [part.area for part in getattr(opened, "geoms", [opened])]
    clear = [area for area in parts if area > MIN_PATCH_M2 * 1.05]
    unsure = sum(area for area in parts if MIN_PATCH_M2 * 0.95 < area <= MIN_PATCH_M2 * 1.05)
    got = sum(patch["area_m2"] for patch in zone["patches"])
    difference = max(0.0, abs(got - sum(clear)) - unsure)
    worst.note("patches against GEOS buffers", difference / max(sum(clear), 100.0), PATCH_LIMIT, where)


def check_dose(zone, on_unlogged, where, worst):
    """The mean is that of the known cells: what a standing rig laid on unlogged ground may be left out."""
    dose = zone["dose"]
    known = zone["area_m2"] * (1 - dose["share_unknown"])
    over = dose["mean_ml_m2"] * known / 1000 - zone["volume_l"]
    difference = max(0.0, over, -over - on_unlogged)
    worst.note("dose grid's mean against litres", difference / max(zone["volume_l"], 1.0), 1e-6, where)
    shares = [dose[name] for name in ("share_under", "share_within", "share_over", "share_unknown")]
    worst.note("dose shares against 1", abs(sum(shares) - 1), 5e-9, where)  # four shares, each rounded to 1e-9


def one_night(program, seed):
    worst = Worst()
    with tempfile.TemporaryDirectory() as temporary:
        folder = pathlib.Path(temporary) / f"night{seed}"
        nights.write(folder, seed)
        check_night(program, folder, seed, worst)
    return worst


def main():
    program, count = pathlib.Path(sys.argv[1]).resolve(), int(sys.argv[2])
    worst = Worst()
    with multiprocessing.Pool(PROCESSES) as pool:
        jobs = [(program, seed) for seed in sorted({*range(1, count + 1), *KEPT})]
        for own in pool.starmap(one_night, jobs, chunksize=1):
            worst.add(own)
    print(f"{len(jobs)} random nights, {worst.counts.total()} comparisons:")
    failed = worst.report()
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
