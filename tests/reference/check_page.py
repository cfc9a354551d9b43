"""The page against outside readers: HTML by html5lib in strict mode (one parse error fails), areas of the plans read
back from their outlines with GEOS, scale and north of the plans with GeographicLib, arrows against the logs, places of
the links and counts against audit.json."""

import gzip
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile

import html5lib
from geographiclib.geodesic import Geodesic
from shapely.geometry import LineString, Point, Polygon

SVG = "{http://www.w3.org/2000/svg}"
HTML = "{http://www.w3.org/1999/xhtml}"
NIGHT = pathlib.Path("demo-data/night")
# An outline is simplified to 0.1 m, m.
OFF_M = 0.1
# Pieces that are not drawn: under 0.3 m2 each, and slivers have many.
SPECKS_M2 = 2
# A zone line is simplified to 0.05 m, rounded to a decimetre, and its corners are written to 1e-8 degrees, m.
CORNER_M = 0.13
# An arrow stands a third of the way along a pass; the next fix is a step away, and wobbles, degrees.
TURNED_DEG = 12
# The antenna's way on an arrow's own lane is this near; the next lane is farther off, m.
NEAR_M = 1.5


def steps(data):
    """Subpaths of SVG path data that knows M, l and z only, in decimetres."""
    for part in re.findall(r"M[^Mz]*", data):
        points = []
        for command, x, y in re.findall(r"([Ml])(-?\d+) (-?\d+)", part):
            x, y = int(x), int(y)
            points.append((x, y) if command == "M" else (points[-1][0] + x, points[-1][1] + y))
        yield points


def drawn(svg, classes):
    """Area and length of the outlines of some classes, m; holes are rings inside rings."""
    area, length = 0.0, 0.0
    for path in svg.iter(SVG + "path"):
        if path.get("class") not in classes:
            continue
        shape = Polygon()
        for points in steps(path.get("d")):
            ring = Polygon([(x / 10, y / 10) for x, y in points]).buffer(0)
            shape = shape.symmetric_difference(ring)
            length += ring.length
        area += shape.area
    return area, length


def check_areas(svg, site, application, name):
    zones = [zone for zone in application["zones"] if zone["treated_m2"] is not None]
    likely = [patch["area_m2"] for zone in zones for patch in zone["patches"] or [] if patch["likely"]]
    keep_off = sum(zone["area_m2"] for zone in site["ground"] if zone["use"] == "keep_off")
    wanted = {
        "t": sum(zone["treated_m2"] for zone in zones),
        "p": sum(likely),
        "u": sum(zone["unlogged_m2"] for zone in zones),
        "k": keep_off,
    }
    for one, want in wanted.items():
        got, length = drawn(svg, [one])
        off = abs(got - want)
        assert off <= OFF_M * length + SPECKS_M2, f"{name}, {one}: {got:.1f} is not {want:.1f} m2"
    assert svg.find(SVG + "title").text, f"{name}: no title"
    return len(likely)


class Ground:
    """East and north of places from a corner of a site, m, and where the plan has that corner."""

    def __init__(self, svg, corners):
        self.lon, self.lat = corners[0]
        lines = [path for path in svg.iter(SVG + "path") if path.get("class") in ("l", "k", "b")]
        points = [point for path in lines for line in steps(path.get("d")) for point in line]
        want = [self.place(*corner) for corner in corners]
        # Each corner of the plan is tried as the first one: all others must lie right, too.
        self.off = math.inf
        for x, y in points:
            moved = [(x + 10 * east, y - 10 * north) for east, north in want]
            off = max(min(math.dist(at, point) for point in points) for at in moved) / 10
            if off < self.off:
                self.off, self.origin = off, (x, y)

    def place(self, lon, lat):
        line = Geodesic.WGS84.Inverse(self.lat, self.lon, lat, lon)
        turn = math.radians(line["azi1"])
        return line["s12"] * math.sin(turn), line["s12"] * math.cos(turn)

    def on_plan(self, lon, lat):
        east, north = self.place(lon, lat)
        return self.origin[0] + 10 * east, self.origin[1] - 10 * north


def check_ground(svg, features, name):
    """Corners lie where they do on earth, so that the plan has its scale and north is up; the bar has its length."""
    to_treat = [of for of in features if of["properties"].get("use") in ("lot", "drive", None)]
    ground = Ground(svg, [corner for of in to_treat for corner in of["geometry"]["coordinates"][0][:-1]])
    assert ground.off <= CORNER_M, f"{name}: a corner is {ground.off:.2f} m off"
    bar = next(path.get("d") for path in svg.iter(SVG + "path") if path.get("class") == "s")
    length_dm = int(re.match(r"M-?\d+ -?\d+v\d+h(\d+)v", bar).group(1))
    label = next(text.text for text in svg.iter(SVG + "text") if text.get("class") == "st")
    feet = int(re.match(r"(\d+) ft \(", label).group(1))
    assert abs(length_dm - feet * 3.048) <= 0.5, f"{name}: the bar of {feet} ft is {length_dm} dm long"
    return ground


def fixes():
    for path in sorted((NIGHT / "logs").iterdir()):
        text = (gzip.open(path, "rt") if path.suffix == ".gz" else path.open()).read()
        points = re.findall(r'<trkpt lat="([^"]+)" lon="([^"]+)"', text)
        yield [(float(lon), float(lat)) for lat, lon in points]


