"""Local times on the nights when clocks change, against Python's `zoneinfo`.

A rig treats a lot four times around each change, so that hours that are skipped and hours that come twice are both
in the night. Its log is an hour slow, which the fleet file puts right. What the reports say in UTC is held against
the times that were written into the log, what they say in local time against `zoneinfo`."""

import csv
import datetime as dt
import json
import pathlib
import subprocess
import sys
import tempfile
import zoneinfo

import nights

# The instants at which clocks change, UTC: common practice in both places, and in the IANA database.
CHANGES = [
    ("America/Winnipeg", "2025-03-09T08:00:00Z"),
    ("America/Winnipeg", "2025-11-02T07:00:00Z"),
    ("Europe/Helsinki", "2025-03-30T01:00:00Z"),
    ("Europe/Helsinki", "2025-10-26T01:00:00Z"),
]
PASSES_MIN = [-70, -20, 20, 70]  # when each pass begins, minutes from the change
SLOW = dt.timedelta(hours=1)
FLEET = """[defaults]
timezone = "{zone}"
target = "30 mL/m2"
application_pause = "10 min"
[[rig]]
id = "r"
sections = ["4 m"]
clock_offset = "1 h"
"""


def point(when, x, flow):
    lon, lat = nights.place(x, 2)
    stamp = (when - SLOW).strftime("%Y-%m-%dT%H:%M:%SZ")
    return (
        f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"><time>{stamp}</time><extensions>'
        f"<s:flow>{flow}</s:flow><s:sections>{int(flow > 0)}</s:sections></extensions></trkpt>"
    )


def write(folder, zone, change):
    """A pass of 80 m over a lot of 80 m x 4 m at each time; returns when they began, UTC."""
    (folder / "logs").mkdir(parents=True)
    (folder / "fleet.toml").write_text(FLEET.format(zone=zone))
    lot = {
        "type": "Feature",
        "properties": {"site": "s", "use": "lot"},
        "geometry": {"type": "Polygon", "coordinates": [nights.ring(nights.rectangle(0, 0, 80, 4))]},
    }
    (folder / "sites.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [lot]}))
    begins = [change + dt.timedelta(minutes=minutes) for minutes in PASSES_MIN]
    segments = []
    for begin in begins:
        fixes = [point(begin + dt.timedelta(seconds=s), 4 * s, 28.8 if s < 20 else 0) for s in range(21)]
        segments.append("<trkseg>" + "".join(fixes) + "</trkseg>")
    (folder / "logs" / "r.gpx").write_text(
        '<gpx version="1.1" creator="check_times.py" xmlns="http://www.topografix.com/GPX/1/1" '
        'xmlns:s="urn:swathbook:log:1"><trk>' + "".join(segments) + "</trk></gpx>"
    )
    return begins


def utc(text):
    return dt.datetime.fromisoformat(text.replace("Z", "+00:00"))


def check_tables(out, zone):
    """Every local time of every table against the UTC beside it; returns how many there were by table."""
    counts = {}
    for path in sorted(out.glob("*.csv")):
        with path.open(newline="", encoding="utf-8-sig") as file:
            for row in csv.DictReader(file):
                for name, text in row.items():
                    if name.endswith("_utc") and text:
                        local = row[f"{name.removesuffix('_utc')}_local_{zone.key}"]
                        expected = utc(text).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")
                        assert local == expected, (path.name, name, local, expected)
                        counts[path.name] = counts.get(path.name, 0) + 1
    return counts


def check(program, folder, name, change):
    zone = zoneinfo.ZoneInfo(name)
    begins = write(folder, name, change)
    out = folder / "out"
    page = subprocess.run([program, "audit", folder, "--out", out], check=True, capture_output=True, text=True).stdout
    counts = check_tables(out, zone)
    for table in ("visits.csv", "runs.csv", "findings.csv", "zones.csv"):
        assert counts.get(table), f"no time in {table}"

    with (out / "visits.csv").open(newline="", encoding="utf-8-sig") as file:
        visits = list(csv.DictReader(file))
    assert sorted(utc(visit["arrive_utc"]) for visit in visits) == begins, visits
    # The change lies between the second and the third: an hour that comes twice is told apart by the UTC beside it.
    assert len({visit["arrive_utc"] for visit in visits}) == len(visits), visits

    first = begins[0].astimezone(zone).strftime("%Y-%m-%d %H:%M %Z")
    last = (begins[-1] + dt.timedelta(seconds=20)).astimezone(zone).strftime("%Y-%m-%d %H:%M %Z")
    assert f"{first} to {last}:" in " ".join(page.split()), page
    return sum(counts.values())


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    times = 0
    for number, (name, change) in enumerate(CHANGES):
        with tempfile.TemporaryDirectory() as folder:
            times += check(program, pathlib.Path(folder) / str(number), name, utc(change))
    print(f"{times} local times on {len(CHANGES)} nights of changing clocks: as zoneinfo has them")


main()
