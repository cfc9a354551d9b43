"""Makes a night that pages find hard: hostile names, 2,000 patches, 200 zones, ground of 3 m and of 10 km, a walk 1 m
wide, eight applications, ground that nobody treated.

    odd_night.py FOLDER
"""

import json
import math
import pathlib
import sys

# Mid-ocean.
LAT, LON = 45.0, -30.0
M_PER_DEG_LAT = 111_132.0
M_PER_DEG_LON = 111_320.0 * math.cos(math.radians(LAT))
BOOM_M = 6.0
# 35 gal/ac in L/m2.
DOSE_L_M2 = 35 * 3.785411784 / 4046.8564224
START_S = 20 * 3600

EVIL = "</style><script>alert(1)</script>\"'&<1 \u202egnp.exe\u0007 javascript:alert(1)"
FLEET = """
[defaults]
timezone = "Etc/GMT+2"
target = "35 gal/ac"
[[rig]]
id = "r"
sections = ["5 ft", "5 ft", "5 ft", "5 ft"]
antenna = { ahead = "0 ft" }
position = "0.5 m"
"""


class Night:
    def __init__(self):
        self.features = []
        self.fixes = []
        self.time_s = START_S

    def zone(self, site, zone, x, y, width, height, **more):
        corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)]
        ring = [[LON + a / M_PER_DEG_LON, LAT + b / M_PER_DEG_LAT] for a, b in corners]
        properties = {"site": site, "zone": zone, "use": "lot", **more}
        geometry = {"type": "Polygon", "coordinates": [ring]}
        self.features.append({"type": "Feature", "properties": properties, "geometry": geometry})

    def fix(self, x, y, is_open, speed, width=BOOM_M):
        flow = 60 * DOSE_L_M2 * speed * width if is_open else 0
        self.fixes.append((self.time_s, x, y, flow, "1111" if is_open else "0000"))

    def lane(self, x, y, length, speed=3.0, is_open=lambda at: True):
        """Eastward; the boom's middle on y."""
        steps = int(length / speed)
        for step in range(steps + 1):
            self.time_s += 1
            self.fix(x + step * speed, y, is_open(step * speed) and step < steps, speed)
        # Off to somewhere else: nothing is known of it.
        self.time_s += 60

    def lot(self, x, y, width, height, left_out=(), is_open=None):
        for number in range(round(height / BOOM_M)):
            if number not in left_out:
                of_lane = (lambda at, number=number: is_open(number, at)) if is_open else (lambda at: True)
                self.lane(x - 3, y + (number + 0.5) * BOOM_M, width + 6, is_open=of_lane)

    def write(self, folder):
        folder = pathlib.Path(folder)
        (folder / "logs").mkdir(parents=True, exist_ok=True)
        (folder / "fleet.toml").write_text(FLEET)
        sites = {"type": "FeatureCollection", "features": self.features}
        (folder / "sites.geojson").write_text(json.dumps(sites))
        points = []
        for time_s, x, y, flow, states in self.fixes:
            day, second = divmod(time_s, 86_400)
            stamp = f"2026-01-{11 + day:02d}T{second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}Z"
            points.append(
                f'<trkpt lat="{LAT + y / M_PER_DEG_LAT:.8f}" lon="{LON + x / M_PER_DEG_LON:.8f}"><time>{stamp}</time>'
                f"<extensions><s:flow>{flow:.3f}</s:flow><s:sections>{states}</s:sections></extensions></trkpt>"
            )
        (folder / "logs" / "r.gpx").write_text(
            '<gpx version="1.1" creator="odd" xmlns="http://www.topografix.com/GPX/1/1" xmlns:s="urn:swathbook:log:1">'
            "<trk><trkseg>\n" + "\n".join(points) + "\n</trkseg></trk></gpx>\n"
        )


def main(folder):
    night = Night()
    # Names; two ids that fold to one anchor.
    night.zone(EVIL, EVIL, 0, 0, 60, 30, name=EVIL, client=EVIL, address=EVIL)
    night.zone(EVIL, "parked", 20, 12, 8, 6, use="blocked", reason=EVIL)
    night.lot(0, 0, 60, 30, left_out=[3])
    for number, site in enumerate(["Ab c", "ab-c", "x" * 10_000]):
        night.zone(site, "y" * (10_000 if number == 2 else 3), 200 * (number + 1), 0, 60, 30, name=site)
        night.zone(site, "z", 200 * (number + 1), 40, 60, 18, name=site)
        night.lot(200 * (number + 1), 0, 60, 30, left_out=[2])
    # 2,000 patches: 40 lanes, open and closed by turns.
    night.zone("patches", "lot", 0, 500, 900, 240)
    night.lot(0, 500, 900, 240, is_open=lambda number, at: (int(at) // 9 + number) % 2 == 0)
    for number in range(200):
        column, row = number % 20, number // 20
        night.zone("zones", f"zone {number} of many", 1200 + 9 * column, 500 + 9 * row, 8, 8)
    night.lot(1200, 500, 180, 90, left_out=[4])
    night.zone("tiny", "lot", 1500, 500, 3, 3)
    night.lane(1494, 501.5, 15)
    night.zone("long", "lot", -5000, 1500, 10_000, 18)
    for number in range(2):
        night.lane(-5003, 1503 + 6 * number, 10_006, speed=14.0)
    night.zone("walk", "walk", 1700, 0, 1, 300, use="walk")
    night.zone("walk", "angle", 1700, 300, 120, 1, use="walk")
    night.lane(1690, 300.5, 140)
    night.zone("nobody", "lot", 2000, 0, 50, 50)
    night.zone("nobody", "drive", 2060, 0, 6, 50, use="drive")
    # Eight applications, two hours apart.
    night.zone("often", "lot", 2200, 0, 60, 18)
    for _ in range(8):
        night.time_s += 7200
        night.lot(2200, 0, 60, 18)
    night.write(folder)


if __name__ == "__main__":
    main(sys.argv[1])
