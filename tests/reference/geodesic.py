"""Areas on the ellipsoid by GeographicLib, and how far those of a written file may be off.

Source: C. F. F. Karney, Algorithms for geodesics (doi:10.1007/s00190-012-0578-z)."""

import math

from geographiclib.geodesic import Geodesic

KARNEY_M2 = 0.0013  # greatest error of GeographicLib's areas under 10 km of perimeter (its Planimeter page)
# Its scatter on outlines as small as these: discs of 2,000 corners and 40 m radius, moved along their parallel, differ by
# 0.0002 m2, smaller ones by less (measured with 2.1).
SCATTER_M2 = 0.0003
STEP_DEG = 1e-9  # coverage.geojson has nine decimals
SIGMAS = 6  # of the rounding of the corners: reached by chance once in 500 million outlines


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
    """Standard error of the area when every corner is rounded: half of what it moves times the chord beside it."""
    variance = 0.0
    for ring in (ring for rings in polygons for ring in rings):
        corners = ring[:-1]
        for before, (_, lat), after in zip(corners[-1:] + corners[:-1], corners, corners[1:] + corners[:1]):
            per_lon, per_lat = 111320 * math.cos(math.radians(lat)), 111200
            chord_x, chord_y = (after[0] - before[0]) * per_lon, (after[1] - before[1]) * per_lat
            variance += (chord_y * per_lon) ** 2 + (chord_x * per_lat) ** 2
    return STEP_DEG / math.sqrt(12) / 2 * math.sqrt(variance)


def allowed_m2(polygons):
    return SCATTER_M2 + SIGMAS * rounding_m2(polygons)
