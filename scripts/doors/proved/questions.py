"""Queries of the page `sql`, each as printed, compared with plain loops over the rows of the layer."""

import itertools
import json
import math
from collections.abc import Callable
from dataclasses import dataclass

from . import plain
from .bench import EXTRACT, LAYER, Bench, Missing, Rows, program
from .engines import Duck, csv_text, statement, uses_rtree, with_gdal, with_postgis, with_sqlite
from .page import Page, moved
from .postgres import Server

BOARDED = ("ferry", "shuttle_train")
NEAR_M = 250.0


@dataclass(frozen=True)
class Place:
    """Where the queries of the page are asked on another region."""

    box: tuple[float, float, float, float]
    line: list[plain.Point]
    zone: int

    def words(self) -> dict[str, str]:
        west, south, east, north = self.box
        return {
            "box": f"{west:.2f}, {south:.2f}, {east:.2f}, {north:.2f}",
            "line": f"LINESTRING({', '.join(f'{x:.2f} {y:.2f}' for x, y in self.line)})",
            "crs": f"326{self.zone:02d}",
        }


PLACES = {
    "Varrow": Place((-28.03, 46.95, -27.90, 47.04), [(-28.05, 46.97), (-28.00, 46.98), (-27.95, 46.98)], 26),
    "Andorra": Place((1.45, 42.45, 1.60, 42.55), [(1.48, 42.48), (1.53, 42.53), (1.60, 42.55)], 31),
}


def there(bench: Bench, text: str) -> str:
    """A text of the page where the region lies; on the demo it stays as it is."""
    old, new = PLACES["Varrow"].words(), PLACES[bench.region].words()
    return moved(text, {old[key]: new[key] for key in old if old[key] in text})


def worst(bench: Bench) -> Rows:
    west, south, east, north = PLACES[bench.region].box
    segments = {row["segment_id"]: row for row in plain.rows(bench.truth, "SELECT * FROM segments")}
    found = []
    for row in plain.rows(bench.truth, "SELECT * FROM outages"):
        w, s, e, n = plain.box(plain.line(row["geom"]))
        if e < west or w > east or n < south or s > north or row["cause"] == "boarded":
            continue
        first = segments[row["segment_from"]]
        road = next(first[key] for key in ("name", "ref", "highway") if first[key] is not None)
        cells = [row["outage_id"], road, row["cause"], bool(row["forward"]), row["length_m"], row["outage_p95_s"]]
        found.append(cells)
    found.sort(key=lambda cells: (-number(cells[5]), number(cells[0])))
    return found[:20]


def number(value: object) -> float:
    assert isinstance(value, int | float)
    return float(value)


def not_known_in_box(bench: Bench) -> Rows:
    west, south, east, north = PLACES[bench.region].box
    answer = [0, 0.0, 0, 0.0]
    for row in plain.rows(bench.truth, "SELECT * FROM segments"):
        w, s, e, n = plain.box(plain.line(row["geom"]))
        if e >= west and w <= east and n >= south and s <= north and row["highway"] not in BOARDED:
            answer[0] += 1
            answer[1] += number(row["length_m"])
            if row["rating_worst"] is None:
                answer[2] += 1
                answer[3] += number(row["length_m"])
    return [list(answer)]


def near(bench: Bench) -> Rows:
    place = PLACES[bench.region]
    line = [plain.utm(p, place.zone) for p in place.line]
    found = []
    for row in plain.rows(bench.truth, "SELECT * FROM segments ORDER BY segment_id"):
        apart_m = plain.apart([plain.utm(p, place.zone) for p in plain.line(row["geom"])], line)
        bad = number(row["rating"]) >= 2 or row["rating_worst"] is None
        if apart_m <= NEAR_M and bad and row["highway"] not in BOARDED:
            road = next(row[key] for key in ("name", "ref", "highway") if row[key] is not None)
            found.append([row["segment_id"], road, row["rating_name"], row["rating_worst"] is None, half_up(apart_m)])
    return found


def half_up(value: float) -> float:
    return math.floor(value + 0.5)


