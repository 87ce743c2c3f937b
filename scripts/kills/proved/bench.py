"""What `prove` works with: the inputs, the program, the commands that are tried, and the table of what was checked."""

import hashlib
import os
import re
import shutil
import sqlite3
import subprocess
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent.parent
SAMPLES = ROOT / "data-samples"
TIMEOUT_S = 120
# Failures of one kind that are printed.
SHOWN = 4
# A corner of four districts, and what lies around it: west, south, east, north.
CORNER = "-28.012,46.992,-27.988,47.008"
DISTRICTS = 4
# Nothing here depends on how exact the figures are.
FEW = "[link]\ndrives = {drives}\n[sampling]\nstation_spacing_m = 20.0\n"
COMMANDS = ("build", "shards", "shard", "merge", "map", "plan")
FAILED, USAGE, AGAIN = 1, 2, 3
PART = re.compile(r"^[ns]\d+[ew]\d+-[0-9a-f]+-[0-9a-f]+\.gpkg$")


class Wrong(Exception):
    """What makes going on useless."""


@dataclass
class Report:
    """What was checked, what failed, and what was not checked because something is missing."""

    checked: Counter[tuple[str, str]] = field(default_factory=Counter)
    failed: Counter[tuple[str, str]] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def check(self, part: str, kind: str, holds: bool, what: str) -> None:
        self.checked[part, kind] += 1
        if not holds:
            self.failed[part, kind] += 1
            self.failures.append(f"{part}, {kind}: {what}")

    def skip(self, part: str, reason: str) -> None:
        if os.environ.get("CI") == "true":
            raise Wrong(f"{part}: {reason}; with CI=true nothing is skipped")
        self.skipped.append(f"{part}: {reason}")

    def table(self) -> str:
        rows = [f"{'part':<9}{'checked':<12}{'times':>7}{'failed':>8}"]
        rows += [
            f"{part:<9}{kind:<12}{count:>7}{self.failed[part, kind]:>8}"
            for (part, kind), count in sorted(self.checked.items())
        ]
        return "\n".join([*rows, *self.notes])


@dataclass
class Answer:
    """What a command said, and how it ended."""

    code: int
    out: str
    err: str

    def short(self) -> str:
        return f"code {self.code}: {self.err.strip()[:400]}"


@dataclass
class Case:
    """Folders that one command works in: of the output, of the work and for temporary files."""

    home: Path
    # Whether the work folder is named; else it is the one beside the output.
    given: bool = True

    def __post_init__(self) -> None:
        self.make()

    def make(self) -> None:
        for folder in (self.out, self.work, self.tmp):
            folder.mkdir(parents=True, exist_ok=True)

    def disk(self, place: str) -> Path:
        """Where a disk of its own may be mounted that holds one of the folders."""
        return self.home / f"{place}-disk"

    def folder(self, place: str) -> Path:
        return self.disk(place) / place

    @property
    def out(self) -> Path:
        return self.folder("out")

    @property
    def work(self) -> Path:
        return self.folder("work")

    @property
    def tmp(self) -> Path:
        return self.folder("tmp")

    @property
    def layer(self) -> Path:
        return self.out / "layer.gpkg"

    @property
    def at_work(self) -> Path:
        """The folder that a build works in."""
        return self.work if self.given else self.out / "layer.gpkg.work"

    def leftovers(self) -> list[Path]:
        """What nobody asked for and no next run goes on with."""
        found = [path for folder in (self.out, self.work, self.at_work, self.tmp) for path in listed(folder)]
        unfinished = {path for path in found if path.name.startswith(".") or ".new" in path.name}
        beside = {path for path in found if path.name.endswith(("-journal", "-wal", "-shm"))}
        # Whatever is in the folder for temporary files.
        temporary = set(listed(self.tmp))
        bare = {self.at_work} if not self.given and self.at_work.is_dir() and not self.parts() else set()
        return sorted(unfinished | beside | temporary | bare)

    def parts(self) -> list[str]:
        return sorted(path.name for path in listed(self.at_work) if PART.match(path.name))


def listed(folder: Path) -> list[Path]:
    try:
        return sorted(folder.iterdir())
    except OSError:
        return []


def read(path: Path) -> bytes:
    return path.read_bytes() if path.is_file() else b""


def integrity(path: Path) -> str:
    """What SQLite says of a file."""
    try:
        base = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        try:
            return str(base.execute("PRAGMA integrity_check").fetchone()[0])
        finally:
            base.close()
    except sqlite3.Error as error:
        return str(error)