def check_arrows(svg, ground, logs, name):
    """Each arrow points as a rig went there: lanes driven the other way lie farther off."""
    path = next((path for path in svg.iter(SVG + "path") if path.get("class") == "a"), None)
    arrows = [points for points in steps(path.get("d")) if len(points) == 2] if path is not None else []
    for tail, tip in arrows:
        middle = ((tail[0] + tip[0]) / 2, (tail[1] + tip[1]) / 2)
        way = math.atan2(tip[1] - tail[1], tip[0] - tail[0])
        turned = []
        for log in logs:
            for here, there in zip(log, log[1:]):
                if math.dist(here, middle) > 200:
                    continue
                way_m = math.dist(here, there) / 10
                if 0.5 < way_m < 15 and LineString([here, there]).distance(Point(middle)) <= 10 * NEAR_M:
                    turn = math.degrees(math.atan2(there[1] - here[1], there[0] - here[0]) - way)
                    turned.append(abs((turn + 180) % 360 - 180))
        assert turned and min(turned) <= TURNED_DEG, f"{name}: an arrow at {middle} is turned by {sorted(turned)[:3]}"
    return len(arrows)


def check_counts(page, audit):
    """A count in a table is that of the finding of the same name."""
    counts = {}
    for section in page.iter(HTML + "section"):
        if (section.get("class") or "").startswith("site"):
            site = audit["sites"][int(section.find(HTML + "h2").get("id")[1:])]["site"]
            for row in section.iter(HTML + "tr"):
                cells = [" ".join("".join(cell.itertext()).split()) for cell in row]
                cells[0] = cells[0].split(" ")[-1]
                if len(cells) == 7 and cells[3].isdigit():
                    counts[site, cells[0]] = int(cells[3])
    checked = 0
    for finding in audit["findings"]:
        told = re.search(r"no liquid on (?:(\d+) patches|a patch)", finding["text"])
        if told and finding["code"] == "bare_patch":
            want = int(told.group(1) or 1)
            got = counts[finding["site"], finding["zone"]]
            assert got == want, f"{finding['site']}: {got} patches in the table, {want} in the finding"
            checked += 1
    assert checked >= 3, f"only {checked} findings of patches"


def check_links(page, audit, features):
    """A link leads to the place of a finding or, where the whole site is meant, into its ground."""
    places = {(round(of["lat"], 6), round(of["lon"], 6)) for of in audit["findings"] if of["lat"]}
    items = page.findall(f".//{HTML}ol/{HTML}li")
    assert len(items) >= 4
    for item in items:
        link = next(a.get("href") for a in item.iter(HTML + "a") if a.get("href").startswith("geo:"))
        lat, lon = map(float, link[4:].split(","))
        site = audit["sites"][int(next(a.get("href") for a in item.iter(HTML + "a"))[2:])]["site"]
        own = [of["geometry"]["coordinates"] for of in features if of["properties"]["site"] == site]
        inside = any(Polygon(rings[0]).contains(Point(lon, lat)) for rings in own)
        assert (lat, lon) in places or inside, f"{link} leads to no finding of {site}"
        text = "".join(item.itertext())
        assert f"{lat:.5f}, {lon:.5f}" in text, f"{link} has no coordinates beside it"


def check_plans(page, audit, features):
    logs = list(fixes())
    plans = patches = arrows = 0
    for section in page.iter(HTML + "section"):
        if not (section.get("class") or "").startswith("site"):
            continue
        site = audit["sites"][int(section.find(HTML + "h2").get("id")[1:])]
        own = [feature for feature in features if feature["properties"]["site"] == site["site"]]
        classes = lambda svg: (svg.get("class") or "").split()
        svgs = [svg for svg in section.iter(SVG + "svg") if "plan" in classes(svg) and "dose" not in classes(svg)]
        for svg, application in zip(svgs, site["applications"] or [None]):
            plans += 1
            ground = check_ground(svg, own, site["site"])
            if application:
                patches += check_areas(svg, site, application, site["site"])
                moved = [[ground.on_plan(*fix) for fix in log if abs(fix[0] - ground.lon) < 0.01] for log in logs]
                arrows += check_arrows(svg, ground, moved, site["site"])
    assert plans >= 9 and patches >= 20 and arrows >= 40, (plans, patches, arrows)
    return plans, patches, arrows


def main(program):
    with tempfile.TemporaryDirectory() as out:
        command = [program, "audit", str(NIGHT), "--out", out, "--fail-on", "never"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        text = (pathlib.Path(out) / "report.html").read_bytes()
        audit = json.loads((pathlib.Path(out) / "audit.json").read_text())
    page = html5lib.HTMLParser(strict=True).parse(text, transport_encoding="utf-8")
    assert len(text) < 100_000, f"{len(text)} bytes"
    features = json.loads((NIGHT / "sites.geojson").read_text())["features"]
    check_links(page, audit, features)
    check_counts(page, audit)
    plans, patches, arrows = check_plans(page, audit, features)
    print(
        f"report.html: {len(text)} bytes, no parse error; {plans} plans lie as their ground does, "
        f"{patches} patches have their areas, {arrows} arrows point as the rigs drove"
    )


if __name__ == "__main__":
    main(sys.argv[1])