def surfaces(bench: Bench) -> Rows:
    """Tags as osmium prints them, one way in a line."""
    program("osmium", "osmium-tool")
    tags: dict[int, dict[str, str]] = {}
    for told in bench.run("osmium", "cat", "-f", "opl", "-t", "way", EXTRACT).splitlines():
        words = told.split(" ")
        pairs = next(word for word in words if word.startswith("T"))[1:]
        found = (pair.split("=", 1) for pair in pairs.split(",") if pair)
        tags[int(words[0][1:])] = {key: opl(value) for key, value in found}
    groups: dict[str, list[float]] = {}
    ways: dict[str, set[object]] = {}
    for row in plain.rows(bench.truth, "SELECT * FROM segments"):
        if row["highway"] in BOARDED:
            continue
        way = tags.get(int(number(row["way_id"])))
        surface = (way or {}).get("surface", "not tagged")
        sums = groups.setdefault(surface, [0.0] * 4)
        ways.setdefault(surface, set()).add(row["way_id"])
        length_m = number(row["length_m"])
        sums[0] += length_m
        sums[1] += length_m if number(row["rating"]) >= 3 and row["rating_worst"] is not None else 0.0
        sums[2] += length_m if row["rating_worst"] is None else 0.0
        sums[3] += way is None
    return [[name, len(ways[name]), *map(half_up, sums[:3]), int(sums[3])] for name, sums in sorted(groups.items())]


def opl(text: str) -> str:
    """A value as osmium writes it: a character by its number between two signs of per cent."""
    parts = text.split("%")
    return "".join(part if n % 2 == 0 else chr(int(part, 16)) for n, part in enumerate(parts))


def by_rating(sums: dict[object, list[float]], key: object, row: dict[str, object], length_m: float) -> None:
    its = sums.setdefault(key, [0.0] * 7)
    its[0] += length_m
    its[6 if row["rating_worst"] is None else 1 + int(number(row["rating"]))] += length_m


def rounded(sums: dict[object, list[float]]) -> Rows:
    return [[key, *map(half_up, its)] for key, its in sorted(sums.items(), key=lambda item: str(item[0]))]


def classes(bench: Bench) -> Rows:
    sums: dict[object, list[float]] = {}
    for row in plain.rows(bench.truth, "SELECT * FROM segments"):
        by_rating(sums, row["highway"], row, number(row["length_m"]))
    return rounded(sums)


def areas(bench: Bench) -> Rows:
    sums: dict[object, list[float]] = {}
    read = json.loads((bench.home / "areas.geojson").read_text(encoding="utf-8"))
    shapes = []
    for feature in read["features"]:
        geometry = feature["geometry"]
        polygons = geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]
        rings = [[(p[0], p[1]) for p in ring] for polygon in polygons for ring in polygon]
        legs = [leg for ring in rings for leg in itertools.pairwise(ring)]
        shapes.append((feature["properties"]["name"], legs, plain.box([p for ring in rings for p in ring])))
    zone = PLACES[bench.region].zone
    for row in plain.rows(bench.truth, "SELECT * FROM segments"):
        if row["highway"] in BOARDED:
            continue
        points = plain.line(row["geom"])
        w, s, e, n = plain.box(points)
        whole_m = plain.length([plain.utm(p, zone) for p in points])
        for name, legs, (west, south, east, north) in shapes:
            if e >= west and w <= east and n >= south and s <= north:
                inside_m = plain.length_within(points, legs, zone)
                if inside_m > 0:
                    by_rating(sums, name, row, inside_m / whole_m * number(row["length_m"]))
    return rounded(sums)


def write_areas(bench: Bench, page: Page) -> None:
    """The areas of the demo are on the page; those of a country come out of its extract by the commands there."""
    invented, commands = page.take("areas"), page.take("areas-osm")
    if bench.on_demo:
        (bench.home / "areas.geojson").write_text(invented.text, encoding="utf-8")
        return
    program("osmium", "osmium-tool")
    for command in commands.commands():
        bench.run("bash", "-c", command)


