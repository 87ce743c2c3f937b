"""python3 -m drawn LAYER BRIEF SAMPLES [--check | --check-source]; called by scripts/pictures."""
import hashlib
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from drawn import map as layer_map
from drawn import page, raster

MOST_BYTES = 150_000


@dataclass
class Picture:
    """A picture before it is drawn: the page that a browser shows, its size, and what decides how it looks."""

    name: str
    sheet: Path
    size: tuple
    # Colours closer than this may become one.
    apart: int
    source: str

    @property
    def origin(self):
        return hashlib.sha256(self.source.encode("utf-8")).hexdigest()

    def draw(self, folder):
        whole, small = folder / f"whole-{self.name}", folder / self.name
        raster.photograph(self.sheet, self.size, page.SCALE, whole)
        raster.write_small(whole, small, self.apart, self.origin)
        if (size := small.stat().st_size) > MOST_BYTES:
            raise SystemExit(f"{self.name} has {size} bytes, more than {MOST_BYTES}")
        return small


def pictures(layer, brief, elevation, folder):
    drawing, size, from_layer = layer_map.drawn(layer, elevation)
    sheet = folder / "map.html"
    sheet.write_text(f'<!DOCTYPE html><meta charset="utf-8"><body style="margin:0">{drawing}</body>', encoding="utf-8")
    screens, wide = page.screens(brief, folder)
    return [Picture("map.png", sheet, size, 12, from_layer), Picture("brief.png", screens, wide, 20, page.seen(brief))]


def check_source(picture, kept):
    """Whether a kept picture was drawn from what the demo shows now."""
    if not kept.is_file():
        raise SystemExit(f"{kept} is missing; scripts/pictures makes it")
    if raster.origin(kept) != picture.origin:
        raise SystemExit(f"{kept} was drawn from other figures than the demo has now; scripts/pictures makes it anew, look at it then")


def check_pixels(new, kept):
    """Compares a picture with the kept one, and shows that another picture would not pass."""
    one, (width, height, found) = raster.pixels(new), raster.pixels(kept)
    if raster.differs(one, (width, height, found[::-1])) is None:
        raise SystemExit(f"{kept} passes upside down: the comparison sees nothing")
    if wrong := raster.differs(one, (width, height, found)):
        raise SystemExit(f"{kept} looks different when it is drawn anew: {wrong}")


def main():
    layer, brief, samples = map(Path, sys.argv[1:4])
    with tempfile.TemporaryDirectory(prefix="pictures-") as name:
        folder = Path(name)
        for picture in pictures(layer.resolve(), brief.resolve(), samples / "varrow-elevation.tif", folder):
            kept = samples / picture.name
            if "--check-source" in sys.argv:
                check_source(picture, kept)
                print(f"{kept} was drawn from what the demo shows")
            elif "--check" in sys.argv:
                check_source(picture, kept)
                check_pixels(picture.draw(folder), kept)
                print(f"{kept} is what the demo shows")
            else:
                kept.write_bytes(picture.draw(folder).read_bytes())
                print(f"{kept}: {kept.stat().st_size} bytes")


main()
