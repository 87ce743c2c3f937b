"""The kinds of files that are damaged, what is done with each, and the rule that the guide states of it."""

import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from . import elements, hamlet
from .bench import Bench, Wrong
from .judge import Law
from .mutate import BINARY, LETTERS, SAME_LENGTH, TEXT, Mutation, mutant

DAY = ["--zone=-01:00", "--depart", "2026-06-15T08:50"]
AT = ["--at", "46.7475,-28.401"]
BUILD = ["build", "map.osm.pbf", "-p", "few.toml", "-q", "-o", "out.gpkg"]
RATED = ["build", "--shard", "1/1", "--work", "work", "-q"]
MERGED = ["merge", "work", "-q", "-o", "out.gpkg"]
PLANNED = ["shards", "map.osm.pbf", "-e", "hills.tif", "-p", "few.toml", "--shards", "1", "--work", "work", "-q"]
CORRIDOR = ["corridor", "layer.gpkg"]

# Fewer drives than usual: no figure here has to be exact.
FEW = "[link]\ndrives = 4\n\n[sampling]\nstation_spacing_m = 20.0\n"
PROFILE = f"""\
base = "roof"

[vehicle]
antenna_height_m = 2.4
vehicle_height_m = 2.6
lane = "nearside"
speed_factor = 0.9

[terminal]
scan_half_angle_deg = 50.0
lowest_elevation_deg = 30.0
tilt_deg = 5.0
bearings_from = "heading"

{FEW}
[canopy]
season = "leaf-off"
"""
USER = 'units = "imperial"\nclock = "12h"\n'
VRT = """\
<VRTDataset rasterXSize="{side}" rasterYSize="{side}">
  <SRS>EPSG:4326</SRS>
  <GeoTransform>{west}, {step}, 0.0, {north}, 0.0, -{step}</GeoTransform>
  <VRTRasterBand dataType="Int16" band="1">
    <SimpleSource>
      <SourceFilename relativeToVRT="1">hills.tif</SourceFilename>
      <SourceBand>1</SourceBand>
      <SrcRect xOff="0" yOff="0" xSize="{side}" ySize="{side}"/>
      <DstRect xOff="0" yOff="0" xSize="{side}" ySize="{side}"/>
    </SimpleSource>
  </VRTRasterBand>
</VRTDataset>
"""

# From which byte to which a file is damaged.
Part = Callable[[bytes], tuple[int, int]]
# Commands one after another; the last one answers.
Doing = list[list[str]]


def everywhere(data: bytes) -> tuple[int, int]:
    return 0, len(data)


def blocks(tiff: bytes) -> tuple[int, int]:
    """The blocks of a GeoTIFF: between its head, which says where the list of them is, and that list."""
    return 8, int(struct.unpack_from("<I", tiff, 4)[0])


@dataclass(frozen=True)
class Kind:
    """One kind of file."""

    name: str
    # As it lies in the folder that commands are run in.
    file: str
    law: Law
    # One of these for each mutant, in turn.
    doings: list[Doing]
    mutations: dict[str, Mutation] = field(default_factory=lambda: TEXT)
    # Mutants of every way of damage.
    each: int = 1
    # What else has to lie in the folder, by its name in the folder of samples; `name:as` gives it another name.
    needs: tuple[str, ...] = ()
    # Which of the samples it is, where that has another name; a pattern where its name holds a hash.
    sample: str = ""
    # Where it is damaged, from byte to byte; anywhere by default.
    part: Part = everywhere

    def mutant(self, data: bytes, how: str, seed: str) -> bytes:
        """The file damaged in a way."""
        start, end = self.part(data)
        return data[:start] + mutant(data[start:end], how, self.mutations, seed) + data[end:]


def law(checksum: str = "", place: str = r"$^", cut_told: bool = True) -> Law:
    return Law(checksum, place, cut_told)


