"""The audit's four first numbers of each lot by a script written with care: regular expressions and numpy for
the log, one ring for each run of equal states, prepared zones, shapely. Straight lines between fixes, no dose, no
findings, no map.

    python3 tests/bench/careful.py NIGHT        prints a JSON object a lot, in two processes
"""

import json
import math
import multiprocessing
import pathlib
import re
import sys
import tomllib

import numpy as np
import shapely

POINT = re.compile(
    rb'<trkpt lat="([^"]*)" lon="([^"]*)">.*?<time>([^<]*)Z</time>.*?<s:flow>([^<]*)</s:flow>'
    rb"<s:sections>([01]*)</s:sections>"
)
HALF_EQUATOR_M = 6378137.0 * math.pi
NEAR_DEG = 3e-4
TURN_COS = 0.5  # a pass ends when the rig turns by more than 60 degrees


def local_metres(lon, lat, origin):
    """East and north of a place, good to a thousandth over one lot."""
    east = (lon - origin[0]) * (HALF_EQUATOR_M / 180 * math.cos(math.radians(origin[1])))
    return east, (lat - origin[1]) * (HALF_EQUATOR_M / 180)


class Log:
    """Columns of a log: seconds, lon, lat, litres a second, section states."""

    def __init__(self, path):
        lat, lon, time, flow, states = zip(*POINT.findall(path.read_bytes()))
        self.lat, self.lon = np.array(lat).astype(float), np.array(lon).astype(float)
        self.seconds = np.array(time).astype(str).astype("datetime64[ms]").astype("int64") / 1000
        self.flow = np.array(flow).astype(float) / 60
        letters = np.array(states)
        self.open = letters.view("u1").reshape(len(letters), -1) == ord("1")


class Lot:
    """One lot and the part of a log that is near it."""

    def __init__(self, rings, log, rig):
        outer = np.array(rings[0])
        (west, south), (east, north) = outer.min(axis=0) - NEAR_DEG, outer.max(axis=0) + NEAR_DEG
        near = np.flatnonzero((log.lon > west) & (log.lon < east) & (log.lat > south) & (log.lat < north))
        self.open = log.open[near]
        self.treated = bool(self.open.any())
        if not self.treated:
            return
        origin = outer.mean(axis=0)
        self.rings = [np.column_stack(local_metres(*np.array(ring).T, origin)) for ring in rings]
        self.x, self.y = local_metres(log.lon[near], log.lat[near], origin)
        self.seconds, self.flow = log.seconds[near], log.flow[near]
        widths = [float(width.split()[0]) for width in rig["sections"]]
        self.edges = np.concatenate([[0], np.cumsum(widths)]) - sum(widths) / 2
        self.ahead = float(rig["antenna"]["ahead"].split()[0])

    def litres(self, dropout_s=5):
        interval = np.diff(self.seconds, append=self.seconds[-1])
        return float((self.flow * np.where(interval <= dropout_s, interval, 0)).sum())

    def runs(self, dropout_s=5):
        """Of each pass its rings: one for each run of equal states, of each run of open sections."""
        dx, dy, dt = np.diff(self.x), np.diff(self.y), np.diff(self.seconds)
        length = np.maximum(np.hypot(dx, dy), 1e-9)
        ux, uy = dx / length, dy / length
        ux, uy = np.append(ux, ux[-1]), np.append(uy, uy[-1])
        wet = self.open[:-1].any(axis=1) & (dt <= dropout_s)
        new_state = (self.open[1:-1] != self.open[:-2]).any(axis=1)
        turned = ux[1:-1] * ux[:-2] + uy[1:-1] * uy[:-2] < TURN_COS
        cuts = np.flatnonzero(new_state | turned | (wet[1:] != wet[:-1])) + 1
        starts, ends = np.append(0, cuts), np.append(cuts, len(wet))
        bx, by = self.x - self.ahead * ux, self.y - self.ahead * uy
        passes, last = [], None
        for start, end in zip(starts, ends):
            if not wet[start]:
                continue
            if last != start or turned[start - 1]:
                passes.append([])
            last = end
            part = slice(start, end + 1)
            # The last boom line stands as the last step ran.
            hx, hy = ux[part].copy(), uy[part].copy()
            px, py = bx[part].copy(), by[part].copy()
            hx[-1], hy[-1] = hx[-2], hy[-2]
            px[-1], py[-1] = self.x[end] - self.ahead * hx[-1], self.y[end] - self.ahead * hy[-1]
            state = np.concatenate([[0], self.open[start].astype("i1"), [0]])
            firsts, lasts = np.flatnonzero(np.diff(state) == 1), np.flatnonzero(np.diff(state) == -1)
            for left, right in zip(self.edges[firsts], self.edges[lasts]):
                out = np.column_stack([px + right * hy, py - right * hx])
                back = np.column_stack([px + left * hy, py - left * hx])[::-1]
                passes[-1].append(np.concatenate([out, back]))
        return passes


def coverage(lot):
    """Treated, gap and overlap, m2."""
    zone = shapely.Polygon(lot.rings[0], lot.rings[1:])
    shapely.prepare(zone)
    grounds = []
    for rings in lot.runs():
        polygons = np.array([shapely.Polygon(ring) for ring in rings])
        valid = shapely.is_valid(polygons)
        if not valid.all():
            polygons = np.where(valid, polygons, shapely.make_valid(polygons))
        ground = polygons[0] if len(polygons) == 1 else shapely.union_all(polygons)
        grounds.append(ground if zone.contains_properly(ground) else ground.intersection(zone))
    grounds = np.array(grounds)
    treated = shapely.union_all(grounds)
    first, second = shapely.STRtree(grounds).query(grounds, predicate="intersects")
    pairs = first < second
    twice = shapely.union_all(shapely.intersection(grounds[first[pairs]], grounds[second[pairs]]))
    return treated.area, zone.area - treated.area, twice.area, zone.area


def audit_rig(job):
    """A line for each lot that a rig treated."""
    path, rig, lots, of_lot = job
    log = Log(path)
    low, high = (log.lon.min(), log.lat.min()), (log.lon.max(), log.lat.max())
    lines = []
    for site, rings, (west, south, east, north) in lots:
        if west > high[0] or east < low[0] or south > high[1] or north < low[1]:
            continue
        lot = Lot(rings, log, rig)
        if not lot.treated:
            continue
        treated, gap, overlap, area = of_lot(lot)
        found = {"treated_m2": treated, "gap_m2": gap, "overlap_m2": overlap}
        lines.append(json.dumps({"site": site, **found, "rate_over_zone_ml_m2": 1000 * lot.litres() / area}))
    return lines


def main(of_lot):
    night = pathlib.Path(sys.argv[1])
    rigs = tomllib.loads((night / "fleet.toml").read_text())["rig"]
    lots = []
    for site in json.loads((night / "sites.geojson").read_text())["features"]:
        rings = site["geometry"]["coordinates"]
        outer = np.array(rings[0])
        lots.append((site["properties"]["site"], rings, (*outer.min(axis=0), *outer.max(axis=0))))
    jobs = [(night / f"logs/{rig['id']}.gpx", rig, lots, of_lot) for rig in rigs]
    with multiprocessing.Pool(2) as pool:
        for lines in pool.imap(audit_rig, jobs, chunksize=1):
            print("\n".join(lines))


if __name__ == "__main__":
    main(coverage)
