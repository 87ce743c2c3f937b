"""The layer of the demo as a map: roads by rating with the layer's own colours and widths, stops, the longest outages."""
import json
import math
import sqlite3
import struct
import subprocess
import tempfile
import xml.etree.ElementTree as xml
from html import escape
from pathlib import Path

WIDTH, MARGIN = 760, 26
FONT = "font-family=\"'DejaVu Sans',sans-serif\""
INK, SEA, LAND = "#1a1a1a", "#d5e4ec", "#f6f3ea"
OUTAGES = 6
# Two outages closer than this are the same place in two directions.
APART_M = 900.0
# What the words of the ratings say, in short.
MEANS = ["outages to 0.4 s", "to 2 s", "to 5 s", "to 30 s: a call ends", "longer"]
CAUSES = {"cover": "tunnel or roof", "deck": "bridge overhead", "canopy": "trees", "building": "buildings", "terrain": "terrain", "boarded": "on a ferry"}


def points(blob):
    """Longitudes and latitudes of a point or line of a GeoPackage."""
    envelope = (blob[3] >> 1) & 7
    at = 8 + {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}[envelope]
    order = "<" if blob[at] == 1 else ">"
    kind = struct.unpack_from(order + "I", blob, at + 1)[0]
    if kind == 1:
        return [struct.unpack_from(order + "2d", blob, at + 5)]
    if kind != 2:
        raise ValueError(f"a geometry of kind {kind}")
    count = struct.unpack_from(order + "I", blob, at + 5)[0]
    return [struct.unpack_from(order + "2d", blob, at + 9 + 16 * i) for i in range(count)]


SLD, OGC = "{http://www.opengis.net/sld}", "{http://www.opengis.net/ogc}"


def fits(rows, row):
    """Whether a row is one of those of a filter."""
    kind, inner = rows.tag.removeprefix(OGC), list(rows)
    if kind in ("Filter", "And"):
        return all(fits(one, row) for one in inner)
    if kind == "Or":
        return any(fits(one, row) for one in inner)
    if kind == "Not":
        return not fits(inner[0], row)
    value = row[inner[0].text]
    if kind == "PropertyIsNull":
        return value is None
    if kind == "PropertyIsEqualTo":
        return str(value) == inner[1].text
    if kind == "PropertyIsGreaterThanOrEqualTo":
        return value is not None and value >= float(inner[1].text)
    raise ValueError(f"a filter of kind {kind}")


def passes(sld):
    """The lines of the layer's own style from below to the top: words, filter, what a line is drawn with. Scales are left out."""
    out = []
    for rule in xml.fromstring(sld).iter(SLD + "Rule"):
        for stroke in rule.iter(SLD + "LineSymbolizer"):
            css = {p.get("name"): p.text for p in stroke.iter(SLD + "CssParameter")}
            out.append((rule.find(SLD + "Title").text, rule.find(OGC + "Filter"), css))
    return out


def line_of(css):
    return " ".join(f'{name}="{value}"' for name, value in css.items())


class Sheet:
    """Where places lie on the paper: equal scale in both directions around the middle."""

    def __init__(self, lines):
        lons, lats = zip(*(p for line in lines for p in line))
        self.west, self.north = min(lons), max(lats)
        self.squeeze = math.cos(math.radians((min(lats) + max(lats)) / 2))
        self.scale = (WIDTH - 2 * MARGIN) / ((max(lons) - self.west) * self.squeeze)
        self.height = (self.north - min(lats)) * self.scale + 2 * MARGIN
        self.px_per_m = self.scale / 111_180.0

    def at(self, place):
        lon, lat = place[:2]
        return MARGIN + (lon - self.west) * self.squeeze * self.scale, MARGIN + (self.north - lat) * self.scale

    def path(self, line):
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in map(self.at, line))


def coast(elevation):
    """Outlines of the land, from the heights of the demo."""
    with tempfile.TemporaryDirectory() as folder:
        warped, lines = Path(folder) / "dem.tif", Path(folder) / "coast.json"
        subprocess.run(["gdalwarp", "-q", "-t_srs", "EPSG:4326", "-r", "bilinear", elevation, warped], check=True)
        subprocess.run(["gdal_contour", "-q", "-p", "-amin", "low", "-fl", "0.5", "-f", "GeoJSON", warped, lines], check=True)
        features = json.loads(lines.read_text(encoding="utf-8"))["features"]
    land = [f["geometry"]["coordinates"] for f in features if f["properties"]["low"] >= 0.5]
    return [ring for shape in land for polygon in shape for ring in polygon]


def text(x, y, words, size=13, more=""):
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{INK}" {more}>{escape(words)}</text>'


def numbered(number, x, y):
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9.5" fill="{INK}" stroke="#fff" stroke-width="1.5"/>' + text(
        x, y + 4.6, str(number), 12.5, 'text-anchor="middle" font-weight="700" style="fill:#fff"'
    )


