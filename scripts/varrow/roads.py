"""Turns the plan's roads into lines with shared places at junctions and none where one passes over another."""

import math

from . import geometry as geo
from . import plan

VERTEX_STEP_M = 24
STATION_STEP_M = 10
DECK_ABOVE_HIGHWAY_M = 6.8
# Flat half width and rise of a cutting's side, by class, as the relief is graded.
BENCH_M = {"trunk": 16, "trunk_link": 12, "secondary": 14, "tertiary": 12, "track": 9}
BENCH_ELSE_M = 11
RAMP_FADE_M = 60


class Road:
    """One road of the plan: its line, its pieces with tags of their own, its junctions, later its heights."""

    def __init__(self, key, tags, line, grade=0.08):
        self.key, self.tags, self.line, self.grade = key, tags, line, grade
        self.extra = {}  # chainage -> point of an inserted vertex
        self.parts = []  # (from, to, kind, tags)
        self.joins = []  # (own chainage, other road, its chainage)
        self.over_at = None
        self.copy_of = None
        self.stations, self.heights = [], []

    @property
    def length(self):
        return geo.chainage(self.line)[-1]

    def kind_at(self, at_m):
        """The kind of piece at a chainage: tunnel, bridge or road."""
        for start, end, kind, tags in self.parts:
            if start - 0.01 <= at_m <= end + 0.01 and kind != "tag":
                return "road" if tags.get("tunnel") == "avalanche_protector" else kind
        return "road"

    def height_at(self, at_m):
        """Height of the carriageway in metres, between stations."""
        step = self.stations[1] - self.stations[0]
        i = max(0, min(len(self.stations) - 2, int(at_m / step)))
        t = max(0.0, min(1.0, (at_m - self.stations[i]) / step))
        return self.heights[i] * (1 - t) + self.heights[i + 1] * t

    def vertices(self):
        """All vertices as (chainage, point), inserted ones and piece ends included."""
        found = dict(zip(geo.chainage(self.line), self.line))
        for start, end, _, _ in self.parts:
            for at in (start, end):
                if not any(abs(at - s) < 0.05 for s in self.extra):
                    found[at] = geo.tidy(geo.along(self.line, at)[0])
        found.update(self.extra)
        return sorted(found.items())

    def pieces(self):
        """The road cut at its parts: (points, tags) in order."""
        cuts = sorted({0.0, self.length, *(p[0] for p in self.parts), *(p[1] for p in self.parts)})
        vertices = self.vertices()
        for start, end in zip(cuts, cuts[1:]):
            points = [p for s, p in vertices if start - 1e-6 <= s <= end + 1e-6]
            points = [p for i, p in enumerate(points) if i == 0 or p != points[i - 1]]
            tags = dict(self.tags)
            for from_m, to_m, _, more in self.parts:
                if from_m <= (start + end) / 2 <= to_m:
                    tags.update(more)
            if len(points) > 1:
                yield points, tags


