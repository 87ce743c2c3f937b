"""The island's relief: an invented natural surface, then cut and filled along the roads."""

import array
import math
import random

from . import geometry as geo
from . import plan
from . import roads as road_plan

CELL_M = 20
COAST_CELL_M = 125
CUT_RISE, FILL_RISE, ROCK_RISE = 0.9, 0.6, 1.6
ROCK_BENCH_M = 9
REACH_M = 100
CARVE_REACH_M = 1500
NOISE = ((820, 26), (360, 12), (150, 4.5))  # wavelength and height in metres


class Lattice:
    """Values on a square lattice, read between its points by bilinear or smooth interpolation."""

    def __init__(self, step_m, value, blend=lambda t: t):
        self.step, self.blend = step_m, blend
        self.cols = math.ceil((plan.WIDTH_M[1] - plan.WIDTH_M[0]) / step_m) + 2
        rows = math.ceil((plan.HEIGHT_M[1] - plan.HEIGHT_M[0]) / step_m) + 2
        self.values = [
            value((plan.WIDTH_M[0] + i * step_m, plan.HEIGHT_M[0] + j * step_m)) for j in range(rows) for i in range(self.cols)
        ]

    def at(self, x, y):
        fx, fy = (x - plan.WIDTH_M[0]) / self.step, (y - plan.HEIGHT_M[0]) / self.step
        i, j = int(fx), int(fy)
        tx, ty = self.blend(fx - i), self.blend(fy - j)
        k = j * self.cols + i
        v = self.values
        low = v[k] + (v[k + 1] - v[k]) * tx
        high = v[k + self.cols] + (v[k + self.cols + 1] - v[k + self.cols]) * tx
        return low + (high - low) * ty


def ease(t):
    """Smooth step from 0 at 0 to 1 at 1."""
    t = max(0.0, min(1.0, t))
    return t * t * (3 - 2 * t)


def coast_lattice():
    """Distance to the coast in metres, positive on land."""
    ring = geo.smooth(plan.OUTLINE, 120, closed=True)
    pairs = list(zip(ring, ring[1:]))

    def signed(point):
        away = min(geo.foot(point, a, b)[1] for a, b in pairs)
        return away if geo.inside(ring[:-1], point) else -away

    return Lattice(COAST_CELL_M, signed)


class Nature:
    """The surface before anybody built a road."""

    def __init__(self):
        self.coast = coast_lattice()
        dice = random.Random(47)
        self.noise = [(Lattice(wave, lambda _: dice.random() * 2 - 1, ease), size) for wave, size in NOISE]

    def height(self, point):
        """Natural height in metres; 0 at sea."""
        x, y = point
        inland = self.coast.at(x, y)
        if inland <= 0:
            return 0.0
        shore = ease(inland / 90)
        base = 1 + 4 * shore + 26 * (1 - math.exp(-inland / 500)) + 0.02 * inland
        depth = ease(inland / 1300)
        high = ridge(x, y) + sum(hill(h, x, y) for h in plan.HILLS)
        rough = sum(lattice.at(x, y) * size for lattice, size in self.noise)
        top = base + depth * high + rough * depth * min(1.0, 0.12 + high / 350)
        for floor, half_width, rise in plan.VALLEYS:
            top = carve(top, x, y, floor, half_width, rise)
        top += sum(hill(s, x, y) for s in plan.SPURS)
        return max(top, 1.0) * ease(inland / 25) + 0.5 * (1 - ease(inland / 25))


def ridge(x, y):
    crest = plan.RIDGE_LINE_Y_M + plan.RIDGE_SWING_M * math.sin(x / plan.RIDGE_SWING_X_M)
    width = plan.RIDGE_SOUTH_M if y < crest else plan.RIDGE_NORTH_M
    return crest_height(x) * math.exp(-(((y - crest) / width) ** 2))


def crest_height(x):
    """Height of the ridge line at x: a cubic through the plan's heights."""
    top = plan.RIDGE_TOP
    for i, ((x1, h1), (x2, h2)) in enumerate(zip(top, top[1:])):
        if x1 <= x <= x2:
            before, after = top[max(0, i - 1)], top[min(len(top) - 1, i + 2)]
            m1, m2 = (h2 - before[1]) / (x2 - before[0]), (after[1] - h1) / (after[0] - x1)
            span, t = x2 - x1, (x - x1) / (x2 - x1)
            cubic = (2 * t**3 - 3 * t**2 + 1) * h1 + (3 * t**2 - 2 * t**3) * h2
            return max(0.0, cubic + span * ((t**3 - 2 * t**2 + t) * m1 + (t**3 - t**2) * m2))
    return 0.0


