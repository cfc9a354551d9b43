"""Areas on the ellipsoid by GeographicLib, and how far those of a written file may be off.

Source: C. F. F. Karney, Algorithms for geodesics (doi:10.1007/s00190-012-0578-z)."""

import math

from geographiclib.geodesic import Geodesic

KARNEY_M2 = 0.0013  # greatest error of GeographicLib's areas under 10 km of perimeter (its Planimeter page)
# Its scatter on outlines as small as these: discs of 2,000 corners and 40 m radius, moved along their parallel, differ by
# 0.0002 m2, smaller ones by less (measured with 2.1).
SCATTER_M2 = 0.0003
STEP_DEG = 1e-9  # coverage.geojson has nine decimals
# Standard errors of the rounding. Corners less than a step apart, as a boom that hardly moves leaves them, are rounded alike,
# and their errors add up: 6.5 were seen in 5,000 outlines, and each error was found at its corners.
SIGMAS = 10


def signed_area(ring):
    line = Geodesic.WGS84.Polygon()
    for lon, lat in ring[:-1]:
        line.AddPoint(lat, lon)
    return line.Compute(False, True)[2]


def drawn_area(rings):
    """A drawn polygon, whatever way its rings run: the first one less the others."""
    first, *holes = [abs(signed_area(ring)) for ring in rings]
    return first - sum(holes)


def written_area(polygons):
    """A MultiPolygon as RFC 7946 wants it: holes run clockwise and count as less."""
    return sum(signed_area(ring) for rings in polygons for ring in rings)


def rounding_m2(polygons):
    """Standard error of the area when every place is rounded: half of what it moves times the chords beside it. Rings touch
    each other and themselves, and a place moves all corners there together."""
    chords = {}
    for ring in (ring for rings in polygons for ring in rings):
        corners = [tuple(corner) for corner in ring[:-1]]
        for before, place, after in zip(corners[-1:] + corners[:-1], corners, corners[1:] + corners[:1]):
            x, y = chords.get(place, (0.0, 0.0))
            chords[place] = x + after[0] - before[0], y + after[1] - before[1]
    variance = 0.0
    for (_, lat), (chord_lon, chord_lat) in chords.items():
        m2_per_deg2 = 111320 * math.cos(math.radians(lat)) * 111200
        variance += (chord_lon**2 + chord_lat**2) * m2_per_deg2**2
    return STEP_DEG / math.sqrt(12) / 2 * math.sqrt(variance)


def allowed_m2(polygons):
    return SCATTER_M2 + SIGMAS * rounding_m2(polygons)
