"""Conversions of the page `formats`, each as printed, read back and compared with the rows of the layer."""

import csv
import glob
import json
import re
import struct
import sys
from collections.abc import Callable
from pathlib import Path

from . import plain, tiles
from .bench import Bench, Rows, Value, alike, package, program
from .engines import Duck
from .page import Page
from .postgres import Server

ROADS = [
    *("segment_id", "way_id", "part", "name", "ref", "highway", "length_m", "speed_kmh", "rating", "rating_name"),
    *("rating_best", "rating_worst", "not_known", "outage_p95_s", "outage_share", "main_cause", "evidence"),
    *("edge_forward", "edge_backward"),
]
# A GeoPackage has coordinates of 64 bits, and the texts of other formats some digits of them.
TEXT_DEG = 1e-9


def declared(layer: Path, table: str) -> dict[str, str]:
    """Columns of a table and their types."""
    rows = plain.rows(layer, "SELECT name, type FROM pragma_table_info(?)", table)
    return {str(row["name"]): str(row["type"]) for row in rows}


def truth(bench: Bench, table: str) -> tuple[list[str], Rows]:
    """Columns of a table, or of the roads of the page, and its rows by id; the line of each at the end."""
    source = "segments" if table == "roads" else table
    types = declared(bench.truth, source)
    geometry = "geom" if "geom" in types else None
    columns = ROADS if table == "roads" else [name for name in types if name not in ("fid", "geom")]
    more = ", rating_worst IS NULL AS not_known" if table == "roads" else ""
    found: Rows = []
    for row in plain.rows(bench.truth, f"SELECT *{more} FROM {source}"):
        truths = {name: bool(row[name]) for name in columns if types.get(name) == "BOOLEAN" and row[name] is not None}
        cells = [truths.get(name, row[name]) for name in columns]
        found.append([*cells, *([[list(p) for p in plain.line(row[geometry])]] if geometry else [])])
    return columns, sorted(found, key=first)


def first(row: list[Value]) -> int:
    assert isinstance(row[0], int)
    return row[0]


def strict(left: Value, right: Value) -> bool:
    """The same value of the same type; coordinates to TEXT_DEG."""
    if isinstance(left, list) and isinstance(right, list):
        pairs = zip(left, right, strict=False)
        return len(left) == len(right) and all(
            strict(a, b) if isinstance(b, list) else abs(a - b) <= TEXT_DEG for a, b in pairs
        )
    return type(left) is type(right) and left == right


def compare(
    bench: Bench,
    tool: str,
    what: str,
    columns: list[str],
    theirs: Rows,
    ours: Rows,
    same: Callable[[Value, Value], bool] = strict,
) -> None:
    theirs = sorted(theirs, key=first)
    wrong = [f"{len(theirs)} rows, not {len(ours)}"] if len(theirs) != len(ours) else []
    names = [*columns, "line"]
    for a, b in zip(theirs, ours, strict=False):
        if len(a) != len(b):
            wrong.append(f"row {b[0]} has {len(a)} cells, not {len(b)}")
            continue
        wrong += [
            f"row {b[0]}, {name}: {repr(x)[:60]} is not {repr(y)[:60]}"
            for name, x, y in zip(names, a, b, strict=False)
            if not same(x, y)
        ]
    bench.report.add("formats", tool, what, len(ours), wrong)


def wkt(text: Value) -> Value:
    """Points of a line or point in text."""
    return [[float(x) for x in pair.split()] for pair in re.findall(r"-?[\d.e-]+ +-?[\d.e-]+", str(text))]


def wkb(blob: bytes) -> Value:
    """Points of a line or point, as WKB without the header of a GeoPackage."""
    return [list(p) for p in plain.line(b"GP\0\1" + struct.pack("<i", 4326) + blob)]


