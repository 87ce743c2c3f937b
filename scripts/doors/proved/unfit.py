"""Files that are not a layer, or have ceased to be one: what `waymask` says has to name file, fault and next step."""

import os
import pwd
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from .bench import Bench, Missing, Wrong
from .postgres import Server

ALL = ("info", "route", "edges")


@dataclass(frozen=True)
class Case:
    """How a file comes about, and what each command has to say of it."""

    name: str
    makes: str | Callable[[Bench, Path], None]
    fact: str
    next_step: str
    # Commands that have to refuse it; the others may answer, since they do not read what is wrong.
    refused_by: tuple[str, ...] = ALL


def by_sql(bench: Bench, path: Path, sql: str) -> None:
    """As somebody edits it in a GIS program, which goes through GDAL."""
    shutil.copy(bench.truth, path)
    bench.run("ogrinfo", "-q", path, "-sql", sql)


def by_ogr2ogr(*words: str) -> Callable[[Bench, Path], None]:
    def makes(bench: Bench, path: Path) -> None:
        bench.run("ogr2ogr", path, bench.truth, *words)

    return makes


def cut_short(bench: Bench, path: Path) -> None:
    path.write_bytes(bench.truth.read_bytes()[:300_000])


# All but the first and the last segment of each edge.
INNER = """DELETE FROM segments WHERE segment_id NOT IN (
  SELECT min(segment_id) FROM segments GROUP BY edge_forward, edge_backward
  UNION SELECT max(segment_id) FROM segments GROUP BY edge_forward, edge_backward)"""
REBUILD = "Build it again"
GIVE = "Give the path of a layer"
BACK = "Give the column its name back"
AS_WRITTEN = "Give the layer as it was written"
CASES = (
    Case("old", "UPDATE build_record SET value = '3' WHERE key = 'schema_version'", "older waymask (schema 3", REBUILD),
    Case(
        "new",
        "UPDATE build_record SET value = '999' WHERE key = 'schema_version'",
        "newer waymask (schema 999",
        "Use the newer",
    ),
    Case("cut-box", by_ogr2ogr("-spat", "-28.03", "46.95", "-27.95", "47.00"), "record is empty", "build --bounds"),
    Case("one-table", by_ogr2ogr("segments"), "without a build record", GIVE),
    Case("converted", by_ogr2ogr(), "lost its index", REBUILD),
    Case("other-crs", by_ogr2ogr("-t_srs", "EPSG:3857"), "lost its index", REBUILD),
    Case("cut-short", cut_short, "damaged", REBUILD),
    Case("no-table", "DROP TABLE stops", "table stops is missing", REBUILD),
    Case("renamed", "ALTER TABLE edges RENAME COLUMN outage_s TO outage", "edges has no column outage_s", BACK),
    Case("dropped", "ALTER TABLE segments DROP COLUMN rating_worst", "segments has no column rating_worst", BACK),
    Case("impossible", "UPDATE edges SET time_s = -5", "edges, edge_id 1, column time_s: -5 is not", REBUILD, ALL[1:]),
    Case("rows-gone", INNER, "table segments has", AS_WRITTEN),
    Case("edges-gone", "DELETE FROM edges WHERE edge_id = 7", "table edges has", AS_WRITTEN),
)


def words(bench: Bench, command: str, path: Path, places: list[str]) -> list[object]:
    more: dict[str, list[object]] = {"route": [*places], "edges": ["-o", bench.home / "unfit.csv", "--overwrite"]}
    return [bench.waymask, command, path, *more.get(command, [])]


def ends_of_longest(bench: Bench) -> list[str]:
    """Two places joined by roads: the ends of the longest edge that is not a ferry."""
    base = sqlite3.connect(bench.truth)
    sql = """SELECT (b.miny + b.maxy) / 2, (b.minx + b.maxx) / 2, (e.miny + e.maxy) / 2, (e.minx + e.maxx) / 2
      FROM edges JOIN nodes f ON f.node_id = from_node JOIN nodes t ON t.node_id = to_node
      JOIN rtree_nodes_geom b ON b.id = f.fid JOIN rtree_nodes_geom e ON e.id = t.fid
      WHERE access = 'open' AND highway NOT IN ('ferry', 'shuttle_train') ORDER BY length_m DESC LIMIT 1"""
    a, b, c, d = base.execute(sql).fetchone()
    base.close()
    return [f"{a:.6f},{b:.6f}", f"{c:.6f},{d:.6f}"]


