"""Straight lines drawn as a layer's styles draw roads, on paper and on screen, to be measured."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from looks import pixels, screen
from looks.layer import Opened
from looks.paper import DPI as PAPER_DPI
from looks.pixels import Floats

# The longest segment of a layer, m. Roads are drawn piece by piece, so patterns of dashes begin anew in each.
PIECE_M = 250.0
LINE_MM, PITCH_MM, MARGIN_MM = 50.0, 6.0, 5.0
# A UTM zone and a place in it where the grid is straight.
CRS, EAST_M, NORTH_M = "EPSG:32631", 500_000.0, 5_000_000.0
WORDS = ["steady", "blips", "gaps", "drops", "dark"]


@dataclass(frozen=True)
class Line:
    """A road of one class and rating; covered by a tunnel or not."""

    highway: str
    rating: int
    covered: bool = False

    @property
    def name(self) -> str:
        return f"{self.highway}{' tunnel' if self.covered else ''} {WORDS[self.rating]}"

    def values(self) -> dict[str, Any]:
        boarded = self.highway in ("ferry", "shuttle_train")
        cause = "boarded" if boarded else "cover" if self.covered else "none" if self.rating == 0 else "terrain"
        same = {name: self.rating for name in ("rating", "rating_best", "rating_worst")}
        sides = {f"{name}_{way}": self.rating for name in same for way in ("forward", "backward")}
        open_share = 0.0 if self.covered or boarded else 1.0
        return (
            same
            | sides
            | {
                "highway": self.highway,
                "rating_name": WORDS[self.rating],
                "main_cause": cause,
                "main_cause_forward": cause,
                "main_cause_backward": cause,
                "blocked_cover": 1.0 if self.covered else 0.0,
                "open_share": open_share,
                "open_share_min": open_share,
                "evidence": "data",
                "maxheight_m": None,
            }
        )


@dataclass
class Drawn:
    """A picture of lines, one below the other."""

    rgb: Floats
    dpi: float
    lines: list[Line]
    background: str

    def strip(self, at: int) -> Floats:
        """The middle 40 mm of a line and 2.5 mm to either side of it."""
        per_mm = self.dpi / 25.4
        middle = (MARGIN_MM + PITCH_MM * at) * per_mm
        half = 2.5 * per_mm
        left = (MARGIN_MM + 5) * per_mm
        return self.rgb[round(middle - half) : round(middle + half) + 1, round(left) : round(left + 40 * per_mm)]


@dataclass
class Sheet:
    """Lines in the style of a table at one scale."""

    opened: Opened
    scale: int
    lines: list[Line]
    layer: Any = field(init=False)

    @property
    def size_mm(self) -> tuple[float, float]:
        return LINE_MM + 2 * MARGIN_MM, PITCH_MM * (len(self.lines) - 1) + 2 * MARGIN_MM

    def __post_init__(self) -> None:
        template = self.opened.one()
        self.layer = copy_of(self.opened, "LineString")
        to_m = self.scale / 1000
        pieces = max(1, int(np.ceil(LINE_MM * to_m / PIECE_M)))
        features = []
        for at, line in enumerate(self.lines):
            y = NORTH_M - (MARGIN_MM + PITCH_MM * at) * to_m
            step = LINE_MM * to_m / pieces
            for part in range(pieces):
                x = EAST_M + MARGIN_MM * to_m + part * step
                more = {"part": part, "way_id": at + 1, "length_m": step}
                features.append(
                    _feature(self.layer, template, f"LineString({x} {y}, {x + step} {y})", line.values() | more)
                )
        add(self.layer, features)

    def box(self) -> Any:
        from qgis.core import QgsRectangle

        wide, high = (side * self.scale / 1000 for side in self.size_mm)
        return QgsRectangle(EAST_M, NORTH_M - high, EAST_M + wide, NORTH_M)

    def on_screen(self, background: str) -> Drawn:
        shown = screen.draw([self.layer], self.box(), self.layer.crs(), self.size_mm, background)
        return Drawn(pixels.array(shown.image), screen.DPI, self.lines, background)

    def on_paper(self, background: str) -> Drawn:
        return Drawn(
            pixels.array(laid_out(self.layer, self.box(), self.size_mm, background)), PAPER_DPI, self.lines, background
        )


def copy_of(opened: Opened, shape: str) -> Any:
    """An empty table with the columns of a layer's table, drawn in its style, without labels."""
    from qgis.core import QgsMapLayerStyle, QgsVectorLayer

    layer = QgsVectorLayer(f"{shape}?crs={CRS}", opened.title, "memory")
    layer.dataProvider().addAttributes(opened.layer.fields().toList())
    layer.updateFields()
    style = QgsMapLayerStyle()
    style.readFromLayer(opened.layer)
    style.writeToLayer(layer)
    layer.setLabelsEnabled(False)
    return layer


