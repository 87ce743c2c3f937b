"""Every command that writes something, and what has to be in what it wrote."""

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

from . import hamlet, readers
from .agenda import agenda, second_opinion
from .bench import Bench, Form, as_line, as_xml, exact
from .names import MARK, as_argument, in_calendar, in_layer, marks, went_in
from .readers import Broken

# How each ending is read, and what it may make of a name.
ENDINGS: dict[str, tuple[Callable[[bytes], list[str]], Form]] = {
    "json": (readers.as_json, exact),
    "geojson": (readers.geojson, exact),
    "gpx": (readers.gpx, as_xml),
    "csv": (readers.table, as_line),
    "svg": (readers.svg, as_xml),
    "png": (readers.png, exact),
}
CREDIT, TITLE = ("C", 0), ("I", 16)
ENDS = ["{1:.5f},{0:.5f}".format(*hamlet.place_deg(x_m, 0.0)) for x_m in (5.0, hamlet.length_m() - 5.0)]


def written(bench: Bench, letters: str, name: str, *words: object) -> Path:
    """Writes a file and reads it back."""
    path = bench.home / name
    bench.run(*words, "-o", path, "--overwrite")
    if path.exists():
        reader, form = ENDINGS[path.suffix[1:]]
        bench.report.read(name, path.read_bytes(), reader, form, letters)
    return path


def printed(bench: Bench, letters: str, *words: object) -> object:
    """Prints JSON and reads it."""
    out = bench.run(*words, "--json")
    bench.report.read(f"{words[0]} --json", out, readers.as_json_for_terminal, exact, letters)
    try:
        return readers.parsed(out)
    except Broken:
        return None


def build(bench: Bench) -> None:
    """The layer holds every name byte for byte, by the number of its object."""
    bench.run("build", bench.extract, "-p", bench.few, "--credit", bench.spell(*CREDIT), "-o", bench.layer, "-q")
    bench.run("sensitivity", bench.layer, "--set", "link.slot_s=30", "-o", bench.home / "slots.gpkg", "-q")
    layers = [bench.layer, bench.home / "slots.gpkg"]
    if bench.hostile:
        # In shards, from a folder whose name is hostile, too.
        folder, merged = bench.named(34, ""), bench.home / "merged.gpkg"
        inputs = [bench.extract, "-p", bench.few, "--work", folder]
        bench.run("shards", *inputs, "--shards", 1)
        bench.report.read("plan.json of shards", (folder / "plan.json").read_bytes(), readers.as_json, exact, "")
        bench.run("build", *inputs, "--shard", "1/1", "-q")
        bench.run("merge", folder, "-o", merged, "-q")
        layers.append(merged)
    for path in layers:
        bench.report.add(f"names in {path.name!a}", layer_faults(path, bench.extract_names()))


