"""Layers with hostile text: it must be shown as text."""

import shutil
import sqlite3
from pathlib import Path

from playwright.sync_api import Playwright

from .browser import shown
from .rows import Rows

NAMES = [
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(2)</script>",
    "javascript:alert(3)",
    "\u202ereversed\u202c and \u2066hidden\u2069",
    "'\"><svg onload=alert(4)>",
    "{{overview}} ${alert(5)} <!-- -->",
    # The longest that a layer may hold has 4,080 bytes.
    "a" * 4_080,
]


def spoiled(layer: Path, into: Path) -> Path:
    """A copy in which roads and stops have such names."""
    copy = into / "foreign.gpkg"
    shutil.copyfile(layer, copy)
    with sqlite3.connect(copy) as base:
        base.execute("PRAGMA trusted_schema=ON")
        for (trigger,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f'DROP TRIGGER "{trigger}"')
        for table, key in (("segments", "segment_id"), ("stops", "stop_id"), ("places", "place_id")):
            for k, name in enumerate(NAMES):
                base.execute(f"UPDATE {table} SET name = ? WHERE {key} % {len(NAMES)} = {k}", [name])
    return copy


def text_stays_text(rows: Rows, engine: Playwright, page: Path) -> None:
    """Nothing runs, nothing is made of it, and what is shown is what was written, cleaned and cut."""
    source = page.read_text()
    for name in NAMES[:2]:
        rows.add(f"foreign: {name[:20]} is not in the file as it is", name not in source)
    rows.same("foreign: as many scripts as there should be", source.count("<script"), 3)
    with shown(engine, page, 1280) as held:
        held.idle()
        rows.same("foreign: nothing asked for", held.outside(), [])
        rows.same("foreign: nothing complained of", held.complaints, [])
        rows.same("foreign: no picture was made", held.page.locator("img").count(), 0)
        for words, wanted in (("onerror", NAMES[0]), ("alert(2)", NAMES[1]), ("aaaa", "a" * 200 + "…")):
            held.page.locator("#query").fill(words)
            first = held.page.locator("#hits li b").first
            rows.same(f"foreign: {words} is found as text", first.text_content() if first.count() else None, wanted)
        held.page.locator("#query").fill("reversed")
        turned = held.page.locator("#hits li b").first.text_content() or ""
        rows.add("foreign: nothing turns the line", not any(c in turned for c in "\u202e\u2066\u2069"), ascii(turned))