class Plan:
    """All roads of the plan, joined."""

    def __init__(self):
        self.spine = geo.smooth(plan.HIGHWAY, VERTEX_STEP_M)
        self.spine_at = geo.chainage(self.spine)
        self.roads = {}
        for key, (centre, name) in plan.ROUNDABOUTS.items():
            self.roads[key] = roundabout(key, centre, name)
        for spec in plan.ROADS:
            self.add(spec)
        self.node_crossings()

    def beside(self, x, left_m):
        """The place beside the highway's centre line at this x."""
        for a, b in zip(self.spine, self.spine[1:]):
            if a[0] <= x <= b[0]:
                t = (x - a[0]) / (b[0] - a[0])
                d = geo.unit(a, b)
                return geo.tidy((x - d[1] * left_m, a[1] + (b[1] - a[1]) * t + d[0] * left_m))
        raise ValueError(f"the highway does not pass x = {x}")

    def place(self, point):
        return self.beside(point[1], point[2]) if point[0] == "hw" else point

    def add(self, spec):
        if "side" in spec:
            line = geo.offset(self.spine, spec["side"])
            line = line if spec["side"] < 0 else line[::-1]
        else:
            points = [self.place(p) for p in spec["points"]]
            curve = spec.get("curve", "smooth")
            line = geo.smooth(points, VERTEX_STEP_M) if curve == "smooth" else geo.fillet(points, curve, 9)
        road = Road(spec["key"], spec["tags"], line, spec["grade"])
        for end, index in (("start", 0), ("end", -1)):
            if end in spec:
                self.join(road, index, self.roads[spec[end]])
        if spec.get("side", 0) > 0:
            road.copy_of = self.roads["eastbound"]
        for start, end, kind, tags in spec.get("parts", []):
            at = sorted(geo.nearest(road.line, self.place(p))[0] for p in (start, end))
            road.parts.append((round(at[0], 1), round(at[1], 1), kind, tags))
        if "over" in spec:
            half, tags = spec["over"]
            road.over_at = self.meets_spine(road)
            middle = road.over_at[0]
            road.parts.append((round(middle - half, 1), round(middle + half, 1), "bridge", tags))
        self.roads[road.key] = road

    def join(self, road, index, other):
        """Moves an end of the road onto the other road and puts a shared vertex there."""
        at, _ = geo.nearest(other.line, road.line[index])
        total = other.length
        at = 0.0 if at < 2 else total if at > total - 2 else at
        point = geo.tidy(geo.along(other.line, at)[0])
        road.line[index] = point
        other.extra[at] = point
        road.joins.append((0.0 if index == 0 else road.length, other, at))

    def meets_spine(self, road):
        walked = 0.0
        for a, b in zip(road.line, road.line[1:]):
            for i, (c, d) in enumerate(zip(self.spine, self.spine[1:])):
                hit = geo.crossing(a, b, c, d)
                if hit:
                    return walked + hit[0] * geo.dist(a, b), self.spine_at[i] + hit[1] * geo.dist(c, d)
            walked += geo.dist(a, b)
        raise ValueError(f"{road.key} does not cross the highway")

    def node_crossings(self):
        """Shared vertices where two roads cross on the ground."""
        roads = list(self.roads.values())
        for i, one in enumerate(roads):
            for two in roads[i + 1 :]:
                for at_one, at_two, point in line_crossings(one.line, two.line):
                    ends = min(at_one, one.length - at_one, at_two, two.length - at_two)
                    if one.kind_at(at_one) == two.kind_at(at_two) == "road" and ends > 1:
                        one.extra[at_one] = two.extra[at_two] = point
                        two.joins.append((at_two, one, at_one))


def line_crossings(one, two):
    """Every crossing of two lines: chainage on each and the point."""
    out = []
    if not boxes_meet(one, two):
        return out
    at_one, at_two = geo.chainage(one), geo.chainage(two)
    for i, (a, b) in enumerate(zip(one, one[1:])):
        for j, (c, d) in enumerate(zip(two, two[1:])):
            if max(a[0], b[0]) < min(c[0], d[0]) or max(c[0], d[0]) < min(a[0], b[0]):
                continue
            hit = geo.crossing(a, b, c, d)
            if hit:
                point = geo.tidy((a[0] + (b[0] - a[0]) * hit[0], a[1] + (b[1] - a[1]) * hit[0]))
                out.append((at_one[i] + hit[0] * geo.dist(a, b), at_two[j] + hit[1] * geo.dist(c, d), point))
    return out


def boxes_meet(one, two):
    return all(
        max(p[k] for p in one) >= min(p[k] for p in two) and max(p[k] for p in two) >= min(p[k] for p in one) for k in (0, 1)
    )


