"""A hamlet of a few hundred metres of road, built in a moment: its map, heights, buildings and track.

It is invented, as the demo island is, and lies in the sea west of it, across a line between two districts.
"""

import io
import json
import math
import struct
import sys
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent.parent
sys.path.insert(0, str(ROOT / "scripts"))

from varrow import pbf  # noqa: E402

# The line between two districts is at 46.75 degrees north.
LAT_DEG, LON_DEG = 46.7475, -28.4
M_PER_DEG = 111_195.0
Tags = dict[str, str]
E7 = 10_000_000
TIMESTAMP_S = 1_767_225_600


def place_deg(x_m: float, y_m: float) -> tuple[float, float]:
    """Longitude and latitude of a place east and north of the crossing."""
    return LON_DEG + x_m / (M_PER_DEG * math.cos(math.radians(LAT_DEG))), LAT_DEG + y_m / M_PER_DEG


@dataclass
class Map:
    """What goes into an extract."""

    nodes: list[tuple[int, int, int, Tags]] = field(default_factory=list)
    ways: list[tuple[int, list[int], Tags]] = field(default_factory=list)

    def node(self, x_m: float, y_m: float, tags: Tags | None = None) -> int:
        lon_deg, lat_deg = place_deg(x_m, y_m)
        self.nodes.append((1001 + len(self.nodes), round(lon_deg * E7), round(lat_deg * E7), tags or {}))
        return self.nodes[-1][0]

    def way(self, refs: list[int], tags: Tags) -> None:
        self.ways.append((2001 + len(self.ways), refs, tags))

    def line(self, places: list[tuple[float, float]], tags: Tags) -> list[int]:
        refs = [self.node(x_m, y_m) for x_m, y_m in places]
        self.way(refs, tags)
        return refs

    def area(self, west_m: float, south_m: float, east_m: float, north_m: float, tags: Tags) -> None:
        corners = [(west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m)]
        refs = [self.node(x_m, y_m) for x_m, y_m in corners]
        self.way([*refs, refs[0]], tags)


def hamlet() -> Map:
    town = Map()
    street = town.line(
        [(-300.0 + 100.0 * k, 0.0) for k in range(7)], {"highway": "tertiary", "name": "Pier Street", "maxheight": "4"}
    )
    hill = town.node(0.0, 150.0)
    up = town.node(0.0, 400.0)
    town.way([street[3], hill, up], {"highway": "residential", "name": "Hill Lane"})
    out = town.node(520.0, 0.0)
    town.way([street[6], out], {"highway": "tertiary", "name": "Pier Street", "tunnel": "yes", "layer": "-1"})
    back = town.node(300.0, 150.0)
    town.way([hill, back, street[6]], {"highway": "service", "oneway": "yes"})
    town.line([(50.0, -60.0), (50.0, 60.0)], {"highway": "footway", "bridge": "yes", "layer": "1"})
    town.area(-60.0, 20.0, -20.0, 60.0, {"amenity": "parking"})
    town.node(-150.0, 9.0, {"amenity": "fuel", "name": "Pier Fuel"})
    town.area(-250.0, 6.0, -210.0, 16.0, {"building": "yes", "building:levels": "3"})
    town.area(20.0, 180.0, 200.0, 420.0, {"natural": "wood", "leaf_type": "broadleaved"})
    town.node(0.0, 40.0, {"place": "village", "name": "Pier", "population": "40"})
    town.area(300.0, 300.0, 420.0, 420.0, {"natural": "water", "name": "Mere"})
    town.line([(300.0, 500.0), (500.0, 600.0)], {"waterway": "river", "name": "Brook"})
    return town


def write_map(path: Path, per_block: int) -> None:
    """The extract, in blocks of a few objects each."""
    town = hamlet()
    before = pbf.ENTITIES_PER_BLOCK
    pbf.ENTITIES_PER_BLOCK = per_block
    try:
        pbf.write(path, town.nodes, town.ways, [], "scripts/damage", "an invented hamlet", TIMESTAMP_S)
    finally:
        pbf.ENTITIES_PER_BLOCK = before