def place_to_stop(x, y):
    return f'<rect x="{x - 4.5:.1f}" y="{y - 4.5:.1f}" width="9" height="9" rx="1.5" fill="#fff" stroke="{INK}" stroke-width="1.8"/>'


def duration(seconds):
    return f"{seconds / 60:.0f} min" if seconds >= 120 else f"{seconds:.0f} s"


def longest(rows, sheet):
    """The longest outages, each place once: middle of the line, cause, seconds."""
    chosen = []
    for blob, cause, p95_s in rows:
        line = points(blob)
        at = sheet.at(line[len(line) // 2])
        if all(math.dist(at, other[0]) > APART_M * sheet.px_per_m for other in chosen):
            chosen.append((at, cause, p95_s))
    return chosen[:OUTAGES]


def drawn(layer, elevation):
    """The map as SVG, its size, and what of it comes from the layer."""
    connection = sqlite3.connect(f"file:{layer}?mode=ro", uri=True)
    connection.row_factory = sqlite3.Row
    roads = [(row, points(row["geom"])) for row in connection.execute("SELECT * FROM segments")]
    outages = connection.execute("SELECT geom, cause, outage_p95_s FROM outages ORDER BY outage_p95_s DESC, outage_id").fetchall()
    stops = [points(geom)[0] for (geom,) in connection.execute("SELECT geom FROM stops")]
    credit, date = connection.execute("SELECT description, last_change FROM gpkg_contents WHERE table_name = 'segments'").fetchone()
    style = passes(connection.execute("SELECT styleSLD FROM layer_styles WHERE f_table_name = 'segments' AND useAsDefault").fetchone()[0])
    shores = coast(elevation)
    sheet = Sheet([line for _, line in roads] + shores)
    high = sheet.height + 150
    out = [f'<rect width="{WIDTH}" height="{high:.0f}" fill="#fff"/><rect width="{WIDTH}" height="{sheet.height:.0f}" fill="{SEA}"/>']
    outline = "".join(sheet.path(ring) + "Z" for ring in shores)
    out.append(f'<path d="{outline}" fill="{LAND}" stroke="#9fb4c0" stroke-width="1" fill-rule="evenodd"/>')
    below = len(out)
    for _, rows, css in style:
        path = "".join(sheet.path(line) for row, line in roads if fits(rows, row))
        if path:
            out.append(f'<path d="{path}" fill="none" {line_of(css)}/>')
    out += [place_to_stop(*sheet.at(stop)) for stop in stops]
    worst = longest(outages, sheet)
    out += [numbered(n, *at) for n, (at, _, _) in enumerate(worst, 1)]
    out += legend(style, worst, sheet)
    out.append(text(WIDTH - 10, high - 10, f"{credit}; map data of {date[:10]}", 12, 'text-anchor="end"'))
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{high:.0f}" {FONT}>{"".join(out)}</svg>'
    return svg, (WIDTH, round(high)), "".join(out[below:])


def legend(style, worst, sheet):
    """Ratings in words, marks, the outages with numbers; a bar of two kilometres on the map."""
    top, out = sheet.height + 24, []
    on_top = {words: css for words, _, css in style}
    # Main roads come last.
    lines = {words: css for words, css in on_top.items() if words[0].isdigit()}
    for row, (words, css) in enumerate(sorted(lines.items())):
        y = top + 21 * row
        out.append(f'<path d="M14 {y - 4.5}h44" {line_of(css)}/>')
        out.append(text(70, y, words.split(":")[0][2:], 13, 'font-weight="700"') + text(128, y, MEANS[int(words[0])]))
    out.append(text(14, top + 105, "dotted: may be worse, roadside not mapped", 11))
    worst_words = max(lines)
    ferry, hollow = (next(css for words, css in on_top.items() if words.startswith(sign)) for sign in ("ferry", "hollow"))
    for x, drawn_with, words in ((440, [ferry], "ferry"), (545, [lines[worst_words], hollow], "tunnel or roof")):
        out += [f'<path d="M{x} {top + 96}h34" {line_of(css)}/>' for css in drawn_with]
        out.append(text(x + 42, top + 100.5, words))
    out.append(text(300, top, "longest outages, 95th percentile", 13, 'font-weight="700"'))
    for n, (_, cause, p95_s) in enumerate(worst):
        x, y = 300 + 215 * (n // 3), top + 25 + 25 * (n % 3)
        out.append(numbered(n + 1, x + 10, y - 4.6) + text(x + 27, y, f"{CAUSES.get(cause, cause)}, {duration(p95_s)}"))
    out.append(place_to_stop(310, top + 96) + text(327, top + 100.5, "place to stop"))
    bar, y = 2000 * sheet.px_per_m, sheet.height - 14
    out.append(f'<path d="M14 {y - 5}v5h{bar:.1f}v-5" fill="none" stroke="{INK}" stroke-width="1.6"/>' + text(20, y - 6, "2 km", 12))
    return out