def roundabout(key, centre, name):
    """A ring driven counter-clockwise, as right-hand traffic does."""
    line = [
        geo.tidy((centre[0] + plan.ROUNDABOUT_RADIUS_M * math.cos(math.tau * i / 20), centre[1] + plan.ROUNDABOUT_RADIUS_M * math.sin(math.tau * i / 20)))
        for i in range(20)
    ]
    tags = {"highway": "tertiary", "junction": "roundabout", "oneway": "yes", "maxspeed": "50", "surface": "asphalt", "name": name}
    return Road(key, tags | {"driving_side": "right"}, [*line, line[0]], 0.001)


def set_heights(roads, ground):
    """Heights of every road at its stations, in order of standing; `ground` gives the natural height of a point."""
    for road in roads:
        total = road.length
        count = max(2, math.ceil(total / STATION_STEP_M))
        road.stations = [total * i / count for i in range(count + 1)]
        points = [geo.along(road.line, s)[0] for s in road.stations]
        if road.copy_of:
            road.heights = [road.copy_of.height_at(geo.nearest(road.copy_of.line, p)[0]) for p in points]
            continue
        heights = [ground(p) for p in points]
        if road.tags.get("junction") == "roundabout":
            heights = [sum(heights) / len(heights)] * len(heights)
        span_gaps(road, heights)
        reach = 7 if road.grade <= 0.065 else 3
        for _ in range(2):
            heights = box_mean(heights, reach)
        heights = limit_grade(heights, road.grade * total / count)
        road.heights = span_gaps(road, heights)
        hold_pins(road, roads)


def span_gaps(road, heights):
    """Through tunnels and over valleys the road runs straight between the ends."""
    for start, end, kind, tags in road.parts:
        if kind == "tag" or tags.get("tunnel") == "avalanche_protector":
            continue
        inner = [i for i, s in enumerate(road.stations) if start <= s <= end]
        first, last = max(0, inner[0] - 1), min(len(heights) - 1, inner[-1] + 1)
        for i in inner:
            t = (i - first) / (last - first)
            heights[i] = heights[first] * (1 - t) + heights[last] * t
    return heights


def box_mean(values, reach):
    sums = [0.0]
    for v in values:
        sums.append(sums[-1] + v)
    out = []
    for i in range(len(values)):
        r = min(reach, i, len(values) - 1 - i)
        out.append((sums[i + r + 1] - sums[i - r]) / (2 * r + 1))
    return out


def limit_grade(values, rise):
    """Half-way between the lowest line above and the highest below that climb at most `rise` per station."""
    upper, lower = list(values), list(values)
    steps = [(i, i - 1) for i in range(1, len(values))] + [(i, i + 1) for i in range(len(values) - 2, -1, -1)]
    for here, there in steps:
        upper[here] = max(upper[here], upper[there] - rise)
        lower[here] = min(lower[here], lower[there] + rise)
    return [(u + v) / 2 for u, v in zip(upper, lower)]


def hold_pins(road, roads):
    """Bends the road's heights to what it joins, and over the highway where it crosses."""
    pins = [(at, other.height_at(other_at)) for at, other, other_at in road.joins if other.heights and other is not road]
    if road.over_at:
        east = next(r for r in roads if r.key == "eastbound")
        deck = east.height_at(geo.nearest(east.line, geo.along(road.line, road.over_at[0])[0])[0]) + DECK_ABOVE_HIGHWAY_M
        start, end = next((a, b) for a, b, kind, _ in road.parts if kind == "bridge")
        pins += [(start, deck), (road.over_at[0], deck), (end, deck)]
    for at, height in pins:
        room = [road.grade * abs(s - at) for s in road.stations]
        road.heights = [max(height - r, min(height + r, z)) for z, r in zip(road.heights, room)]
    for at, height in pins:
        miss = height - road.height_at(at)
        road.heights = [z + miss * max(0.0, 1 - abs(s - at) / RAMP_FADE_M) for s, z in zip(road.stations, road.heights)]
