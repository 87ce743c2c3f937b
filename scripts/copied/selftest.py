"""Whether scripts/copies does what it says: copies of the samples and of a small map, compared object by object."""

import decimal
import pathlib
import re
import struct
import subprocess
import tempfile
import zipfile

SAMPLES = pathlib.Path(__file__).resolve().parent.parent.parent / "data-samples"
# Of the samples, read with `osmium fileinfo -e`: largest ids 9100006542, 9200000744, 9300000002; 0.18 degrees wide.
VARROW_STEPS, VARROW_APART_DEG = {"n": 9_200_000_000, "w": 9_300_000_000, "r": 9_400_000_000}, 2

# Ids below zero, escaped texts, users, a way without nodes, members of every kind, one that is not there and larger than all that is.
SMALL = """\
n-7 v1 dV c0 t i0 u T x-28.5 y47.25
n-8 v1 dV c0 t i0 u Tname=a%20%w1%2c%n2 x-28.4000001 y47.75
n3 v2 dV c5 t2020-01-01T00:00:00Z i9 uN%20%n3 Thighway=stop,note=x1%20%y2 x-28 y47.5
n41 v2 dV c5 t2020-01-01T00:00:00Z i9 uN%20%n3 T x-28.0000007 y47.6000001
w-5 v1 dV c0 t i0 u Thighway=track,name=Nn3 Nn-7,n-8,n3
w6 v1 dV c0 t i0 u Tnote=none N
w12 v1 dV c0 t i0 u Thighway=service,name=M%20%N Nn3,n41,n3
r-2 v1 dV c0 t i0 u Ttype=route Mn3@stop,w-5@w6%40%,r9@part,w999@
r9 v1 dV c0 t i0 u Ttype=empty M
"""
# Ids up to 41, 999 and 9. The raster (29 to 28 W and half a pixel) begins 1.0004 degrees west of the easternmost node.
SMALL_STEPS, SMALL_APART_DEG = {"n": 42, "w": 1000, "r": 10}, 3
HGT_SIDE = 1201
# Heights by a formula: no pixel has that of its neighbour.
HGT_M = [[(7 * row + 3 * column) % 3001 for column in range(HGT_SIDE)] for row in range(HGT_SIDE)]


class Broken(Exception):
    """A sentence on what is wrong."""


def output(command, given=None):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False, input=given)
    if done.returncode:
        raise Broken(f"{command[0]} failed: {done.stderr.strip()}")
    return done.stdout


def opl(path):
    return output(["osmium", "cat", "--no-progress", "-f", "opl", "-o", "-", path]).splitlines()


def check(holds, sentence):
    if not holds:
        raise Broken(sentence)


def differences(original, copies, count, steps, apart_deg):
    """What is wrong with the copies, as sentences. Brings every object of a copy back and looks for it in the original."""
    found = []
    ids = [line.split(" ")[0] for line in copies]
    if len(set(ids)) != len(ids):
        found.append("an id is there twice")
    if len(copies) != count * len(original):
        found.append(f"{len(copies)} objects, not {count} times {len(original)}")
    expected, seen = set(original), {}
    for line in copies:
        fields = line.split(" ")
        kind, copy = line[0], abs(int(fields[0][1:])) // steps[line[0]]

        def back(match):
            size = int(match[2]) - copy * steps[match[1][-1]]
            return f"{match[1]}{'-' if '-' in match[0] else ''}{size}" if size > 0 else "lost"

        fields[0] = re.sub(r"^([nwr])-?(\d+)$", back, fields[0])
        if kind == "n":
            lon = decimal.Decimal(fields[-2][1:]) - copy * apart_deg
            fields[-2] = f"x{int(lon)}" if lon == int(lon) else f"x{lon.normalize():f}"
        else:
            fields[-1] = re.sub(r"((?:^[NM]|,)[nwr])-?(\d+)", back, fields[-1])
        line = " ".join(fields)
        if line not in expected:
            found.append(f"copy {copy}: not in the original: {line[:100]}")
        seen.setdefault(copy, set()).add(line)
    for copy in range(count):
        if missing := expected - seen.get(copy, set()):
            found.append(f"copy {copy}: {len(missing)} objects are missing")
    return found


def places(lines, every):
    """Longitudes and latitudes of some nodes."""
    return [(float(f[-2][1:]), float(f[-1][1:])) for f in (line.split(" ") for line in lines[::every]) if f[0][0] == "n"]


