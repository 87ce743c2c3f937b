"""Recipes of the page `routing-tools`, each as printed, compared with plain loops and with `waymask route`."""

import json
import random
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from . import plain, ways
from .bench import LAYER, Bench, Rows, Value, Wrong, package
from .engines import with_postgis
from .page import Page, moved
from .postgres import Server
from .questions import PLACES
from .ways import ALL, RATES, STRICT, Edge, Roads, Rules

# Tools add up seconds as binary fractions.
SUM_S = 1e-5
# The ends of a drive are sums over segments, each rounded to a millisecond.
ENDS_S = 0.05
CLICKS, FEW = 12, 30
PAGE_HEIGHT = ALL.where()
LEFT_OUT = "left out"
HERE = "9100000001 AS from_node, 9100000011 AS to_node"


def gated(bench: Bench) -> Bench:
    """The demo has no gates, so it gets some: streets with no way through, and one posted clearance that makes
    `waymask route` look again which roads are local."""
    copies = []
    for name, source in (("gated", bench.layer), ("gated-truth", bench.truth)):
        path = bench.home / f"{name}.gpkg"
        base, copy = sqlite3.connect(source), sqlite3.connect(path)
        base.backup(copy)
        copy.execute("UPDATE edges SET access = 'destination' WHERE way_id % 4 = 0 AND highway <> 'ferry'")
        copy.execute("UPDATE edges SET access = 'private' WHERE way_id % 7 = 0 AND highway <> 'ferry'")
        copy.execute(
            "UPDATE edges SET maxheight_m = 2.0 WHERE edge_id = (SELECT max(edge_id) FROM edges WHERE access = 'open')"
        )
        copy.commit()
        copy.close()
        base.close()
        copies.append(path)
    return replace(bench, layer=copies[0], truth=copies[1])


class Asked:
    """Pairs of junctions of a layer under some rules, and the costs that plain loops find, by rate."""

    def __init__(self, bench: Bench, rules: Rules, name: str, most: int = ways.PAIRS) -> None:
        self.rules, self.name = rules, name
        # How many pairs `waymask route` is asked for, which starts anew for each.
        self.most = most
        self.edges: list[Edge] = ways.edges(bench.truth, rules)
        self.roads = Roads(self.edges)
        self.pairs = ways.pairs(self.edges)
        self.costs = {k: [self.roads.cost(a, b, k) for a, b in self.pairs] for k in RATES}
        self.joined = sum(cost is not None for cost in self.costs[0.0])
        if not self.joined:
            raise Wrong(f"{name}: no pair is joined")

    def unlike_a_plain_search(self) -> int:
        """How many pairs a search without the rule for local roads answers otherwise."""
        blind = Roads(self.edges, levels=False)
        return sum(blind.cost(a, b, 0.0) != cost for (a, b), cost in zip(self.pairs, self.costs[0.0], strict=True))

    def compare(self, bench: Bench, tool: str, k: float, found: list[Value]) -> None:
        what = f"{self.name}, k {k:g} ({self.joined} joined)"
        bench.report.same("routing", tool, what, [[cost] for cost in found], [[cost] for cost in self.costs[k]], SUM_S)


def with_python(bench: Bench, page: Page, asked: list[tuple[Bench, Asked]]) -> None:
    """networkx and igraph, by the code of the page."""
    report = bench.report
    reading, recipes = page.take("edges"), {"nx": page.take("networkx"), "ig": page.take("igraph")}
    for short, recipe in recipes.items():
        name = {"nx": "networkx", "ig": "igraph"}[short]

        def run(short: str = short, name: str = name, code: str = recipe.text) -> None:
            version = package(name).__version__
            space: dict[str, Callable[..., object]] = {}
            exec(compile(reading.text + code, f"routing-tools.md, {name}", "exec"), space)
            for its, one in asked:
                table = bench.home / "edges.csv"
                bench.run(bench.waymask, "edges", its.layer, "-o", table, "--overwrite")
                rules = one.rules
                read = space["read_edges"](table, rules.height_m, rules.unpaved, rules.boarded, rules.private)
                assert isinstance(read, tuple)
                order, edges = read
                for k in RATES:
                    graph = space[f"{short}_graph"](order, edges, k)
                    answer: list[Value] = []
                    for a, b in one.pairs:
                        there = a in order and b in order
                        answer.append(space[f"{short}_cost"](graph, order, a, b) if there else None)
                    one.compare(bench, f"{name} {version}", k, answer)

        report.attempt("routing", name, run)


