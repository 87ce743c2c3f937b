"""Pictures as numbers: colours, grey, what a line is made of."""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def array(image: Any) -> Floats:
    """Red, green, blue of every pixel of a QImage, 0 to 255, row by row."""
    from qgis.PyQt.QtGui import QImage

    plain = image.convertToFormat(QImage.Format_RGBX8888)
    bits = plain.constBits()
    bits.setsize(plain.sizeInBytes())
    rows = np.frombuffer(bytes(bits), dtype=np.uint8).reshape(plain.height(), plain.bytesPerLine() // 4, 4)
    return rows[:, : plain.width(), :3].astype(np.float64)


def luminance(rgb: Floats) -> Floats:
    """Relative luminance of WCAG 2.1, 0 to 1."""
    part = rgb / 255.0
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    out: Floats = linear @ np.array([0.2126, 0.7152, 0.0722])
    return out


def lightness(rgb: Floats) -> Floats:
    """L* of CIE 1976, 0 to 100."""
    y = luminance(rgb)
    out: Floats = np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)
    return out


def save(image: Any, path: Path) -> None:
    """Writes a picture."""
    from looks.layer import LooksError

    if not image.save(str(path)):
        raise LooksError(f"{path}: cannot be written; see whether the folder can be written to and has room")


def save_grey(image: Any, path: Path) -> None:
    """A picture as a printer without colours makes it: the same luminance in every pixel."""
    from qgis.PyQt.QtGui import QImage

    y = luminance(array(image))
    grey = np.where(y <= 0.0031308, y * 12.92, 1.055 * y ** (1 / 2.4) - 0.055)
    rows = np.ascontiguousarray(np.clip(np.rint(grey * 255), 0, 255).astype(np.uint8))
    high, wide = rows.shape
    save(QImage(rows.tobytes(), wide, high, wide, QImage.Format_Grayscale8), path)


def shares(rgb: Floats, colours: list[tuple[int, int, int]]) -> Floats:
    """Of which share of each colour every pixel is mixed; shares of a pixel add up to one.

    Edges of lines are smoothed, so a pixel there holds some of the line and some of what is next to it. The shares tell
    widths far below one pixel.
    """
    base = np.array(colours[-1], dtype=np.float64)
    axes = np.array(colours[:-1], dtype=np.float64) - base
    flat = (rgb - base).reshape(-1, 3)
    found, *_ = np.linalg.lstsq(axes.T, flat.T, rcond=None)
    part = found.T.reshape(*rgb.shape[:-1], len(colours) - 1)
    out: Floats = np.concatenate([part, 1 - part.sum(axis=-1, keepdims=True)], axis=-1)
    return out