def answers_printed(bench: Bench, page: Page, name: str, head: list[str], rows: Rows) -> None:
    """The page prints the answer on the demo."""
    printed, ours = page.take(name).text, csv_text(head, rows)
    if not bench.on_demo or bench.layer != bench.truth:
        return
    if bench.updates:
        page.write(name, ours)
        printed = ours
    lines = [[[row] for row in text.splitlines()] for text in (printed, ours)]
    bench.report.same("sql", "page", f"{name} printed", lines[0], lines[1], of_layer=False)


SUMS = ["length_m", "steady_m", "blips_m", "gaps_m", "drops_m", "dark_m", "not_known_m"]
HEADS = {
    "near": ["segment_id", "road", "rating_name", "not_known", "distance_m"],
    "surface": ["surface", "ways", "length_m", "drops_or_dark_m", "not_known_m", "without_way"],
    "areas": ["name", *SUMS],
}


def plainly(rows: Rows) -> Rows:
    """Truth values as numbers: SQLite has no others."""
    return [[int(cell) if isinstance(cell, bool) else cell for cell in row] for row in rows]


def prove(bench: Bench, page: Page, server: Server | None) -> None:
    """Every query of the page."""
    write_areas(bench, page)
    report = bench.report
    by_gdal(bench, page)
    truth: dict[str, Rows] = {}
    for name, loops in {"near": near, "surface": surfaces, "areas": areas}.items():
        try:
            truth[name] = loops(bench)
        except Missing as missing:
            report.skip("sql", f"{name} in all programs", str(missing))
    class_sql, class_truth = statement(page.take("classes")), classes(bench)
    for name in HEADS:
        page.take(f"{name}-answer")
    ask = {name: page.take(name).text for name in page.left() if name.endswith(("-postgis", "-duckdb"))}

    def with_duckdb() -> None:
        duck = Duck(bench)
        for name, rows in truth.items():
            answer = duck.rows(there(bench, ask[f"{name}-duckdb"]))
            report.same("sql", f"DuckDB {duck.version}", name, answer, rows, within(name))
            answers_printed(bench, page, f"{name}-answer", HEADS[name], answer)
        duck.base.execute(f"CREATE VIEW segments AS FROM ST_Read('{bench.home / LAYER}', layer = 'segments')")
        report.same("sql", f"DuckDB {duck.version}", "classes", duck.rows(class_sql), class_truth)

    report.attempt("sql", "DuckDB", with_duckdb)
    loading = [page.take(name) for name in ("load", "load-ways", "load-areas")]
    if server is None:
        return
    for command in [command for block in loading for command in block.commands()]:
        server.command(command)
    for name, rows in truth.items():
        answer = with_postgis(server, there(bench, ask[f"{name}-postgis"]))
        report.same("sql", "PostGIS", name, answer, rows, within(name))
    report.same("sql", "PostGIS", "classes", with_postgis(server, class_sql), class_truth)


def within(name: str) -> float:
    """Metres by which lengths of cut roads may differ: a leg is straight in degrees here, and in metres there."""
    return 1.0 if name == "areas" else 0.0


def by_gdal(bench: Bench, page: Page) -> None:
    report = bench.report
    loops: dict[str, Callable[[Bench], Rows]] = {
        "worst": worst,
        "box-unknown": not_known_in_box,
        "near-spatialite": near,
        "classes": classes,
    }
    for name, loop in loops.items():
        sql, truth = there(bench, statement(page.take(name))), plainly(loop(bench))
        slack = 1e-6 if name == "box-unknown" else 0.0
        report.same("sql", "GDAL with SpatiaLite", name, plainly(with_gdal(bench, sql, LAYER)), truth, slack)
        if name != "near-spatialite":
            report.same("sql", "SQLite", name, with_sqlite(bench.layer, sql), truth, slack)
        if name in ("worst", "box-unknown"):
            report.add("sql", "SQLite", f"{name}: plan", 1, uses_rtree(bench.layer, sql), of_layer=False)
