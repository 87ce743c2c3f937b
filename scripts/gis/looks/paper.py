"""A map on paper: a sheet with title, legend, scale bar and credit, as a print layout makes it."""

from pathlib import Path
from typing import Any

from looks.layer import LayerFile, LooksError
from looks.screen import grid, rectangle
from looks.views import PAPER_MM, View

DPI = 300.0
# A4 across.
SHEET_MM = (297.0, 210.0)
MAP_MM = (10.0, 24.0)


def sheet(file: LayerFile, view: View, title: str, background: str) -> Any:
    """The layout of a view. The map is as large as the sheet allows, so that the scale is the view's."""
    from qgis.core import (
        QgsLayout,
        QgsLayoutItemLabel,
        QgsLayoutItemLegend,
        QgsLayoutItemMap,
        QgsLayoutItemScaleBar,
        QgsLayoutPoint,
        QgsLayoutSize,
        QgsLegendStyle,
        QgsProject,
        QgsUnitTypes,
    )
    from qgis.PyQt.QtGui import QColor, QFont

    project = QgsProject.instance()
    project.setCrs(grid(view), True)
    layout = QgsLayout(project)
    layout.initializeDefaults()
    layout.renderContext().setDpi(DPI)

    def put(item: Any, x: float, y: float, wide: float | None = None, high: float | None = None) -> Any:
        layout.addLayoutItem(item)
        item.attemptMove(QgsLayoutPoint(x, y, QgsUnitTypes.LayoutMillimeters))
        if wide is not None and high is not None:
            item.attemptResize(QgsLayoutSize(wide, high, QgsUnitTypes.LayoutMillimeters))
        return item

    def text(words: str, points: float, x: float, y: float, wide: float, high: float) -> None:
        label = QgsLayoutItemLabel(layout)
        label.setText(words)
        font = QFont("DejaVu Sans")
        font.setPointSizeF(points)
        label.setFont(font)
        put(label, x, y, wide, high)

    map_item = QgsLayoutItemMap(layout)
    put(map_item, *MAP_MM, *PAPER_MM)
    map_item.setCrs(grid(view))
    map_item.setLayers(file.drawn())
    map_item.setKeepLayerSet(True)
    map_item.setBackgroundColor(QColor(background))
    map_item.setFrameEnabled(True)
    map_item.setExtent(rectangle(view, grid(view), PAPER_MM))
    text(title, 14, 10, 8, 277, 12)
    legend = QgsLayoutItemLegend(layout)
    legend.setLinkedMap(map_item)
    legend.setAutoUpdateModel(True)
    # Eight tables on one sheet: smaller letters and gaps than those QGIS begins with, as whoever prints a map chooses.
    for style, points in ((QgsLegendStyle.Subgroup, 8.5), (QgsLegendStyle.SymbolLabel, 7.5)):
        font = legend.styleFont(style)
        font.setPointSizeF(points)
        legend.setStyleFont(style, font)
    legend.rstyle(QgsLegendStyle.Symbol).setMargin(QgsLegendStyle.Top, 1.2)
    legend.rstyle(QgsLegendStyle.Subgroup).setMargin(QgsLegendStyle.Top, 2.0)
    legend.setSymbolHeight(3.2)
    put(legend, MAP_MM[0] + PAPER_MM[0] + 4, MAP_MM[1])
    legend.adjustBoxSize()
    bar = QgsLayoutItemScaleBar(layout)
    bar.setStyle("Single Box")
    bar.setLinkedMap(map_item)
    # Two pieces of some 20 mm each, in metres or kilometres.
    step_m = max(m * 10**n for n in range(7) for m in (1, 2, 5) if m * 10**n <= view.scale * 0.025)
    far = step_m >= 1000
    bar.setUnits(QgsUnitTypes.DistanceKilometers if far else QgsUnitTypes.DistanceMeters)
    bar.setUnitLabel("km" if far else "m")
    bar.setUnitsPerSegment(step_m / 1000 if far else step_m)
    bar.setNumberOfSegmentsLeft(0)
    bar.setNumberOfSegments(2)
    put(bar, MAP_MM[0], MAP_MM[1] + PAPER_MM[1] + 4)
    text(f"1:{view.scale:,}".replace(",", " "), 9, 110, MAP_MM[1] + PAPER_MM[1] + 5, 60, 6)
    text(file.credit or "no credit in the layer", 7, 10, 196, 277, 8)
    return layout


def legend_words(file: LayerFile) -> list[tuple[str, list[str]]]:
    """The words in the legend of a sheet, by table."""
    from qgis.core import QgsLayerTreeModel, QgsProject

    model = QgsLayerTreeModel(QgsProject.instance().layerTreeRoot())
    out = []
    for opened in file.tables:
        node = QgsProject.instance().layerTreeRoot().findLayer(opened.layer.id())
        words = [str(part.data(0)) for part in model.layerLegendNodes(node)]
        out.append((opened.table, words))
    return out


def legend_end_mm(layout: Any) -> tuple[float, float]:
    """Right and lower edge of the legend on its sheet."""
    from qgis.core import QgsLayoutItemLegend

    # A legend takes its size when it is first drawn.
    picture(layout, 30.0)
    box = next(item for item in layout.items() if isinstance(item, QgsLayoutItemLegend)).sceneBoundingRect()
    return box.right(), box.bottom()


def picture(layout: Any, dpi: float = DPI) -> Any:
    """The sheet as an image."""
    from qgis.core import QgsLayoutExporter

    return QgsLayoutExporter(layout).renderPageToImage(0, dpi=dpi)


def write_pdf(layout: Any, path: Path) -> None:
    """The sheet as a PDF."""
    from qgis.core import QgsLayoutExporter

    settings = QgsLayoutExporter.PdfExportSettings()
    settings.dpi = DPI
    if QgsLayoutExporter(layout).exportToPdf(str(path), settings) != QgsLayoutExporter.Success:
        raise LooksError(f"{path}: QGIS cannot write it; see whether the folder can be written to")