TABLES = "DROP TABLE IF EXISTS clicked, drive_pieces, pieces, asked, drive, main, usable CASCADE"


def with_pgrouting(bench: Bench, page: Page, server: Server, asked: list[tuple[Bench, Asked]]) -> None:
    load, network, cost = page.take("load"), page.take("pgr-network").text, page.take("pgr-cost").text
    pair = page.take("pgr-asked").text
    for its, one in asked:
        bench.run("ln", "-sf", its.layer, bench.home / LAYER)
        (bench.home / "edges.csv").unlink(missing_ok=True)
        server.sql(TABLES)
        for command in load.commands():
            server.command(command)
        version = server.sql("SELECT pgr_version()").split()[1]
        server.sql(moved(network, {PAGE_HEIGHT: one.rules.where()}))
        values = ", ".join(f"({a}, {b})" for a, b in one.pairs)
        moved(pair, {HERE: ""})
        server.sql(f"CREATE TABLE asked AS SELECT * FROM (VALUES {values}) AS pair(from_node, to_node)")
        for k in RATES:
            rows = with_postgis(server, moved(cost, {"2.5 *": f"{k} *"}))
            found = {(row[0], row[1]): row[2] for row in rows}
            one.compare(bench, f"pgRouting {version}", k, [found.get(pair) for pair in one.pairs])
    bench.run("ln", "-sf", bench.layer, bench.home / LAYER)
    server.sql(TABLES)
    for command in load.commands()[1:]:
        server.command(command)
    clicked(bench, page, server)


def route(bench: Bench, places: list[plain.Point], rules: Rules) -> dict[str, object] | None:
    """What `waymask route` says; nothing where no way joins the places."""
    words = [f"{lat:.7f},{lon:.7f}" for lon, lat in places]
    done = bench.tried(bench.waymask, "route", bench.layer, *words, "--ways", 20, "--json", *rules.flags())
    if done.returncode:
        if "no way joins" in done.stderr or "not connected" in done.stderr or "every road within" in done.stderr:
            return None
        raise Wrong(f"waymask route {' '.join(words)}: {done.stderr.strip()}")
    answer = json.loads(done.stdout)
    assert isinstance(answer, dict)
    return answer


def best_listed(answer: dict[str, object], k: float) -> float:
    found = answer["ways"]
    assert isinstance(found, list)
    return float(min(way["time_s"] + k * way["outage_s"] for way in found))


def with_waymask(bench: Bench, one: Asked) -> None:
    """`waymask route` between the junctions themselves. It lists the fastest way always, and others only where they
    save more than chance: then no listed way may be better than the best, and where none is left out it is the best."""
    places = {
        row["node_id"]: plain.line(row["geom"])[0] for row in plain.rows(bench.truth, "SELECT node_id, geom FROM nodes")
    }
    wrong: list[str] = []
    compared = {k: 0 for k in RATES}
    joined = [nth for nth, cost in enumerate(one.costs[0.0]) if cost is not None][: one.most]
    # Most of the time goes into starting the program: two at once.
    with ThreadPoolExecutor(2) as pool:
        ends = ([places[node] for node in one.pairs[nth]] for nth in joined)
        answers = list(pool.map(lambda points: route(bench, points, one.rules), ends))
    for nth, answer in zip(joined, answers, strict=True):
        (a, b), least = one.pairs[nth], {k: one.costs[k][nth] for k in RATES}
        if answer is None:
            wrong.append(f"{a} to {b}: waymask finds no way")
            continue
        notes = str(answer["notes"])
        for k in RATES:
            listed, least_s = best_listed(answer, k), float(least[k] or 0.0)
            whole = k == 0.0 or LEFT_OUT not in notes
            slack_s = ENDS_S * (1 + k)
            compared[k] += whole
            if listed < least_s - slack_s or (whole and listed > least_s + slack_s):
                wrong.append(f"{a} to {b}, k {k:g}: {listed:.3f} s, plain loops {least_s:.3f} s; {notes}")
    told = ", ".join(f"{compared[k]} at k {k:g}" for k in RATES)
    bench.report.add("routing", "waymask route", f"{one.name}: {told}", sum(compared.values()), wrong)