# Where in a file something is said to be.
TEXT_PLACE = r"\b(?:line|byte|row|point|column|entry|feature|position|letter) \d+|\b\d+:\d+|`[^`]+`"
# An extract without blocks, and one cut between two blocks, have no damaged place.
BLOCK = r"block \d+ at byte \d+|at byte \d+|the file is empty|holds no road"
# Without its list of blocks a GeoTIFF has no place that could be told.
TIFF_PLACE = r"is not a raster that GDAL can read|offset \d+|\bcolumn \d+ and row \d+"
# Of an archive: a file in it, or the list of files.
ENTRY = r"N46W029\.hgt |its file \d+|list of its files"


# Where in a layer.
TABLES = [
    "segments",
    "edges",
    "nodes",
    "way_nodes",
    "overheads",
    "lanes",
    "runs",
    "masks",
    "end_masks",
    "stops",
    "outages",
    "places",
    "ground",
    "ground_lines",
    "names",
    "build_record",
    "gpkg_contents",
    "gpkg_geometry_columns",
]
ROWS = r"\btable `?\w+|\brow \d+|\bpage \d+|\b(?:" + "|".join(TABLES) + r")\b"
# Pages 17 to 34 of 4096 bytes hold the rows of this small layer; most of the others are styles and descriptions.
ROW_PAGES = (16 * 4096, 34 * 4096)


def track(name: str, file: str, cut_told: bool = True, mutations: dict[str, Mutation] = TEXT) -> Kind:
    doing = [[*CORRIDOR, file, "--json"]]
    return Kind(name, file, law(place=TEXT_PLACE, cut_told=cut_told), [doing], mutations, 2, ("layer.gpkg",))


def orbits(name: str, file: str, cut_told: bool, checksum: str = "") -> Kind:
    doing = [
        ["sky", "layer.gpkg", *AT, "--orbits", file, "--time", "2026-06-15T06:00:00Z", "--minutes", "60", "--json"]
    ]
    return Kind(name, file, law(checksum, TEXT_PLACE, cut_told), [doing], each=1, needs=("layer.gpkg",))


def raster(
    name: str,
    file: str,
    mutations: dict[str, Mutation],
    rule: Law,
    each: int = 2,
    more: str = "",
    part: Part = everywhere,
) -> Kind:
    doing = [[*BUILD, "-e", file]]
    needs = ("map.osm.pbf", "few.toml", *([more] if more else []))
    return Kind(name, file, rule, [doing], mutations, each, needs, part=part)


def layer_doings() -> list[Doing]:
    asked = [
        ["info", "layer.gpkg", "--json"],
        [*CORRIDOR, "track.gpx", "--json"],
        ["route", "layer.gpkg", "46.7475,-28.403", "46.7495,-28.4", "--json"],
        ["stops", "layer.gpkg", "--json"],
        ["plan", "layer.gpkg", "track.gpx", *DAY, "--json"],
        ["map", "layer.gpkg", "-o", "out.html"],
        ["edges", "layer.gpkg", "-o", "out.csv"],
        ["edges", "layer.gpkg", "--by", "node-pair", "-o", "out.json"],
        ["sky", "layer.gpkg", *AT, "--json"],
        ["diff", "other.gpkg", "layer.gpkg", "--json"],
        ["sensitivity", "layer.gpkg", "--set", "link.slot_s=30", "-o", "out.gpkg", "--json"],
        ["mounts", "track.gpx", "other.gpkg", "layer.gpkg", *DAY, "--json"],
        ["corridor", "twin.gpkg", "track.gpx", "--with", "layer.gpkg", "--json"],
    ]
    return [[one] for one in asked]


