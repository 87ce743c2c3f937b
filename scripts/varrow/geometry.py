"""Plane geometry on the plan's metre grid, and the way from that grid to longitude and latitude.

Plan coordinates are metres east and north of ORIGIN in UTM zone 26 N (EPSG:32626).
"""

import math

ORIGIN_EAST_M, ORIGIN_NORTH_M = 417_000, 5_201_000
CENTRAL_MERIDIAN_DEG = -27.0


def lonlat(point):
    """Longitude and latitude in degrees of a plan point (Krueger's series to n^3, good to a millimetre here)."""
    a, f, k0 = 6378137.0, 1 / 298.257223563, 0.9996
    n = f / (2 - f)
    radius = a / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    beta = (n / 2 - 2 * n**2 / 3 + 37 * n**3 / 96, n**2 / 48 + n**3 / 15, 17 * n**3 / 480)
    delta = (2 * n - 2 * n**2 / 3 - 2 * n**3, 7 * n**2 / 3 - 8 * n**3 / 5, 56 * n**3 / 15)
    xi0 = (point[1] + ORIGIN_NORTH_M) / (k0 * radius)
    eta0 = (point[0] + ORIGIN_EAST_M - 500_000) / (k0 * radius)
    xi, eta = xi0, eta0
    for j, b in enumerate(beta, 1):
        xi -= b * math.sin(2 * j * xi0) * math.cosh(2 * j * eta0)
        eta -= b * math.cos(2 * j * xi0) * math.sinh(2 * j * eta0)
    chi = math.asin(math.sin(xi) / math.cosh(eta))
    lat = chi + sum(d * math.sin(2 * j * chi) for j, d in enumerate(delta, 1))
    lon = math.radians(CENTRAL_MERIDIAN_DEG) + math.atan2(math.sinh(eta), math.cos(xi))
    return math.degrees(lon), math.degrees(lat)


def tidy(point):
    """The point on the centimetre, so that equal places are equal keys."""
    return (round(point[0], 2), round(point[1], 2))


def dist(a, b):
    return math.hypot(a[0] - b[0], a[1] - b[1])


def smooth(points, step_m, closed=False):
    """Centripetal-like Catmull-Rom curve through the points, about step_m between its vertices."""
    if len(points) < 3:
        return straight(points, step_m * 4)
    ring = list(points)
    ring = [ring[-1], *ring, ring[0], ring[1]] if closed else [ring[0], *ring, ring[-1]]
    out = []
    for p0, p1, p2, p3 in zip(ring, ring[1:], ring[2:], ring[3:]):
        pieces = max(1, round(dist(p1, p2) / step_m))
        scale = dist(p1, p2)
        m1 = tangent(p0, p1, p2, scale)
        m2 = tangent(p1, p2, p3, scale)
        for i in range(pieces):
            t = i / pieces
            h = (2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t, -2 * t**3 + 3 * t**2, t**3 - t**2)
            out.append(tuple(h[0] * p1[k] + h[1] * m1[k] + h[2] * p2[k] + h[3] * m2[k] for k in (0, 1)))
    out.append(out[0] if closed else points[-1])
    return [tidy(p) for p in out]


def tangent(before, here, after, scale):
    """Tangent at `here`, as long as `scale`, so that uneven spacing makes no loops."""
    dx, dy = after[0] - before[0], after[1] - before[1]
    length = math.hypot(dx, dy) or 1.0
    return (dx / length * scale, dy / length * scale)


def straight(points, step_m):
    """The polyline itself with vertices at most step_m apart."""
    out = [tidy(points[0])]
    for a, b in zip(points, points[1:]):
        pieces = max(1, math.ceil(dist(a, b) / step_m))
        out += [tidy((a[0] + (b[0] - a[0]) * i / pieces, a[1] + (b[1] - a[1]) * i / pieces)) for i in range(1, pieces + 1)]
    return out


