"""A street in the sea whose every name is hostile: its map, track, calendar, trip and other files.

It is invented, and lies west of the demo island.
"""

import json
import math
import sys
from collections.abc import Callable
from pathlib import Path

from .names import TEMPLATES, in_calendar, kept_by_xml, plain, spelt

ROOT = Path(__file__).resolve().parent.parent.parent.parent
sys.path.insert(0, str(ROOT / "scripts"))

from varrow import pbf  # noqa: E402

LAT_DEG, LON_DEG = 46.61, -28.62
M_PER_DEG = 111_195.0
E7 = 10_000_000
TIMESTAMP_S = 1_767_225_600
# Each road is open for as long as it is roofed: every name has an outage.
HALF_M = 90.0
Tags = dict[str, str]
# How things are named: hostile, or by their mark alone.
Spell = Callable[[str, int], str]
HOSTILE, PLAIN = spelt, plain
COUNT = len(TEMPLATES)


def place_deg(x_m: float, y_m: float) -> tuple[float, float]:
    """Longitude and latitude of a place east and north of the first road's beginning."""
    return LON_DEG + x_m / (M_PER_DEG * math.cos(math.radians(LAT_DEG))), LAT_DEG + y_m / M_PER_DEG


class Map:
    """What goes into an extract."""

    def __init__(self) -> None:
        self.nodes: list[tuple[int, int, int, Tags]] = []
        self.ways: list[tuple[int, list[int], Tags]] = []

    def node(self, x_m: float, y_m: float, tags: Tags | None = None) -> int:
        lon_deg, lat_deg = place_deg(x_m, y_m)
        self.nodes.append((1001 + len(self.nodes), round(lon_deg * E7), round(lat_deg * E7), tags or {}))
        return self.nodes[-1][0]

    def way(self, refs: list[int], tags: Tags) -> None:
        self.ways.append((5001 + len(self.ways), refs, tags))

    def line(self, places: list[tuple[float, float]], tags: Tags) -> list[int]:
        refs = [self.node(x_m, y_m) for x_m, y_m in places]
        self.way(refs, tags)
        return refs

    def area(self, west_m: float, south_m: float, side_m: float, tags: Tags) -> None:
        east_m, north_m = west_m + side_m, south_m + side_m
        refs = [self.node(*at) for at in ((west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m))]
        self.way([*refs, refs[0]], tags)


def street(name: Spell) -> Map:
    """Roads R with refs Q, decks D over them, stops S beside them, places P, lakes W and rivers V around."""
    town = Map()
    end = town.node(0.0, 0.0)
    # What lies beside the roads is in the box around them.
    town.way([end, town.node(0.0, 500.0)], {"highway": "residential"})
    for k in range(COUNT):
        x_m = 2 * HALF_M * k
        middle, last = town.node(x_m + HALF_M, 0.0), town.node(x_m + 2 * HALF_M, 0.0)
        tags = {"highway": "tertiary", "name": name("R", k), "ref": name("Q", k)}
        town.way([end, middle], tags)
        town.way([middle, last], tags | {"tunnel": "yes", "layer": "-1"})
        end = last
        over = {"highway": "footway", "bridge": "yes", "layer": "1", "name": name("D", k)}
        town.line([(x_m + 40.0, -30.0), (x_m + 40.0, 30.0)], over)
        site = {"name": name("S", k), "website": f"javascript:window.taken='{k}'"}
        town.node(x_m + 20.0, 12.0, {"amenity": "fuel" if k % 2 else "parking"} | site)
        town.node(x_m + 30.0, 60.0, {"place": "village", "name": name("P", k), "population": str(900 - k)})
        town.area(x_m, 200.0, 120.0, {"natural": "water", "name": name("W", k)})
        town.line([(x_m, 400.0), (x_m + 120.0, 480.0)], {"waterway": "river", "name": name("V", k)})
    return town


def write_map(path: Path, name: Spell) -> None:
    town = street(name)
    pbf.write(path, town.nodes, town.ways, [], name("H", 0), name("H", 1), TIMESTAMP_S)


def xml(text: str) -> str:
    """Text of an XML file of ours; what XML cannot hold is not in it."""
    return "".join(f"&#{ord(c)};" if c in "<>&\"'\t\n\r" else c for c in kept_by_xml(text))


def length_m() -> float:
    return 2 * HALF_M * COUNT


def points() -> list[tuple[float, float]]:
    return [place_deg(30.0 * k + 5.0, 1.0) for k in range(int(length_m() / 30.0))]


def gpx(title: str) -> str:
    """The street as a drive of ten minutes, whose track and points have names."""
    lines = "\n".join(
        f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><time>2026-06-15T10:{k * 2 // 60:02}:{k * 2 % 60:02}Z</time></trkpt>'
        for k, (lon, lat) in enumerate(points())
    )
    text = xml(title)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<gpx version="1.1" creator="{text}" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<metadata><name>{text}</name></metadata>\n<trk><name>{text}</name><trkseg>\n{lines}\n"
        "</trkseg></trk>\n</gpx>\n"
    )