def kinds() -> list[Kind]:
    work = ("work",)
    return [
        Kind(
            "extract, packed blocks (.osm.pbf)",
            "map.osm.pbf",
            law("Adler-32 of every packed block", BLOCK, cut_told=False),
            [[BUILD]],
            BINARY,
            4,
            ("few.toml",),
        ),
        Kind(
            "extract, blocks not packed (.osm.pbf)",
            "map.osm.pbf",
            law(place=BLOCK, cut_told=False),
            [[BUILD]],
            BINARY,
            2,
            ("few.toml",),
            sample="raw.osm.pbf",
        ),
        raster(
            "GeoTIFF, packed blocks",
            "hills.tif",
            BINARY,
            law("Adler-32 of every packed block", TIFF_PLACE),
            part=blocks,
        ),
        raster("GeoTIFF, blocks not packed", "plain.tif", BINARY, law(place=TIFF_PLACE)),
        raster("heights as .hgt", "N46W029.hgt", BINARY, law(), each=1),
        raster("heights as .hgt.zip", "N46W029.hgt.zip", BINARY, law("CRC-32 of every file in it", ENTRY), each=2),
        raster("mosaic (.vrt)", "hills.vrt", TEXT, law(place=TEXT_PLACE), more="hills.tif"),
        raster_buildings(),
        track("track, GPX", "track.gpx"),
        track("track, GeoJSON", "track.geojson"),
        track("track, encoded polyline", "track.polyline", cut_told=False, mutations=LETTERS),
        Kind(
            "polygons of a region (GeoJSON)",
            "area.geojson",
            law(place=TEXT_PLACE),
            [[["map", "layer.gpkg", "--area", "area.geojson", "-o", "out.html"]]],
            needs=("layer.gpkg",),
        ),
        Kind(
            "calendar (.ics)",
            "meetings.ics",
            law(place=TEXT_PLACE),
            [[["plan", "layer.gpkg", "track.gpx", *DAY, "--meetings", "meetings.ics", "--json"]]],
            each=2,
            needs=("layer.gpkg", "track.gpx"),
        ),
        Kind(
            "trip (TOML)",
            "trip.toml",
            law(place=TEXT_PLACE, cut_told=False),
            [
                [["spend", "trip.toml", "--json"]],
                [["plan", "layer.gpkg", "track.gpx", *DAY, "--trip", "trip.toml", "--json"]],
            ],
            needs=("layer.gpkg", "track.gpx"),
        ),
        Kind(
            "profile (TOML)",
            "own.toml",
            law(place=TEXT_PLACE, cut_told=False),
            [[["build", "map.osm.pbf", "-p", "own.toml", "-q", "-o", "out.gpkg"]]],
            needs=("map.osm.pbf",),
        ),
        Kind(
            "settings of your own (TOML)",
            "config/waymask/settings.toml",
            law(place=TEXT_PLACE, cut_told=False),
            [[[*CORRIDOR, "track.gpx"]]],
            needs=("layer.gpkg", "track.gpx"),
            sample="settings.toml",
        ),
        orbits("elements, two-line sets", "sets.tle", cut_told=False),
        orbits("elements, OMM as JSON", "sets.json", cut_told=True),
        orbits("elements, OMM as XML", "sets.xml", cut_told=True),
        orbits("elements, OMM as KVN", "sets.kvn", cut_told=False),
        orbits("elements, OMM as CSV", "sets.csv", cut_told=False),
        Kind(
            "plan of a build (plan.json)",
            "work/plan.json",
            law("SHA-256, in itself", r"plan\.json"),
            [[MERGED], [RATED, MERGED]],
            TEXT,
            1,
            ("hills.tif", *work),
        ),
        Kind(
            "bundle of a district (.bundle)",
            "work/bundles/n4650w02850.bundle",
            law("SHA-256, in the plan", r"n4650w02850\.bundle"),
            [[RATED, MERGED]],
            BINARY,
            1,
            ("hills.tif", "planned:work"),
            sample="planned/bundles/n4650w02850.bundle",
        ),
        Kind(
            "names and water of a plan (backdrop-*)",
            "work/backdrop-*",
            law("SHA-256, in the plan", r"backdrop-"),
            [[MERGED]],
            BINARY,
            1,
            ("hills.tif", *work),
        ),
        Kind(
            "finished part of a district (.gpkg)",
            "work/n4650w02850-*",
            law("SHA-256, in its name", r"n4650w02850"),
            [[MERGED], [RATED, MERGED], [["build", "map.osm.pbf", "-e", "hills.tif", "-p", "few.toml", *GO_ON]]],
            BINARY,
            1,
            ("map.osm.pbf", "few.toml", "hills.tif", *work),
        ),
        Kind(
            "layer (.gpkg)",
            "layer.gpkg",
            law(place=ROWS),
            layer_doings(),
            BINARY,
            6,
            ("track.gpx", "other.gpkg", "layer.gpkg:twin.gpkg"),
        ),
        Kind(
            "layer, pages of its rows (.gpkg)",
            "layer.gpkg",
            law(place=ROWS),
            layer_doings(),
            SAME_LENGTH,
            20,
            ("track.gpx", "other.gpkg", "layer.gpkg:twin.gpkg"),
            part=lambda _: ROW_PAGES,
        ),
    ]


