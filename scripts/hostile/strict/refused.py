"""Inputs that cannot be what they say: lone surrogates, names that are not UTF-8, files that are not there."""

import json
import os
from pathlib import Path

from . import hamlet, readers
from .bench import Bench, Report, exact
from .readers import Broken

LONE = "lone \ud800 half G01q"


def clear(report: Report, what: str, code: int, said: bytes, left: list[Path]) -> None:
    """An error is one that a person can act on: it says who speaks, panics nowhere, and no output is left."""
    text = said.decode(errors="replace")
    faults = [] if code == 1 or code == 2 else [f"exit {code}"]
    faults += [] if text.startswith(("error: ", "waymask: ")) else [f"says {text[:100]!a}"]
    faults += [f"says {word}" for word in ("panicked", "RUST_BACKTRACE") if word in text]
    report.add(what, faults + [f"left {path.name!a}" for path in left if path.exists()])


def surrogates(bench: Bench) -> None:
    """JSON may hold half of a letter (RFC 8259, section 8.2): refused, or written as something that is whole."""
    track, orbits = bench.home / "lone.geojson", bench.home / "lone.json"
    track.write_text(hamlet.geojson(LONE))
    orbits.write_text(hamlet.orbits(lambda _, k: LONE if k == 3 else hamlet.PLAIN("O", k)))
    at = ["--at", "46.61,-28.6190", "--time", "2026-06-15T10:00Z"]
    for what, words in {
        "lone surrogate in a track": ["corridor", bench.layer, track],
        "lone surrogate in orbital elements": ["sky", bench.layer, *at, "--orbits", orbits],
    }.items():
        code, out, err = bench.call(*words, "--json")
        if code:
            clear(bench.report, what, code, err, [])
        else:
            bench.report.read(what, out, readers.as_json_for_terminal, exact, "")
    areas = bench.home / "lone-area.geojson"
    ring = [hamlet.place_deg(x, y) for x, y in ((-500, -500), (9000, -500), (9000, 900), (-500, 900), (-500, -500))]
    shape = {"type": "Polygon", "coordinates": [ring]}
    feature = {"type": "Feature", "properties": {"name": LONE}, "geometry": shape}
    areas.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    page = bench.home / "lone.html"
    code, _, err = bench.call("map", bench.layer, "--area", areas, "-o", page)
    if code:
        clear(bench.report, "lone surrogate in an area", code, err, [page])


def no_utf8(bench: Bench) -> None:
    """Files whose names are not UTF-8 are read and written; what is told of them is UTF-8."""
    home = os.fsencode(bench.home)
    meetings, calendar, layer = (
        home + b"/half \xe2\x82 <b> \x1b[2J \xff" + end for end in (b".ics", b"out.ics", b".gpkg")
    )
    for into, of in ((meetings, bench.meetings), (layer, bench.layer)):
        with open(into, "wb") as file:
            file.write(of.read_bytes())
    code, _, err = bench.call("plan", layer, bench.track, "--meetings", meetings, "-o", calendar)
    faults = [f"exit {code}: {err.decode(errors='replace')[:200]}"] if code else []
    bench.report.add(
        "names of files that are not UTF-8", faults if os.path.exists(calendar) else [*faults, "no calendar"]
    )
    out = bench.run("plan", layer, bench.track, "--meetings", meetings, "--json")
    bench.report.read("a plan of files whose names are not UTF-8", out, readers.as_json_for_terminal, exact, "M")
    page = bench.home / "elsewhere" / "half.html"
    page.parent.mkdir()
    bench.run("map", layer, "-o", page)
    code, _, err = bench.call("info", home + b"/gone \xff\x1b]0;x\x07.gpkg")
    clear(bench.report, "a file that is not there, whose name is not UTF-8", code, err, [])


def gone(bench: Bench) -> None:
    """Errors that name hostile things name them on one line each."""
    out = bench.home / "gone.json"
    for words in (
        ["corridor", bench.layer, bench.named(21, ".gpx"), "-o", out],
        ["plan", bench.layer, bench.track, "--trip", bench.named(15, ".toml"), "-o", out],
        ["stops", bench.layer, "--kind", bench.spell("K", 22), "-o", out],
        ["plan", bench.layer, bench.track, "--zone", bench.spell("K", 20), "-o", out],
        ["stops", bench.layer, "--near", bench.spell("K", 16) + " nowhere of this name"],
        ["sky", bench.layer, "--at", "\x1b]0;title\x07 nowhere of this name"],
        ["sensitivity", bench.layer, "--set", bench.spell("K", 16)],
        ["corridor", bench.layer, bench.track, "-o", bench.home / (hamlet.HOSTILE("K", 20) + ".x\x1b[2Jy")],
    ):
        code, _, err = bench.call(*words)
        clear(bench.report, f"refused: {words[0]} with {ascii(str(words[-1]))[:40]}", code, err, [out])
    bad = bench.home / "bad.toml"
    bad.write_text(f"{hamlet.toml(hamlet.HOSTILE('K', 22))} = 1\n", encoding="utf-8")
    code, _, err = bench.call("spend", bad)
    clear(bench.report, "refused: a key that is not known", code, err, [])


def all_of_them(bench: Bench) -> None:
    try:
        surrogates(bench)
        no_utf8(bench)
        gone(bench)
    except Broken as broken:
        bench.report.add("refused inputs", [str(broken)])
