"""Reach and plans of `swathbook measure`, computed again with GEOS.

    python check_reach.py PROGRAM [LOTS]

Reach: the same erosions in GEOS (shapely with a fixed grid), with a search over places and headings of its own on a
grid of 0.25 m, over numpy. Plans: treated, doubled and swept ground of the lanes in `drive-plan.gpx`.
"""

import json
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from math import atan2, cos, degrees, hypot, pi, radians, sin, sqrt
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, Polygon

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures/lots"
FT, GRID = 0.3048, 1e-7
CLEARANCE = 2 * FT
# The rig `finch` of fixtures/lots/fleet.toml.
WIDTH, AHEAD, BEHIND = 6.7 * FT, 15.5 * FT, 4.5 * FT
BOOM, BOOM_AHEAD = 10 * FT, -6.5 * FT
SECTIONS = [-5 * FT, -2.5 * FT, 0.0, 2.5 * FT, 5 * FT]
RADIUS = sqrt((25 * FT) ** 2 - (12 * FT) ** 2) - WIDTH / 2
ANTENNA = 13 * FT
A, F = 6378137.0, 1 / 298.257223563


class Plane:
    """Ellipsoidal radii at the middle: good to 1e-7 over a lot."""

    def __init__(self, lon, lat):
        e2, s = F * (2 - F), sin(radians(lat))
        self.lon, self.lat = lon, lat
        self.n = A / sqrt(1 - e2 * s * s)
        self.m = A * (1 - e2) / sqrt(1 - e2 * s * s) ** 3

    def xy(self, lon, lat):
        # The second-order terms: the parallel's radius changes with latitude, and meridians converge.
        dlon, dlat = radians(lon - self.lon), radians(lat - self.lat)
        mid = radians((lat + self.lat) / 2)
        x = dlon * self.n * cos(radians(lat))
        y = dlat * self.m + dlon * dlon / 2 * self.n * sin(mid) * cos(mid)
        return x, y


def outlines(features):
    for feature in features:
        rings = feature["geometry"]["coordinates"]
        lons, lats = zip(*rings[0])
        plane = Plane((min(lons) + max(lons)) / 2, (min(lats) + max(lats)) / 2)
        rings = [[plane.xy(*p) for p in ring] for ring in rings]
        yield feature["properties"]["site"], plane, Polygon(rings[0], rings[1:])


def union(shapes):
    return shapely.union_all(shapes, grid_size=GRID)


def rings_of(shape):
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            yield from (part.exterior, *part.interiors)


def edges_of(shape):
    for ring in rings_of(shape):
        points = list(ring.coords)
        yield from zip(points, points[1:])


def eroded(ground, angle):
    c, s = cos(angle), sin(angle)
    half, side = (AHEAD + BEHIND) / 2, WIDTH / 2
    corners = np.array([(u * c - v * s, u * s + v * c) for u in (-half, half) for v in (-side, side)])
    hulls = [MultiPoint(np.concatenate([corners + a, corners + b])).convex_hull for a, b in edges_of(ground)]
    return shapely.difference(ground, union(hulls), grid_size=GRID)


def swept(shape, angle):
    across = np.array([-sin(angle), cos(angle)]) * BOOM / 2
    quads = [MultiPoint([a - across, a + across, b - across, b + across]).convex_hull
             for a, b in ((np.array(a), np.array(b)) for a, b in edges_of(shape))]
    return union([shape, *quads])


def headings(lot):
    found = {}
    edges = sorted(edges_of(lot), key=lambda e: -hypot(e[1][0] - e[0][0], e[1][1] - e[0][1]))
    long_edge = None
    for a, b in edges:
        length = hypot(b[0] - a[0], b[1] - a[1])
        angle = atan2(b[1] - a[1], b[0] - a[0]) % pi
        long_edge = angle if long_edge is None else long_edge
        if length < 3:
            continue
        near = [k for k in found if min((k - angle) % pi, (angle - k) % pi) < radians(0.5)]
        if near:
            found[near[0]] += length
        else:
            found[angle] = length
    best = sorted(found, key=lambda k: -found[k])[:16]
    for k in range(12):
        angle = (long_edge + k * pi / 12) % pi
        if all(min((known - angle) % pi, (angle - known) % pi) >= radians(0.5) for known in best):
            best.append(angle)
    return best


