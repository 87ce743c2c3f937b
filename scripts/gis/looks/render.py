"""Draws a layer as its styles say: on screen over three backgrounds, in grey, on paper."""

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from looks import engine, layer, paper, pixels, screen, views
from looks.layer import LayerFile, LooksError


def parser() -> argparse.ArgumentParser:
    told = argparse.ArgumentParser(prog="render", description=__doc__)
    told.add_argument("layer", type=Path, metavar="LAYER", help="a layer that waymask built")
    told.add_argument("-o", "--output", type=Path, required=True, metavar="FOLDER", help="folder for the pictures")
    told.add_argument(
        "--view",
        action="append",
        default=[],
        metavar="NAME:west,south,east,north:scale",
        help="instead of views chosen from the layer; may be given more than once",
    )
    told.add_argument("--all", action="store_true", help="also tables that are meant for SQL and have no style")
    told.add_argument("--only", choices=["screen", "paper"], help="without the other")
    told.add_argument(
        "--qml",
        type=Path,
        metavar="FOLDER",
        help="draw with FOLDER/TABLE.qml (and FOLDER/TABLE-NAME.qml as style NAME) instead of the styles of the layer",
    )
    return told


def _looks(running: engine.Engine, file: LayerFile) -> Iterator[tuple[str, list[str]]]:
    """Each style in turn, with what QGIS said against it: the default ones, then every other by itself."""
    yield "", [f"{t.table}: {said}" for t in file.tables for said in t.complaints]
    for opened in file.tables:
        for style in opened.alternatives:
            yield f"-{opened.table}-{style.name}", layer.switch(running, opened, style)
            if opened.default:
                layer.switch(running, opened, opened.default)


def _name(text: str) -> str:
    return "".join(c if c.isalnum() or c in "-_" else "-" for c in text)


def render(
    running: engine.Engine, file: LayerFile, wanted: list[views.View], folder: Path, only: str | None
) -> list[str]:
    """Writes all pictures; what QGIS said against styles or drawing."""
    said: list[str] = []
    for look, trouble in _looks(running, file):
        said += trouble
        for view in wanted:
            begun = time.monotonic()
            name = _name(view.name + look)
            if only != "paper":
                # Backgrounds try the default styles; others are drawn on white.
                for background, colour in list(screen.BACKGROUNDS.items())[: 1 if look else None]:
                    shown = screen.show(file.drawn(), view, colour)
                    said += shown.trouble
                    pixels.save(shown.image, folder / f"{name}-{background}.png")
                    pixels.save_grey(shown.image, folder / f"{name}-{background}-grey.png")
            if only != "screen":
                sheet = paper.sheet(file, view, f"{file.path.stem}: {view.name}{look}", screen.BACKGROUNDS["white"])
                image = paper.picture(sheet)
                pixels.save(image, folder / f"{name}-paper.png")
                pixels.save_grey(image, folder / f"{name}-paper-grey.png")
                if not look:
                    paper.write_pdf(sheet, folder / f"{name}-paper.pdf")
            print(f"{name:32} 1:{view.scale:<9} {time.monotonic() - begun:5.1f} s", flush=True)
    return said


def main(arguments: list[str]) -> int:
    asked = parser().parse_args(arguments)
    try:
        wanted = [views.parse(text) for text in asked.view]
        source = asked.layer
        running = engine.start()
        if asked.qml:
            source = layer.restyled(running, asked.layer, asked.qml)
        file = layer.open_file(running, source, asked.all)
        try:
            asked.output.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise LooksError(f"{asked.output}: cannot be made ({fault.strerror}); name another folder") from fault
        print(f"QGIS {running.version}, {asked.layer}")
        said = render(running, file, wanted or views.chosen(file), asked.output, asked.only)
        said += [
            f"{t.table}: no style in the layer; a viewer draws it in a random colour"
            for t in file.tables
            if not t.default
        ]
    except LooksError as fault:
        print(f"render: {fault}", file=sys.stderr)
        return 2
    for line in said:
        print(f"render: {line}", file=sys.stderr)
    return 1 if said else 0
