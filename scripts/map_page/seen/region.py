"""The page of a region: figures against the layer, filters, search, signs, hands and keys."""

import re
from pathlib import Path

from .browser import Shown
from .layer import RATINGS, Road, count, kilometres, roads
from .pixels import Picture
from .rows import Rows

# Roads of which the card is compared with the layer.
SAMPLE = 5
# Five colours by day, as in src/base/ramp.rs.
DAY = ["#7ad151", "#22a884", "#2a788e", "#414487", "#440154"]


def spoken(seconds: float) -> str:
    """As the page says seconds: what is there never reads as nothing."""
    if seconds <= 0:
        return "0 s"
    tenths = max(1, int(seconds * 10 + 0.5)) / 10
    if tenths < 9.95:
        return f"{tenths:.1f} s"
    whole = int(tenths + 0.5)
    if whole < 100:
        return f"{whole} s"
    if whole < 3600:
        minutes, rest = divmod(whole, 60)
        return f"{minutes} min {rest:02} s" if rest else f"{minutes} min"
    hours, minutes = divmod((whole + 30) // 60, 60)
    return f"{hours} h {minutes:02} min" if minutes else f"{hours} h"


def range_of(side: tuple[int, int, int | None, float]) -> str:
    _, best, worst, _ = side
    if worst is None:
        return f"{RATINGS[best]} to not known"
    return RATINGS[best] if best == worst else f"{RATINGS[best]} to {RATINGS[worst]}"


def sample(path: Path) -> list[Road]:
    """Roads spread over the layer, none so short or near another that a finger may miss it."""
    long = [road for road in roads(path) if road.length_m > 150]
    step = max(1, len(long) // SAMPLE)
    return long[::step][:SAMPLE]


def card_tells(rows: Rows, shown: Shown, road: Road, name: str) -> None:
    """The card of a road, row by row, against the layer."""
    cells = {
        head: [cell.strip() for cell in values]
        for head, *values in (
            [cell.inner_text() for cell in line.locator("th, td").all()]
            for line in shown.page.locator("#card tbody tr").all()
        )
    }
    sides = [side for side in (road.forward, road.backward) if side is not None]
    rows.same(f"{name}: heading", shown.text("#card h2").startswith(road.name[:150]), True)
    rows.same(f"{name}: rating", cells.get("Rating"), [RATINGS[side[0]] for side in sides])
    rows.same(f"{name}: range", cells.get("Best to worst"), [range_of(side) for side in sides])
    longest = [spoken(side[3]) for side in sides]
    rows.same(f"{name}: longest outage", cells.get("95 of 100 drives meet no outage longer than"), longest)
    rows.same(f"{name}: way", str(road.way) in shown.text("#card dl"), True)
    rows.same(f"{name}: not known is said", "May be worse" in shown.text("#card"), road.evidence == "unknown")


def figures(rows: Rows, shown: Shown, layer: Path) -> None:
    """Goes to the middle of some roads by their coordinates, taps there, and compares what the card says."""
    # A number lies on its road, and is chosen first.
    numbers = shown.page.locator("label.alone input")
    numbers.uncheck()
    for road in sample(layer):
        lon, lat = road.middle()
        name = f"road {road.segment_id}"
        shown.find(f"{lat:.6f},{lon:.6f}")
        for _ in range(3):
            shown.page.locator("#closer").click()
            shown.page.wait_for_timeout(500)
        shown.idle()
        shown.hit(*shown.middle())
        # The middle is its own: no other road of the sample lies within a finger's reach.
        if str(road.way) not in shown.text("#card dl"):
            rows.add(f"{name}: chosen", False, shown.text("#card")[:200])
            continue
        card_tells(rows, shown, road, name)
    numbers.check()


def filters(rows: Rows, shown: Shown, layer: Path) -> None:
    """What is left out is counted as the layer counts it, and is no longer drawn."""
    page = shown.page
    page.locator("#whole").click()
    shown.idle()
    all_km = kilometres(layer)

    def told() -> list[float]:
        line = page.locator("#show p[role=status]").inner_text()
        return [float(n.replace(",", "")) for n in re.findall(r"[\d,]+(?= of)|(?<=of )[\d,]+", line)]

    rows.same("filter: all shown", told(), [round(all_km), round(all_km)])
    before = Picture.of(page.locator("#map").screenshot())
    rows.add("filter: steady roads are drawn", before.near(DAY[0]) > 50, before.near(DAY[0]))
    box = page.locator("input[data-set=rating][data-value='0']")
    box.scroll_into_view_if_needed()
    box.uncheck()
    shown.idle()
    rows.same("filter: kilometres without steady", told()[0], round(kilometres(layer, "rating <> 0")))
    after = Picture.of(page.locator("#map").screenshot())
    rows.add("filter: steady roads are gone", after.near(DAY[0]) == 0, after.near(DAY[0]))
    box.check()
    page.locator("#show input[value=worst]").check()
    shown.idle()
    unknown_km = kilometres(layer, "rating_worst IS NULL")
    said = page.locator("#show p[role=status]").inner_text()
    rows.same("filter: worst not known is said", "not known" in said, unknown_km >= 0.5)
    page.locator("#show input[value=likely]").check()
    shown.idle()


def signs(rows: Rows, shown: Shown, layer: Path) -> None:
    """Numbers of the list are buttons that show their place; the card says what the list says."""
    page = shown.page
    numbers = page.locator("[data-outage] button")
    listed = page.locator("[data-outage]").count()
    rows.add("outages: listed", 0 < listed <= 25, listed)
    rows.same("outages: each has a button", numbers.count(), listed)
    first = page.locator("[data-outage='1']")
    words = first.locator(".words").inner_text()
    first.locator("button").click()
    page.wait_for_timeout(500)
    shown.idle()
    rows.add(
        "outages: the card says what the list says", words.split(",")[0].split(":")[0] in shown.text("#card"), words
    )
    longest = max(
        float(str(row[0]))
        for row in opened_rows(
            layer,
            """SELECT o.outage_p95_s FROM outages o JOIN segments s ON s.segment_id = o.segment_from
               WHERE o.cause <> 'boarded'
               AND s.highway IN ('motorway','trunk','primary','motorway_link','trunk_link','primary_link','secondary',
                                 'secondary_link','tertiary','tertiary_link')""",
        )
    )
    rows.add(
        "outages: the first is the longest on greater roads",
        spoken(longest).replace(" ", "\u00a0") in words or spoken(longest) in words,
        words,
    )


def opened_rows(layer: Path, sql: str) -> list[tuple[object, ...]]:
    from .layer import opened

    return opened(layer).execute(sql).fetchall()


def search(rows: Rows, shown: Shown, layer: Path) -> None:
    """By name, by keys alone."""
    page = shown.page
    found = opened_rows(layer, "SELECT name FROM places ORDER BY rank, place_id LIMIT 1")
    for (name,) in found:
        page.locator("#query").fill("")
        page.locator("#query").type(str(name).upper())
        hits = page.locator("#hits li")
        rows.add(f"search: {name}", hits.count() > 0 and str(name) in hits.first.inner_text(), hits.count())
        page.locator("#query").press("ArrowDown")
        rows.same("search: the first is marked", hits.first.get_attribute("aria-selected"), "true")
        page.locator("#query").press("Enter")
        shown.idle()
        rows.add("search: told", str(name) in shown.text("#search p"), shown.text("#search p"))
    page.locator("#query").fill("zzqx")
    rows.add(
        "search: nothing is said to be nothing",
        "Nothing on this page" in shown.text("#search p"),
        shown.text("#search p"),
    )
    page.locator("#query").fill("")


def keys(rows: Rows, shown: Shown, layer: Path) -> None:
    """The map by keys alone: moved by arrows, a road chosen by Enter, closed by Tab and Enter."""
    page = shown.page
    canvas = page.locator(".maplibregl-canvas")
    label = canvas.get_attribute("aria-label") or ""
    rows.add("keys: the map says how", "Enter" in label, label)
    road = sample(layer)[0]
    lon, lat = road.middle()
    shown.find(f"{lat:.6f},{lon:.6f}")
    canvas.focus()
    for _ in range(3):
        page.keyboard.press("+")
        page.wait_for_timeout(500)
    shown.idle()
    page.keyboard.press("Enter")
    page.wait_for_timeout(500)
    rows.add("keys: Enter chooses the road in the middle", str(road.way) in shown.text("#card dl"), shown.text("#card"))
    page.locator("#card .close").focus()
    page.keyboard.press("Enter")
    rows.same("keys: closed", shown.text("#card"), "")
    rows.same("keys: goes on from the search", page.evaluate("document.activeElement.id"), "query")
    canvas.focus()
    for key in ("ArrowRight", "ArrowUp"):
        for _ in range(3):
            page.keyboard.press(key)
            page.wait_for_timeout(500)
    shown.idle()
    page.keyboard.press("Enter")
    page.wait_for_timeout(500)
    rows.add("keys: arrows move it: another road is in the middle", str(road.way) not in shown.text("#card dl"))
    if page.locator("#card .close").is_visible():
        page.locator("#card .close").click()
    canvas.focus()
    before = page.evaluate("document.activeElement.className")
    page.keyboard.press("Tab")
    rows.add("keys: Tab leaves the map", page.evaluate("document.activeElement.className") != before)


def stops(rows: Rows, shown: Shown, layer: Path) -> None:
    """Places to stop in sight are counted as the layer counts them."""
    page = shown.page
    page.locator("#whole").click()
    shown.idle()
    there = count(layer, "stops", "access <> 'private'")
    said = re.match(r"(\d+) in sight", page.locator("#near p.small").inner_text())
    rows.same("stops: in sight", said and int(said[1]), there)