def heights(raster, points):
    """What GDAL says of a raster at longitudes and latitudes; empty outside."""
    given = "".join(f"{lon:.9f} {lat:.9f}\n" for lon, lat in points)
    command = ["gdallocationinfo", "-valonly", "-wgs84", raster]
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False, input=given)
    return done.stdout.split("\n")[: len(points)]


def check_samples(make, folder):
    lines = make(SAMPLES / "varrow.osm.pbf", 3, folder, [SAMPLES / "varrow-elevation.tif"])
    original, copies = opl(SAMPLES / "varrow.osm.pbf"), opl(folder / "copies-3.osm.pbf")
    for kind in "nwr":
        counts = [sum(line[0] == kind for line in of) for of in (original, copies)]
        check(counts[0] > 0 and counts[1] == 3 * counts[0], f"{counts[1]} objects of kind {kind}, not 3 times {counts[0]}")

    def wrong(of):
        return differences(original, of, 3, VARROW_STEPS, VARROW_APART_DEG)

    check(not wrong(copies), "; ".join(wrong(copies)[:3]))
    # Each fault below is one that the comparison has to see.
    last = {kind: max(i for i, line in enumerate(copies) if line[0] == kind) for kind in "nwr"}
    faults = {
        "a lost object": copies[:-1],
        "an object twice": [*copies, copies[0]],
        "a longitude": changed(copies, last["n"], " x-2", " x-3"),
        "a latitude": changed(copies, last["n"], r"\d$", "x"),
        "a tag": changed(copies, last["w"], r" T", " Tfault=yes,"),
        "a node of a way": changed(copies, last["w"], r" Nn\d", " Nn1"),
        "a member": changed(copies, last["r"], r" Mw\d", " Mw3"),
    }
    for fault, of in faults.items():
        check(of != copies and wrong(of), f"the comparison does not see {fault}")
    points = places(original, 60)
    before = heights(SAMPLES / "varrow-elevation.tif", points)
    check(len(points) > 100 and len(set(before)) > 50 and all(before), "the samples' heights are not there to compare")
    raster = folder / "elevation-3-1" / "0001-varrow-elevation-002.vrt"
    after = heights(raster, [(lon + 2 * VARROW_APART_DEG, lat) for lon, lat in points])
    check(after == before, "copy 2 has other heights than the original")
    check(not any(heights(raster, points)), "copy 2 has heights where the original lies")
    return [f"{len(copies):,} objects and {len(points)} heights of 3 copies of Varrow are those of the original", *lines[1:3]]


def changed(lines, at, pattern, by):
    return [*lines[:at], re.sub(pattern, by, lines[at], count=1), *lines[at + 1 :]]


def check_small(make, folder):
    extract, rasters = folder / "small.osm.pbf", folder / "rasters" / "inner"
    output(["osmium", "cat", "--no-progress", "-F", "opl", "-", "-o", extract], SMALL)
    rasters.mkdir(parents=True)
    with zipfile.ZipFile(rasters / "N47W029.hgt.zip", "w") as archive:
        archive.writestr("N47W029.hgt", b"".join(struct.pack(f">{HGT_SIDE}h", *row) for row in HGT_M))
    make(extract, 5, folder, [folder / "rasters"])
    copies = opl(folder / "copies-5.osm.pbf")
    found = differences(SMALL.splitlines(), copies, 5, SMALL_STEPS, SMALL_APART_DEG)
    check(not found, "; ".join(found[:3]))
    points = places(SMALL.splitlines(), 1)
    known = [str(HGT_M[round((48 - lat) * 1200)][round((lon + 29) * 1200)]) for lon, lat in points]
    raster = folder / "elevation-5-1" / "0001-N47W029-004.vrt"
    check(len(set(known)) == len(known) == 4, "the small map has four heights")
    check(heights(raster, [(lon + 4 * SMALL_APART_DEG, lat) for lon, lat in points]) == known, "a packed raster has other heights")


