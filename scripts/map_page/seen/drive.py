"""The page of a drive: the strip, the map and what `waymask corridor` says of the same track."""

import json
import re
import subprocess
from pathlib import Path

from .browser import Shown
from .rows import Rows


def told_by(program: Path, layer: Path, track: Path) -> dict[str, object]:
    line = [str(program), "corridor", str(layer), str(track), "--json"]
    answer: dict[str, object] = json.loads(subprocess.run(line, capture_output=True, text=True, check=True).stdout)
    return answer


def strip(rows: Rows, shown: Shown, corridor: dict[str, object], post: str = "km", unit_m: float = 1000.0) -> None:
    """Its end is where the drive ends; moved by keys, it says where it is; outages have the numbers of the list."""
    page = shown.page
    hand = page.locator("#strip input")
    hand.focus()
    page.keyboard.press("End")
    shown.idle()
    said = shown.text("#strip .said")
    length = re.match(rf"{post} ([\d.]+), (?:(\d+) h ?)?(?:(\d+) min)? from", said)
    minutes = 60 * int(length[2] or 0) + int(length[3] or 0) if length else -1
    summary = corridor.get("summary", corridor)
    metres, seconds = float(summary["length_m"]), float(summary["time_s"])  # type: ignore[index]
    rows.add("strip: length at its end", bool(length) and abs(float(length[1]) - metres / unit_m) < 0.06, said)  # type: ignore[index]
    rows.add("strip: minutes at its end", abs(minutes - seconds / 60) <= 1, said)
    before = page.locator("#map").screenshot()
    page.keyboard.press("Home")
    shown.idle()
    rows.add(
        "strip: back at the start",
        shown.text("#strip .said").startswith(f"{post} 0.0, 0 min"),
        shown.text("#strip .said"),
    )
    rows.add("strip: the map shows another place", page.locator("#map").screenshot() != before)
    outages = corridor["outages"]
    assert isinstance(outages, list)
    worst = sorted(outages, key=lambda o: (-o["rating"], -o["outage_p95_s"]))[:10]
    listed = page.locator("[data-outage] .words").all_inner_texts()
    wanted = [f"{post}\u00a0{1000 * o['at_km'] / unit_m:.1f}" for o in sorted(worst, key=lambda o: o["at_km"])]
    rows.same(
        "strip: the list has the worst, as driven",
        [" ".join(w.split(",")[0].split()) for w in listed],
        [w.replace("\u00a0", " ") for w in wanted],
    )
    page.keyboard.press("3")
    shown.idle()
    at = re.match(rf"{post} ([\d.]+)", shown.text("#strip .said"))
    third = sorted(worst, key=lambda o: o["at_km"])[2]["at_km"]
    there = float(at[1]) if at else -1.0
    rows.add("strip: key 3 goes to outage 3", abs(there - 1000 * third / unit_m) < 0.06, there)


def together(rows: Rows, shown: Shown) -> None:
    """Dragging along the strip moves the map; dragging the map moves the strip."""
    page = shown.page
    band = page.locator("#strip .band").bounding_box()
    page.mouse.click(band["x"] + band["width"] * 0.5, band["y"] + 40)
    shown.idle()
    said = shown.text("#strip .said")
    half = re.match(r"km ([\d.]+)", said)
    rows.add("together: a click on the strip", bool(half) and float(half[1]) > 1, said)  # type: ignore[index]
    for _ in range(3):
        page.locator("#closer").click()
        page.wait_for_timeout(400)
    box = page.locator("#map").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - box["width"] * 0.3, y, steps=6)
    page.mouse.up()
    shown.idle()
    rows.add("together: the strip follows the map", shown.text("#strip .said") != said, said)


def framed(rows: Rows, shown: Shown) -> None:
    """Where things may move, a number of the list still brings its outage into view: the scale changes."""
    page = shown.page
    for _ in range(6):
        page.locator("#closer").click()
        page.wait_for_timeout(500)
    shown.idle()
    before = shown.text("#scale")
    page.locator("[data-outage='9'] button").click()
    page.wait_for_timeout(1500)
    shown.idle()
    rows.add("framed: the scale is that of the outage", shown.text("#scale") != before, before)