def complaint(case: Case, path: Path, command: str, done: "subprocess.CompletedProcess[str]") -> list[str]:
    """What is wrong with a refusal."""
    said = f"{command}: {done.stderr.strip()[:300]}"
    if not done.returncode:
        return [f"{case.name}, {command}: is not refused"]
    missing = [text for text in (path.name, case.fact, case.next_step) if text not in done.stderr]
    wrong = [f"{case.name}, {said}: does not say {text!r}" for text in missing]
    wrong += [f"{case.name}, {said}: ends with {done.returncode}"] if done.returncode != 1 else []
    return wrong + ([f"{case.name}, {said}: a panic"] if "panicked" in done.stderr else [])


def made(bench: Bench, case: Case) -> Path:
    path = bench.home / f"{case.name}.gpkg"
    if isinstance(case.makes, str):
        by_sql(bench, path, case.makes)
    else:
        case.makes(bench, path)
    return path


def somebody() -> dict[str, object]:
    """Root may write everywhere, so that nothing is read-only to it."""
    if os.getuid():
        return {}
    try:
        nobody = pwd.getpwnam("nobody")
    except KeyError as missing:
        raise Missing("no user nobody, to whom a folder can be read-only") from missing
    return {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}


def in_wal_mode(bench: Bench, places: list[str]) -> None:
    """In WAL mode, on a disk that cannot be written: refused; the same file elsewhere: read."""
    who = somebody()
    folder = bench.home / "readonly"
    folder.mkdir()
    path = folder / "wal.gpkg"
    shutil.copy(bench.truth, path)
    base = sqlite3.connect(path)
    base.execute("PRAGMA journal_mode = WAL")
    base.close()
    program = bench.waymask
    if who:
        # Not everybody may reach the one that was given.
        program = bench.home / "waymask-for-all"
        shutil.copy(bench.waymask, program)
        program.chmod(0o755)
    bench.home.chmod(0o755)
    folder.chmod(0o555)
    path.chmod(0o444)
    case = Case("wal", "", "left in WAL mode", "to a folder you may write to")
    wrong: list[str] = []
    for command in ALL[:2]:
        line = [program, *words(bench, command, path, places)[1:]]
        done = subprocess.run(  # type: ignore[call-overload]
            list(map(str, line)), capture_output=True, text=True, cwd="/", env=bench.environment(), check=False, **who
        )
        wrong += complaint(case, path, command, done)
    bench.report.add("unfit", "waymask", "WAL mode in a read-only folder", len(ALL[:2]), wrong, of_layer=False)
    folder.chmod(0o755)
    path.chmod(0o644)
    done = bench.tried(*words(bench, "info", path, places))
    wrong = [done.stderr] if done.returncode else []
    wrong += [f"{left.name} was left" for left in folder.iterdir() if left != path]
    bench.report.add("unfit", "waymask", "WAL mode where one may write", 1, wrong, of_layer=False)


def prove(bench: Bench, _server: Server | None) -> None:
    # A layer that fits is refused by nobody: else every refusal would look right.
    if not bench.on_demo:
        return bench.report.notes.append(f"{bench.region}: files that do not fit are made of Varrow only")
    places = ends_of_longest(bench)
    wrong = [
        f"{command}: {done.stderr.strip()}"
        for command in ALL
        if (done := bench.tried(*words(bench, command, bench.truth, places))).returncode
    ]
    bench.report.add("unfit", "waymask", "a layer that fits is read", len(ALL), wrong, of_layer=False)
    for case in CASES:
        try:
            path = made(bench, case)
        except Wrong as failed:
            raise Wrong(f"{case.name} cannot be made: {failed}") from failed
        wrong = []
        for command in ALL:
            done = bench.tried(*words(bench, command, path, places))
            if command in case.refused_by:
                wrong += complaint(case, path, command, done)
        bench.report.add("unfit", "waymask", case.name, len(ALL), wrong, of_layer=False)
        path.unlink()
    bench.report.attempt("unfit", "read-only folder", lambda: in_wal_mode(bench, places))
    return None
