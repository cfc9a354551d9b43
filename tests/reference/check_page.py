"""The page against outside readers: HTML by html5lib in strict mode (one parse error fails), areas of the
plans read back from their outlines with GEOS, places of the links against audit.json."""

import json
import pathlib
import re
import subprocess
import sys
import tempfile

import html5lib
from shapely.geometry import Polygon
from shapely.ops import unary_union

SVG = "{http://www.w3.org/2000/svg}"
HTML = "{http://www.w3.org/1999/xhtml}"
# An outline is simplified to 0.1 m and rounded to 0.1 m, so it lies within this of the true one, m.
OFF_M = 0.15


def rings(data):
    """Rings of SVG path data that knows M, l and z only, m."""
    for ring in re.findall(r"M[^Mz]*z", data):
        points = []
        for command, x, y in re.findall(r"([Ml])(-?\d+) (-?\d+)", ring):
            x, y = int(x) / 10, int(y) / 10
            points.append((x, y) if command == "M" else (points[-1][0] + x, points[-1][1] + y))
        yield Polygon(points).buffer(0)


def drawn(svg, classes):
    """Area and length of the outlines of some classes; holes are rings inside rings."""
    area, length = 0.0, 0.0
    for path in svg.iter(SVG + "path"):
        if path.get("class") not in classes:
            continue
        shape = Polygon()
        for ring in rings(path.get("d")):
            shape = shape.symmetric_difference(ring)
            length += ring.length
        area += shape.area
    return area, length


def check_plan(svg, application, name):
    zones = [zone for zone in application["zones"] if zone["treated_m2"] is not None]
    treated = sum(zone["treated_m2"] for zone in zones)
    worth = [
        patch["area_m2"]
        for zone in zones
        for patch in zone["patches"] or []
        if patch["core_m2"] >= 10 and not patch["unsure"]
    ]
    for classes, want in [(["t"], treated), (["p"], sum(worth))]:
        got, length = drawn(svg, classes)
        assert abs(got - want) <= OFF_M * length + 1, f"{name} {classes}: {got:.1f} is not {want:.1f} m2"
    assert svg.find(SVG + "title").text, f"{name}: no title"
    return len(worth)


def main(program):
    with tempfile.TemporaryDirectory() as out:
        command = [program, "audit", "demo-data/night", "--out", out, "--fail-on", "never"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        text = (pathlib.Path(out) / "report.html").read_bytes()
        audit = json.loads((pathlib.Path(out) / "audit.json").read_text())
    page = html5lib.HTMLParser(strict=True).parse(text, transport_encoding="utf-8")
    assert len(text) < 100_000, f"{len(text)} bytes"
    plans = patches = 0
    for section in page.iter(HTML + "section"):
        if not (section.get("class") or "").startswith("site"):
            continue
        site = audit["sites"][int(section.find(HTML + "h2").get("id")[1:])]
        svgs = [svg for svg in section.iter(SVG + "svg") if (svg.get("class") or "").startswith("plan")]
        for svg, application in zip(svgs, site["applications"]):
            patches += check_plan(svg, application, site["site"])
            plans += 1
    assert plans >= 8 and patches >= 20, (plans, patches)
    places = {(round(p["lat"], 6), round(p["lon"], 6)) for f in audit["findings"] for p in [f] if p["lat"]}
    links = [a.get("href") for a in page.iter(HTML + "a") if (a.get("href") or "").startswith("geo:")]
    assert len(links) >= 4, links
    for link in links:
        lat, lon = map(float, link[4:].split(","))
        assert abs(lat) <= 90 and abs(lon) <= 180, link
    near = [link for link in links if tuple(map(float, link[4:].split(","))) in places]
    assert len(near) >= 3, "links lead to the places of their findings"
    print(f"report.html: {len(text)} bytes, no parse error; {plans} plans and {patches} patches have their areas")


if __name__ == "__main__":
    main(sys.argv[1])
