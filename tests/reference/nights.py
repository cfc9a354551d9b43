"""Random nights: rigs of 1 to 20 sections on lots with holes, islands and shared edges, with turns, reversals,
stops, overlapping sections and dropouts. Not realistic: made to be hard on the geometry."""

import json
import math
import random

ORIGIN = (-30.0, 45.0)  # mid-ocean: nobody's ground
M_PER_DEG = (78846.149, 111131.787)  # at 45 N (GeographicLib)


def place(x, y):
    """Degrees of a point in metres east and north of the origin (good to millimetres, which is enough here)."""
    return ORIGIN[0] + x / M_PER_DEG[0], ORIGIN[1] + y / M_PER_DEG[1]


def ring(points):
    closed = points + points[:1]
    return [list(place(x, y)) for x, y in closed]


def rectangle(x, y, width, height, turn=0.0):
    cos, sin = math.cos(turn), math.sin(turn)
    corners = [(0, 0), (width, 0), (width, height), (0, height)]
    return [(x + cx * cos - cy * sin, y + cx * sin + cy * cos) for cx, cy in corners]


def star(rng, x, y, radius, corners):
    angles = sorted(rng.uniform(0, 2 * math.pi) for _ in range(corners))
    return [(x + radius * rng.uniform(0.3, 1) * math.cos(a), y + radius * rng.uniform(0.3, 1) * math.sin(a)) for a in angles]


def zones(rng):
    """A lot with a hole, a second lot sharing its edge, a drive across both, islands drawn on top."""
    turn = rng.uniform(-math.pi, math.pi) if rng.random() < 0.7 else 0.0
    lot = [ring(rectangle(0, 0, 60, 40, turn)), ring(rectangle(20 * math.cos(turn) - 15 * math.sin(turn), 20 * math.sin(turn) + 15 * math.cos(turn), 6, 5, turn))[::-1]]
    dx, dy = 60 * math.cos(turn), 60 * math.sin(turn)
    second = [ring(rectangle(dx, dy, 30, 40, turn))]
    drive = [ring(rectangle(*(10 * math.cos(turn), 10 * math.sin(turn)), 70, 7, turn + rng.uniform(-0.2, 0.2)))]
    features = [("lot", "a", lot), ("lot", "b", second), ("drive", "d", drive)]
    for number in range(rng.randint(1, 4)):
        x, y = rng.uniform(0, 80), rng.uniform(0, 35)
        cx, cy = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
        features.append(("keep_off", f"k{number}", [ring(star(rng, cx, cy, rng.uniform(1, 5), rng.randint(3, 9)))]))
    if rng.random() < 0.5:
        # A sliver along the lots' far side that shares their edge, or misses it by a hair.
        off = rng.choice([0.0, 0.0, 1e-6, -1e-4, 0.02])
        x, y = -(40 + off) * math.sin(turn), (40 + off) * math.cos(turn)
        features.append(("drive", "t", [ring(rectangle(x, y, 90, rng.choice([0.15, 0.4, 3.0]), turn))]))
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"site": "s", "zone": zone, "use": use},
                "geometry": {"type": "Polygon", "coordinates": rings},
            }
            for use, zone, rings in features
        ],
    }, turn


def drive_path(rng, turn, seconds):
    """Positions once a second: lanes, arcs, wandering, reversals and stops, starting somewhere on the lots."""
    x, y = rng.uniform(0, 60), rng.uniform(5, 35)
    x, y = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
    heading, speed, gear = rng.uniform(-math.pi, math.pi), 4.0, 1
    points, until, rate = [], 0, 0.0
    for second in range(seconds):
        if second >= until:
            kind = rng.choice(["straight", "straight", "arc", "arc", "tight", "stop", "reverse"])
            until = second + rng.randint(4, 15)
            rate = {"straight": 0.0, "arc": rng.uniform(-0.4, 0.4), "tight": rng.uniform(-0.8, 0.8)}.get(kind, 0.0)
            speed = {"stop": 0.0, "reverse": 1.5, "tight": 2.0}.get(kind, rng.uniform(2, 6))
            gear = -1 if kind == "reverse" else 1
        middle = (45 * math.cos(turn) - 20 * math.sin(turn), 45 * math.sin(turn) + 20 * math.cos(turn))
        if math.hypot(x - middle[0], y - middle[1]) > 55:
            heading = math.atan2(middle[1] - y, middle[0] - x)
        points.append((x, y))
        heading += rate
        x += gear * speed * math.cos(heading)
        y += gear * speed * math.sin(heading)
    return points