def texts_of_layer(path: Path) -> list[str]:
    """Every text of every table."""
    base = sqlite3.connect(path)
    tables = [row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    out: list[str] = []
    for table in tables:
        if not table.startswith("rtree_"):
            out += [x for row in base.execute(f'SELECT * FROM "{table}"') for x in row if isinstance(x, str)]
    base.close()
    return out


def layer_faults(path: Path, wanted: dict[str, dict[int, tuple[str | None, ...]]]) -> list[str]:
    """What differs from the map; the columns are compared as bytes."""
    base = sqlite3.connect(path)
    base.text_factory = bytes
    faults = [f"integrity: {row[0]!r}" for row in base.execute("PRAGMA integrity_check") if row[0] != b"ok"]
    queries = {
        "roads": "SELECT way_id, name, ref FROM segments WHERE highway = 'tertiary'",
        "stops": "SELECT osm_id, name FROM stops",
        "places": "SELECT osm_id, name FROM places",
        "decks": "SELECT osm_id, name FROM overheads WHERE kind = 'foot_deck'",
    }
    for what, query in queries.items():
        found = {row[0]: row[1:] for row in base.execute(query)}
        expected = {
            key: tuple(in_layer(t).encode() if t is not None else None for t in of) for key, of in wanted[what].items()
        }
        differ = [key for key in expected.keys() | found.keys() if expected.get(key) != found.get(key)]
        faults += [f"{what}, object {key}: {found.get(key)!r}" for key in differ[:5]]
    for what, query in {"lakes": "SELECT name FROM ground", "rivers": "SELECT name FROM ground_lines"}.items():
        names = sorted(row[0] for row in base.execute(query))
        if names != sorted(in_layer(of[0]).encode() for of in wanted[what].values() if of[0]):
            faults.append(f"{what}: other names")
    base.close()
    return faults


def record(bench: Bench) -> None:
    """The record of a build says whom to credit and what was read, word for word."""
    value = json.dumps(printed(bench, "", "info", bench.layer), ensure_ascii=False)
    for what, mark in (("credit", hamlet.PLAIN(*CREDIT)), ("name of the extract", hamlet.PLAIN("F", 1))):
        bench.report.add(f"info: {what}", [] if mark in value else ["is not in the record"])
    bench.run("info", bench.layer)
    bench.run("diff", bench.layer, bench.home / "slots.gpkg")


def lists(bench: Bench) -> None:
    """Corridor, stops, ways, edges and changes in every form."""
    layer, track = bench.layer, bench.track
    for ending in ("json", "geojson", "gpx", "csv"):
        written(
            bench,
            "RD" if ending == "json" else "RQ",
            f"corridor.{ending}",
            "corridor",
            layer,
            track,
            "--all",
            "--buffer",
            "100m",
        )
        towns = "P" if ending in ("json", "csv") else ""
        written(bench, "S" + towns, f"stops.{ending}", "stops", layer, "--along", track)
        written(bench, "", f"ways.{ending}", "route", layer, *ENDS)
        roads = {"json": "RPD", "geojson": "RQ", "csv": "RQ", "gpx": ""}[ending]
        written(bench, roads, f"way.{ending}", "route", layer, *ENDS, "--way", "fastest")
    for by in ("edge", "node-pair", "way"):
        for ending in ("csv", "json"):
            written(bench, "", f"edges-{by}.{ending}", "edges", layer, "--by", by)
    for ending in ("csv", "geojson"):
        written(bench, "", f"changes.{ending}", "diff", layer, bench.home / "slots.gpkg", "--top", 100)
    printed(bench, "", "diff", layer, bench.home / "slots.gpkg")
    printed(bench, "S", "stops", layer, "--along", track)
    printed(bench, "RD", "corridor", layer, track, "--all")
    for words in (("corridor", layer, track, "--all"), ("stops", layer, "--along", track), ("route", layer, *ENDS)):
        bench.run(*words)


def planned(bench: Bench) -> None:
    """The plan as JSON, as a calendar and for the terminal; with stops, and held in motion."""
    for trip, name in ((bench.trip, "plan"), (bench.driven, "driven")):
        words = ["plan", bench.layer, bench.track, "--meetings", bench.meetings, "--trip", trip]
        path = written(bench, "MU", f"{name}.json", *words)
        bench.run(*words)
        calendar = bench.home / f"{name}.ics"
        bench.run(*words, "-o", calendar, "--overwrite")
        if path.exists() and calendar.exists():
            faults = calendar_faults(calendar.read_bytes(), json.loads(path.read_bytes()), bench)
            bench.report.add(f"{name}.ics", faults)
    mounts = [bench.layer, bench.home / "slots.gpkg", "--meetings", bench.meetings, "--trip", bench.trip]
    written(bench, "M", "mounts.json", "mounts", bench.track, *mounts)
    bench.run("mounts", bench.track, *mounts)
    bench.report.read("spend", bench.run("spend", bench.trip, "--json"), readers.as_json_for_terminal, exact, "")
    bench.run("spend", bench.trip)


def calendar_faults(data: bytes, plan: dict[str, object], bench: Bench) -> list[str]:
    """What is wrong with a plan's calendar: number of events, names, and where another reader differs."""
    try:
        found = agenda(data)
        other = second_opinion(data)
    except (Broken, ValueError) as e:
        return [str(e)]
    days = [day["plan"]["chosen"] for day in plan["days"]]  # type: ignore[attr-defined]
    wanted = sum(len(day["parts"]) + len(day["meetings"]) for day in days)
    faults = [] if len(found.events) == wanted else [f"{len(found.events)} events of {wanted} planned"]
    held = [in_calendar(m["name"]) for day in days for m in day["meetings"]]
    told = [event["SUMMARY"].removeprefix("How to hold: ") for event in found.events if event["UID"].startswith("how-")]
    faults += [] if held == told else ["meetings are called otherwise than in the plan"]
    for event, twin in zip(found.events, other, strict=False):
        faults += [f"icalendar reads {key} otherwise" for key in twin if event[key] != twin[key]]
    faults += [] if len(other) == len(found.events) else [f"icalendar sees {len(other)} events"]
    for text in found.texts():
        faults += [f"{mark} is not whole" for mark in marks(text) if in_calendar(went_in(mark)) not in text]
    return faults if bench.hostile else []


def skies(bench: Bench) -> None:
    """Pictures of the sky over each road, and of satellites with hostile names."""
    passes = ["--orbits", bench.orbits, "--time", "2026-06-15T10:00Z", "--minutes", 200]
    for k in range(hamlet.COUNT):
        lon_deg, lat_deg = hamlet.place_deg(2 * hamlet.HALF_M * k + 70.0, 0.0)
        at = ["sky", bench.layer, "--at", f"{lat_deg:.6f},{lon_deg:.6f}"]
        path = written(bench, "", "sky.svg", *at, *(passes if k == 0 else []))
        seen = path.read_text() if path.exists() else ""
        bench.report.add(f"sky over road {k}", [] if f"R{k:02}q" in seen else ["the road is not named"])
        if k == 0:
            written(bench, "", "sky.png", *at, *passes)
            bench.run(*at, *passes)
            told = printed(bench, "", *at, *passes)
            seen = json.dumps(told)
            bench.report.add("sky: satellites", [] if any(m[0] == "O" for m in MARK.findall(seen)) else ["none named"])


def typed(bench: Bench) -> None:
    """A place is found by its own name, typed as it is: the place to stop beside it comes first."""
    for k in range(hamlet.COUNT):
        code, out, err = bench.call("stops", bench.layer, "--near", as_argument(bench.spell("P", k)), "--json")
        faults = [f"exit {code}: {err.decode(errors='replace')[:160]}"] if code else []
        first = next((mark for mark in marks(out.decode()) if mark[0] == "S"), "")
        wanted = hamlet.PLAIN("S", k)
        faults += [] if code or first == wanted else [f"{first} is the nearest"]
        bench.report.add(f"typed: {hamlet.PLAIN('P', k)}", faults)
