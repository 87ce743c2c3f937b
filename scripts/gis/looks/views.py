"""Which parts of a layer are looked at, and how large; chosen from its own roads."""

import math
import re
from dataclasses import dataclass

from looks.layer import LayerFile, LooksError

# Room for the map on the sheet, millimetres.
PAPER_MM = (170.0, 150.0)
EARTH_M_PER_DEG = 111_320.0
# Scales on offer for a whole layer.
SCALES = [25_000, 50_000, 100_000, 150_000, 250_000, 500_000, 1_000_000, 2_500_000, 5_000_000]
MAJOR = "('motorway', 'trunk', 'primary', 'secondary')"

# Middle of every segment, by its box.
MIDDLES = """
WITH middle AS (
  SELECT s.*, (r.minx + r.maxx) / 2 AS x, (r.miny + r.maxy) / 2 AS y
  FROM segments s JOIN rtree_segments_geom r ON r.id = s.fid)
"""


@dataclass(frozen=True)
class View:
    """A box in degrees, drawn at a scale."""

    name: str
    west: float
    south: float
    east: float
    north: float
    scale: int

    @property
    def middle(self) -> tuple[float, float]:
        return (self.west + self.east) / 2, (self.south + self.north) / 2

    def size_mm(self) -> tuple[float, float]:
        """On paper, at its scale."""
        east_m = (self.east - self.west) * EARTH_M_PER_DEG * math.cos(math.radians(self.middle[1]))
        north_m = (self.north - self.south) * EARTH_M_PER_DEG
        return 1000 * east_m / self.scale, 1000 * north_m / self.scale


def parse(text: str) -> View:
    """NAME:west,south,east,north:scale"""
    found = re.fullmatch(r"([\w-]+):([-\d.,]+):(\d+)", text)
    try:
        if not found:
            raise ValueError
        west, south, east, north = map(float, found[2].split(","))
    except ValueError:
        raise LooksError(
            f"--view {text}: is not NAME:west,south,east,north:scale, such as town:1.50,42.49,1.54,42.52:15000"
        ) from None
    if not (-180 <= west < east <= 180 and -90 < south < north < 90 and int(found[3]) >= 100):
        raise LooksError(
            f"--view {text}: west must lie below east, south below north, and the scale must be at least 100"
        )
    return View(found[1], west, south, east, north, int(found[3]))


def around(name: str, x: float, y: float, scale: int) -> View:
    """As much of the land around a place as the sheet holds."""
    high = PAPER_MM[1] * scale / 1000 / EARTH_M_PER_DEG / 2
    wide = PAPER_MM[0] * scale / 1000 / EARTH_M_PER_DEG / math.cos(math.radians(y)) / 2
    return View(name, x - wide, y - high, x + wide, y + high, scale)


def fitting(name: str, box: tuple[float, float, float, float]) -> View:
    """A box at the largest scale on offer at which the sheet holds it."""
    for scale in SCALES:
        wide, high = View(name, *box, scale).size_mm()
        if wide <= PAPER_MM[0] and high <= PAPER_MM[1]:
            break
    west, south, east, north = box
    return around(name, (west + east) / 2, (south + north) / 2, scale)


def chosen(file: LayerFile) -> list[View]:
    """The whole layer, a valley, a town, a street with much overhead, a tunnel, a ferry with its harbour."""
    views = [fitting("whole", file.extent_deg)]
    picks = [
        ("valley", 50_000, _most(file, 0.06, f"main_cause = 'terrain' AND highway IN {MAJOR}", "length_m")),
        (
            "town",
            15_000,
            _most(file, 0.012, "highway IN ('residential', 'living_street', 'tertiary', 'secondary')", "1"),
        ),
        ("street", 4_000, _overheads(file)),
        ("tunnel", 15_000, _tunnel(file)),
    ]
    for name, scale, place in picks:
        if place:
            views.append(around(name, *place, scale))
    longest = file.sql(
        "SELECT way_id FROM segments WHERE highway = 'ferry' GROUP BY way_id ORDER BY sum(length_m) DESC, 1 LIMIT 1"
    )
    if longest:
        way = longest[0][0]
        box = (
            "SELECT min(minx), min(miny), max(maxx), max(maxy) FROM rtree_segments_geom JOIN segments ON id = fid "
            "WHERE way_id = ?"
        )
        west, south, east, north = file.sql(box, (way,))[0]
        views.append(fitting("ferry", (west, south, east, north)))
        if place := _harbour(file, way):
            views.append(around("harbour", *place, 15_000))
    return views


def _place(rows: list[tuple[float | None, ...]]) -> tuple[float, float] | None:
    return (
        (float(rows[0][0]), float(rows[0][1])) if rows and rows[0][0] is not None and rows[0][1] is not None else None
    )


def _most(file: LayerFile, cell_deg: float, where: str, weight: str) -> tuple[float, float] | None:
    return _place(
        file.sql(
            f"{MIDDLES} SELECT avg(x), avg(y) FROM middle WHERE {where} "
            f"GROUP BY round(x / {cell_deg}), round(y / {cell_deg}) ORDER BY sum({weight}) DESC, 1 LIMIT 1"
        )
    )


def _overheads(file: LayerFile) -> tuple[float, float] | None:
    """Where most different kinds of things stand over roads, then most of them."""
    return _place(
        file.sql(
            "SELECT avg(minx), avg(miny) FROM overheads JOIN rtree_overheads_geom ON id = fid "
            "GROUP BY round(minx / 0.006), round(miny / 0.006) "
            "ORDER BY count(DISTINCT kind) DESC, count(DISTINCT osm_id) DESC, 1 LIMIT 1"
        )
    )


def _tunnel(file: LayerFile) -> tuple[float, float] | None:
    """The longest tunnel that the tunnel view can show from end to end."""
    return _place(
        file.sql(
            "SELECT avg(minx), avg(miny) FROM overheads JOIN rtree_overheads_geom ON id = fid WHERE kind = 'tunnel' "
            "GROUP BY osm_id HAVING sum(covered_m) < 2500 ORDER BY sum(covered_m) DESC, 1 LIMIT 1"
        )
    )


def _harbour(file: LayerFile, way: int) -> tuple[float, float] | None:
    """The end of the ferry with most streets around it."""
    ends = file.sql(
        "SELECT (minx + maxx) / 2, (miny + maxy) / 2 FROM segments JOIN rtree_segments_geom ON id = fid "
        "WHERE way_id = ? AND part IN (0, (SELECT max(part) FROM segments WHERE way_id = ?))",
        (way, way),
    )
    count = (
        "SELECT count(*) FROM rtree_segments_geom JOIN segments ON id = fid "
        "WHERE highway <> 'ferry' AND maxx > ? AND minx < ? AND maxy > ? AND miny < ?"
    )
    reach = 0.006
    near = [(file.sql(count, (x - reach, x + reach, y - reach, y + reach))[0][0], x, y) for x, y in ends]
    most, x, y = max(near)
    return (x, y) if most else None
