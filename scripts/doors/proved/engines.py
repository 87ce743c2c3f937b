"""Programs that answer SQL, each with a text of a page as it stands, and their rows in plain Python values."""

import csv
import glob
import io
import json
import re
import sqlite3
from pathlib import Path

from .bench import Bench, Rows, Value, Wrong, package, program
from .page import Block
from .postgres import Server

SQL = re.compile(r'-sql "(.*?)"', re.DOTALL)


def statement(block: Block) -> str:
    """The SQL in a command of a console block."""
    found = SQL.search(block.text)
    if not found:
        raise Wrong(f"no -sql in {block.text}")
    return found.group(1).replace("\\\n", "\n")


def with_gdal(bench: Bench, sql: str, source: str) -> Rows:
    """Rows by GDAL. JSON keeps what is empty and what is a number apart; the page prints CSV."""
    program("ogr2ogr", "gdal-bin")
    told = bench.run("ogr2ogr", "-f", "GeoJSONSeq", "/vsistdout/", source, "-sql", sql)
    return [list(json.loads(row)["properties"].values()) for row in told.splitlines()]


def with_sqlite(layer: Path, sql: str) -> Rows:
    """Rows by SQLite alone."""
    base = sqlite3.connect(f"file:{layer}?mode=ro", uri=True)
    try:
        return [list(row) for row in base.execute(sql)]
    finally:
        base.close()


def uses_rtree(layer: Path, sql: str) -> list[str]:
    """Complaints where SQLite would walk through all rows instead of asking the R-tree."""
    base = sqlite3.connect(f"file:{layer}?mode=ro", uri=True)
    try:
        plan = [str(row[3]) for row in base.execute(f"EXPLAIN QUERY PLAN {sql}")]
    finally:
        base.close()
    # The number after INDEX is 2 where constraints go into the tree; bare of them it walks through all of it.
    asked = any(re.search(r"VIRTUAL TABLE INDEX 2:\w+", row) for row in plan)
    return [] if asked else [f"the R-tree is not asked: {plan}"]


def with_postgis(server: Server, sql: str) -> Rows:
    """Rows by PostgreSQL; numbers are numbers again, and NULL is nothing."""
    told = server.sql(sql)
    return [[read(cell) for cell in row] for row in list(csv.reader(io.StringIO(told)))[1:]]


def read(cell: str) -> Value:
    if cell in ("\\N", "t", "f"):
        return {"\\N": None, "t": True, "f": False}[cell]
    if re.fullmatch(r"-?\d+", cell):
        return int(cell)
    if re.fullmatch(r"-?\d+(\.\d+)?(e[+-]?\d+)?", cell):
        return float(cell)
    return cell


class Duck:
    """DuckDB with its spatial extension, which comes as a Python package; by itself it would fetch it from a server."""

    def __init__(self, bench: Bench) -> None:
        duckdb, brought = package("duckdb"), package("duckdb_extension_spatial")
        (extension,) = glob.glob(f"{Path(brought.__file__ or '').parent}/extensions/v{duckdb.__version__}/spatial.*")
        self.base = duckdb.connect()
        self.base.execute(f"LOAD '{extension}'")
        # Files of a query are those of the folder of the region.
        self.base.execute(f"SET file_search_path = '{bench.home}'")
        self.home = bench.home
        self.version = duckdb.__version__

    def rows(self, sql: str) -> Rows:
        # Readers of GDAL do not look along the search path.
        for name in re.findall(r"ST_Read(?:OSM)?\('([^']+)'", sql):
            sql = sql.replace(f"('{name}'", f"('{self.home / name}'")
        return [list(row) for row in self.base.execute(sql).fetchall()]


def csv_text(head: list[str], rows: Rows) -> str:
    """Rows as GDAL prints them in CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([("1" if cell else "0") if isinstance(cell, bool) else whole(cell) for cell in row])
    return out.getvalue()


def whole(cell: Value) -> Value:
    return int(cell) if isinstance(cell, float) and cell.is_integer() else cell
