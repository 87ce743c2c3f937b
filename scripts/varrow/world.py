"""Collects map objects with ids of their own and hands them to the PBF writer."""

from . import geometry as geo
from . import pbf

FIRST_NODE, FIRST_WAY, FIRST_RELATION = 9_100_000_001, 9_200_000_001, 9_300_000_001
PROGRAM = "waymask make-varrow"
SOURCE = "invented island, CC0"
TIMESTAMP_S = 1_767_225_600  # 2026-01-01T00:00:00Z


class World:
    """Nodes shared by place within one group (roads), or private to their object (areas)."""

    def __init__(self):
        self.points, self.tags, self.shared = {}, {}, {}
        self.ways, self.relations = [], []

    def node(self, point, tags=None, shared=False):
        point = geo.tidy(point)
        if shared and point in self.shared:
            ident = self.shared[point]
        else:
            ident = FIRST_NODE + len(self.points)
            self.points[ident] = point
            if shared:
                self.shared[point] = ident
        if tags:
            self.tags.setdefault(ident, {}).update(tags)
        return ident

    def way(self, points, tags, shared=False):
        """Adds a way; equal first and last points make it closed."""
        closed = len(points) > 3 and geo.tidy(points[0]) == geo.tidy(points[-1])
        refs = [self.node(p, shared=shared) for p in (points[:-1] if closed else points)]
        if closed:
            refs.append(refs[0])
        ident = FIRST_WAY + len(self.ways)
        self.ways.append((ident, refs, dict(tags)))
        return ident

    def area(self, ring, tags):
        return self.way([*ring, ring[0]] if ring[0] != ring[-1] else ring, tags)

    def multipolygon(self, rings, tags):
        """Adds a relation of (role, ring) with untagged ways."""
        members = [(self.area(ring, {}), role) for role, ring in rings]
        return self.relation(members, tags)

    def relation(self, members, tags):
        ident = FIRST_RELATION + len(self.relations)
        self.relations.append((ident, members, {"type": "multipolygon", **tags}))
        return ident

    def write(self, path):
        nodes = []
        for ident, point in self.points.items():
            lon, lat = geo.lonlat(point)
            nodes.append((ident, round(lon * 1e7), round(lat * 1e7), self.tags.get(ident, {})))
        pbf.write(path, nodes, self.ways, self.relations, PROGRAM, SOURCE, TIMESTAMP_S)