def gpx(rng, rig, sections, points, hertz, start, total):
    """A log with positions interpolated to `hertz`; states change at random; flow, or a running total."""
    lines = ['<gpx version="1.1" creator="nights.py" xmlns="http://www.topografix.com/GPX/1/1" xmlns:s="urn:swathbook:log:1">']
    lines.append(f"<trk><extensions><s:rig>{rig}</s:rig></extensions><trkseg>")
    states, litres = [rng.random() < 0.7 for _ in range(sections)], 0.0
    count = int((len(points) - 1) * hertz)
    silence = rng.randint(count // 4, count // 2) if rng.random() < 0.7 else -1
    for k in range(count):
        t = k / hertz
        i, u = int(t), t - int(t)
        x = points[i][0] * (1 - u) + points[i + 1][0] * u
        y = points[i][1] * (1 - u) + points[i + 1][1] * u
        for section in range(sections):
            if rng.random() < 0.08 / hertz:
                states[section] = not states[section]
        flow = rng.uniform(20, 40) if any(states) and rng.random() < 0.95 else 0.0
        litres += flow / 60 / hertz
        if silence <= k < silence + int(7 * hertz):
            continue
        lon, lat = place(x, y)
        ms = int(round(1000 * (start + t)))
        stamp = f"2026-01-12T{ms // 3600000:02d}:{ms // 60000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}Z"
        meter = f"<s:volume>{litres:.4f}</s:volume>" if total else f"<s:flow>{flow:.3f}</s:flow>"
        text = "".join("1" if state else "0" for state in states)
        lines.append(
            f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"><time>{stamp}</time>'
            f"<extensions>{meter}<s:sections>{text}</s:sections></extensions></trkpt>"
        )
    lines.append("</trkseg></trk></gpx>")
    return "\n".join(lines)


def write(folder, seed):
    rng = random.Random(seed)
    (folder / "logs").mkdir(parents=True)
    sites, turn = zones(rng)
    (folder / "sites.geojson").write_text(json.dumps(sites))
    fleet = []
    for number in range(rng.randint(1, 2)):
        sections = rng.choice([1, 2, 3, 5, 8, 13, 20])
        widths = [rng.uniform(0.3, 1.5) for _ in range(sections)]
        fleet.append(
            f'[[rig]]\nid = "r{number}"\nsections = [{", ".join(f"{chr(34)}{w:.3f} m{chr(34)}" for w in widths)}]\n'
            f'antenna = {{ ahead = "{rng.uniform(0, 3):.2f} m", right = "{rng.uniform(-0.5, 0.5):.2f} m" }}\n'
            f'open_delay = "{rng.uniform(0, 0.8):.2f} s"\nclose_delay = "{rng.uniform(0, 0.8):.2f} s"\n'
            f'position = "{rng.choice([0.5, 1.0, 1.5])} m"\n'
        )
        hertz = rng.choice([0.2, 0.5, 1, 1, 2, 5, 10])
        seconds = rng.randint(100, 300) if hertz <= 2 else rng.randint(40, 80)
        text = gpx(rng, f"r{number}", sections, drive_path(rng, turn, seconds), hertz, 3600 + 120 * number, rng.random() < 0.5)
        (folder / "logs" / f"r{number}.gpx").write_text(text)
    (folder / "fleet.toml").write_text('[defaults]\ntarget = "33 mL/m2"\n' + "\n".join(fleet))
