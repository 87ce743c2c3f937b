"""A layer file opened as a user opens it: every table of features with its default style."""

import sqlite3
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from looks.engine import Engine

# Top first: what a viewer draws over what.
ORDER = ["places", "stops", "overheads", "segments", "ground_lines", "ground"]
# Tables for questions in SQL, drawn only on request or where the file has a style for them.
SELDOM = ["nodes", "outages"]


class LooksError(Exception):
    """What a person has to put right: the file, the thing, what to do."""


@dataclass(frozen=True)
class Style:
    """A row of layer_styles."""

    table: str
    name: str
    is_default: bool
    qml: str


@dataclass
class Opened:
    """A table of features and what a viewer shows of it."""

    table: str
    title: str
    layer: Any
    # The style that it was opened with; None where the file has none.
    default: Style | None
    alternatives: list[Style]
    # What QGIS said against the style.
    complaints: list[str]

    def one(self) -> Any:
        """A feature, whose values others take over."""
        for feature in self.layer.getFeatures():
            return feature
        raise LooksError(f"the table {self.table} is empty; take a layer with roads, overheads and stops")


@dataclass
class LayerFile:
    """An opened file."""

    path: Path
    tables: list[Opened]
    credit: str
    # West, south, east, north, degrees.
    extent_deg: tuple[float, float, float, float]

    def table(self, name: str) -> Opened:
        for opened in self.tables:
            if opened.table == name:
                return opened
        raise LooksError(f"{self.path}: no table {name} with features; build the layer with waymask")

    def drawn(self) -> list[Any]:
        """Layers for a map, the top one first."""
        return [opened.layer for opened in self.tables]

    def sql(self, query: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        with sqlite3.connect(f"file:{self.path}?mode=ro", uri=True) as connection:
            return connection.execute(query, values).fetchall()


def copied(path: Path, folder: Path) -> Path:
    """A copy to open: QGIS changes the journal of a GeoPackage that it reads."""
    if not path.is_file():
        raise LooksError(f"{path}: no such file; build it with waymask build")
    # A new name each time: QGIS may still hold the last one.
    copy = Path(tempfile.mkdtemp(prefix="copy-", dir=folder)) / path.name
    try:
        with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as source, sqlite3.connect(copy) as target:
            source.backup(target)
    except sqlite3.DatabaseError as fault:
        raise LooksError(f"{path}: is not a GeoPackage ({fault}); build it with waymask build") from fault
    return copy


def styles(path: Path) -> list[Style]:
    """All styles of a file."""
    try:
        with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as connection:
            rows = connection.execute(
                "SELECT f_table_name, styleName, useAsDefault, styleQML FROM layer_styles ORDER BY f_table_name, id"
            ).fetchall()
    except sqlite3.DatabaseError as fault:
        raise LooksError(f"{path}: its styles cannot be read ({fault}); build it with waymask build") from fault
    return [Style(table, name, bool(default), qml or "") for table, name, default, qml in rows]


def open_file(engine: Engine, path: Path, everything: bool = False) -> LayerFile:
    """Opens a copy of a file, each table with its default style; those for questions only where they have one."""
    from qgis.core import QgsProject

    copy = copied(path, engine.folder)
    with sqlite3.connect(copy) as connection:
        found = connection.execute(
            "SELECT table_name, identifier, min_x, min_y, max_x, max_y FROM gpkg_contents WHERE data_type = 'features'"
        ).fetchall()
    known = styles(copy)
    if missing := {s.table for s in known} - {row[0] for row in found}:
        raise LooksError(f"{path}: layer_styles names tables without features: {', '.join(sorted(missing))}")
    styled = {s.table for s in known}
    found = [row for row in found if everything or row[0] in styled or row[0] not in SELDOM]
    place = {name: i for i, name in enumerate(ORDER)}
    found.sort(key=lambda row: place.get(row[0], -1))
    QgsProject.instance().clear()
    tables = [_opened(engine, copy, row[0], row[1] or row[0], known) for row in found]
    boxes = [row[2:6] for row in found if row[2] is not None]
    if not boxes:
        raise LooksError(f"{path}: no table of features has an extent")
    west, south = min(b[0] for b in boxes), min(b[1] for b in boxes)
    east, north = max(b[2] for b in boxes), max(b[3] for b in boxes)
    return LayerFile(copy, tables, _credit(copy), (west, south, east, north))


def _credit(path: Path) -> str:
    from osgeo import ogr

    ogr.UseExceptions()
    return str(ogr.Open(str(path)).GetMetadata().get("CREDIT", ""))


def _opened(engine: Engine, path: Path, table: str, title: str, known: list[Style]) -> Opened:
    from qgis.core import QgsProject, QgsVectorLayer

    before = engine.complaints.count()
    options = QgsVectorLayer.LayerOptions()
    # As the dialogue for adding a layer sets it.
    options.loadDefaultStyle = True
    layer = QgsVectorLayer(f"{path}|layername={table}", title, "ogr", options)
    if not layer.isValid():
        raise LooksError(f"{path}: QGIS cannot open the table {table}: {'; '.join(engine.complaints.since(before))}")
    QgsProject.instance().addMapLayer(layer)
    mine = [s for s in known if s.table == table]
    defaults = [s for s in mine if s.is_default]
    said = []
    if len(defaults) > 1:
        said.append(f"{len(defaults)} default styles")
    if defaults:
        message, fine = layer.loadDefaultStyle()
        if not fine:
            said.append(f"the default style does not load: {message}")
        said += _not_taken(layer, defaults[0])
    said += engine.complaints.since(before)
    default = defaults[0] if defaults else None
    return Opened(table, title, layer, default, [s for s in mine if not s.is_default], said)


def _not_taken(layer: Any, style: Style) -> list[str]:
    """What says that a viewer draws a layer in another way than a style tells it to."""
    from qgis.PyQt.QtXml import QDomDocument

    document = QDomDocument()
    fine, message, line, _ = document.setContent(style.qml)
    if not fine:
        return [f"style {style.name} is not XML, line {line}: {message}"]
    wanted = document.documentElement().firstChildElement("renderer-v2").attribute("type")
    drawn = layer.renderer().type()
    # A style with an unknown renderer leaves the one with a random colour that every new layer gets.
    return (
        [] if wanted == drawn else [f"style {style.name} asks for the renderer {wanted or '(none)'}, drawn is {drawn}"]
    )


def switch(engine: Engine, opened: Opened, style: Style) -> list[str]:
    """Takes another style of the file, as the list of styles in a viewer does; what QGIS said against it."""
    from qgis.PyQt.QtXml import QDomDocument

    before = engine.complaints.count()
    _, ids, names, _, trouble = opened.layer.listStylesInDatabase()
    wanted = [i for i, name in zip(ids, names, strict=True) if name == style.name]
    if len(wanted) != 1:
        return [f"QGIS lists the style {style.name} of {opened.table} {len(wanted)} times, not once: {trouble}"]
    qml, trouble = opened.layer.getStyleFromDatabase(wanted[0])
    if not qml:
        return [f"QGIS does not read the style {style.name} of {opened.table}: {trouble}"]
    document = QDomDocument()
    document.setContent(qml)
    fine, message = opened.layer.importNamedStyle(document)
    said = [] if fine else [f"the style {style.name} of {opened.table} does not load: {message}"]
    return said + _not_taken(opened.layer, style) + engine.complaints.since(before)


def restyled(engine: Engine, path: Path, folder: Path) -> Path:
    """A copy of a layer whose styles are the files of a folder: TABLE.qml is the default, TABLE-NAME.qml another."""
    found = sorted(folder.glob("*.qml"))
    if not found:
        raise LooksError(f"{folder}: no file TABLE.qml in it")
    copy = copied(path, engine.folder)
    with sqlite3.connect(copy) as connection:
        connection.execute("DELETE FROM layer_styles")
        for file in found:
            table, _, name = file.stem.partition("-")
            connection.execute(
                "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, "
                "styleName, styleQML, styleSLD, useAsDefault, description, owner) "
                "VALUES ('', '', ?, 'geom', ?, ?, '', ?, '', '')",
                (table, name or table, file.read_text(encoding="utf-8"), not name),
            )
    return copy
