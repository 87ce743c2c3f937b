"""Ways between junctions in plain loops, by the rules of `waymask route`, in whole milliseconds."""

import heapq
import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from . import plain

SEED, PAIRS = 20_260_101, 100
RATES = (0.0, 1.0, 2.5)
BOARDED = ("ferry", "shuttle_train")


@dataclass(frozen=True)
class Rules:
    """What a vehicle uses."""

    name: str
    height_m: float = 2.2
    unpaved: bool = True
    boarded: bool = True
    private: bool = True

    def flags(self) -> list[str]:
        avoided = {"--no-unpaved": self.unpaved, "--no-ferry": self.boarded, "--no-private": self.private}
        return ["--height", f"{self.height_m}m", *(flag for flag, used in avoided.items() if not used)]

    def where(self) -> str:
        """The condition of the page in SQL, with what the page says to add."""
        parts = [f"(maxheight_m IS NULL OR maxheight_m > {self.height_m} - 0.005)"]
        parts += [] if self.unpaved else ["NOT unpaved"]
        parts += [] if self.boarded else ["highway NOT IN ('ferry', 'shuttle_train')"]
        parts += [] if self.private else ["access <> 'private'"]
        return " AND ".join(parts)


ALL = Rules("all roads")
STRICT = Rules("paved public roads, 4 m, no ferry", 4.0, False, False, False)


@dataclass(frozen=True)
class Edge:
    begin: int
    end: int
    time_ms: int
    outage_ms: int
    open: bool
    used: bool


def edges(layer: Path, rules: Rules) -> list[Edge]:
    found = []
    for row in plain.rows(layer, "SELECT * FROM edges ORDER BY edge_id"):
        clearance = row["maxheight_m"]
        used = (
            (clearance is None or float(str(clearance)) >= rules.height_m)
            and (rules.unpaved or not row["unpaved"])
            and (rules.boarded or row["highway"] not in BOARDED)
            and (rules.private or row["access"] != "private")
        )
        begin, end = int(str(row["from_node"])), int(str(row["to_node"]))
        ms = [round(1000 * float(str(row[name]))) for name in ("time_s", "outage_s")]
        found.append(Edge(begin, end, ms[0], ms[1], row["access"] == "open", used))
    return found


def reached(start: int, following: dict[int, list[int]], free: set[int]) -> list[int]:
    """Junctions that are met from one, each after all that it leads to."""
    order: list[int] = []
    free.discard(start)
    stack = [(start, iter(following.get(start, ())))]
    while stack:
        node, rest = stack[-1]
        step = next((n for n in rest if n in free), None)
        if step is None:
            order.append(node)
            stack.pop()
        else:
            free.discard(step)
            stack.append((step, iter(following.get(step, ()))))
    return order


def followers(pairs: Iterable[tuple[int, int]]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for a, b in pairs:
        found.setdefault(a, []).append(b)
    return found


def main_part(all_edges: list[Edge]) -> set[int]:
    """Junctions of the largest strongly connected part of the open roads, of each network; of equal ones the first."""
    place: dict[int, int] = {}
    for edge in all_edges:
        for node in (edge.begin, edge.end):
            place.setdefault(node, len(place))
    used = [edge for edge in all_edges if edge.used]
    nodes = {node for edge in used for node in (edge.begin, edge.end)}
    both = followers([(e.begin, e.end) for e in used] + [(e.end, e.begin) for e in used])
    onward = followers((e.begin, e.end) for e in used if e.open)
    back = followers((e.end, e.begin) for e in used if e.open)
    network: dict[int, int] = {}
    free = set(nodes)
    while free:
        start = next(iter(free))
        network.update(dict.fromkeys(reached(start, both, free), start))
    free, order = set(nodes), list[int]()
    while free:
        order += reached(next(iter(free)), onward, free)
    best: dict[int, tuple[int, int, list[int]]] = {}
    free = set(nodes)
    for start in reversed(order):
        if start in free:
            part = reached(start, back, free)
            key = (len(part), -min(place[node] for node in part), part)
            best[network[start]] = max(best.get(network[start], key), key)
    return {node for _, _, part in best.values() for node in part}


@dataclass
class Roads:
    """The graph, with roads that serve only the ends of a drive; or the graph in which they serve all of it."""

    all_edges: list[Edge]
    levels: bool = True
    leaving: dict[int, list[tuple[Edge, bool]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        main = main_part(self.all_edges)
        for edge in self.all_edges:
            if edge.used:
                through = not self.levels or (edge.open and edge.begin in main and edge.end in main)
                self.leaving.setdefault(edge.begin, []).append((edge, through))

    def cost(self, begin: int, end: int, k: float) -> float | None:
        """Seconds of the best way; nothing where there is none."""
        # Rates have at most three decimals, so that sums are whole.
        weight = round(1000 * k)
        best = {(begin, 0): 0}
        heap = [(0, begin, 0)]
        while heap:
            cost, node, level = heapq.heappop(heap)
            if cost > best[node, level]:
                continue
            if node == end:
                return cost / 1e6
            for edge, through in self.leaving.get(node, ()):
                if through and level == 2:
                    continue
                after = 1 if through else (0 if level == 0 else 2)
                total = cost + 1000 * edge.time_ms + weight * edge.outage_ms
                if total < best.get((edge.end, after), total + 1):
                    best[edge.end, after] = total
                    heapq.heappush(heap, (total, edge.end, after))
        return None


def pairs(all_edges: list[Edge]) -> list[tuple[int, int]]:
    """Junctions drawn at random, the same in every run."""
    nodes = sorted({node for edge in all_edges for node in (edge.begin, edge.end)})
    draws = random.Random(SEED)
    drawn: dict[tuple[int, int], None] = {}
    while len(drawn) < PAIRS:
        a, b = draws.choice(nodes), draws.choice(nodes)
        if a != b:
            drawn[a, b] = None
    return list(drawn)
