"""PNG files: photographed by a browser, made small, compared. GDAL decodes them, the rest is plain Python."""
import collections
import re
import struct
import subprocess
import tempfile
import zlib
from pathlib import Path

# As many as four bits hold: two pixels in a byte.
COLOURS = 16
# A pixel differs if a channel is off by more than this; edges of letters move with the version of a browser.
OFF = 64
# Share of pixels that may differ.
MOST_OFF = 0.01


def photograph(page, size, scale, out):
    """What a browser shows of a page."""
    with tempfile.TemporaryDirectory() as profile:
        command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run"]
        command += ["--disable-lcd-text", "--font-render-hinting=none", "--force-color-profile=srgb", "--allow-file-access-from-files"]
        command += [f"--user-data-dir={profile}", f"--force-device-scale-factor={scale}", f"--window-size={size[0]},{size[1]}"]
        said = subprocess.run([*command, f"--screenshot={out}", page.as_uri()], capture_output=True, text=True, check=False)
    if not out.is_file():
        raise SystemExit(f"chromium made no picture: {said.stderr[-2000:]}")


def pixels(path):
    """Width, height and the pixels of a PNG, three bytes each."""
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "raw"
        told = subprocess.run(["gdalinfo", str(path)], capture_output=True, text=True, check=True).stdout
        bands = ["-expand", "rgb"] if "Color Table" in told else ["-b", "1", "-b", "2", "-b", "3"]
        command = ["gdal_translate", "-q", "-of", "ENVI", "-co", "INTERLEAVE=BIP", *bands, str(path), str(raw)]
        subprocess.run(command, check=True, capture_output=True)
        width, height = map(int, re.search(r"Size is (\d+), (\d+)", told).groups())
        data = raw.read_bytes()
    return width, height, [data[i : i + 3] for i in range(0, 3 * width * height, 3)]


def palette(counts, apart):
    """The commonest colours that are farther apart in a channel than given, and for every colour the number of the nearest."""
    chosen = []
    for colour, _ in counts.most_common():
        if len(chosen) < COLOURS and all(max(abs(a - b) for a, b in zip(colour, other)) > apart for other in chosen):
            chosen.append(colour)
    nearest = {c: min(range(len(chosen)), key=lambda n: sum((a - b) ** 2 for a, b in zip(c, chosen[n]))) for c in counts}
    return chosen, nearest


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def packed(row):
    """Numbers below sixteen, two to a byte, the left one in the upper half."""
    return bytes(a << 4 | b for a, b in zip(row[::2], [*row[1::2], 0]))


def write_small(source, out, apart, origin):
    """The same picture with a palette: a fraction of the bytes. Colours closer than `apart` (of 255) may become one. What it
    was drawn from is told by a word inside the file, `origin`."""
    width, height, found = pixels(source)
    chosen, nearest = palette(collections.Counter(found), apart)
    numbers = [nearest[p] for p in found]
    rows = b"".join(b"\0" + packed(numbers[y * width : (y + 1) * width]) for y in range(height))
    header = struct.pack(">IIBBBBB", width, height, 4, 3, 0, 0, 0)
    parts = [(b"IHDR", header), (b"tEXt", b"Source\0" + origin.encode("latin-1")), (b"PLTE", b"".join(chosen)), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b"")]
    out.write_bytes(b"\x89PNG\r\n\x1a\n" + b"".join(chunk(kind, data) for kind, data in parts))


def origin(path):
    """The word that tells what a picture was drawn from."""
    found = re.search(rb"tEXtSource\0([0-9a-f]+)", path.read_bytes())
    return found.group(1).decode("latin-1") if found else None


def differs(one, other):
    """Why two pictures are not the same; None if they are."""
    (w, h, a), (v, g, b) = one, other
    if (w, h) != (v, g):
        return f"{w} by {h} pixels, not {v} by {g}"
    off = sum(1 for p, q in zip(a, b) if p != q and max(abs(x - y) for x, y in zip(p, q)) > OFF)
    share = off / len(a)
    return f"{100 * share:.1f} % of the pixels differ" if share > MOST_OFF else None
