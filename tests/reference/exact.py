"""Exact area of a union of rings, in fractions: no rounding anywhere, so it can judge between two engines.

The plane is cut into slabs at the height of every corner and every crossing. No two edges cross within a slab, so the
ground between two edges next to each other is a trapezoid, covered or not as a whole. Slow: for tens of rings."""

from fractions import Fraction


def edges_of(rings):
    """Edges that are not level, lower end first, with how the winding changes from their left to their right."""
    made = []
    for ring in rings:
        points = [(Fraction(x), Fraction(y)) for x, y in ring]
        for a, b in zip(points, points[1:] + points[:1]):
            if a[1] < b[1]:
                made.append((a, b, -1))
            elif a[1] > b[1]:
                made.append((b, a, 1))
    return made


def x_at(edge, y):
    (ax, ay), (bx, by), _ = edge
    return ax + (bx - ax) * (y - ay) / (by - ay)


def crossing_height(one, two):
    """Height at which two edges cross, or None: also where they only lie along each other."""
    low, high = max(one[0][1], two[0][1]), min(one[1][1], two[1][1])
    if low >= high:
        return None
    below, above = x_at(one, low) - x_at(two, low), x_at(one, high) - x_at(two, high)
    return low + (high - low) * below / (below - above) if below * above < 0 else None


def union_area(rings, least=1):
    """Area of the ground in `least` rings or more. The rings are simple and run counter-clockwise."""
    edges = edges_of(rings)
    heights = {end[1] for edge in edges for end in edge[:2]}
    for k, one in enumerate(edges):
        heights.update(crossing_height(one, two) for two in edges[:k])
    heights.discard(None)
    levels = sorted(heights)
    return sum((slab_area(edges, low, high, least) for low, high in zip(levels, levels[1:])), Fraction(0))


def slab_area(edges, low, high, least):
    middle = (low + high) / 2
    through = sorted((x_at(edge, middle), edge[2]) for edge in edges if edge[0][1] <= low and edge[1][1] >= high)
    width, winding = Fraction(0), 0
    for (x, change), (following, _) in zip(through, through[1:]):
        winding += change
        if winding >= least:
            width += following - x
    return width * (high - low)
