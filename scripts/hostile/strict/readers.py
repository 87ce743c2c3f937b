"""Strict readers: each takes the bytes of a file, refuses what its format forbids, and returns the texts in it."""

import csv
import io
import json
import re
import struct
import zlib
from collections.abc import Iterator
from xml.etree import ElementTree

from .names import deceives


class Broken(Exception):
    """A file is not what its ending says."""


def text_of(data: bytes) -> str:
    try:
        text = data.decode("utf-8", errors="strict")
    except UnicodeDecodeError as e:
        raise Broken(f"no UTF-8: {e}") from e
    if text.startswith("\ufeff"):
        raise Broken("a byte order mark")
    return text


def terminal(data: bytes) -> list[str]:
    """Lines for people: nothing that a terminal obeys, that turns a line or that nobody sees."""
    text = text_of(data)
    for letter in text:
        if letter != "\n" and (deceives(letter) or letter in "\u2028\u2029"):
            raise Broken(f"{letter!a} on the terminal")
    return text.split("\n")


def _pairs(pairs: list[tuple[str, object]]) -> dict[str, object]:
    if len({key for key, _ in pairs}) != len(pairs):
        raise Broken(f"a key twice: {[key for key, _ in pairs]}")
    return dict(pairs)


def _no_constant(word: str) -> object:
    raise Broken(f"{word} is not JSON")


def parsed(data: bytes) -> object:
    """JSON (RFC 8259) in which no key comes twice and no surrogate is alone."""
    try:
        value = json.loads(text_of(data), object_pairs_hook=_pairs, parse_constant=_no_constant)
    except ValueError as e:
        raise Broken(f"no JSON: {e}") from e
    for text in strings(value):
        if any("\ud800" <= c <= "\udfff" for c in text):
            raise Broken(f"a lone surrogate in {text!a}")
    return value