def check_systems(make, refused, folder):
    """Rasters in other coordinate systems around a place in France, and those that cannot be moved: a datum that is not that of
    the satellites, and Mercator on a sphere, which GDAL keeps in a text of its own."""
    extract = folder / "place.osm.pbf"
    output(["osmium", "cat", "--no-progress", "-F", "opl", "-", "-o", extract], "n1 v1 dV c0 t i0 u T x2 y48.5\n")
    cells = folder / "cells.asc"
    rows = [" ".join(str(8 * row + column) for column in range(8)) for row in range(8)]
    cells.write_text("\n".join(["ncols 8", "nrows 8", "xllcorner 0", "yllcorner 0", "cellsize 1000", *rows]))
    fixed = ("EPSG:27572", "EPSG:3857")
    inside = [(2.003 + 0.012 * i, 48.502 + 0.008 * j) for i in range(-3, 4) for j in range(-3, 4)]
    for system in ("EPSG:4326", "EPSG:3035", "EPSG:2154", "EPSG:32631+5773", "EPSG:3857", "EPSG:27572"):
        flat = system.split("+")[0]
        x, y = (float(v) for v in output(["gdaltransform", "-s_srs", "EPSG:4326", "-t_srs", flat], "2 48.5\n").split()[:2])
        half = 0.05 if flat == "EPSG:4326" else 4000
        raster = folder / f"{flat[5:]}.tif"
        output(["gdal_translate", "-q", "-a_srs", system, "-a_ullr", x - half, y + half, x + half, y - half, cells, raster])
        out = folder / f"of-{flat[5:]}"
        try:
            make(extract, 30, out, [raster])
        except refused as error:
            check(flat in fixed and "gdalwarp" in str(error), f"{system} is refused: {error}")
            continue
        check(flat not in fixed, f"{system} does not turn with the earth and is not refused")
        before = heights(raster, inside)
        moved = heights(out / "elevation-30-1" / f"0001-{flat[5:]}-029.vrt", [(lon + 29 * 2, lat) for lon, lat in inside])
        check(len(set(before)) > 10 and all(before) and moved == before, f"{system}: copy 29 has other heights")
        text = (out / "elevation-30-1" / f"0001-{flat[5:]}-029.vrt").read_text()
        check(f'"{flat[5:]}"' not in text or flat == "EPSG:4326", f"{system}: what is moved has the code of the original")
    # A raster that ends 3.2 degrees east of the place, and one that is wider than both sides ask for.
    for west, east, apart_deg in ((1.95, 5.2, 5), (-1.2, 5.2, 7)):
        raster, out = folder / f"wide-{apart_deg}.tif", folder / f"wide-{apart_deg}"
        output(["gdal_translate", "-q", "-a_srs", "EPSG:4326", "-a_ullr", west, 49, east, 48, cells, raster])
        lines = make(extract, 2, out, [raster])
        check(any(f"are {apart_deg} degrees apart" in line for line in lines), f"not {apart_deg} degrees apart: {lines}")


def check_refusals(make, refused, folder):
    """What must not be done, and what is said of it."""
    varrow = SAMPLES / "varrow.osm.pbf"
    unsorted = folder / "unsorted.osm.pbf"
    output(["osmium", "cat", "--no-progress", "-F", "opl", "-", "-o", unsorted], "n2 v1 dV c0 t i0 u T x2 y4\nn1 v1 dV c0 t i0 u T x2 y4\n")
    # From 27.902 W to 180 E are 207.902 degrees: 103 steps of 2 and the original.
    cases = [
        (varrow, 105, "new", "104 fit"),
        (varrow, 0, "new", "1 or more"),
        (unsorted, 2, "new", "osmium sort"),
        (folder / "nothing.osm.pbf", 2, "new", "not a file"),
        (varrow, 2, "there", "there already"),
    ]
    (folder / "there").mkdir()
    (folder / "there" / "copies-2.toml").write_text("")
    for extract, copies, into, word in cases:
        try:
            make(extract, copies, folder / into)
        except refused as error:
            check(word in str(error), f"refused with `{error}`, without `{word}`")
        else:
            raise Broken(f"{copies} copies of {extract} are not refused")
    left = sorted(str(p.relative_to(folder)) for p in folder.rglob("*"))
    check(left == ["there", "there/copies-2.toml", "unsorted.osm.pbf"], f"a refusal leaves files behind: {left}")


def run(make, refused):
    """All checks; lines on what was seen."""
    with tempfile.TemporaryDirectory() as temporary:
        folders = [pathlib.Path(temporary) / name for name in ("samples", "small", "systems", "refusals")]
        for folder in folders:
            folder.mkdir()
        try:
            lines = check_samples(make, folders[0])
            check_small(make, folders[1])
            check_systems(make, refused, folders[2])
            check_refusals(make, refused, folders[3])
        except Broken as broken:
            raise refused(f"self-test: {broken}") from broken
    return [*lines, "ids below zero, packed rasters, six coordinate systems and five refusals: as they should be"]
