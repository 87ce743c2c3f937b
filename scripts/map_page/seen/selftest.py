"""Spoils pages on purpose: a check that sees none of it sees nothing."""

import argparse
import base64
import hashlib
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Error, Playwright, sync_playwright

from . import drive, forms, region
from .browser import Shown, shown
from .rows import Rows

Make = Callable[..., Path]


def other_layer(layer: Path, folder: Path, sql: str) -> Path:
    """A copy of a layer with other figures."""
    copy = folder / "other.gpkg"
    shutil.copyfile(layer, copy)
    with sqlite3.connect(copy) as base:
        for (trigger,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f'DROP TRIGGER "{trigger}"')
        base.execute(sql)
    return copy


def other_program(page: Path, old: str, new: str) -> Path:
    """A page whose program was changed, with a policy that lets it run."""
    text = page.read_text()
    start = text.rindex("<script>") + len("<script>")
    end = text.rindex("</script>")
    program = text[start:end]
    assert old in program, old
    changed = program.replace(old, new)

    def total(script: str) -> str:
        return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()

    text = (text[:start] + changed + text[end:]).replace(total(program), total(changed))
    page.write_text(text)
    return page


def noticed(look: Callable[[Rows, Shown], None], engine: Playwright, page: Path) -> int:
    rows = Rows()
    with shown(engine, page, 1280) as held:
        held.idle()
        try:
            look(rows, held)
        except Error as stuck:
            rows.add("the page answers", False, stuck.message)
        rows.same("asked for nothing", held.outside(), [])
        rows.same("complained of nothing", held.complaints, [])
    return rows.wrong()


def run(args: argparse.Namespace, folder: Path, made: Make) -> int:
    """0 if each is noticed."""
    layer, program = args.layer, args.program
    corridor = drive.told_by(program, layer, args.track)

    def page(of: Path = layer) -> Path:
        return made(program, of, folder / "page.html")

    def along() -> Path:
        return made(program, layer, folder / "drive.html", "--along", str(args.track), "--buffer", "2km")

    longer = other_layer(layer, folder, "UPDATE segments SET outage_p95_forward_s = outage_p95_forward_s + 1")
    spoilings: list[tuple[str, Callable[[], Path], Callable[[Rows, Shown], None]]] = [
        ("figures of another layer", lambda: page(longer), lambda rows, held: region.figures(rows, held, layer)),
        (
            "a rating of the other direction",
            lambda: other_program(page(), "rating(d.rating[i])", "rating(roads.backward.rating[i])"),
            lambda rows, held: region.figures(rows, held, layer),
        ),
        (
            "a filter that hides nothing",
            lambda: other_program(page(), "if (layer.filter) this.map.setFilter", "if (false) this.map.setFilter"),
            lambda rows, held: region.filters(rows, held, layer),
        ),
        (
            "a search that finds nothing",
            lambda: other_program(page(), "const at = name.indexOf(key);", "const at = -1;"),
            lambda rows, held: region.search(rows, held, layer),
        ),
        (
            "a map that keys do not move",
            lambda: other_program(page(), "touchPitch: false,", "touchPitch: false, keyboard: false,"),
            lambda rows, held: region.keys(rows, held, layer),
        ),
        (
            "a strip that leaves the map alone",
            lambda: other_program(along(), "this.view?.cursor(place);\n    if (onMap) this.view?.follow(place);", ""),
            lambda rows, held: drive.strip(rows, held, corridor),
        ),
        (
            "a map that leaves the strip alone",
            lambda: other_program(along(), "e.originalEvent && this.follow()", "false"),
            lambda rows, held: drive.together(rows, held),
        ),
        (
            "a page that asks the network",
            lambda: other_program(
                page(), "begin();\n})", 'begin(); new Image().src = "https://example.org/x.png";\n})'
            ),
            lambda rows, held: None,
        ),
    ]
    missed = 0
    with sync_playwright() as engine:
        for name, make, look in spoilings:
            found = noticed(look, engine, make())
            print(f"{'noticed' if found else 'MISSED '} {name} ({found})")
            missed += not found
        rows = Rows()
        broken = other_program(page(), "failed(gl ?", "failed(true ?")
        forms.without(rows, engine, broken, "page", None)
        print(f"{'noticed' if rows.wrong() else 'MISSED '} a page that says nothing without WebGL ({rows.wrong()})")
        missed += not rows.wrong()
    print(f"{len(spoilings) + 1 - missed} of {len(spoilings) + 1}")
    return 1 if missed else 0