def clicked(bench: Bench, page: Page, server: Server) -> None:
    """From clicked points near roads, pgRouting compared with `waymask route`."""
    network, pieces = page.take("pgr-network").text, page.take("pgr-pieces").text
    click, cost = page.take("pgr-clicked").text, page.take("pgr-with-points").text
    zone = {"32626": PLACES[bench.region].words()["crs"]}
    server.sql(network)
    server.sql(moved(pieces, zone))
    draws = random.Random(ways.SEED)
    rows = list(plain.rows(bench.truth, "SELECT geom FROM segments WHERE highway NOT IN ('ferry', 'shuttle_train')"))
    theirs: Rows = []
    ours: Rows = []
    passed = more = 0
    while len(ours) < CLICKS and passed < 5 * CLICKS:
        points: list[plain.Point] = []
        for _ in range(2):
            line = plain.line(draws.choice(rows)["geom"])
            lon, lat = line[len(line) // 2]
            points.append((lon + draws.uniform(-2e-4, 2e-4), lat + draws.uniform(-2e-4, 2e-4)))
        answer = route(bench, points, ALL)
        notes = answer["notes"] if answer else [""]
        assert isinstance(notes, list)
        # Another road than the nearest was taken, for which the recipe does not look.
        if answer is None or any(LEFT_OUT not in note for note in notes):
            passed += 1
            continue
        rates = (0.0,) if notes else (0.0, 2.5)
        more += len(rates) - 1
        texts = [f"POINT({lon:.7f} {lat:.7f})" for lon, lat in points]
        text = moved(
            click, zone | dict(zip(("POINT(-28.0609 46.9686)", "POINT(-27.9194 46.9850)"), texts, strict=True))
        )
        distances = with_postgis(
            server, f"DROP TABLE IF EXISTS clicked; {text} SELECT distance_m FROM clicked ORDER BY pid"
        )
        costs = [with_postgis(server, moved(cost, {"2.5 *": f"{k} *"})) for k in rates]
        taken = answer["places"]
        assert isinstance(taken, list)
        theirs.append([row[0] for rows in (*costs, distances) for row in rows])
        ours.append([*(best_listed(answer, k) for k in rates), *(place["distance_m"] for place in taken)])
    bench.report.same(
        "routing", "pgRouting", f"clicked points, k 0, {more} at k 2.5 ({passed} passed over)", theirs, ours, 0.2
    )


def prove(bench: Bench, page: Page, server: Server | None) -> None:
    asked = [(bench, Asked(bench, ALL, ALL.name)), (bench, Asked(bench, STRICT, STRICT.name, FEW))]
    if bench.on_demo:
        its = gated(bench)
        asked.append((its, Asked(its, ALL, "gates added", FEW)))
    for _, one in asked:
        otherwise = f"a plain search answers {one.unlike_a_plain_search()} of {ways.PAIRS} pairs otherwise"
        bench.report.notes.append(f"{bench.region}, {one.name}: {otherwise}")
    with_python(bench, page, asked)
    for its, one in asked:
        with_waymask(its, one)
    if server is None:
        return
    with_pgrouting(bench, page, server, asked)
