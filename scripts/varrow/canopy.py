"""Canopy height in whole metres on a fine grid: woods, rows and trees, cleared along the roads."""

import math
import random

from . import geometry as geo
from . import places
from . import plan

CELL_M = 5
# Clear half width from a road's middle by class; crowns close over what is not named here.
CLEAR_M = {"trunk": 15, "trunk_link": 8, "secondary": 8, "tertiary": 7, "unclassified": 6.5, "residential": 6.5, "service": 5}
CLEAR_STEP_M = 2.5
ORCHARD_SHARE = 0.45


class Canopy:
    def __init__(self):
        self.cols = (plan.WIDTH_M[1] - plan.WIDTH_M[0]) // CELL_M
        self.rows = (plan.HEIGHT_M[1] - plan.HEIGHT_M[0]) // CELL_M
        self.cells = bytearray(self.cols * self.rows)
        self.dice = random.Random(5)

    def build(self, network):
        for key, _, outer, inner, height in places.wood_rings(network):
            self.wood([outer] + ([inner] if inner else []), height, ORCHARD_SHARE if key == "orchard" else 0.97)
        for road in network.roads.values():
            self.clear(road)
        for _, key, start, end, left, height in plan.TREE_ROWS:
            for point in places.stretch(network.roads[key], start, end, left, 4):
                self.disc(point, 3.5, height)
        for point, height in places.single_trees(network):
            self.disc(point, 4, height)

    def wood(self, rings, height, share):
        """Fills the rings (even-odd) with crowns 0.8 to 1.1 times the height, a few gaps between them."""
        edges = [e for ring in rings for e in zip(ring, ring[1:])]
        ys = [p[1] for ring in rings for p in ring]
        for row in range(self.row(max(ys)), self.row(min(ys)) + 1):
            y = plan.HEIGHT_M[1] - (row + 0.5) * CELL_M
            hits = sorted(a[0] + (y - a[1]) * (b[0] - a[0]) / (b[1] - a[1]) for a, b in edges if (a[1] > y) != (b[1] > y))
            for west, east in zip(hits[::2], hits[1::2]):
                for col in range(math.ceil(self.col(west) - 0.5), math.floor(self.col(east) - 0.5) + 1):
                    if self.dice.random() < share:
                        self.cells[row * self.cols + col] = round(height * (0.8 + 0.3 * self.dice.random()))

    def row(self, y):
        return int((plan.HEIGHT_M[1] - y) / CELL_M)

    def col(self, x):
        return (x - plan.WIDTH_M[0]) / CELL_M

    def disc(self, point, radius_m, height):
        col, row, span = self.col(point[0]) - 0.5, (plan.HEIGHT_M[1] - point[1]) / CELL_M - 0.5, radius_m / CELL_M
        for r in range(math.ceil(row - span), math.floor(row + span) + 1):
            for c in range(math.ceil(col - span), math.floor(col + span) + 1):
                if math.hypot(r - row, c - col) <= span:
                    self.cells[r * self.cols + c] = height

    def clear(self, road):
        radius = CLEAR_M.get(road.tags.get("highway"), 4 if "railway" in road.tags else 0)
        total, at = road.length, 0.0
        if radius == 0:
            return
        for a, b in zip(road.line, road.line[1:]):
            pieces = max(1, math.ceil(geo.dist(a, b) / CLEAR_STEP_M))
            for i in range(pieces):
                where = at + geo.dist(a, b) * i / pieces
                if road.kind_at(min(where, total)) != "tunnel":
                    self.disc((a[0] + (b[0] - a[0]) * i / pieces, a[1] + (b[1] - a[1]) * i / pieces), radius, 0)
            at += geo.dist(a, b)
