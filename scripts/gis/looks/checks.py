"""What has to hold of the looks of a layer. Every check returns rows of a table: what was wanted, what was found."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from xml.etree import ElementTree

from looks import layer, measure, paper, pixels, sample, screen
from looks.engine import Engine
from looks.layer import LayerFile, Opened
from looks.measure import MAGENTA
from looks.sample import WORDS, Line, Sheet

WIDTH_TOLERANCE_MM = 0.06
COLOUR_TOLERANCE = 4
# A line or its casing stands this far off what is below it, L*.
VISIBLE_L = 10.0
WHITE = (255, 255, 255)


@dataclass(frozen=True)
class Expected:
    """What the styles of a layer have to look like; scripts/gis/check holds the figures."""

    # Tables that have a default style.
    styled: list[str]
    # Of each rating, steady first.
    colours: list[str]
    casing: tuple[int, int, int]
    # Widths of the core on paper, mm, steady first, at a factor of one.
    widths_mm: dict[str, list[float]]
    # Factor of all widths, by scale: one scale in each band.
    factors: dict[int, float]
    # Largest denominator at which a class of road is drawn; None at every scale.
    roads_from: dict[str, int | None]
    # The same of points: table, values of columns, denominator.
    points_from: list[tuple[str, dict[str, Any], int]]
    # Largest denominator at which a posted clearance is written, and how.
    clearance_from: int
    clearance: dict[float, str]
    # Largest denominator at which the name of a place is written, by its rank; None at every scale.
    names_from: dict[int, int | None]
    # Colour of water: table, shape, kind.
    water: dict[tuple[str, str, str], str]
    # Words in the legend, in their order.
    legend: dict[str, list[str]]
    # Pairs that grey paper has to keep apart at all these scales, and signs of which one at least has to do it: width,
    # gaps, stripes, rhythm (of dashes), lightness.
    apart: list[tuple[Line, Line, list[str]]] = field(default_factory=list)


@dataclass(frozen=True)
class Row:
    """A line of the table."""

    check: str
    what: str
    wanted: str
    found: str
    fine: bool


Check = Callable[[Engine, LayerFile, Expected], list[Row]]


def loads(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Styles load without a complaint, the default ones at once, the others when they are chosen."""
    rows = []
    for name in sorted({*expected.styled, *(t.table for t in file.tables)}):
        opened = file.table(name)
        found = "; ".join(opened.complaints) or (
            f"style {opened.default.name}" if opened.default else "no style in the layer"
        )
        rows.append(Row("loads", name, "default style", found, opened.default is not None and not opened.complaints))
        for style in opened.alternatives:
            said = layer.switch(engine, opened, style)
            image = screen.draw([opened.layer], *_around_one(opened), screen.BACKGROUNDS["white"]).image
            share = measure.ink(pixels.array(image), WHITE)
            found = "; ".join(said) or (f"draws {share:.1%}" if share else "draws nothing")
            rows.append(Row("loads", f"{name}, style {style.name}", "loads and draws", found, not said and share > 0))
        if opened.alternatives and opened.default:
            layer.switch(engine, opened, opened.default)
    return rows


def _around_one(opened: Opened) -> tuple[Any, Any, tuple[float, float]]:
    """A kilometre around the first feature, as degrees."""
    box = opened.one().geometry().boundingBox()
    box.grow(0.005)
    return box, opened.layer.crs(), (100.0, 100.0 * box.height() / box.width())


