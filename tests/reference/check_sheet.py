"""The sheet of new lots against outside readers: HTML by html5lib in strict mode, areas of its drawings read back from
their outlines with GEOS, and the places where the tank runs out by a drive through drive-plan.gpx, step by step."""

import json
import math
import pathlib
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

import html5lib
from geographiclib.geodesic import Geodesic

from check_page import HTML, OFF_M, SVG, drawn

GPX = "{http://www.topografix.com/GPX/1/1}"
LOG = "{urn:swathbook:log:1}"


def measured(program, folder, out, *more):
    command = [program, "measure", folder, "--out", out, *more]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    text = (pathlib.Path(out) / "measure.html").read_bytes()
    return text, json.loads((pathlib.Path(out) / "measure.json").read_text())


def check_drawing(svg, site, rig):
    hand = sum(piece["area_m2"] for piece in rig["hand"])
    for classes, want in [
        (["zo"], site["area_m2"]),
        (["es"], rig["edge_strip_m2"] or 0),
        (["hw h"], hand),
    ]:
        got, length = drawn(svg, classes)
        name = f"{site['site']} {classes}"
        assert abs(got - want) <= OFF_M * length + 1, f"{name}: {got:.1f} is not {want:.1f} m2"
    assert svg.find(SVG + "title").text
    numbers = [t.text for t in svg.iter(SVG + "text") if t.get("class") == "ln"]
    lanes = rig["plan"]["lanes"] if rig["plan"] else 0
    assert set(numbers) <= {str(n + 1) for n in range(lanes)}, f"{site['site']}: numbers of lanes"
    assert 3 * len(numbers) >= min(lanes, 60), f"{site['site']}: {len(numbers)} of {lanes} lanes have their number"


def check_page(text, sheet):
    page = html5lib.HTMLParser(strict=True).parse(text, transport_encoding="utf-8")
    ids = [e.get("id") for e in page.iter() if e.get("id")]
    assert len(ids) == len(set(ids)), "ids are unique"
    levels = [int(e.tag[-1]) for e in page.iter() if e.tag in [HTML + f"h{n}" for n in range(1, 7)]]
    assert levels[0] == 1 and all(b - a <= 1 for a, b in zip(levels, levels[1:])), levels
    for table in page.iter(HTML + "table"):
        assert table.find(HTML + "caption") is not None
        assert all(th.get("scope") for th in table.iter(HTML + "th"))
    sections = [s for s in page.iter(HTML + "section") if s.get("class") == "site"]
    assert len(sections) == len(sheet["sites"])
    for section, site in zip(sections, sheet["sites"]):
        under = next(p.text for p in section.iter(HTML + "p") if (p.text or "").startswith("Drive plan of"))
        rig = next(rig for rig in site["rigs"] if under.startswith(f"Drive plan of {rig['rig']}:"))
        svg = next(s for s in section.iter(SVG + "svg") if (s.get("class") or "").startswith("plan lot"))
        check_drawing(svg, site, rig)
    return len(sections)


def step_through(gpx, widths_m, rate_l_m2, usable_l):
    """Lane and metres along it at each empty tank, from the file alone."""
    stops, left = [], usable_l
    for lane, segment in enumerate(ET.parse(gpx).getroot().iter(GPX + "trkseg"), 1):
        along, last, wide = 0.0, None, 0.0
        for point in segment.iter(GPX + "trkpt"):
            here = float(point.get("lat")), float(point.get("lon"))
            if last:
                step = Geodesic.WGS84.Inverse(*last, *here)["s12"]
                gone = step * wide * rate_l_m2
                while wide and gone > left:
                    along += left / (wide * rate_l_m2)
                    step -= left / (wide * rate_l_m2)
                    gone -= left
                    left = usable_l
                    stops.append((lane, along))
                left -= gone
                along += step
            states = next(point.iter(LOG + "sections")).text
            wide = sum(width for width, state in zip(widths_m, states) if state == "1")
            last = here
    return stops


def check_tank(program):
    """A small tank on one of the demo's lots, alone in its file: the drive of the plan file empties it where the sheet says."""
    demo = pathlib.Path("demo-data/night")
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        fleet = (demo / "fleet.toml").read_text().replace('tank = "425 gal"', 'tank = "17 gal"')
        (folder / "fleet.toml").write_text(fleet)
        sites = json.loads((demo / "sites.geojson").read_text())
        sites["features"] = [f for f in sites["features"] if f["properties"]["site"] == "skua"]
        (folder / "sites.geojson").write_text(json.dumps(sites))
        _, sheet = measured(program, folder, folder / "out", "--rig", "north")
        cost = sheet["sites"][0]["rigs"][0]["cost"]
        rate = cost["application"]["target_ml_m2"] / 1000
        found = step_through(folder / "out" / "drive-plan.gpx", [0.6096] * 6, rate, 12 * 3.785411784)
        said = [(stop["lane"], stop["along_m"]) for stop in cost["tank_stops"]]
        assert len(said) >= 2, said
        assert len(found) == len(said), (found, said)
        for (lane, along), (other, metres) in zip(found, said):
            assert lane == other and math.isclose(along, metres, abs_tol=0.05), (found, said)
        return len(said)


def main(program):
    total = 0
    with tempfile.TemporaryDirectory() as out:
        total += check_page(*measured(program, "demo-data/night", out))
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        lots = pathlib.Path("fixtures/lots")
        (folder / "fleet.toml").write_text((lots / "fleet.toml").read_text())
        sites = json.loads((lots / "furnished.geojson").read_text())
        few = {"f008", "f010", "f011"}
        sites["features"] = [f for f in sites["features"] if f["properties"]["site"] in few]
        (folder / "sites.geojson").write_text(json.dumps(sites))
        total += check_page(*measured(program, folder, folder / "out"))
    stops = check_tank(program)
    print(f"measure.html: no parse error, {total} drawings have their areas; the tank runs out in {stops} places as driven")


if __name__ == "__main__":
    main(sys.argv[1])
