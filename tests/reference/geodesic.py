"""Areas on the ellipsoid by GeographicLib, and how far those of a written file may be off.

Source: C. F. F. Karney, Algorithms for geodesics (doi:10.1007/s00190-012-0578-z)."""

import math

from geographiclib.geodesic import Geodesic

KARNEY_M2 = 0.0013  # greatest error of GeographicLib's areas under 10 km of perimeter (its Planimeter page)
# Its scatter on outlines as small as these: discs of 2,000 corners and 40 m radius, moved along their parallel, differ by
# 0.0002 m2, smaller ones by less (measured with 2.1).
SCATTER_M2 = 0.0003
WRITTEN_M2 = 0.1  # how far polygons on the grid of nine decimals may be from the areas told
WRITTEN_OVERLAP_M = 0.02  # overlap is long narrow strips: this times its outline


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


def outline_m(polygons):
    """Length of all rings, m: on a sphere, good to 1 %."""
    length = 0.0
    for ring in (ring for rings in polygons for ring in rings):
        for (lon, lat), (to_lon, to_lat) in zip(ring, ring[1:]):
            length += math.hypot((to_lon - lon) * 111320 * math.cos(math.radians(lat)), (to_lat - lat) * 111200)
    return length


def allowed_m2(kind, polygons):
    if kind == "overlap":
        return SCATTER_M2 + max(WRITTEN_M2, WRITTEN_OVERLAP_M * outline_m(polygons))
    return SCATTER_M2 + WRITTEN_M2