def geojson(title: str) -> str:
    """The same as GeoJSON; letters beyond ASCII are escaped, a lone surrogate too."""
    line = [[round(lon, 6), round(lat, 6)] for lon, lat in points()]
    feature = {"type": "Feature", "properties": {"name": title}}
    return json.dumps({**feature, "geometry": {"type": "LineString", "coordinates": line}})


def folded(line: str) -> str:
    """A line of a calendar, folded before 75 octets between letters."""
    out, used = "", 0
    for letter in line:
        size = len(letter.encode())
        if used + size > 74:
            out, used = out + "\r\n ", 1
        out, used = out + letter, used + size
    return out + "\r\n"


def calendar_text(text: str) -> str:
    """A value of type TEXT (RFC 5545, section 3.3.11)."""
    text = in_calendar(text)
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def calendar(name: Spell) -> str:
    """Meetings M, one after another from before the drive on; each has somebody invited."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//scripts//hostile//EN"]
    for k in range(COUNT):
        begin = 9 * 60 + 40 + 2 * k
        lines += ["BEGIN:VEVENT", f"UID:{calendar_text(name('U', k))}", "DTSTAMP:20260101T000000Z"]
        lines += [f"DTSTART:20260615T{begin // 60:02}{begin % 60:02}00Z", "DURATION:PT2M"]
        lines += [f"SUMMARY:{calendar_text(name('M', k))}", f"LOCATION:{calendar_text(name('L', k))}"]
        lines += [f"ATTENDEE:mailto:t{k % 8}@waymask.invalid"]
        lines += ["CATEGORIES:messages" if k % 3 == 0 else "CATEGORIES:casual", "END:VEVENT"]
    # Times that cannot be read: such events are told of by name.
    lines += ["BEGIN:VEVENT", f"UID:{calendar_text(name('U', 3))}x", "DTSTAMP:20260101T000000Z"]
    lines += [f"SUMMARY:{calendar_text(name('X', 0))}", f"DTSTART;TZID={name('Z', 6)}:20260615T100000"]
    lines += ["DURATION:PT5M", "END:VEVENT", "END:VCALENDAR"]
    return "".join(folded(line) for line in lines)


def toml(text: str) -> str:
    """A basic string of TOML: the escapes of JSON are among its own, but for one."""
    return json.dumps(text).replace("\x7f", "\\u007f") if all(ord(c) < 0x10000 for c in text) else json_wide(text)


def json_wide(text: str) -> str:
    """TOML writes letters beyond 16 bits as they are, never as two halves."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


# Travellers, tariffs and devices bear these names.
PEOPLE = [0, 1, 2, 9, 15, 16, 20, 23]
TARIFFS = [0, 1, 9, 16, 20, 23]


def trip(name: Spell, most_places: int) -> str:
    parts = [
        'currency = "<i>$"',
        "[stopping]",
        f"most_places = {most_places}",
        "[departure]",
        "earlier_min = 0",
        "later_min = 0",
        "[battery]",
        "amp_hours = 20.0",
    ]
    parts += ["[solar]", "panel_w = 50.0", "sun_hours = 4.0"]
    for k in PEOPLE:
        parts += ["[[people.traveller]]", f"name = {toml(name('T', k))}"]
        parts += ["[[people.meeting]]", f"of = {toml(name('T', k))}"]
        parts += [f'told_by = "t{PEOPLE.index(k)}@waymask.invalid"']
    for k in TARIFFS:
        parts += ["[[tariff]]", f"name = {toml(name('A', k))}", f"price = {k + 1}.0", "included_gb = 5.0"]
    for k in TARIFFS:
        parts += ["[[device]]", f"name = {toml(name('B', k))}", "count = 1", "hours = 2.0"]
        parts += ["background_kbps = 10.0", "video = 0.5", "voice = 0.5"]
    return "\n".join(parts) + "\n"


def orbits(name: Spell) -> str:
    """Orbital elements of a few invented satellites whose names are hostile (CCSDS 502.0, as JSON)."""
    rows = []
    for k in range(COUNT):
        rows.append(
            {
                "OBJECT_NAME": name("O", k),
                "OBJECT_ID": f"2020-{k + 1:03}A",
                "EPOCH": "2026-06-15T00:00:00.000000",
                "MEAN_MOTION": 15.05,
                "ECCENTRICITY": 0.0001,
                "INCLINATION": 53.05,
                "RA_OF_ASC_NODE": 9.0 * k,
                "ARG_OF_PERICENTER": 90.0,
                "MEAN_ANOMALY": (47.0 * k) % 360,
                "EPHEMERIS_TYPE": 0,
                "CLASSIFICATION_TYPE": "U",
                "NORAD_CAT_ID": 90001 + k,
                "ELEMENT_SET_NO": 999,
                "REV_AT_EPOCH": 1,
                "BSTAR": 0.0001,
                "MEAN_MOTION_DOT": 0.0,
                "MEAN_MOTION_DDOT": 0,
            }
        )
    return json.dumps(rows)
