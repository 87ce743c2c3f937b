"""Geometry in plain loops: what SQL and other programs answer is computed here again without any of them."""

import itertools
import math
import sqlite3
import struct
from collections.abc import Iterator, Sequence
from pathlib import Path

Point = tuple[float, float]

# WGS 84 and the transverse Mercator projection of UTM: series of L. Krueger to the third power of n.
AXIS_M, FLATTENING, SCALE = 6_378_137.0, 1 / 298.257223563, 0.9996
N = FLATTENING / (2 - FLATTENING)
RADIUS_M = AXIS_M / (1 + N) * (1 + N**2 / 4 + N**4 / 64)
ALPHA = (N / 2 - 2 * N**2 / 3 + 5 * N**3 / 16, 13 * N**2 / 48 - 3 * N**3 / 5, 61 * N**3 / 240)


def rows(layer: Path, sql: str, *values: object) -> Iterator[dict[str, object]]:
    """Rows of a layer, read without any extension."""
    base = sqlite3.connect(f"file:{layer}?mode=ro", uri=True)
    base.row_factory = sqlite3.Row
    try:
        for row in base.execute(sql, values):
            yield dict(row)
    finally:
        base.close()


def line(blob: object) -> list[Point]:
    """Points of a line or point as a GeoPackage stores it (OGC 12-128, 2.1.3)."""
    assert isinstance(blob, bytes) and blob[:2] == b"GP"
    start = 8 + (0, 32, 48, 48, 64)[blob[3] >> 1 & 7]
    order = "<" if blob[start] else ">"
    (kind,) = struct.unpack_from(order + "I", blob, start + 1)
    if kind == 1:
        return [struct.unpack_from(order + "2d", blob, start + 5)]
    assert kind == 2
    (count,) = struct.unpack_from(order + "I", blob, start + 5)
    numbers = struct.unpack_from(f"{order}{2 * count}d", blob, start + 9)
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def box(points: Sequence[Point]) -> tuple[float, float, float, float]:
    """West, south, east, north."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def utm(point: Point, zone: int) -> Point:
    """Metres east and north in a northern zone of UTM."""
    lon, lat = math.radians(point[0] - (6 * zone - 183)), math.radians(point[1])
    root = 2 * math.sqrt(N) / (1 + N)
    t = math.sinh(math.atanh(math.sin(lat)) - root * math.atanh(root * math.sin(lat)))
    xi, eta = math.atan2(t, math.cos(lon)), math.asinh(math.sin(lon) / math.hypot(t, math.cos(lon)))
    east, north = eta, xi
    for j, alpha in enumerate(ALPHA, 1):
        east += alpha * math.cos(2 * j * xi) * math.sinh(2 * j * eta)
        north += alpha * math.sin(2 * j * xi) * math.cosh(2 * j * eta)
    return 500_000 + SCALE * RADIUS_M * east, SCALE * RADIUS_M * north


def length(points: Sequence[Point]) -> float:
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def to_leg(p: Point, a: Point, b: Point) -> float:
    """Distance of a point from the leg between two others."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    t = 0.0 if square == 0 else max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square))
    return math.dist(p, (a[0] + t * dx, a[1] + t * dy))


def cross(a: Point, b: Point, c: Point, d: Point) -> float | None:
    """Where the leg from a to b crosses that from c to d, as a share of the first; nothing where it does not."""
    rx, ry, sx, sy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    turn = rx * sy - ry * sx
    if turn == 0:
        return None
    t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / turn
    u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / turn
    return t if 0 <= t <= 1 and 0 <= u <= 1 else None


def apart(left: Sequence[Point], right: Sequence[Point]) -> float:
    """Distance of two lines."""
    best = math.inf
    for a, b in itertools.pairwise(left):
        for c, d in itertools.pairwise(right):
            if cross(a, b, c, d) is not None:
                return 0.0
            best = min(best, to_leg(a, c, d), to_leg(b, c, d), to_leg(c, a, b), to_leg(d, a, b))
    return best


Leg = tuple[Point, Point]
# A road on the line of an area belongs to it: nearer than this, degrees.
ON_LINE_DEG = 1e-9


def within(p: Point, legs: Sequence[Leg]) -> bool:
    """Whether a point is in an area, by the legs that a ray to the east crosses."""
    inside = False
    for (x1, y1), (x2, y2) in legs:
        if (y1 > p[1]) != (y2 > p[1]) and p[0] < x1 + (p[1] - y1) / (y2 - y1) * (x2 - x1):
            inside = not inside
    return inside


def length_within(points: Sequence[Point], legs: Sequence[Leg], zone: int) -> float:
    """Metres of a line, in a zone of UTM, that lie in an area with its edge; cut where the line crosses the edge."""
    west, south, east, north = box(points)
    edge = [
        (c, d)
        for c, d in legs
        if max(c[0], d[0]) >= west - ON_LINE_DEG
        and min(c[0], d[0]) <= east + ON_LINE_DEG
        and max(c[1], d[1]) >= south - ON_LINE_DEG
        and min(c[1], d[1]) <= north + ON_LINE_DEG
    ]
    if not edge:
        return length([utm(p, zone) for p in points]) if within(points[0], legs) else 0.0
    inside_m = 0.0
    for a, b in itertools.pairwise(points):
        cuts = [0.0, 1.0, *(t for c, d in edge if (t := cross(a, b, c, d)) is not None)]
        # Where the line runs along an edge, their ends cut each other.
        cuts += [t for leg in edge for p in leg if (t := on_leg(p, a, b)) is not None]
        cuts.sort()
        for begin, end in itertools.pairwise(cuts):
            if end - begin > 1e-12:
                p, middle, q = (between(a, b, t) for t in (begin, (begin + end) / 2, end))
                if within(middle, legs) or any(to_leg(middle, c, d) < ON_LINE_DEG for c, d in edge):
                    inside_m += math.dist(utm(p, zone), utm(q, zone))
    return inside_m


def between(a: Point, b: Point, t: float) -> Point:
    return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])


def on_leg(p: Point, a: Point, b: Point) -> float | None:
    """Where a point lies on a leg, as a share of it; nothing where it does not."""
    if to_leg(p, a, b) > ON_LINE_DEG or a == b:
        return None
    dx, dy = b[0] - a[0], b[1] - a[1]
    return max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)))
