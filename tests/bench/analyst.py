"""What an analyst would write for the same night with lxml, numpy and shapely: for each lot its treated
ground, overlap, gap and rate. Straight lines between fixes, whole boom steps, no dose grid, no findings.

    python3 tests/bench/analyst.py NIGHT        prints one line a lot, in two processes
"""

import json
import math
import multiprocessing
import pathlib
import sys
import tomllib

import numpy as np
import shapely
from lxml import etree

GPX = "{http://www.topografix.com/GPX/1/1}"
OWN = "{urn:swathbook:log:1}"
HALF_EQUATOR_M = 6378137.0 * math.pi


def local_metres(lon, lat, lon0, lat0):
    """East and north of a place, good to a thousandth over one lot."""
    east = (lon - lon0) * HALF_EQUATOR_M / 180 * math.cos(math.radians(lat0))
    north = (lat - lat0) * HALF_EQUATOR_M / 180
    return east, north


def read(path):
    """Columns of a log: seconds, lon, lat, litres a second, section states."""
    seconds, lon, lat, flow, states = [], [], [], [], []
    for _, point in etree.iterparse(path, tag=GPX + "trkpt"):
        lon.append(float(point.get("lon")))
        lat.append(float(point.get("lat")))
        seconds.append(np.datetime64(point.findtext(GPX + "time")[:-1], "ms"))
        flow.append(float(point.findtext(f"{GPX}extensions/{OWN}flow")) / 60)
        states.append(point.findtext(f"{GPX}extensions/{OWN}sections"))
        point.clear()
        while point.getprevious() is not None:
            del point.getparent()[0]
    seconds = np.array(seconds).astype("int64") / 1000
    open_ = np.array([[letter == "1" for letter in state] for state in states])
    return seconds, np.array(lon), np.array(lat), np.array(flow), open_


def strips(x, y, open_, widths, ahead):
    """Per step the polygon of each run of open sections, with the step's number."""
    heading = np.arctan2(np.diff(y, append=y[-1]), np.diff(x, append=x[-1]))
    edges = np.concatenate([[0], np.cumsum(widths)]) - sum(widths) / 2
    bx, by = x - ahead * np.cos(heading), y - ahead * np.sin(heading)
    found, steps = [], []
    for k in range(len(x) - 1):
        first = None
        for section in range(len(widths) + 1):
            is_open = section < len(widths) and open_[k, section]
            if is_open and first is None:
                first = section
            if not is_open and first is not None:
                corners = []
                for at, ends in ((k, (first, section)), (k + 1, (section, first))):
                    for edge in ends:
                        right = edges[edge]
                        corners.append(
                            (bx[at] + right * math.sin(heading[k]), by[at] - right * math.cos(heading[k]))
                        )
                found.append(shapely.Polygon(corners))
                steps.append(k)
                first = None
    return found, np.array(steps, dtype=int)


def passes(polygons, steps):
    """The union of each unbroken run of steps."""
    ends = np.flatnonzero(np.diff(steps) > 1) + 1
    return [shapely.union_all(part) for part in np.split(np.array(polygons), ends)]


def audit_rig(job):
    """One line for each lot that a rig treated."""
    path, rig, lots = job
    seconds, lon, lat, flow, open_ = read(path)
    widths = [float(width.split()[0]) for width in rig["sections"]]
    ahead = float(rig["antenna"]["ahead"].split()[0])
    lines = []
    for site, rings in lots:
        outer = np.array(rings[0])
        (west, south), (east, north) = outer.min(axis=0), outer.max(axis=0)
        near = (lon > west - 3e-4) & (lon < east + 3e-4) & (lat > south - 3e-4) & (lat < north + 3e-4)
        if not (near & open_.any(axis=1)).any():
            continue
        lon0, lat0 = outer.mean(axis=0)
        x, y = local_metres(lon[near], lat[near], lon0, lat0)
        shell, *holes = [metres_of_ring(ring, lon0, lat0) for ring in rings]
        zone = shapely.Polygon(shell, holes)
        polygons, steps = strips(x, y, open_[near], widths, ahead)
        grounds = [shapely.intersection(ground, zone) for ground in passes(polygons, steps)]
        treated = shapely.union_all(grounds)
        tree = shapely.STRtree(grounds)
        twice = [
            shapely.intersection(grounds[a], grounds[b])
            for a, b in zip(*tree.query(grounds, predicate="intersects"))
            if a < b
        ]
        overlap = shapely.union_all(twice).area
        interval = np.diff(seconds[near], append=seconds[near][-1])
        litres = float((flow[near] * np.minimum(interval, 5)).sum())
        lines.append(
            f"{site}: treated {treated.area:.1f} m2, gap {zone.area - treated.area:.1f} m2, "
            f"overlap {overlap:.1f} m2, {1000 * litres / zone.area:.2f} mL/m2"
        )
    return lines


def metres_of_ring(ring, lon0, lat0):
    ring = np.array(ring)
    return np.column_stack(local_metres(ring[:, 0], ring[:, 1], lon0, lat0))


def main():
    night = pathlib.Path(sys.argv[1])
    rigs = tomllib.loads((night / "fleet.toml").read_text())["rig"]
    sites = json.loads((night / "sites.geojson").read_text())["features"]
    lots = [(site["properties"]["site"], site["geometry"]["coordinates"]) for site in sites]
    jobs = [(str(night / f"logs/{rig['id']}.gpx"), rig, lots) for rig in rigs]
    with multiprocessing.Pool(2) as pool:
        for lines in pool.imap(audit_rig, jobs, chunksize=1):
            print("\n".join(lines))


if __name__ == "__main__":
    main()
