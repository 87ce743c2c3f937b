"""A fault for each strict reader: what is whole passes, what is spoiled is seen."""

import struct
import tempfile
import zlib
from collections.abc import Callable
from pathlib import Path

from . import readers
from .agenda import agenda
from .bench import as_line, as_xml, exact, missing, mutilated
from .hamlet import COUNT, folded
from .names import plain, went_in
from .pages import browser, faults_of, named_faults, shown

Reader = Callable[[bytes], object]


def piece(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


PNG = b"\x89PNG\r\n\x1a\n" + piece(b"IHDR", bytes(13)) + piece(b"IDAT", zlib.compress(b"\0\0")) + piece(b"IEND", b"")
POINT = '{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"Point","coordinates":[1.5,42.5]}}'
GEOJSON = f'{{"type":"FeatureCollection","features":[{POINT}]}}'
GPX = (
    '<gpx version="1.1" creator="c" xmlns="http://www.topografix.com/GPX/1/1"><metadata><desc>d</desc></metadata>'
    '<wpt lat="1" lon="2"><name>n</name><desc>d</desc></wpt><trk><name>t</name>'
    '<trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>'
)
SVG = '<svg xmlns="http://www.w3.org/2000/svg"><text x="1">a</text></svg>'
EVENT = (
    "BEGIN:VEVENT\r\nUID:u\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:20260101T000000Z\r\nSUMMARY:a\\, b\r\nEND:VEVENT\r\n"
)
CALENDAR = f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:p\r\n{EVENT}END:VCALENDAR\r\n"
TABLE = 'at_km,name\r\n-0.5,"\'=1+1"\r\n'
# Of each reader a whole file, and what to replace in it by what.
PLANTED: list[tuple[str, Reader, str, list[tuple[str, str]]]] = [
    (
        "terminal",
        readers.terminal,
        "a b\n",
        [(" ", "\x1b"), (" ", "\t"), (" ", "\u202e"), (" ", "\u2028"), (" ", "\x85")],
    ),
    ("JSON", readers.as_json, '{"a": "b", "c": 1}', [('"c"', '"a"'), ("1", "NaN"), ("b", "\\ud800"), ("1}", "1,}")]),
    ("JSON printed", readers.as_json_for_terminal, '{"a": "b"}', [("b", "\u202e"), ("b", "\x7f")]),
    (
        "GeoJSON",
        readers.geojson,
        GEOJSON,
        [("FeatureCollection", "Features"), ("42.5", "95"), ("[1.5,42.5]", '["1.5",42.5]'), ('"Point"', '"Place"')],
    ),
    (
        "GPX",
        readers.gpx,
        GPX,
        [
            ("<name>n</name><desc>d</desc></wpt>", "<desc>d</desc><name>n</name></wpt>"),
            ("<name>n</name>", "<name>n<b>x</b></name>"),
            ("<trk>", '<wpt lat="1" lon="2"/><trk></trk><wpt lat="1" lon="2"/><trk>'),
            ('lat="1"', 'lat="91"'),
            ("<name>t</name>", "<name>t</name>t"),
            ("<name>t</name>", "<name>&#1;</name>"),
            ("<gpx", "<!DOCTYPE gpx><gpx"),
            ("GPX/1/1", "GPX/1/0"),
        ],
    ),
    (
        "SVG",
        readers.svg,
        SVG,
        [
            ('x="1"', 'onload="x"'),
            (">a<", "><script/><"),
            ('x="1"', 'href="http://a"'),
            ('x="1"', 'fill="url(http://a)"'),
            (">a<", "><foreignObject/><"),
        ],
    ),
    (
        "CSV",
        readers.table,
        TABLE,
        [
            ("'=", "="),
            ("'=", "+"),
            ("'=", "@"),
            ("'=", "-"),
            ("-0.5", "-0.5+1"),
            ("1+1", "1\n1"),
            ("\r\n-", "\n-"),
            ('1"\r', '1",2\r'),
            ("'=1", "\u202e"),
        ],
    ),
    (
        "iCalendar",
        agenda,
        CALENDAR,
        [
            ("a\\, b", "a, b"),
            ("a\\, b", "a; b"),
            ("a\\, b", "a\\x"),
            ("a\\, b", "a" * 80),
            ("a\\, b", "a\nb"),
            ("a\\, b", "a\rb"),
            ("a\\, b", "a\x07b"),
            ("a\\, b", "a\r\nEND:VEVENT"),
            ("a\\, b", "a\r\nSUMMARY:b"),
            ("UID:u\r\n", ""),
            (EVENT, EVENT + EVENT),
            ("END:VCALENDAR\r\n", "END:VCALENDAR"),
        ],
    ),
]


def unseen(reader: Reader, data: bytes) -> bool:
    try:
        reader(data)
    except readers.Broken:
        return False
    return True


def of_readers() -> tuple[int, list[str]]:
    blind, planted = [], 0
    for what, reader, whole, faults in PLANTED:
        if not unseen(reader, whole.encode()):
            blind.append(f"{what}: a whole file is refused")
        for old, new in faults:
            spoiled = whole.replace(old, new, 1)
            planted += 1
            if spoiled == whole or unseen(reader, spoiled.encode()):
                blind.append(f"{what}: {old!a} as {new!a}")
        planted += 1
        if unseen(reader, whole.encode()[:-1] + b"\xff" + whole.encode()[-1:]):
            blind.append(f"{what}: no UTF-8")
    # A letter of four octets over the end of a line.
    cut = folded("SUMMARY:" + "\U0001f6f0" * 40).encode().replace(b"\r\n ", b"")
    line = cut[:74] + b"\r\n " + cut[74:]
    if unseen(agenda, CALENDAR.encode().replace(b"SUMMARY:a\\, b\r\n", line)):
        blind.append("iCalendar: a letter cut by a fold")
    for at in (20, 45, len(PNG) - 6):
        if unseen(readers.png, PNG[:at] + bytes([PNG[at] ^ 1]) + PNG[at + 1 :]):
            blind.append(f"PNG: octet {at}")
    if not unseen(readers.png, PNG):
        blind.append("PNG: a whole file is refused")
    return planted + 4, blind


def of_names() -> tuple[int, list[str]]:
    """Each name whole and spoiled, in each form."""
    blind, planted = [], 0
    for k in range(COUNT):
        for form in (exact, as_line, as_xml):
            mark = plain("R", k)
            whole = form(went_in(mark))[0]
            planted += 1
            spoiled = whole[1:] if not whole.startswith(mark) else whole[:-1]
            if mutilated([f"km 1: {whole} (x)"], form) or not mutilated([spoiled], form):
                blind.append(f"name {mark} as {form.__name__}")
    if len(missing([plain("R", k) for k in range(COUNT) if k != 3], "R")) != 1:
        blind.append("a name that is missing")
    return planted + 1, blind


HEAD = "<!doctype html><html><head><meta charset=utf-8><title>T</title>"
POLICY = "<meta http-equiv=Content-Security-Policy content=\"default-src 'none'; script-src 'unsafe-inline'\">"
# Spoiled pages, each by the words of its fault.
PAGES = {
    "a script of R00q ran": HEAD + "</head><body><p>a</p><script>window.taken = 'R00q'</script></body>",
    "a dialog": HEAD + "</head><body><p>a</p><script>alert(1)</script></body>",
    "a request": HEAD + '</head><body><p>a</p><img src="other.png"></body>',
    "policy violated": HEAD + POLICY + '</head><body><p>a</p><img src="other.png"></body>',
    "an error": HEAD + "</head><body><p>a</p><script>missing()</script></body>",
    "console": HEAD + "</head><body><p>a</p><script>console.error(1)</script></body>",
    "a window": HEAD + "</head><body><p>a</p><script>open('about:blank')</script></body>",
    "an element that only hostile names make": HEAD + "</head><body><p>a<b>R37q</b></p></body>",
    "1 elements img, 0 with plain names": HEAD + "</head><body><p>a</p><img></body>",
    "p with onmouseover": HEAD + '</head><body><p onmouseover="x">a</p></body>',
    "a with href": HEAD + '</head><body><p>a<a href="javascript:x">b</a></p></body>',
    "which is not a file": HEAD + '</head><body><p>a<a href="./R37q">b</a></p></body>',
    "window.other": HEAD + "</head><body><p>a</p><script>var other = 1</script></body>",
    "R00q is not whole": HEAD + "</head><body><p>R00q</p></body>",
    "R00q is not whole in title": HEAD + '</head><body><p title="R00q">a</p></body>',
    "R37q stands in class": HEAD + '</head><body><p class="R37q">a</p></body>',
    "every object has x": HEAD + "</head><body><p>a</p><script>Object.prototype.x = 1</script></body>",
}


def of_pages() -> tuple[int, list[str]]:
    blind: list[str] = []
    with tempfile.TemporaryDirectory(prefix="hostile-", dir="/tmp") as folder, browser() as chromium:
        file = Path(folder) / "page.html"
        file.write_text(HEAD + "</head><body><p>a</p></body>")
        with shown(chromium, file, False) as held:
            whole = held.probed()
            if faults_of(whole, whole, held):
                blind.append("a whole page is refused")
            if len(named_faults(whole, "R", "T", "credit")) != COUNT + 1 or not named_faults(whole, "", "other", None):
                blind.append("names that a page does not show")
        for what, text in PAGES.items():
            file.write_text(text)
            with shown(chromium, file, False) as held:
                held.page.wait_for_timeout(50)
                if not any(what in fault for fault in faults_of(held.probed(), whole, held)):
                    blind.append(f"page: {what}")
    return len(PAGES) + 2, blind


def run() -> int:
    planted, blind = 0, list[str]()
    for part in (of_readers, of_names, of_pages):
        count, missed = part()
        planted, blind = planted + count, blind + missed
    for what in blind:
        print(f"BLIND: {what}")
    print(f"{planted - len(blind)} of {planted} planted faults seen")
    return 1 if blind else 0