def by_duckdb(bench: Bench, duck: Duck, path: str, columns: list[str], line: bool) -> Rows:
    names = ", ".join(f'"{name}"' for name in columns)
    sql = f"SELECT {names}{', ST_AsText(geom)' if line else ''} FROM ST_Read('{path}')"
    return [[*row[:-1], wkt(row[-1])] if line else row for row in duck.rows(sql)]


def by_json(path: Path, columns: list[str]) -> Rows:
    found = json.loads(path.read_text(encoding="utf-8"))["features"]
    return [[*(f["properties"][name] for name in columns), f["geometry"]["coordinates"]] for f in found]


def by_csv(path: Path, columns: list[str], line: bool) -> Rows:
    """Rows of CSV, with the types of the file next to it."""
    kinds = next(csv.reader([path.with_suffix(".csvt").read_text(encoding="utf-8")]))
    with path.open(newline="", encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    read: dict[str, Callable[[str], Value]] = {
        "Integer64": int,
        "Integer": int,
        "Real": float,
        "Integer(Boolean)": lambda cell: bool(int(cell)),
        "String": str,
        "WKT": wkt,
    }
    found = []
    for row in rows:
        cells = {n: read[kind](cell) if cell else None for n, kind, cell in zip(head, kinds, row, strict=True)}
        found.append([*(cells[name] for name in columns), *([cells["geom"]] if line else [])])
    return found


def by_pyarrow(table: Path, columns: list[str], geometry: str = "") -> Rows:
    rows = package("pyarrow.parquet", "pyarrow").read_table(table).to_pylist()
    return [[*(row[name] for name in columns), *([wkb(row[geometry])] if geometry else [])] for row in rows]


def convert(bench: Bench, page: Page) -> None:
    """With GDAL, read back by others."""
    program("ogr2ogr", "gdal-bin")
    for command in [*page.take("roads").commands(), *page.take("convert").commands()]:
        bench.run("bash", "-c", command)
    version = f"GDAL {bench.run('ogrinfo', '--version').split()[1].rstrip(',')}"
    roads, ours = truth(bench, "roads")
    compare(bench, version, "roads.geojson by json", roads, by_json(bench.home / "roads.geojson", roads), ours)
    compare(bench, version, "roads.csv by csv", roads, by_csv(bench.home / "roads.csv", roads, True), ours)
    edges, rows = truth(bench, "edges")
    compare(
        bench, version, "edges-by-gdal.csv by csv", edges, by_csv(bench.home / "edges-by-gdal.csv", edges, False), rows
    )
    in_tiles(bench, version, roads, ours)


def with_duckdb(bench: Bench, page: Page) -> None:
    copies = page.take("parquet").text
    duck = Duck(bench)
    tool = f"DuckDB {duck.version}"
    roads, ours = truth(bench, "roads")
    for path in ("roads.gpkg", "roads.fgb"):
        compare(bench, tool, f"{path} by DuckDB", roads, by_duckdb(bench, duck, path, roads, True), ours)
    nodes, at = truth(bench, "nodes")
    compare(bench, tool, "nodes.fgb by DuckDB", nodes, by_duckdb(bench, duck, "nodes.fgb", nodes, True), at)
    for name in ("segments", "edges", "nodes"):
        copies = copies.replace(f"'{name}.parquet'", f"'{bench.home}/{name}.parquet'")
    duck.rows(copies)
    for name in ("segments", "edges", "nodes"):
        columns, rows = truth(bench, name)
        version = package("pyarrow").__version__
        its = by_pyarrow(bench.home / f"{name}.parquet", columns, "geom" if name != "edges" else "")
        compare(bench, tool, f"{name}.parquet by pyarrow {version}", columns, its, rows)
    # What makes it GeoParquet: another program finds lines and their system of coordinates.
    frame = package("geopandas").read_parquet(bench.home / "segments.parquet")
    wrong = [] if frame.crs is not None and frame.crs.to_epsg() in (4326, None) else [f"coordinates: {frame.crs}"]
    wrong += [] if set(frame.geometry.geom_type) == {"LineString"} else ["not only lines"]
    bench.report.add("formats", tool, "segments.parquet is GeoParquet to geopandas", len(frame), wrong, of_layer=False)


def with_geopandas(bench: Bench, page: Page) -> None:
    code = page.take("geopandas").text
    package("pyarrow")
    version = package("geopandas").__version__
    bench.run(sys.executable, "-c", code)
    roads, ours = truth(bench, "roads")
    its = by_pyarrow(bench.home / "roads.parquet", roads, "geometry")
    compare(bench, f"geopandas {version}", "roads.parquet by pyarrow", roads, its, ours)
    duck = Duck(bench)
    names = ", ".join(roads)
    found = duck.rows(f"SELECT {names}, ST_AsText(geometry) FROM '{bench.home}/roads.parquet'")
    rows = [[*row[:-1], wkt(row[-1])] for row in found]
    compare(bench, f"geopandas {version}", f"roads.parquet by DuckDB {duck.version}", roads, rows, ours)


def in_tiles(bench: Bench, tool: str, columns: list[str], ours: Rows) -> None:
    """Every road is in the tiles of the largest zoom, with its values; what is empty has no key."""
    found = tiles.in_mbtiles(bench.home / "roads.mbtiles")
    largest = max(zoom for zoom, _, _ in found)
    roads: dict[int, dict[str, Value]] = {}
    wrong: list[str] = []
    for (zoom, _, _), tile in found.items():
        for feature in tiles.features(tile) if zoom == largest else ():
            number = feature["segment_id"]
            assert isinstance(number, int)
            if roads.setdefault(number, feature) != feature:
                wrong.append(f"road {number} is not the same in two tiles")
    bench.report.add(
        "formats", tool, f"roads.mbtiles: one road, one answer (zoom {largest})", len(roads), wrong, of_layer=False
    )
    rows = [[road.get(name) for name in columns] for road in roads.values()]
    compare(bench, tool, "roads.mbtiles by plain loops", columns, rows, [row[:-1] for row in ours], alike)


def with_pmtiles(bench: Bench, page: Page) -> None:
    """The same tiles, byte for byte."""
    commands = page.take("pmtiles").commands()
    reader = package("pmtiles.reader", "pmtiles")
    script = Path(sys.executable).with_name("pmtiles-convert")
    bench.run(script, *commands[-1].split()[1:])
    with (bench.home / "roads.pmtiles").open("rb") as file:
        its = reader.Reader(reader.MmapSource(file))
        expected = tiles.in_mbtiles(bench.home / "roads.mbtiles")
        wrong = [f"tile {place}" for place, tile in expected.items() if its.get(*place) != tile]
    bench.report.add(
        "formats", "pmtiles", "roads.pmtiles: tiles of roads.mbtiles", len(expected), wrong, of_layer=False
    )
    pyogrio = package("pyogrio")
    version = pyogrio.__gdal_version_string__
    if "r" not in pyogrio.list_drivers().get("PMTiles", ""):
        return bench.report.skip("formats", "roads.pmtiles by GDAL", f"GDAL {version} of pyogrio has no PMTiles")
    info = pyogrio.read_info(bench.home / "roads.pmtiles", layer="roads")
    missing = [name for name in ROADS if name not in info["fields"]]
    bench.report.add(
        "formats", "pmtiles", f"columns of roads.pmtiles by GDAL {version}", len(ROADS), missing, of_layer=False
    )
    return None


def prove(bench: Bench, page: Page, _server: Server | None) -> None:
    report = bench.report
    for block in ("roads", "convert", "parquet", "geopandas", "pmtiles"):
        page.take(block)
    convert(bench, page)
    report.attempt("formats", "DuckDB", lambda: with_duckdb(bench, page))
    report.attempt("formats", "geopandas", lambda: with_geopandas(bench, page))
    report.attempt("formats", "pmtiles", lambda: with_pmtiles(bench, page))
    if not glob.glob(f"{bench.home}/*.parquet"):
        report.notes.append("no GeoParquet was written")
