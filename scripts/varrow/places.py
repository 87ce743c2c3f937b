"""Everything that is not a road: houses, woods, stops, walls, the coast and the harbour."""

import random

from . import geometry as geo
from . import plan

CURVE_M = 60


def add_roads(world, roads):
    """Roads, railways and paths as ways with shared nodes."""
    for road in roads:
        for points, tags in road.pieces():
            world.way(points, tags, shared=True)
    track = next(r for r in roads if r.key == "tramway")
    for at, point in track.extra.items():
        if track.kind_at(at) == "road":
            world.node(point, {"railway": "level_crossing"}, shared=True)
    world.way(geo.straight(plan.FERRY[:2], 500) + geo.smooth(plan.FERRY[1:-1], 300)[1:] + [plan.FERRY[-1]],
              {"route": "ferry", "motor_vehicle": "yes", "foot": "yes", "name": "Harrow Quay - Eastmark Ferry", "duration": "01:10"}, shared=True)


def add_coast(world):
    ring = geo.smooth(plan.OUTLINE, 120, closed=True)
    coast = world.way(ring, {"natural": "coastline"})
    world.relation([(coast, "outer")], {"place": "island", "name": "Varrow", "driving_side": "right"})
    add_places(world, plan.PLACES)
    for (x, y), name in (((2300, 1205), "Harrow Quay gauge"), ((13838, 2945), "Eastmark gauge"), ((8262, 8352), "Pellhaven gauge")):
        world.node((x, y), {"man_made": "monitoring_station", "monitoring:water_level": "yes", "name": name})


def add_places(world, named):
    for name, (point, kind, people) in named.items():
        world.node(point, {"place": kind, "name": name} | ({"population": str(people)} if people else {}))


def add_water(world):
    """Lakes, a river and the names that came with them; last, so that everything else keeps its id."""
    for name, tags, ring, island in plan.LAKES:
        shore = geo.smooth(ring, CURVE_M, closed=True)
        if island:
            world.multipolygon([("outer", shore), ("inner", geo.smooth(island, CURVE_M / 3, closed=True))], {**tags, "name": name})
        else:
            world.area(shore, {**tags, "name": name})
    name, course = plan.RIVER
    world.way(geo.smooth(course, 2 * CURVE_M), {"waterway": "river", "name": name})
    add_places(world, plan.LATER_PLACES)
    point, name = plan.PASS
    world.node(point, {"mountain_pass": "yes", "name": name})


def wood_rings(network):
    """Rings of all woods: (key, tags, outer, inner or None, crown height in metres)."""
    out = []
    for key, tags, ring, height in plan.WOODS:
        points = geo.smooth([network.place(p) for p in ring], CURVE_M, closed=True)
        out.append((key, tags, points, None, height))
    outer, inner, height = plan.CLEARING_WOOD
    tags = {"natural": "wood", "leaf_type": "mixed", "name": "Ash Wood"}
    out.append(("ash-wood", tags, geo.smooth(outer, CURVE_M, closed=True), geo.smooth(inner, CURVE_M, closed=True), height))
    ring, height = plan.ORCHARD
    tags = {"landuse": "orchard", "trees": "apple_trees", "leaf_type": "broadleaved", "leaf_cycle": "deciduous", "est_height": "5"}
    out.append(("orchard", tags, [*ring, ring[0]], None, height))
    return out


def stretch(road, start, end, left_m, step_m=20):
    """Points beside a piece of road."""
    count = max(2, round((end - start) / step_m))
    out = []
    for i in range(count + 1):
        point, d = geo.along(road.line, start + (end - start) * i / count)
        out.append(geo.tidy((point[0] - d[1] * left_m, point[1] + d[0] * left_m)))
    return out