GO_ON = ["--work", "work", "-q", "-o", "out.gpkg"]


def raster_buildings() -> Kind:
    return Kind(
        "buildings (GeoJSON by GDAL)",
        "houses.geojson",
        law(place=TEXT_PLACE),
        [[[*BUILD, "--buildings", "houses.geojson", "--buildings-height", "height"]]],
        needs=("map.osm.pbf", "few.toml"),
    )


def make_samples(bench: Bench, home: Path) -> None:
    """Every sound file, in a folder."""
    small = hamlet.Raster()
    west_deg, north_deg = small.west_north_deg
    hamlet.write_map(home / "map.osm.pbf", 12)
    texts: dict[str, str] = {
        "few.toml": FEW,
        "own.toml": PROFILE,
        "track.gpx": hamlet.gpx(),
        "track.geojson": hamlet.geojson_track(),
        "track.polyline": hamlet.polyline(),
        "area.geojson": hamlet.area(),
        "houses.geojson": hamlet.buildings(),
        "hills.vrt": VRT.format(side=small.side, west=west_deg, north=north_deg, step=small.pixel_deg),
        "sets.tle": elements.two_lines(),
        "sets.json": elements.omm_json(),
        "sets.xml": elements.omm_xml(),
        "sets.kvn": elements.omm_kvn(),
        "sets.csv": elements.omm_csv(),
        "settings.toml": USER,
    }
    for name, text in texts.items():
        (home / name).write_text(text, encoding="utf-8", newline="\n")
    files: dict[str, Callable[[], bytes]] = {
        "raw.osm.pbf": lambda: hamlet.raw((home / "map.osm.pbf").read_bytes()),
        "hills.tif": lambda: small.tiff(packed=True),
        "plain.tif": lambda: small.tiff(packed=False),
        "N46W029.hgt": hamlet.hgt,
        "N46W029.hgt.zip": lambda: hamlet.zipped("N46W029.hgt", (home / "N46W029.hgt").read_bytes()),
        "meetings.ics": (hamlet.ROOT / "data-samples" / "varrow-meetings.ics").read_bytes,
        "trip.toml": (hamlet.ROOT / "data-samples" / "varrow-trip.toml").read_bytes,
    }
    for name, make in files.items():
        (home / name).write_bytes(make())
    for name, profile in (("layer.gpkg", FEW), ("other.gpkg", FEW + "\n[vehicle]\nantenna_height_m = 3.0\n")):
        (home / "this.toml").write_text(profile)
        done(bench, home, ["build", "map.osm.pbf", "-e", "hills.tif", "-p", "this.toml", "-q", "-o", name])
    for folder in ("planned", "work"):
        done(bench, home, [*PLANNED[:-2], folder, "-q"])
    done(bench, home, RATED)


def done(bench: Bench, folder: Path, command: list[str]) -> None:
    ran = bench.run(folder, command)
    if ran.code != 0:
        raise Wrong(f"waymask {' '.join(command)}: {ran.error}")