@dataclass(frozen=True)
class Frame:
    """One block of an extract as it lies in the file."""

    kind: bytes
    data: bytes

    def unpacked(self) -> bytes:
        """Its content; the fields of a blob are 1 raw, 2 length unpacked, 3 zlib."""
        at = 0
        while at < len(self.data):
            tag, at = varint(self.data, at)
            value, at = varint(self.data, at)
            if tag & 7 == 0:
                continue
            content = self.data[at : at + value]
            at += value
            if tag >> 3 == 3:
                return zlib.decompress(content)
            if tag >> 3 == 1:
                return content
        raise ValueError("a block without content")

    def framed(self, data: bytes | None = None) -> bytes:
        data = self.data if data is None else data
        head: bytes = pbf.chunk(1, self.kind) + pbf.number(3, len(data))
        return struct.pack(">I", len(head)) + head + data


def varint(data: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        value |= (data[at] & 0x7F) << shift
        shift += 7
        at += 1
        if not data[at - 1] & 0x80:
            return value, at


def frames(extract: bytes) -> Iterator[Frame]:
    at = 0
    while at < len(extract):
        (length,) = struct.unpack_from(">I", extract, at)
        head = extract[at + 4 : at + 4 + length]
        # Of fields 1, the kind, and 3, the length of the data.
        kind = head[2 : 2 + head[1]]
        size, _ = varint(head, 2 + head[1] + 1)
        at += 4 + length
        yield Frame(kind, extract[at : at + size])
        at += size


def raw(extract: bytes) -> bytes:
    """The same extract with blocks that are not compressed: nothing in it has a checksum."""
    return b"".join(frame.framed(pbf.chunk(1, frame.unpacked())) for frame in frames(extract))


def height_m(row: int, column: int) -> int:
    """Heights by a formula: hills of 40 m, and no pixel is 0."""
    return 60 + round(25 * math.sin(row / 7.0) * math.cos(column / 5.0)) + (row + column) % 3


def hgt(side: int = 1201) -> bytes:
    """A tile of three arc seconds: whole numbers, the most significant byte first, from the north-west."""
    return b"".join(struct.pack(f">{side}h", *(height_m(row, column) for column in range(side))) for row in range(side))


@dataclass(frozen=True)
class Raster:
    """A raster around the hamlet."""

    side: int = 96
    pixel_deg: float = 0.0005

    @property
    def west_north_deg(self) -> tuple[float, float]:
        half = self.side * self.pixel_deg / 2
        return round(LON_DEG - half, 6), round(LAT_DEG + half, 6)

    def tiff(self, packed: bool, rows_per_strip: int = 8) -> bytes:
        """A GeoTIFF of strips, packed by zlib or not (TIFF 6.0; GeoTIFF 1.1)."""
        strips = []
        for top in range(0, self.side, rows_per_strip):
            rows = range(top, min(top + rows_per_strip, self.side))
            heights = [height_m(row, column) for row in rows for column in range(self.side)]
            strip = struct.pack(f"<{len(heights)}h", *heights)
            strips.append(zlib.compress(strip, 9) if packed else strip)
        offsets, at = [], 8
        for strip in strips:
            offsets.append(at)
            at += len(strip)
        west_deg, north_deg = self.west_north_deg
        # Geographic, pixels are areas, WGS 84.
        keys = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326]
        fields: list[tuple[int, str, list[float]]] = [
            (256, "H", [self.side]),
            (257, "H", [self.side]),
            (258, "H", [16]),
            (259, "H", [8 if packed else 1]),
            (262, "H", [1]),
            (273, "I", [float(offset) for offset in offsets]),
            (277, "H", [1]),
            (278, "H", [rows_per_strip]),
            (279, "I", [float(len(strip)) for strip in strips]),
            (339, "H", [2]),
            (33550, "d", [self.pixel_deg, self.pixel_deg, 0.0]),
            (33922, "d", [0.0, 0.0, 0.0, west_deg, north_deg, 0.0]),
            (34735, "H", [float(key) for key in keys]),
        ]
        return b"".join([b"II*\0", struct.pack("<I", at), *strips, directory(fields, at)])