def hill(spec, x, y):
    (cx, cy), height, east, north = spec
    far = ((x - cx) / east) ** 2 + ((y - cy) / north) ** 2
    return height * math.exp(-far) if far < 16 else 0.0


def carve(top, x, y, floor, half_width, rise):
    """The surface cut down to a valley floor with sides of the given rise."""
    for a, b in zip(floor, floor[1:]):
        t, away = geo.foot((x, y), a, b)
        if away < CARVE_REACH_M:
            top = min(top, a[2] + (b[2] - a[2]) * t + max(0.0, away - half_width) * rise + 0.03 * away)
    return top


class Ground:
    """The finished surface on a grid of cells, rows from the north."""

    def __init__(self, nature):
        self.cols = (plan.WIDTH_M[1] - plan.WIDTH_M[0]) // CELL_M
        self.rows = (plan.HEIGHT_M[1] - plan.HEIGHT_M[0]) // CELL_M
        self.cells = array.array("f", bytes(4 * self.cols * self.rows))
        for row in range(self.rows):
            for col in range(self.cols):
                self.cells[row * self.cols + col] = nature.height(self.centre(row, col))

    def centre(self, row, col):
        return plan.WIDTH_M[0] + (col + 0.5) * CELL_M, plan.HEIGHT_M[1] - (row + 0.5) * CELL_M

    def near(self, point, reach_m):
        """Cells within the reach of a point: (index, distance in metres)."""
        col = (point[0] - plan.WIDTH_M[0]) / CELL_M - 0.5
        row = (plan.HEIGHT_M[1] - point[1]) / CELL_M - 0.5
        span = reach_m / CELL_M
        for r in range(max(0, math.ceil(row - span)), min(self.rows - 1, math.floor(row + span)) + 1):
            for c in range(max(0, math.ceil(col - span)), min(self.cols - 1, math.floor(col + span)) + 1):
                away = math.hypot(r - row, c - col) * CELL_M
                if away <= reach_m:
                    yield r * self.cols + c, away

    def build(self, roads):
        """Raises the rock walls, then cuts and fills along every road on the ground."""
        rocky = {key: self.raise_rock(next(r for r in roads if r.key == key), *rest) for key, *rest in plan.ROCK_WALLS}
        limits = {}
        for road in roads:
            bench = road_plan.BENCH_M.get(road.tags.get("highway"), road_plan.BENCH_ELSE_M)
            for at, height in zip(road.stations, road.heights):
                if road.kind_at(at) != "road":
                    continue
                rock = road.key in rocky and rocky[road.key][0] <= at <= rocky[road.key][1]
                self.note(limits, geo.along(road.line, at)[0], height, ROCK_BENCH_M if rock else bench, ROCK_RISE if rock else CUT_RISE)
        for index, (beside, height, low, high, rise) in limits.items():
            if self.cells[index] <= 0:
                continue
            if low > high:
                low, high = height - max(0, beside) * FILL_RISE, height + max(0, beside) * rise
            self.cells[index] = height if beside <= 0 else max(low, min(high, self.cells[index]))

    def note(self, limits, point, height, bench_m, rise):
        for index, away in self.near(point, REACH_M):
            beside = away - bench_m
            low, high = height - max(0.0, beside) * FILL_RISE, height + max(0.0, beside) * rise
            old = limits.get(index)
            if old is None:
                limits[index] = (beside, height, low, high, rise)
            else:
                first = (beside, height) if beside < old[0] else old[:2]
                limits[index] = (*first, max(low, old[2]), min(high, old[3]), max(rise, old[4]))

    def raise_rock(self, road, start, end, top_m):
        span = sorted(geo.nearest(road.line, p)[0] for p in (start, end))
        for at, height in zip(road.stations, road.heights):
            if span[0] <= at <= span[1]:
                for index, away in self.near(geo.along(road.line, at)[0], 130):
                    wall = min((away - ROCK_BENCH_M) * ROCK_RISE, top_m, top_m - (away - 60) * 0.9)
                    self.cells[index] = max(self.cells[index], height + wall)
        return span

    def bytes(self):
        """Little-endian 32-bit floats in steps of an eighth of a metre (they compress well)."""
        out = array.array("f", (round(v * 8) / 8 for v in self.cells))
        return out.tobytes()
