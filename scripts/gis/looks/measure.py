"""What a drawn line is: its widths in millimetres, its colour, how it looks in grey."""

from dataclasses import dataclass

import numpy as np

from looks import pixels
from looks.pixels import Floats
from looks.sample import Drawn

# A background that no style uses, far from every colour of the ramp and from white.
MAGENTA = (255, 0, 255)
# Lightness L* from which two greys are plainly told apart even between thin lines (common practice, no source).
APART_L = 10.0
WIDER = 1.5
SHARE_APART = 0.2


def hexed(colour: tuple[int, int, int]) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)


@dataclass(frozen=True)
class Widths:
    """Millimetres across a line."""

    core_mm: float
    whole_mm: float


def core_colour(drawn: Drawn, at: int) -> tuple[int, int, int]:
    """The colour of a line: the most common of the pixels that are neither background nor white."""
    rows = drawn.strip(at).reshape(-1, 3)
    plain = np.minimum(np.abs(rows - np.array(MAGENTA)).sum(axis=1), np.abs(rows - 255.0).sum(axis=1)) > 60
    if not plain.any():
        return MAGENTA
    found, counts = np.unique(rows[plain].astype(int), axis=0, return_counts=True)
    r, g, b = found[counts.argmax()]
    return int(r), int(g), int(b)


def widths(drawn: Drawn, at: int, core: tuple[int, int, int], casing: tuple[int, int, int]) -> Widths:
    """Widths where the line is drawn; gaps between dashes do not count. The picture has a magenta background."""
    part = pixels.shares(drawn.strip(at), [core, casing, MAGENTA])
    per_mm = drawn.dpi / 25.4
    across = part[..., 0].sum(axis=0)
    on = across > across.max() / 2
    whole = (part[..., 0] + part[..., 1]).sum(axis=0)
    return Widths(float(np.median(across[on])) / per_mm, float(np.median(whole[on])) / per_mm)


def darkest(rgb: Floats) -> tuple[int, int, int]:
    """The darkest colour of a picture."""
    rows = rgb.reshape(-1, 3)
    r, g, b = rows[rows.sum(axis=1).argmin()].astype(int)
    return int(r), int(g), int(b)


def ink(rgb: Floats, background: tuple[int, int, int]) -> float:
    """Share of the pixels that are not background."""
    return float((np.abs(rgb - np.array(background)).max(axis=-1) > 8).mean())


@dataclass(frozen=True)
class Grey:
    """A line on white paper without colours."""

    # Of the darkest row, L*.
    lightness: float
    # Width of what is plainly darker than paper, where the line is drawn, mm.
    width_mm: float
    # Share of its length at which anything is drawn, and at which its middle is dark.
    drawn_share: float
    middle_share: float
    # Dashes or stripes begun along its middle, per centimetre.
    dashes_per_cm: float

    def told_from(self, other: "Grey") -> list[str]:
        """Signs that tell two lines apart."""
        signs = []
        if abs(self.lightness - other.lightness) >= APART_L:
            signs.append("lightness")
        thin, thick = sorted((max(self.width_mm, 0.01), max(other.width_mm, 0.01)))
        if thick / thin >= WIDER:
            signs.append("width")
        if abs(self.drawn_share - other.drawn_share) >= SHARE_APART:
            signs.append("gaps")
        if abs(self.middle_share - other.middle_share) >= SHARE_APART:
            signs.append("stripes")
        few, many = sorted((max(self.dashes_per_cm, 0.1), max(other.dashes_per_cm, 0.1)))
        if many / few >= WIDER and many > 1:
            signs.append("rhythm")
        return signs

    def told(self) -> str:
        return (
            f"L* {self.lightness:.0f}, {self.width_mm:.2f} mm, drawn {self.drawn_share:.0%}, "
            f"middle {self.middle_share:.0%}, {self.dashes_per_cm:.1f}/cm"
        )


def grey(drawn: Drawn, at: int) -> Grey:
    """The picture has a white background."""
    light = pixels.lightness(drawn.strip(at))
    per_mm = drawn.dpi / 25.4
    darkest = float(np.percentile(light, 1))
    dark = light < (100 + darkest) / 2
    columns = dark.any(axis=0)
    # The row in the middle of all that is dark: it may lie a pixel beside that of the strip.
    rows = np.flatnonzero(dark.any(axis=1))
    centre = round(float(rows[[0, -1]].mean())) if len(rows) else dark.shape[0] // 2
    middle = dark[centre]
    # From the first dark pixel to the last: a striped line is as wide as its edges.
    spans = [np.flatnonzero(dark[:, x])[[0, -1]] for x in np.flatnonzero(columns)]
    wide = float(np.median([b - a + 1 for a, b in spans])) / per_mm if spans else 0.0
    begun = int(np.count_nonzero(np.diff(middle.astype(int)) == 1))
    return Grey(darkest, wide, float(columns.mean()), float(middle.mean()), begun / (light.shape[1] / per_mm / 10))


def contrast(drawn: Drawn, at: int) -> float:
    """How far the line stands off its background, L*: the casing counts, too."""
    light = pixels.lightness(drawn.strip(at))
    edge = float(np.median(light[[0, -1]]))
    rows = np.percentile(np.abs(light - edge), 75, axis=1)
    return float(rows.max())