def fillet(points, radius_m, step_m):
    """The polyline with every corner rounded to the radius: hairpins become half circles."""
    out = [points[0]]
    for p, q, r in zip(points, points[1:], points[2:]):
        a, b = unit(q, p), unit(q, r)
        inner = math.acos(max(-1.0, min(1.0, a[0] * b[0] + a[1] * b[1])))
        reach = min(radius_m / math.tan(inner / 2), 0.48 * dist(p, q), 0.48 * dist(q, r))
        radius = reach * math.tan(inner / 2)
        bis = unit((0, 0), (a[0] + b[0], a[1] + b[1]))
        centre = (q[0] + bis[0] * radius / math.sin(inner / 2), q[1] + bis[1] * radius / math.sin(inner / 2))
        first = math.atan2(q[1] + a[1] * reach - centre[1], q[0] + a[0] * reach - centre[0])
        last = math.atan2(q[1] + b[1] * reach - centre[1], q[0] + b[0] * reach - centre[0])
        turn = (last - first + math.pi) % (2 * math.pi) - math.pi
        pieces = max(2, math.ceil(abs(turn) * radius / min(step_m, radius * 0.45)))
        for i in range(pieces + 1):
            angle = first + turn * i / pieces
            out.append((centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)))
    return straight([*out, points[-1]], step_m * 4)


def unit(a, b):
    length = dist(a, b) or 1.0
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length)


def offset(line, left_m):
    """The line moved to its left by left_m (to its right when negative)."""
    out = []
    for i, p in enumerate(line):
        d = unit(line[max(0, i - 1)], line[min(len(line) - 1, i + 1)])
        out.append(tidy((p[0] - d[1] * left_m, p[1] + d[0] * left_m)))
    return out


def chainage(line):
    """Distance in metres along the line at each vertex."""
    out = [0.0]
    for a, b in zip(line, line[1:]):
        out.append(out[-1] + dist(a, b))
    return out


def foot(point, a, b):
    """Share along a-b of the place nearest to the point, and its distance in metres."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    t = 0.0 if square == 0 else max(0.0, min(1.0, ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / square))
    return t, math.hypot(point[0] - a[0] - t * dx, point[1] - a[1] - t * dy)


def nearest(line, point):
    """Chainage in metres of the place on the line nearest to the point, and the distance to it."""
    best, at, walked = math.inf, 0.0, 0.0
    for a, b in zip(line, line[1:]):
        t, d = foot(point, a, b)
        length = dist(a, b)
        if d < best:
            best, at = d, walked + t * length
        walked += length
    return at, best


def along(line, at_m):
    """Point and unit direction at a chainage of the line."""
    walked = 0.0
    for a, b in zip(line, line[1:]):
        length = dist(a, b)
        if at_m <= walked + length or b is line[-1]:
            t = 0.0 if length == 0 else max(0.0, min(1.0, (at_m - walked) / length))
            return (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t), unit(a, b)
        walked += length
    return line[-1], unit(line[-2], line[-1])


def crossing(a, b, c, d):
    """Shares along a-b and c-d at which the two pieces cross, or None."""
    rx, ry, sx, sy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    det = rx * sy - ry * sx
    if abs(det) < 1e-9:
        return None
    t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / det
    u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / det
    return (t, u) if 0 <= t <= 1 and 0 <= u <= 1 else None


def inside(ring, point):
    """Whether the point lies in the ring (even-odd rule)."""
    x, y = point
    odd = False
    for (x1, y1), (x2, y2) in zip(ring, ring[1:] + ring[:1]):
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            odd = not odd
    return odd


def rectangle(centre, direction, length_m, width_m):
    """Closed ring of a rectangle, its length along the direction."""
    ux, uy = direction
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))
    return [
        tidy((centre[0] + ux * i * length_m / 2 - uy * j * width_m / 2, centre[1] + uy * i * length_m / 2 + ux * j * width_m / 2))
        for i, j in corners
    ]
