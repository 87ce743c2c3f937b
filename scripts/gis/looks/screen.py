"""A map on screen: layers, a box, a scale, a background."""

from dataclasses import dataclass
from typing import Any

from looks.views import View

DPI = 96.0
WIDEST_PX = 2400
BACKGROUNDS = {"white": "#ffffff", "light": "#d9d9d9", "dark": "#1b1e23"}


@dataclass
class Shown:
    """A picture and the texts of the labels in it, with the layer each belongs to."""

    image: Any
    labels: list[tuple[str, str]]
    trouble: list[str]


def grid(view: View) -> Any:
    """The UTM zone around a view: there a scale means the same in every direction."""
    from qgis.core import QgsCoordinateReferenceSystem

    x, y = view.middle
    zone = min(60, int((x + 180) // 6) + 1)
    return QgsCoordinateReferenceSystem(f"EPSG:{(32600 if y >= 0 else 32700) + zone}")


def rectangle(view: View, crs: Any, size_mm: tuple[float, float]) -> Any:
    """A box of exactly this size on paper, around the middle of a view."""
    from qgis.core import (
        QgsCoordinateReferenceSystem,
        QgsCoordinateTransform,
        QgsPointXY,
        QgsProject,
        QgsRectangle,
    )

    turn = QgsCoordinateTransform(QgsCoordinateReferenceSystem("EPSG:4326"), crs, QgsProject.instance())
    at = turn.transform(QgsPointXY(*view.middle))
    wide, high = (side * view.scale / 1000 for side in size_mm)
    return QgsRectangle(at.x() - wide / 2, at.y() - high / 2, at.x() + wide / 2, at.y() + high / 2)


def show(layers: list[Any], view: View, background: str) -> Shown:
    """A view as it appears on screen."""
    return draw(layers, rectangle(view, grid(view), view.size_mm()), grid(view), view.size_mm(), background)


def draw(
    layers: list[Any], box: Any, crs: Any, size_mm: tuple[float, float], background: str, dpi: float = DPI
) -> Shown:
    """A box drawn at a size."""
    from qgis.core import (
        QgsExpressionContext,
        QgsExpressionContextUtils,
        QgsMapRendererSequentialJob,
        QgsMapSettings,
        QgsProject,
    )
    from qgis.PyQt.QtCore import QSize
    from qgis.PyQt.QtGui import QColor

    wide, high = (max(1, round(side / 25.4 * dpi)) for side in size_mm)
    if max(wide, high) > WIDEST_PX and dpi == DPI:
        raise ValueError(f"a picture of {wide} by {high} pixels; use a smaller box or scale")
    settings = QgsMapSettings()
    settings.setLayers(layers)
    settings.setDestinationCrs(crs)
    settings.setEllipsoid(crs.ellipsoidAcronym())
    settings.setOutputDpi(dpi)
    settings.setOutputSize(QSize(wide, high))
    settings.setExtent(box)
    settings.setBackgroundColor(QColor(background))
    settings.setTransformContext(QgsProject.instance().transformContext())
    for flag in (QgsMapSettings.Antialiasing, QgsMapSettings.DrawLabeling, QgsMapSettings.UseAdvancedEffects):
        settings.setFlag(flag, True)
    # Expressions of styles may ask for the scale, as in the window of a viewer.
    context = QgsExpressionContext()
    context.appendScope(QgsExpressionContextUtils.globalScope())
    context.appendScope(QgsExpressionContextUtils.projectScope(QgsProject.instance()))
    context.appendScope(QgsExpressionContextUtils.mapSettingsScope(settings))
    settings.setExpressionContext(context)
    job = QgsMapRendererSequentialJob(settings)
    job.start()
    job.waitForFinished()
    names = {layer.id(): layer.name() for layer in layers}
    results = job.takeLabelingResults()
    labels = (
        [(names.get(at.layerID, at.layerID), at.labelText) for at in results.allLabels() if not at.isUnplaced]
        if results
        else []
    )
    trouble = [f"{names.get(e.layerID, e.layerID)}: {e.message}" for e in job.errors()]
    return Shown(job.renderedImage(), labels, trouble)