def directory(fields: list[tuple[int, str, list[float]]], at: int) -> bytes:
    """The list of fields of a TIFF, and what does not fit in it."""
    codes = {"H": 3, "I": 4, "d": 12}
    head, tail = [struct.pack("<H", len(fields))], b""
    after = at + 2 + 12 * len(fields) + 4
    for tag, kind, values in fields:
        numbers = [value if kind == "d" else int(value) for value in values]
        value = struct.pack(f"<{len(values)}{kind}", *numbers)
        if len(value) > 4:
            where = struct.pack("<I", after + len(tail))
            tail += value
        else:
            where = value.ljust(4, b"\0")
        head.append(struct.pack("<HHI", tag, codes[kind], len(values)) + where)
    return b"".join([*head, struct.pack("<I", 0), tail])


# Along the street, up the lane and over the line of districts.
TRACK = [(-290.0 + 20.0 * k, 1.5) for k in range(15)] + [(1.0, 20.0 * k) for k in range(1, 20)]


def gpx() -> str:
    points = "\n".join(
        f'      <trkpt lat="{lat:.6f}" lon="{lon:.6f}"><time>2026-06-15T09:{k // 12:02}:{k % 12 * 5:02}Z</time></trkpt>'
        for k, (lon, lat) in enumerate(place_deg(*place) for place in TRACK)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="scripts/damage" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"  <trk>\n    <name>Up Hill Lane</name>\n    <trkseg>\n{points}\n    </trkseg>\n  </trk>\n</gpx>\n"
    )


def geojson_track() -> str:
    line = [[round(value, 6) for value in place_deg(*place)] for place in TRACK]
    feature = {"type": "Feature", "properties": {"name": "Up Hill Lane"}}
    return json.dumps({**feature, "geometry": {"type": "LineString", "coordinates": line}}, indent=1)


def polyline() -> str:
    """The track by the algorithm of encoded polylines, five decimals."""
    out, last = [], (0, 0)
    for place in TRACK:
        lon_deg, lat_deg = place_deg(*place)
        here = (round(lat_deg * 1e5), round(lon_deg * 1e5))
        for now, before in zip(here, last, strict=True):
            step = now - before
            left = ~(step << 1) if step < 0 else step << 1
            while left >= 0x20:
                out.append(chr((0x20 | left & 0x1F) + 63))
                left >>= 5
            out.append(chr(left + 63))
        last = here
    return "".join(out) + "\n"


def ring(west_m: float, south_m: float, east_m: float, north_m: float) -> list[list[float]]:
    corners = [(west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m), (west_m, south_m)]
    return [[round(value, 6) for value in place_deg(*corner)] for corner in corners]


def area() -> str:
    """Polygons around the hamlet."""
    boxes = [ring(-600.0, -300.0, 0.0, 700.0), ring(0.0, -300.0, 700.0, 700.0)]
    return json.dumps({"type": "MultiPolygon", "coordinates": [[box] for box in boxes]}, indent=1)


def buildings() -> str:
    """Outlines of buildings with heights."""
    boxes = [ring(-250.0 + 60.0 * k, -22.0, -220.0 + 60.0 * k, -8.0) for k in range(6)]
    features = [
        {"type": "Feature", "properties": {"height": 6.5 + k}, "geometry": {"type": "Polygon", "coordinates": [box]}}
        for k, box in enumerate(boxes)
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}, indent=1)


def zipped(name: str, content: bytes) -> bytes:
    """A zip archive of one file."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()