def add_green(world, network):
    for _, tags, outer, inner, _ in wood_rings(network):
        if inner:
            world.multipolygon([("outer", outer), ("inner", inner)], tags)
        else:
            world.area(outer, tags)
    for tags, key, start, end, left, _ in plan.TREE_ROWS:
        world.way(stretch(network.roads[key], start, end, left), {"natural": "tree_row", **tags})
    for point, height in single_trees(network):
        world.node(point, {"natural": "tree", "leaf_type": "broadleaved", "height": str(height), "diameter_crown": "8"})


def single_trees(network):
    """Trees standing alone: the rest area's and the town's."""
    rest = network.roads["rest-lane"]
    beside = [(p, 11) for p in stretch(rest, 140, 340, -9, 22)]
    return beside + [((2405, 1700), 14), ((2440, 1725), 12), ((2020, 1700), 13), ((13210, 3000), 9)]


def add_strips(world, network):
    """Hedges, walls, barriers, the rock walls' cliffs, a gantry and a pipeline over the road."""
    for tags, key, start, end, left in plan.STRIPS:
        world.way(stretch(network.roads[key], start, end, left), tags)
    for key, start, end, top in plan.ROCK_WALLS:
        road = network.roads[key]
        span = sorted(geo.nearest(road.line, p)[0] for p in (start, end))
        # A cliff is drawn with its lower side on the right.
        world.way(stretch(road, *span, 13), {"natural": "cliff", "height": str(top // 3)})
        world.way(stretch(road, *span, -13)[::-1], {"natural": "cliff", "height": str(top // 3)})
    world.way([network.beside(5750, -18), network.beside(5750, -1)], {"man_made": "gantry", "height": "7.5"})
    world.way([(4940, 3180), (5010, 3125), (5110, 3040), (5160, 3000)],
              {"man_made": "pipeline", "location": "overhead", "layer": "1", "substance": "water"})


def overlap(one, two):
    if max(p[0] for p in one) < min(p[0] for p in two) or max(p[0] for p in two) < min(p[0] for p in one):
        return False
    return any(geo.inside(two[:-1], p) for p in one) or any(geo.inside(one[:-1], p) for p in two)


class Houses:
    """Rows of houses along the streets, none on a road or on another."""

    def __init__(self, network):
        self.dice = random.Random(28)
        self.lines = [r.line for r in network.roads.values()]
        self.rings = []

    def free(self, ring):
        if any(overlap(ring, other) for other in self.rings):
            return False
        middle = ((ring[0][0] + ring[2][0]) / 2, (ring[0][1] + ring[2][1]) / 2)
        for line in self.lines:
            if geo.nearest(line, middle)[1] < 40 and any(geo.nearest(line, p)[1] < 3.5 for p in (*ring[:4], middle)):
                return False
        return True

    def place(self, world, ring, tags):
        self.rings.append(ring)
        world.area(ring, tags)

    def row(self, world, road, spec, side):
        _, start, end, low, high, gap, setback = spec
        at = start + self.dice.random() * 10
        while at < min(end, road.length - 8):
            front, deep = 10 + self.dice.random() * 9, 9 + self.dice.random() * 4
            storeys = low + int(self.dice.random() * (high - low + 1))
            point, d = geo.along(road.line, at + front / 2)
            reach = (setback + deep / 2) * side
            ring = geo.rectangle((point[0] - d[1] * reach, point[1] + d[0] * reach), d, front, deep)
            if self.free(ring):
                tags = {"building": "house" if storeys < 3 else "apartments"}
                if self.dice.random() < 0.2:
                    tags["height"] = f"{storeys * 3 + 2.5:g}"
                elif self.dice.random() < 0.9:
                    tags["building:levels"] = str(storeys)
                self.place(world, ring, tags)
            at += front + gap * (0.6 + self.dice.random())


def add_houses(world, network):
    houses = Houses(network)
    # The house over Cooper Yard and the hall over the Market Row arcade stand across their streets.
    houses.place(world, geo.rectangle((2167, 1490.3), (1, 0), 14, 22), {"building": "apartments", "building:levels": "3", "name": "Cooper House"})
    houses.place(world, geo.rectangle((2205, 1618), (1, 0.04), 68, 12), {"building": "retail", "building:levels": "3", "name": "Market Hall"})
    houses.place(world, geo.rectangle((2390, 1545), (0, 1), 18, 12), {"building": "church", "height": "14", "name": "Fishers' Chapel"})
    houses.place(world, geo.rectangle((2390, 1557), (0, 1), 6, 6), {"building:part": "yes", "height": "24"})
    for spec in plan.HOUSES:
        for side in (1, -1):
            houses.row(world, network.roads[spec[0]], spec, side)


def add_stops(world, network):
    add_fuel(world, network)
    halt = [(network.beside(x, left)) for x, left in ((6560, -42), (6720, -42), (6730, -92), (6550, -92))]
    world.area(halt, {"highway": "rest_area", "name": "Strand Halt", "toilets": "yes"})
    world.area([network.beside(x, left) for x, left in ((6590, -62), (6690, -62), (6690, -80), (6590, -80))], {"amenity": "parking", "surface": "asphalt"})
    world.node(network.beside(6640, -86), {"tourism": "picnic_site", "name": "Strand Halt tables"})
    camp = [(4690, 2430), (4850, 2480), (4870, 2600), (4760, 2640), (4690, 2560)]
    world.area(camp, {"tourism": "camp_site", "name": "Sallow Wood Camp"})
    for i, point in enumerate(((4745, 2495), (4775, 2530), (4790, 2580), (4730, 2540)), 1):
        world.node(point, {"tourism": "camp_pitch", "ref": str(i)})
    world.area([(3050, 3420), (3280, 3400), (3340, 3560), (3180, 3660), (3040, 3580)], {"tourism": "camp_site", "name": "Clearing Camp"})
    world.area([(5580, 680), (5720, 670), (5740, 790), (5630, 800)], {"tourism": "camp_site", "name": "Shingle Strand Camp"})
    world.node((5660, 740), {"tourism": "camp_pitch", "ref": "S1"})
    world.node((8872, 3118), {"tourism": "caravan_site", "name": "Moor Halt"})
    world.node((5316, 1650), {"tourism": "picnic_site", "name": "Shingle Steps Green"})
    world.node((1502, 4806), {"tourism": "viewpoint", "name": "Lighthouse Head"})
    world.node((6972, 5960), {"tourism": "viewpoint", "name": "Wether Pass", "ele": "430"})
    world.area(geo.rectangle((7012, 6262), (0.5, 1), 40, 14), {"amenity": "parking", "surface": "gravel", "name": "Wether Pass North"})
    world.area(geo.rectangle((2400, 1290), (0.8, 0.6), 60, 25), {"amenity": "parking", "name": "Ferry Parking"})


def add_fuel(world, network):
    lane = network.roads["pump-lane"]
    start, end = next((a, b) for a, b, _, tags in lane.parts if "covered" in tags)
    centre, d = geo.along(lane.line, (start + end) / 2)
    world.area(geo.rectangle(centre, d, 24, 16), {"building": "roof", "layer": "1", "height": "5.8", "name": "Sallow Cross Pumps roof"})
    world.area(geo.rectangle(centre, d, 46, 34), {"amenity": "fuel", "name": "Sallow Cross Pumps", "fuel:diesel": "yes", "covered": "yes"})
    shop = (centre[0] + d[1] * 24, centre[1] - d[0] * 24)
    world.area(geo.rectangle(shop, d, 18, 9), {"building": "retail", "building:levels": "1"})
    lane = network.roads["east-pumps"]
    centre, d = geo.along(lane.line, lane.length / 2)
    world.area(geo.rectangle(centre, d, 34, 26), {"amenity": "fuel", "name": "Eastmark Pumps", "fuel:diesel": "yes"})
    world.area(geo.rectangle((centre[0] + d[1] * 18, centre[1] - d[0] * 18), d, 7, 5), {"building": "kiosk", "building:levels": "1"})