def _feature(layer: Any, template: Any, wkt: str, values: dict[str, Any]) -> Any:
    from qgis.core import QgsFeature, QgsGeometry

    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry.fromWkt(wkt))
    for name in template.fields().names():
        feature.setAttribute(name, values[name] if name in values else template[name])
    return feature


def add(layer: Any, features: list[Any]) -> None:
    """Puts features into a table in memory."""
    fine, _ = layer.dataProvider().addFeatures(features)
    if not fine:
        raise RuntimeError(f"QGIS does not take the lines to measure: {layer.dataProvider().lastError()}")
    layer.updateExtents()


def points(
    opened: Opened, values: list[dict[str, Any]], scale: int, labels: bool, apart_mm: float = 20.0
) -> tuple[Any, Any, tuple[float, float]]:
    """A row of points in the style of a table, on 40 mm by 20 mm at least: the table, the box, its size on paper."""
    from qgis.core import QgsRectangle

    template = opened.one()
    layer = copy_of(opened, "Point")
    layer.setLabelsEnabled(labels and opened.layer.labelsEnabled())
    to_m = scale / 1000
    size_mm = (20.0 + apart_mm * len(values), 20.0)
    features = [
        _feature(layer, template, f"Point({EAST_M + (10 + apart_mm * i) * to_m} {NORTH_M - 10 * to_m})", v)
        for i, v in enumerate(values)
    ]
    add(layer, features)
    return layer, QgsRectangle(EAST_M, NORTH_M - size_mm[1] * to_m, EAST_M + size_mm[0] * to_m, NORTH_M), size_mm


def shape(opened: Opened, kind: str, values: dict[str, Any]) -> tuple[Any, Any, tuple[float, float]]:
    """A line or area of 10 mm at 1:10 000 in the style of a table: the table, the box, its size on paper."""
    from qgis.core import QgsRectangle

    layer = copy_of(opened, kind)
    west, south, east, north = EAST_M + 50, NORTH_M + 50, EAST_M + 150, NORTH_M + 150
    corners = f"{west} {south}, {east} {south}, {east} {north}, {west} {north}, {west} {south}"
    wkt = f"Polygon(({corners}))" if kind == "Polygon" else f"LineString({corners})"
    add(layer, [_feature(layer, opened.one(), wkt, values)])
    return layer, QgsRectangle(EAST_M, NORTH_M, EAST_M + 200, NORTH_M + 200), (20.0, 20.0)


def laid_out(layer: Any, box: Any, size_mm: tuple[float, float], background: str) -> Any:
    """A layout that holds nothing but a map of this size, as an image."""
    from qgis.core import (
        QgsLayout,
        QgsLayoutExporter,
        QgsLayoutItemMap,
        QgsLayoutPoint,
        QgsLayoutSize,
        QgsProject,
        QgsUnitTypes,
    )
    from qgis.PyQt.QtGui import QColor

    QgsProject.instance().setCrs(layer.crs(), True)
    layout = QgsLayout(QgsProject.instance())
    layout.initializeDefaults()
    layout.renderContext().setDpi(PAPER_DPI)
    size = QgsLayoutSize(*size_mm, QgsUnitTypes.LayoutMillimeters)
    layout.pageCollection().page(0).setPageSize(size)
    item = QgsLayoutItemMap(layout)
    layout.addLayoutItem(item)
    item.attemptMove(QgsLayoutPoint(0, 0, QgsUnitTypes.LayoutMillimeters))
    item.attemptResize(size)
    item.setCrs(layer.crs())
    item.setLayers([layer])
    item.setKeepLayerSet(True)
    item.setBackgroundColor(QColor(background))
    item.setExtent(box)
    return QgsLayoutExporter(layout).renderPageToImage(0, dpi=PAPER_DPI)