def places(lot):
    """Of 72 headings: grid points that the body's middle gets to, in the greatest set that hangs together."""
    west, south, east, north = lot.bounds
    step = 0.25
    xs, ys = np.arange(west, east, step), np.arange(south, north, step)
    gx, gy = np.meshgrid(xs, ys)
    half_turn = [shapely.contains_xy(eroded(lot, k * pi / 36), gx, gy) for k in range(36)]
    free = np.array(half_turn + half_turn)
    middle = (AHEAD - BEHIND) / 2
    moves = []
    for k in range(72):
        angle = (k + 0.5) * pi / 36
        ahead, left = np.array([cos(angle), sin(angle)]), np.array([-sin(angle), cos(angle)])
        moves.append([np.rint((w * RADIUS * pi / 36 * ahead + middle * pi / 36 * left) / step).astype(int) for w in (1, -1)])
    best, left_over = np.zeros_like(free), free.copy()
    while left_over.any() and left_over.any(axis=0).sum() > best.any(axis=0).sum():
        k, j, i = np.argwhere(left_over)[len(np.argwhere(left_over)) // 2]
        seen = np.zeros_like(free)
        seen[k, j, i] = True
        front = {k}
        while front:
            k = front.pop()
            before = None
            angle = k * pi / 36
            steps = {(round(cos(a)), round(sin(a))) for a in (angle - pi / 8, angle, angle + pi / 8)}
            while before is None or (seen[k] != before).any():
                before = seen[k].copy()
                for dx, dy in steps:
                    for sign in (1, -1):
                        seen[k] |= shifted(seen[k], sign * dx, sign * dy) & free[k]
            for k2, ways in ((k + 1) % 72, moves[k]), ((k - 1) % 72, [-m for m in moves[(k - 1) % 72]]):
                new = seen[k2].copy()
                for dx, dy in ways:
                    new |= shifted(seen[k], dx, dy) & free[k2]
                if (new != seen[k2]).any():
                    seen[k2] = new
                    front.add(k2)
        left_over &= ~seen
        if seen.any(axis=0).sum() > best.any(axis=0).sum():
            best = seen
    return gx, gy, best


def shifted(grid, dx, dy):
    out = np.zeros_like(grid)
    h, w = grid.shape
    out[max(dy, 0):h + min(dy, 0), max(dx, 0):w + min(dx, 0)] = grid[max(-dy, 0):h + min(-dy, 0), max(-dx, 0):w + min(-dx, 0)]
    return out


def reach(lot):
    gx, gy, seen = places(lot)
    holes = union([Polygon(r) for p in shapely.get_parts(lot) for r in p.interiors]).buffer(CLEARANCE, quad_segs=16)
    target = shapely.difference(lot, lot.boundary.buffer(CLEARANCE, quad_segs=16), grid_size=GRID)
    grounds = []
    for angle in headings(lot):
        pieces = [p for p in shapely.get_parts(eroded(lot, angle)) if p.geom_type == "Polygon"]
        hit = swept(holes, angle) if not holes.is_empty else None
        for turn in (0, pi):
            k = round((angle + turn) / (pi / 36))
            at = seen[k % 72] | seen[(k + 1) % 72] | seen[(k - 1) % 72]
            points = shapely.points(gx[at], gy[at])
            own = [p for p in pieces if len(points) and shapely.STRtree(points).query(p, predicate="contains").size]
            if not own:
                continue
            by = (BOOM_AHEAD - (AHEAD - BEHIND) / 2) * np.array([cos(angle + turn), sin(angle + turn)])
            middles = shapely.transform(union(own), lambda xy: xy + by)
            if hit is not None:
                middles = shapely.difference(middles, hit, grid_size=GRID)
            grounds.append(swept(middles, angle))
    return shapely.intersection(union(grounds), target, grid_size=GRID).area if grounds else 0.0


def strips(path, planes, lots):
    """Of each site: one polygon for every stretch with a section open, from the points of the plan alone."""
    ns = {"g": "http://www.topografix.com/GPX/1/1", "s": "urn:swathbook:log:1"}
    found = {site: [] for site in planes}
    for segment in ET.parse(path).iterfind(".//g:trkseg", ns):
        points = [(float(p.get("lon")), float(p.get("lat")), p.find(".//s:sections", ns).text,
                   float(p.find(".//s:heading", ns).text)) for p in segment.iterfind("g:trkpt", ns)]
        site = min(planes, key=lambda s: abs(planes[s].lon - points[0][0]))
        plane, lane = planes[site], []
        for (lon, lat, states, heading), (lon2, lat2, _, heading2) in zip(points, points[1:]):
            a, b = np.array(plane.xy(lon, lat)), np.array(plane.xy(lon2, lat2))
            if not "1" in states or (a == b).all():
                continue
            # Each boom line square to the heading of its own point: lanes may bend.
            (a, right), (b, right2) = boom(a, heading), boom(b, heading2)
            lane += [MultiPoint([a + right * SECTIONS[i], b + right2 * SECTIONS[i], b + right2 * SECTIONS[i + 1], a + right * SECTIONS[i + 1]]).convex_hull
                     for i, state in enumerate(states) if state == "1"]
        found[site].append(lane)
    return found


def boom(antenna, heading):
    """The boom's middle, and the unit vector to its right."""
    h = radians(90 - heading)
    ahead, right = np.array([cos(h), sin(h)]), np.array([sin(h), -cos(h)])
    return antenna - ANTENNA * ahead, right


def main():
    program, most = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 12
    document = json.loads((FIXTURES / "helsinki.geojson").read_text())
    # Lots of several boom widths, from small to great, so that the grids stay small.
    all_lots = sorted(((s, p, lot) for s, p, lot in outlines(document["features"]) if 300 < lot.area < 3000), key=lambda x: x[2].area)
    chosen = all_lots[:: max(1, len(all_lots) // most)][:most]
    names = {site for site, _, _ in chosen}
    document["features"] = [f for f in document["features"] if f["properties"]["site"] in names]
    with tempfile.TemporaryDirectory() as folder:
        sites = Path(folder) / "sites.geojson"
        sites.write_text(json.dumps(document))
        subprocess.run([program, "measure", "--fleet", FIXTURES / "fleet.toml", "--sites", sites, "--rig", "finch", "--out", folder],
                       check=True, stdout=subprocess.DEVNULL)
        sheet = json.loads((Path(folder) / "measure.json").read_text())
        planes = {site: plane for site, plane, _ in chosen}
        laid = strips(Path(folder) / "drive-plan.gpx", planes, chosen)
    rigs = {site["site"]: site["rigs"][0] for site in sheet["sites"]}
    worst_reach = worst_plan = 0.0
    for site, _, lot in chosen:
        rig, expected = rigs[site], reach(lot)
        off = abs(rig["reach_m2"] - expected) / lot.area
        worst_reach = max(worst_reach, off)
        assert off < 3e-3, f"{site}: reach {rig['reach_m2']:.3f}, GEOS {expected:.3f} of {lot.area:.1f} m2"
        lanes = [union(lane) for lane in laid[site]]
        ground = shapely.intersection(union(lanes), lot, grid_size=GRID)
        swept_m2 = sum(shapely.intersection(s, lot).area for lane in laid[site] for s in lane)
        shared = [shapely.intersection(a, b, grid_size=GRID) for i, a in enumerate(lanes) for b in lanes[:i] if a.intersects(b)]
        shared = [p for s in shared for p in shapely.get_parts(s) if p.geom_type == "Polygon"]
        twice_m2 = shapely.intersection(union(shared), lot, grid_size=GRID).area if shared else 0.0
        for name, value in ("treated_m2", ground.area), ("swept_m2", swept_m2), ("overlap_m2", twice_m2):
            off = abs(rig["plan"][name] - value) / lot.area
            worst_plan = max(worst_plan, off)
            assert off < 1e-5, f"{site}: {name} {rig['plan'][name]:.4f}, GEOS {value:.4f}"
    print(f"{len(chosen)} lots: reach within {worst_reach:.1e}, plans within {worst_plan:.1e} of the zone")


if __name__ == "__main__":
    main()
