"""The page at every width, by day and by night, and in browsers that cannot do all of it."""

from pathlib import Path

from playwright.sync_api import Playwright

from .browser import shown
from .pixels import Picture
from .rows import Rows

WIDTHS = (360, 768, 1280)
LEAST_PX = 24


def sizes(rows: Rows, engine: Playwright, page: Path, name: str, pictures: Path | None) -> None:
    """Nothing sticks out; what is tapped is large enough (WCAG 2.2, 2.5.8: 24 pixels); night is dark."""
    light: dict[bool, float] = {}
    for width in WIDTHS:
        for dark in (False, True):
            with shown(engine, page, width, dark=dark) as held:
                held.idle()
                form = f"{name} {width} {'night' if dark else 'day'}"
                wide = held.page.evaluate("document.documentElement.scrollWidth")
                rows.add(f"{form}: nothing sticks out", wide <= width, wide)
                small = [
                    box
                    for one in held.page.locator("button:visible, summary:visible, input:visible, label:visible").all()
                    if (box := one.bounding_box())
                    and min(box["width"], box["height"]) < LEAST_PX
                    and box["height"] > 0
                    and one.get_attribute("type") not in ("checkbox", "radio")
                ]
                rows.same(f"{form}: large enough to tap", small, [])
                rows.same(f"{form}: asked for nothing", held.outside(), [])
                rows.same(f"{form}: complained of nothing", held.complaints, [])
                picture = held.page.screenshot()
                light[dark] = Picture.of(picture).lightness()
                if pictures:
                    (pictures / f"{name}-{width}-{'night' if dark else 'day'}.png").write_bytes(picture)
        rows.add(f"{name} {width}: night is dark", light[True] < 0.4 * light[False], light)
    if pictures:
        with shown(engine, page, 1280, grey=True) as held:
            held.idle()
            (pictures / f"{name}-1280-grey.png").write_bytes(held.page.screenshot())


def without(rows: Rows, engine: Playwright, page: Path, name: str, pictures: Path | None) -> None:
    """Without scripts, and without WebGL, the list and the drawing are there, and the second says why."""
    for form, options in (("no scripts", {"scripts": False}), ("no WebGL", {"gl": False})):
        with shown(engine, page, 360, **options) as held:
            listed = held.page.locator("[data-outage]")
            rows.add(f"{name}, {form}: the list", listed.count() > 0 and listed.first.is_visible(), listed.count())
            drawing = held.page.locator("#drawn svg")
            box = drawing.bounding_box()
            rows.add(f"{name}, {form}: the drawing", bool(box and box["height"] > 200), box)
            rows.add(f"{name}, {form}: no empty map", not held.page.locator("#stage").is_visible())
            rows.add(f"{name}, {form}: cautions", held.page.locator("#cautions li").count() >= 5)
            if form == "no WebGL":
                rows.add(f"{name}, {form}: says why", "WebGL" in held.text("#why"), held.text("#why"))
                held.page.locator("#query").fill("a")
                rows.add(f"{name}, {form}: the search answers", held.page.locator("#hits li").count() > 0)
            if pictures:
                (pictures / f"{name}-{form.replace(' ', '-')}.png").write_bytes(held.page.screenshot(full_page=True))