def expressions(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Every expression of a style can be read and asks for columns that the table has.

    A viewer passes over others in silence.
    """
    from qgis.core import QgsExpression

    rows = []
    for opened in file.tables:
        columns = set(opened.layer.fields().names())
        for style in [s for s in [opened.default, *opened.alternatives] if s]:
            faults, all_of_them = [], set(_expressions(style.qml))
            for text in sorted(all_of_them):
                parsed = QgsExpression(text)
                if parsed.hasParserError():
                    faults.append(f"{parsed.parserErrorString().splitlines()[0]} in {text[:60]}...")
                elif strange := {c for c in parsed.referencedColumns() if not c.startswith("#!")} - columns:
                    faults.append(f"no column {', '.join(sorted(strange))} in {text[:60]}")
            found = "; ".join(faults) or f"{len(all_of_them)} read"
            rows.append(Row("expressions", f"{opened.table}, style {style.name}", "all can be read", found, not faults))
    return rows


def units(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Nothing in a style is measured in pixels: they are small on paper and large on screen."""
    rows = []
    for opened in file.tables:
        for style in [s for s in [opened.default, *opened.alternatives] if s]:
            options = re.findall(r'name="(\w+_unit)" type="QString" value="(\w+)"', style.qml)
            attributes = re.findall(r'(\w*[uU]nits?)="(\w+)"', style.qml)
            pixel = sorted({name for name, unit in options + attributes if unit in ("Pixel", "Pixels")})
            told = f"pixels in {', '.join(pixel)}" if pixel else f"none of {len(options) + len(attributes)} in pixels"
            rows.append(Row("units", f"{opened.table}, style {style.name}", "no pixels", told, not pixel))
    return rows


def _expressions(qml: str) -> list[str]:
    try:
        root = ElementTree.fromstring(re.sub(r"<!DOCTYPE[^>]*>", "", qml))
    except ElementTree.ParseError:
        return ["this style is not XML"]
    out = [e.get("filter", "") for e in root.iter("rule")]
    out += [e.get("value", "") for e in root.iter("Option") if e.get("name") == "expression"]
    out += [e.get("fieldName", "") for e in root.iter("text-style") if e.get("isExpression") == "1"]
    out += [e.text or "" for e in root.iter("orderByClause")]
    out += [e.get("attr", "") for e in root.iter("renderer-v2")]
    return [text for text in out if text]


def widths(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Lines are as wide as expected, and as wide on screen as on paper, in the expected colour."""
    rows = []
    roads = file.table("segments")
    for scale, factor in expected.factors.items():
        seen = [h for h in expected.widths_mm if scale <= (expected.roads_from.get(h) or scale)]
        lines = [Line(highway, rating) for highway in seen for rating in range(5)]
        sheet = Sheet(roads, scale, lines)
        printed, shown = sheet.on_paper(measure.hexed(MAGENTA)), sheet.on_screen(measure.hexed(MAGENTA))
        for highway in seen:
            at = {line.rating: i for i, line in enumerate(lines) if line.highway == highway}
            wanted = [round(width * factor, 2) for width in expected.widths_mm[highway]]
            colours = [measure.core_colour(printed, at[r]) for r in range(5)]
            for name, drawn in (("300 dpi", printed), ("96 dpi", shown)):
                found = [measure.widths(drawn, at[r], colours[r], expected.casing).core_mm for r in range(5)]
                fine = all(abs(f - w) <= WIDTH_TOLERANCE_MM for f, w in zip(found, wanted, strict=True))
                rows.append(Row("widths", f"{highway} 1:{scale} {name}, mm", _figures(wanted), _figures(found), fine))
            wide = [measure.hexed(c) for c in colours]
            fine = all(_near(a, b) for a, b in zip(wide, expected.colours, strict=True))
            if scale == min(expected.factors):
                rows.append(Row("colours", highway, " ".join(expected.colours), " ".join(wide), fine))
    return rows


def _figures(values: list[float]) -> str:
    return " ".join(f"{value:.2f}" for value in values)


def _near(one: str, other: str) -> bool:
    parts = [(int(one[i : i + 2], 16), int(other[i : i + 2], 16)) for i in (1, 3, 5)]
    return all(abs(a - b) <= COLOUR_TOLERANCE for a, b in parts)


def scales(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """What is hidden at small scales appears where it should, and not before."""
    rows = []
    roads = file.table("segments")
    for highway, limit in expected.roads_from.items():
        for scale, wanted in _sides(limit):
            lines = [Line(highway, rating) for rating in range(5)]
            drawn = Sheet(roads, scale, lines).on_screen("#ffffff")
            found = [measure.ink(drawn.strip(i), WHITE) > 0 for i in range(5)]
            rows.append(_seen(f"{highway} 1:{scale}", wanted, found))
    for table, values, limit in expected.points_from:
        for scale, wanted in _sides(limit):
            points, box, size_mm = sample.points(file.table(table), [values], scale, labels=False)
            image = screen.draw([points], box, points.crs(), size_mm, "#ffffff").image
            what = f"{table} {' '.join(map(str, values.values()))} 1:{scale}"
            rows.append(_seen(what, wanted, [measure.ink(pixels.array(image), WHITE) > 0]))
    return rows


def _sides(limit: int | None) -> list[tuple[int, bool]]:
    return [(2_000_000, True)] if limit is None else [(round(limit * 0.95), True), (round(limit * 1.05), False)]


def _seen(what: str, wanted: bool, found: list[bool]) -> Row:
    told = "drawn" if all(found) else "not drawn" if not any(found) else f"{sum(found)} of {len(found)} drawn"
    return Row("scales", what, "drawn" if wanted else "not drawn", told, found == [wanted] * len(found))


def legend(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """The legend of a layout says everything in words, once, and fits beside the map."""
    rows = []
    shown = dict(paper.legend_words(file))
    for opened in file.tables:
        found = shown[opened.table]
        wanted = expected.legend.get(opened.table, [])
        told = "; ".join(found) or "nothing"
        rows.append(
            Row("legend", opened.table, "; ".join(wanted), "the same" if found == wanted else told, found == wanted)
        )
        labels = [item.label() for item in opened.layer.renderer().legendSymbolItems()]
        missing = [text for text in labels if text not in found]
        bad = [text for text in found if not text.strip() or "_" in text or found.count(text) > 1]
        told = f"not shown: {missing}; not words: {bad}" if missing or bad else f"{len(found)} in words"
        rows.append(Row("legend", f"{opened.table}, all entries", "each once, in words", told, not missing and not bad))
    from looks.views import fitting

    right, bottom = paper.legend_end_mm(paper.sheet(file, fitting("whole", file.extent_deg), "legend", "#ffffff"))
    fine = right <= paper.SHEET_MM[0] and bottom <= paper.SHEET_MM[1]
    rows.append(
        Row(
            "legend",
            "fits on A4, mm",
            "{:.0f} by {:.0f}".format(*paper.SHEET_MM),
            f"ends at {right:.0f}, {bottom:.0f}",
            fine,
        )
    )
    return rows


def greys(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Without colours, neighbouring ratings stay apart, and so do ferries, tunnels and dark roads."""
    rows = []
    roads = file.table("segments")
    for scale in expected.factors:
        seen = [h for h in expected.widths_mm if scale <= (expected.roads_from.get(h) or scale)]
        pairs = [(Line(h, r), Line(h, r + 1)) for h in seen for r in range(4)] + [
            (one, other) for one, other, _ in expected.apart
        ]
        lines = list(dict.fromkeys(line for pair in pairs for line in pair))
        drawn = Sheet(roads, scale, lines).on_paper("#ffffff")
        grey = {line: measure.grey(drawn, i) for i, line in enumerate(lines)}
        for highway in seen:
            signs = [grey[Line(highway, r)].told_from(grey[Line(highway, r + 1)]) for r in range(4)]
            told = ", ".join(f"{WORDS[r]}/{WORDS[r + 1]} {'+'.join(signs[r]) or 'alike'}" for r in range(4))
            rows.append(Row("grey", f"{highway} 1:{scale}", "neighbours differ", told, all(signs)))
        for one, other, wanted in expected.apart:
            seen_by = grey[one].told_from(grey[other])
            told = "+".join(seen_by) or f"alike: {grey[one].told()}"
            rows.append(
                Row(
                    "grey",
                    f"{one.name} or {other.name} 1:{scale}",
                    " or ".join(wanted),
                    told,
                    bool({*seen_by} & {*wanted}),
                )
            )
    return rows


def backgrounds(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Every rating can be seen on maps of any darkness."""
    rows = []
    lines = [Line(next(iter(expected.widths_mm)), rating) for rating in range(5)] + [Line("ferry", 4)]
    for scale in (min(expected.factors), max(expected.factors)):
        sheet = Sheet(file.table("segments"), scale, lines)
        for name, colour in screen.BACKGROUNDS.items():
            drawn = sheet.on_screen(colour)
            found = [measure.contrast(drawn, i) for i in range(len(lines))]
            told = " ".join(f"{value:.0f}" for value in found)
            rows.append(
                Row(
                    "backgrounds",
                    f"{name} 1:{scale}, L* off it",
                    f"{VISIBLE_L:.0f} or more",
                    told,
                    min(found) >= VISIBLE_L,
                )
            )
    return rows


def labels(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Posted clearances are written at the scale of streets only, and only where one is posted."""
    rows = []
    values = [{"kind": "road_deck", "maxheight_m": height, "name": None} for height in [*expected.clearance, None]]
    for scale, wanted in _sides(expected.clearance_from):
        points, box, size_mm = sample.points(file.table("overheads"), values, scale, labels=True)
        found = sorted(text for _, text in screen.draw([points], box, points.crs(), size_mm, "#ffffff").labels)
        texts = sorted(expected.clearance.values()) if wanted else []
        rows.append(
            Row(
                "labels",
                f"clearances 1:{scale}",
                ", ".join(texts) or "none",
                ", ".join(found) or "none",
                found == texts,
            )
        )
    return rows


def names(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Names of places are written by their rank, larger ones first."""
    rows = []
    for rank, limit in expected.names_from.items():
        for scale, wanted in _sides(limit):
            values = [{"rank": rank, "name": f"Rank {rank}"}]
            points, box, size_mm = sample.points(file.table("places"), values, scale, labels=True)
            found = [text for _, text in screen.draw([points], box, points.crs(), size_mm, "#ffffff").labels]
            texts = [f"Rank {rank}"] if wanted else []
            told = ", ".join(found) or "none"
            rows.append(Row("names", f"rank {rank} 1:{scale}", ", ".join(texts) or "none", told, found == texts))
    # More places than there is room for names, the greatest last.
    values = [{"rank": 5, "name": f"Lesser Place {i}"} for i in range(12)] + [{"rank": 2, "name": "Greater Place"}]
    points, box, size_mm = sample.points(file.table("places"), values, 20_000, labels=True, apart_mm=0.3)
    found = [text for _, text in screen.draw([points], box, points.crs(), size_mm, "#ffffff").labels]
    rows.append(Row("names", "room for few", "Greater Place", ", ".join(found) or "none", "Greater Place" in found))
    return rows


def water(engine: Engine, file: LayerFile, expected: Expected) -> list[Row]:
    """Water has its colour, and areas have no outline, which would be darker."""
    rows = []
    for (table, shape, kind), colour in expected.water.items():
        drawn, box, size_mm = sample.shape(file.table(table), shape, {"kind": kind, "name": None})
        # Fine enough for thin lines to have their whole colour.
        image = screen.draw([drawn], box, drawn.crs(), size_mm, "#ffffff", dpi=600.0).image
        found = measure.hexed(measure.darkest(pixels.array(image)))
        rows.append(Row("water", f"{table} {kind}", colour, found, _near(found, colour)))
    return rows


CHECKS: dict[str, Check] = {
    "loads": loads,
    "expressions": expressions,
    "units": units,
    "widths": widths,
    "scales": scales,
    "legend": legend,
    "grey": greys,
    "backgrounds": backgrounds,
    "labels": labels,
    "names": names,
    "water": water,
}