def strings(value: object) -> Iterator[str]:
    """All keys and texts."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for item in value:
            yield from strings(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield key
            yield from strings(item)


def as_json(data: bytes) -> list[str]:
    return list(strings(parsed(data)))


def as_json_for_terminal(data: bytes) -> list[str]:
    """JSON that is printed: what a terminal obeys is escaped in it."""
    terminal(data)
    return as_json(data)


DEPTHS = {"Point": 0, "LineString": 1, "MultiPoint": 1, "Polygon": 2, "MultiLineString": 2, "MultiPolygon": 3}


def _geometry(geometry: object) -> None:
    if geometry is None:
        return
    if not isinstance(geometry, dict) or geometry.get("type") not in DEPTHS:
        raise Broken(f"no geometry: {str(geometry)[:80]}")
    flat = geometry["coordinates"]
    for _ in range(DEPTHS[geometry["type"]]):
        flat = [flat] if not isinstance(flat, list) else flat
    level = [flat]
    for _ in range(DEPTHS[geometry["type"]]):
        level = [item for part in level for item in part]
    for position in level:
        if not (
            isinstance(position, list)
            and len(position) in (2, 3)
            and all(isinstance(x, int | float) and not isinstance(x, bool) for x in position)
            and abs(position[0]) <= 180
            and abs(position[1]) <= 90
        ):
            raise Broken(f"no position: {position}")


def geojson(data: bytes) -> list[str]:
    """GeoJSON (RFC 7946): a collection of features."""
    root = parsed(data)
    if not isinstance(root, dict) or root.get("type") != "FeatureCollection" or not isinstance(root["features"], list):
        raise Broken("no FeatureCollection")
    for feature in root["features"]:
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            raise Broken("something else than a Feature")
        if not isinstance(feature.get("properties"), dict | None) or "geometry" not in feature:
            raise Broken("a Feature without properties or geometry")
        _geometry(feature["geometry"])
    return list(strings(root))


def xml(data: bytes) -> ElementTree.Element:
    text = text_of(data)
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise Broken("a document type")
    try:
        return ElementTree.fromstring(text)
    except ElementTree.ParseError as e:
        raise Broken(f"no XML: {e}") from e


def texts_of_xml(root: ElementTree.Element) -> list[str]:
    out = []
    for element in root.iter():
        out += [element.text or "", element.tail or "", *element.attrib.values()]
    return [text for text in out if text.strip()]


GPX = "{http://www.topografix.com/GPX/1/1}"
# Children in the order of the schema (gpx.xsd of GPX 1.1), of those elements that there may be.
POINT = [
    "ele",
    "time",
    "magvar",
    "geoidheight",
    "name",
    "cmt",
    "desc",
    "src",
    "link",
    "sym",
    "type",
    "fix",
    "sat",
    "hdop",
    "vdop",
    "pdop",
    "ageofdgpsdata",
    "dgpsid",
]
ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"],
    "wpt": [*POINT, "extensions"],
    "trkpt": [*POINT, "extensions"],
    "trk": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"],
    "trkseg": ["trkpt", "extensions"],
    "name": [],
    "desc": [],
    "cmt": [],
    "time": [],
    "ele": [],
}
MANY = {"wpt", "rte", "trk", "trkseg", "trkpt", "link"}


def gpx(data: bytes) -> list[str]:
    """GPX 1.1: elements of the schema, in its order."""
    root = xml(data)
    if root.tag != GPX + "gpx" or root.get("version") != "1.1" or not root.get("creator"):
        raise Broken(f"no GPX 1.1: {root.tag} {root.attrib}")
    for element in root.iter():
        kind = element.tag.removeprefix(GPX)
        if kind not in ORDER:
            raise Broken(f"an element {element.tag}")
        children = [child.tag.removeprefix(GPX) for child in element]
        if any(child not in ORDER[kind] for child in children):
            raise Broken(f"{kind} holds {children}")
        places = [ORDER[kind].index(child) for child in children]
        if places != sorted(places) or any(children.count(c) > 1 and c not in MANY for c in children):
            raise Broken(f"order of {children[:6]} in {kind}")
        wanted = {"gpx": {"version", "creator"}, "wpt": {"lat", "lon"}, "trkpt": {"lat", "lon"}}.get(kind, set())
        if set(element.attrib) != wanted:
            raise Broken(f"attributes of {kind}: {sorted(element.attrib)}")
        if "lat" in wanted and not (
            abs(float(element.attrib["lat"])) <= 90 and abs(float(element.attrib["lon"])) < 180
        ):
            raise Broken(f"no place: {element.attrib}")
        if ORDER[kind] and ((element.text or "").strip() or any((child.tail or "").strip() for child in element)):
            raise Broken(f"text in {kind}")
    return texts_of_xml(root)


SVG = "{http://www.w3.org/2000/svg}"
DRAWN = set(
    [
        "svg",
        "g",
        "title",
        "desc",
        "rect",
        "path",
        "line",
        "circle",
        "ellipse",
        "polygon",
        "polyline",
        "text",
        "tspan",
        "defs",
        "pattern",
        "clipPath",
        "style",
    ]
)


def svg(data: bytes) -> list[str]:
    """A picture that does nothing and asks for nothing."""
    root = xml(data)
    if root.tag != SVG + "svg":
        raise Broken(f"no SVG: {root.tag}")
    for element in root.iter():
        if element.tag.removeprefix(SVG) not in DRAWN:
            raise Broken(f"an element {element.tag}")
        for key, value in element.attrib.items():
            if key.lower().startswith("on") or key.endswith("href") or re.search(r"url\((?!#)|javascript:", value):
                raise Broken(f"{element.tag.removeprefix(SVG)} with {key}={value}")
    return texts_of_xml(root)


def png(data: bytes) -> list[str]:
    """A picture whose pieces are whole (PNG, third edition, section 5); it holds no text."""
    if data[:8] != b"\x89PNG\r\n\x1a\n":
        raise Broken("no PNG")
    at, kinds, pixels = 8, [], b""
    while at < len(data):
        (size,) = struct.unpack_from(">I", data, at)
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + size]
        if struct.unpack_from(">I", data, at + 8 + size) != (zlib.crc32(kind + body),):
            raise Broken(f"the sum of {kind!r}")
        kinds.append(kind)
        pixels += body if kind == b"IDAT" else b""
        at += 12 + size
    if kinds[0] != b"IHDR" or kinds[-1] != b"IEND" or not pixels:
        raise Broken(f"pieces {kinds}")
    if not zlib.decompress(pixels):
        raise Broken("no pixels")
    return []


FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def table(data: bytes) -> list[str]:
    """CSV (RFC 4180): rows of one length, of one line each, and no cell that a spreadsheet takes for a formula."""
    text = text_of(data)
    if not text.endswith("\r\n") or re.search(r"(?<!\r)\n|\r(?!\n)", text):
        raise Broken("a line end that is not CRLF")
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as e:
        raise Broken(f"no CSV: {e}") from e
    if len(rows) != text.count("\r\n"):
        raise Broken("a row of several lines")
    if len({len(row) for row in rows}) != 1:
        raise Broken(f"rows of {sorted({len(row) for row in rows})} cells")
    for cell in (cell for row in rows for cell in row):
        if cell.startswith(FORMULA) and not NUMBER.fullmatch(cell):
            raise Broken(f"a formula: {cell[:60]!a}")
        terminal(cell.encode())
    return [cell for row in rows for cell in row]
