"""Shows that each check can fail: styles are broken in one way at a time, and the check meant to see it has to."""

import re
from dataclasses import dataclass
from pathlib import Path

from looks import layer
from looks.checks import CHECKS, Expected
from looks.engine import Engine


@dataclass(frozen=True)
class Fault:
    """A way to break styles: pattern and replacement in their text."""

    check: str
    what: str
    pattern: str
    instead: str
    # Of one table; all where it is empty.
    table: str = ""


FAULTS = [
    Fault("loads", "a renderer that no viewer has", r'renderer-v2 type="\w+"', 'renderer-v2 type="Unheard"'),
    Fault(
        "expressions", "a column that is not there", r"&quot;highway&quot;|&quot;kind&quot;", "&quot;not_there&quot;"
    ),
    Fault("expressions", "an expression that is not one", r'(filter|fieldName)="(?=[^"])', r'\1="CASE '),
    Fault(
        "units",
        "one size in pixels",
        r'name="size_unit" type="QString" value="MM"',
        'name="size_unit" type="QString" value="Pixel"',
        "overheads",
    ),
    Fault("widths", "pixels instead of millimetres", r'"MM"', '"Pixel"', "segments"),
    Fault("widths", "lines in another colour", r"\b68,1,84\b", "200,1,84", "segments"),
    Fault("scales", "no limits of scale", r'scalemaxdenom="\d+"', ""),
    Fault("legend", "an entry without words", r'label="[^"]+"', 'label=""', "segments"),
    Fault("legend", "an entry too long for the sheet", r'label="([^"]+)"', r'label="\1, \1"', "segments"),
    Fault("grey", "one colour for all", r"\b(122,209,81|34,168,132|42,120,142|65,68,135)\b", "68,1,84", "segments"),
    Fault("grey", "no dashes", r'name="customDash" type="Map"|name="use_custom_dash"', 'name="unheard"', "segments"),
    Fault("backgrounds", "no casing", r"\b255,255,255,255\b", "27,30,35,255", "segments"),
    Fault("labels", "labels switched off", r'labelsEnabled="1"', 'labelsEnabled="0"', "overheads"),
    Fault("labels", "labels at every scale", r'scalemaxdenom="\d+"', "", "overheads"),
    Fault("names", "names at every scale", r'scalemaxdenom="\d+"', "", "places"),
    Fault("names", "lesser places first", r'priority="9"', 'priority="0"', "places"),
    Fault("water", "areas in another colour", r"\b201,214,220\b", "201,100,220", "ground"),
    Fault("water", "areas with a rim", r'(name="outline_style" type="QString" value=)"no"', r'\1"solid"', "ground"),
]


def _deaf(engine: Engine) -> list[str]:
    """Whether a warning of QGIS goes unheard."""
    from qgis.core import Qgis, QgsMessageLog

    before = engine.complaints.count()
    QgsMessageLog.logMessage("a warning", "self-test", Qgis.Warning)
    QgsMessageLog.logMessage("a remark", "self-test", Qgis.Info)
    heard = engine.complaints.since(before)
    return (
        [] if heard == ["self-test: a warning"] else [f"of a warning and a remark of QGIS, these were heard: {heard}"]
    )


def run(engine: Engine, path: Path, expected: Expected) -> list[str]:
    """What is wrong with the checks; nothing where each sees its faults."""
    wrong = _deaf(engine)
    originals = layer.styles(path)
    for number, fault in enumerate(FAULTS):
        folder = engine.folder / f"fault-{number}"
        folder.mkdir()
        changed = 0
        for style in originals:
            text, count = (
                re.subn(fault.pattern, fault.instead, style.qml) if fault.table in ("", style.table) else (style.qml, 0)
            )
            changed += count
            name = style.table if style.is_default else f"{style.table}-{style.name}"
            (folder / f"{name}.qml").write_text(text, encoding="utf-8")
        what = f"{fault.check}: {fault.what}"
        if not changed:
            wrong.append(f"{what}: nothing in the styles can be broken so; looks/selftest.py needs another fault")
            continue
        file = layer.open_file(engine, layer.restyled(engine, path, folder))
        failed = [row for row in CHECKS[fault.check](engine, file, expected) if not row.fine]
        print(f"{what}: {len(failed)} rows fail", flush=True)
        if not failed:
            wrong.append(f"{what}: the check passes all the same")
    return wrong
