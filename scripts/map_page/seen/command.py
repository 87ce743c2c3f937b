"""Makes pages, looks at them, tells what it saw."""

import argparse
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from . import drive, foreign, forms, region, selftest
from .browser import shown
from .rows import Rows


def made(program: Path, layer: Path, page: Path, *more: str) -> Path:
    line = [str(program), "map", str(layer), "-o", str(page), "--overwrite", *more]
    done = subprocess.run(line, capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"{' '.join(line)}: {done.stderr}")
    return page


def look(rows: Rows, args: argparse.Namespace, folder: Path) -> None:
    whole = made(args.program, args.layer, folder / "region.html")
    along = made(args.program, args.layer, folder / "drive.html", "--along", str(args.track), "--buffer", "2km")
    miles = made(args.program, args.layer, folder / "miles.html", "--along", str(args.track), "--units", "imperial")
    bad = made(args.program, foreign.spoiled(args.layer, folder), folder / "foreign.html")
    with sync_playwright() as engine:
        for width in (1280, 360):
            with shown(engine, whole, width) as held:
                held.idle()
                region.figures(rows, held, args.layer)
                if width == 1280:
                    region.filters(rows, held, args.layer)
                region.signs(rows, held, args.layer)
                region.search(rows, held, args.layer)
                region.keys(rows, held, args.layer)
                region.stops(rows, held, args.layer)
                rows.same(f"{width}: asked for nothing", held.outside(), [])
                rows.same(f"{width}: complained of nothing", held.complaints, [])
        with shown(engine, along, 1280) as held:
            held.idle()
            drive.strip(rows, held, drive.told_by(args.program, args.layer, args.track))
            drive.together(rows, held)
            rows.same("drive: complained of nothing", held.complaints, [])
        with shown(engine, miles, 1280) as held:
            held.idle()
            # A mile has 1,609.344 m exactly.
            drive.strip(rows, held, drive.told_by(args.program, args.layer, args.track), "mile", 1609.344)
            scale = held.text("#scale")
            rows.add("miles: the scale", scale.endswith((" mi", " ft")), scale)
            rows.same("miles: no kilometres", re.findall(r"[\d.] km\b|\bkm [\d.]", held.page.inner_text("body")), [])
        with shown(engine, along, 1280, still=False) as held:
            held.idle()
            drive.framed(rows, held)
        for page, name in ((whole, "region"), (along, "drive")):
            forms.sizes(rows, engine, page, name, args.pictures)
            forms.without(rows, engine, page, name, args.pictures)
        foreign.text_stays_text(rows, engine, bad)


def main() -> None:
    parser = argparse.ArgumentParser(prog="scripts/map_page/check")
    parser.add_argument("program", type=Path)
    parser.add_argument("layer", type=Path)
    parser.add_argument("--track", type=Path, required=True)
    parser.add_argument("--failed", action="store_true", help="print only what failed")
    parser.add_argument("--pictures", type=Path, help="folder for pictures to look at")
    parser.add_argument("--self-test", action="store_true")
    args = parser.parse_args()
    if args.pictures:
        args.pictures.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="map-page-") as name:
        folder = Path(name)
        # Nobody's own units.
        os.environ["XDG_CONFIG_HOME"] = str(folder / "settings")
        if args.self_test:
            sys.exit(selftest.run(args, folder, made))
        rows = Rows()
        look(rows, args, folder)
        rows.tell(args.failed)
        sys.exit(1 if rows.wrong() else 0)
