"""A browser with a page open: what it asked for, what it complained of, and hands to use it with."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, Playwright

PROGRAM = "/usr/bin/chromium"
# Software drawing, so that machines without a graphics card draw as well.
FLAGS = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"]
WITHOUT_GL = ["--disable-3d-apis"]
# Wide enough to be patient on a slow machine; nothing is measured by it.
WAIT_MS = 90_000


@dataclass
class Shown:
    """An open page."""

    page: Any
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    touch: bool = False

    def outside(self) -> list[str]:
        """Requests for anything but the file itself and the library's own worker."""
        return [url for url in self.asked if not url.startswith(("file://", "blob:null/"))]

    def text(self, selector: str) -> str:
        found = self.page.locator(selector)
        return str(found.inner_text()) if found.count() and found.is_visible() else ""

    def idle(self) -> None:
        """Waits until nothing more is drawn: two pictures of the map are the same."""
        before = b""
        for _ in range(40):
            now = self.page.locator("#map").screenshot()
            if now == before:
                return
            before = now
            self.page.wait_for_timeout(250)
        raise AssertionError("the map is never still")

    def hit(self, x: float, y: float) -> None:
        """A tap or a click at a place of the map."""
        box = self.page.locator("#map").bounding_box()
        if self.touch:
            self.page.touchscreen.tap(box["x"] + x, box["y"] + y)
        else:
            self.page.mouse.click(box["x"] + x, box["y"] + y)
        self.page.wait_for_timeout(400)

    def middle(self) -> tuple[float, float]:
        box = self.page.locator("#map").bounding_box()
        return (box["width"] / 2, box["height"] / 2)

    def find(self, words: str) -> None:
        """Looks for something and takes the first that is found."""
        field = self.page.locator("#query")
        field.fill("")
        field.type(words)
        field.press("Enter")
        self.page.wait_for_timeout(900)
        self.idle()


@contextmanager
def shown(
    engine: Playwright,
    file: Path,
    width: int,
    *,
    dark: bool = False,
    grey: bool = False,
    scripts: bool = True,
    gl: bool = True,
    still: bool = True,
) -> Iterator[Shown]:
    """Opens a page from the disk."""
    browser = engine.chromium.launch(executable_path=PROGRAM, args=FLAGS if gl else WITHOUT_GL)
    small = width < 700
    context = browser.new_context(
        viewport={"width": width, "height": 740 if small else 800},
        color_scheme="dark" if dark else "light",
        java_script_enabled=scripts,
        has_touch=small,
        is_mobile=small,
        reduced_motion="reduce" if still else "no-preference",
    )
    context.set_default_timeout(10_000)
    page: Page = context.new_page()
    held = Shown(page, touch=small)

    def told_by_dialog(dialog: Any) -> None:
        held.complaints.append(f"dialog {dialog.message}")
        dialog.dismiss()

    page.on("request", lambda request: held.asked.append(request.url))
    page.on("pageerror", lambda error: held.complaints.append(str(error)))
    page.on("console", lambda said: held.complaints.append(said.text) if said.type == "error" else None)
    page.on("dialog", told_by_dialog)
    try:
        page.goto(file.resolve().as_uri())
        if scripts:
            page.wait_for_selector("html[data-ready]", state="attached", timeout=WAIT_MS)
            if grey:
                page.evaluate("document.documentElement.style.setProperty('filter', 'grayscale(1)')")
        yield held
    finally:
        browser.close()