@dataclass
class Bench:
    """The program and what it is given."""

    home: Path
    waymask: Path
    report: Report
    seed: int
    extract: Path = Path()
    profile: Path = Path()
    elevation: Path = SAMPLES / "varrow-elevation.tif"
    # Of the whole island: for a map and a plan.
    island: Path = Path()
    # The layer that is replaced, and the one that nobody killed.
    old: bytes = b""
    new: bytes = b""
    # By command: what it writes when nothing stands in its way.
    written: dict[str, bytes] = field(default_factory=dict)
    # A work folder that is planned, and one that is rated.
    planned: Path = Path()
    rated: Path = Path()

    def prepare(self) -> None:
        """Makes the inputs, and everything once without disturbance."""
        self.extract, self.profile = self.home / "corner.osm.pbf", self.home / "few.toml"
        cut = ["osmium", "extract", "--strategy=complete_ways", f"--bbox={CORNER}", "-o", str(self.extract)]
        if not shutil.which("osmium"):
            raise Wrong("no osmium (Debian package osmium-tool)")
        subprocess.run([*cut, str(SAMPLES / "varrow.osm.pbf")], check=True, capture_output=True)
        self.profile.write_text(FEW.format(drives=4))
        other = self.home / "other.toml"
        other.write_text(FEW.format(drives=5))
        self.island = self.home / "island.gpkg"
        whole = ["build", SAMPLES / "varrow.osm.pbf", "--profile", self.profile, "-o", self.island]
        self.must(self.run(Case(self.home / "first"), *whole))
        case = Case(self.home / "first")
        self.must(self.run(case, *self.words("build", case)))
        self.new = read(case.layer)
        if len(case.parts()) != DISTRICTS:
            raise Wrong(f"the corner is rated in {len(case.parts())} districts, not {DISTRICTS}")
        older = [str(other) if word == str(self.profile) else word for word in self.words("build", case)]
        self.must(self.run(case, *older))
        self.old = read(case.layer)
        if self.old == self.new or not self.new:
            raise Wrong("the old layer and the new one are the same")
        staged = Case(self.home / "staged")
        for command in COMMANDS:
            if command == "build":
                continue
            if command in ("map", "plan"):
                # A brief leads to the map page that lies beside it.
                staged = Case(self.home / f"staged-{command}")
            self.must(self.run(staged, *self.words(command, staged)))
            if command in ("shards", "shard"):
                kept = self.home / f"after-{command}"
                shutil.copytree(staged.work, kept)
                self.planned, self.rated = (kept, self.rated) if command == "shards" else (self.planned, kept)
            self.written[command] = self.what_it_wrote(command, staged)
        self.written["build"] = self.new

    def words(self, command: str, case: Case) -> list[str]:
        """The words of a command in a case."""
        inputs = [self.extract, "--elevation", self.elevation, "--profile", self.profile]
        # A trip that the island has.
        trip = [SAMPLES / "varrow-circuit.gpx", "--zone=-01:00", "--depart", "2026-06-15T08:50"]
        work = ["--work", case.work] if case.given else []
        said: dict[str, list[object]] = {
            "build": ["build", *inputs, "-o", case.layer, "--overwrite", *work],
            "shards": ["shards", *inputs, "--shards", "1", "--work", case.work],
            "shard": ["build", "--shard", "1/1", "--work", case.work],
            "merge": ["merge", case.work, "-o", case.layer, "--overwrite"],
            "map": ["map", self.island, "-o", case.out / "map.html", "--overwrite"],
            "plan": ["plan", self.island, *trip, "-o", case.out / "plan.html", "--overwrite"],
            "estimate": ["build", *inputs, "--estimate"],
        }
        return list(map(str, said[command]))

    def ready(self, command: str, case: Case) -> None:
        """Puts what a command needs into empty folders, and what it replaces."""
        case.make()
        if command in ("shard", "merge"):
            source = self.planned if command == "shard" else self.rated
            shutil.copytree(source, case.work, dirs_exist_ok=True)
        if command in ("build", "merge"):
            case.layer.write_bytes(self.old)
        if command in ("map", "plan"):
            (case.out / f"{command}.html").write_bytes(b"what was there before")

    def what_it_wrote(self, command: str, case: Case) -> bytes:
        if command in ("build", "merge"):
            return read(case.layer)
        if command in ("map", "plan"):
            # A page says where it lies.
            return read(case.out / f"{command}.html").replace(str(case.home).encode(), b"HOME")
        if command == "shard":
            return "\n".join(case.parts()).encode()
        bundles = [path.name.encode() + digest(path) for path in listed(case.work / "bundles")]
        return b"\n".join([read(case.work / "plan.json"), *bundles])

    def before(self, command: str) -> bytes:
        """What an output holds that was not replaced."""
        if command in ("build", "merge"):
            return self.old
        return b"what was there before" if command in ("map", "plan") else b""

    def environment(self, case: Case) -> dict[str, str]:
        keep = ("HOME", "PROJ_LIB", "GDAL_DATA", "LD_LIBRARY_PATH", "PATH")
        kept = {name: os.environ[name] for name in keep if name in os.environ}
        return kept | {"LC_ALL": "C.UTF-8", "TZ": "UTC", "NO_COLOR": "1", "TMPDIR": str(case.tmp)}

    def begin(self, case: Case, *words: object, before: tuple[str, ...] = ()) -> "subprocess.Popen[str]":
        """Starts a command; `before` are the words of a program that starts it."""
        return subprocess.Popen(
            [*before, str(self.waymask), *map(str, words)],
            env=self.environment(case),
            cwd=self.home,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            errors="replace",
        )

    def run(self, case: Case, *words: object, before: tuple[str, ...] = ()) -> Answer:
        return ended(self.begin(case, *words, before=before))

    def must(self, answer: Answer) -> None:
        if answer.code:
            raise Wrong(f"without any disturbance the program ended with {answer.short()}")

    def is_whole(self, path: Path) -> str:
        """What is wrong with a layer that has to be the old one or the new one; empty where nothing is."""
        if read(path) not in (self.old, self.new):
            return f"{path} is neither the old layer nor the new one"
        checked = integrity(path)
        return "" if checked == "ok" else f"{path}: {checked}"


def ended(running: "subprocess.Popen[str]") -> Answer:
    try:
        out, err = running.communicate(timeout=TIMEOUT_S)
    except subprocess.TimeoutExpired:
        running.kill()
        out, err = running.communicate()
        err += f"\nnot done after {TIMEOUT_S} s"
    return Answer(running.returncode, out, err)


def digest(path: Path) -> bytes:
    return hashlib.sha256(path.read_bytes()).digest()
