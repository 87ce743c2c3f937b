"""What `prove` works with: a folder per region, programs, pages, and the table of what was compared."""

import importlib
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parent.parent.parent.parent
GUIDE = ROOT / "src" / "guide"
# As the pages name them; in the folder of every region they lead to what belongs to it.
LAYER, EXTRACT = "out/varrow.gpkg", "data-samples/varrow.osm.pbf"
TIMEOUT_S = 600
SHOWN = 3

Value = object
Rows = list[list[Value]]


class Wrong(Exception):
    """What was not as it should be."""


class Missing(Exception):
    """What this machine does not have."""


@dataclass
class Line:
    door: str
    tool: str
    what: str
    compared: int
    differences: list[str]
    took_s: float
    # Whether a spoiled layer shows in it.
    of_layer: bool = True


@dataclass
class Report:
    """What was compared, and what was not because something is missing."""

    lines: list[Line] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    begun_s: float = field(default_factory=time.monotonic)

    def add(
        self, door: str, tool: str, what: str, compared: int, differences: Sequence[str], of_layer: bool = True
    ) -> None:
        now_s = time.monotonic()
        # What compares nothing proves nothing.
        found = list(differences) if compared else ["nothing was compared"]
        self.lines.append(Line(door, tool, what, compared, found, now_s - self.begun_s, of_layer))
        self.begun_s = now_s

    def same(
        self,
        door: str,
        tool: str,
        what: str,
        theirs: Iterable[Sequence[Value]],
        ours: Iterable[Sequence[Value]],
        within: float = 0.0,
        of_layer: bool = True,
    ) -> None:
        """Compares rows in their order."""
        left, right = [list(row) for row in theirs], [list(row) for row in ours]
        differences = [f"{len(left)} rows, not {len(right)}"] if len(left) != len(right) else []
        differences += [f"{a} is not {b}" for a, b in zip(left, right, strict=False) if not alike(a, b, within)]
        self.add(door, tool, what, len(right), differences, of_layer)

    def skip(self, door: str, tool: str, reason: str) -> None:
        if os.environ.get("CI") == "true":
            raise Wrong(f"{door}, {tool}: {reason}; with CI=true nothing is skipped")
        self.skipped.append(f"{door}, {tool}: {reason}")

    def attempt(self, door: str, tool: str, work: Callable[[], None]) -> None:
        """Does something for which the machine may lack a program or a package."""
        try:
            work()
        except Missing as missing:
            self.skip(door, tool, str(missing))

    def table(self) -> str:
        head = ["door", "tool", "what was compared", "rows", "differ", "s"]
        rows = [
            [line.door, line.tool, line.what, str(line.compared), str(len(line.differences)), f"{line.took_s:.1f}"]
            for line in self.lines
        ]
        widths = [max(len(row[column]) for row in [head, *rows]) for column in range(len(head))]
        numbers = (3, 4, 5)
        out = []
        for row in [head, *rows]:
            cells = (
                cell.rjust(width) if column in numbers else cell.ljust(width)
                for column, (cell, width) in enumerate(zip(row, widths, strict=True))
            )
            out.append("  ".join(cells).rstrip())
        out += self.notes
        for line in self.lines:
            out += [f"DIFFERS: {line.door}, {line.tool}, {line.what}: {d}" for d in line.differences[:SHOWN]]
        return "\n".join(out)


def alike(left: Value, right: Value, within: float = 0.0) -> bool:
    """Equal, numbers to within something; nothing is equal to nothing alone, and true is not 1."""
    if isinstance(left, list) and isinstance(right, list):
        return len(left) == len(right) and all(alike(a, b, within) for a, b in zip(left, right, strict=True))
    if isinstance(left, bool) or isinstance(right, bool) or left is None or right is None:
        return left is right
    if isinstance(left, int | float) and isinstance(right, int | float):
        return abs(left - right) <= within
    return left == right


def package(name: str, brings: str = "") -> ModuleType:
    """A Python package that may be missing."""
    try:
        return importlib.import_module(name)
    except ImportError as missing:
        raise Missing(f"no Python package {brings or name}") from missing


def program(name: str, debian: str) -> str:
    found = shutil.which(name)
    if not found:
        raise Missing(f"no {name} (Debian package {debian})")
    return found


@dataclass
class Bench:
    """A region in a folder of its own: the layer that programs of others get, and the one that plain loops read."""

    region: str
    home: Path
    waymask: Path
    layer: Path
    truth: Path
    extract: Path
    report: Report
    updates: bool = False

    def environment(self) -> dict[str, str]:
        keep = ("HOME", "PROJ_LIB", "GDAL_DATA", "LD_LIBRARY_PATH", "TMPDIR", "PATH", "CI")
        kept = {name: os.environ[name] for name in keep if name in os.environ}
        return kept | {
            "LC_ALL": "C.UTF-8",
            "TZ": "UTC",
            "NO_COLOR": "1",
            "PATH": f"{self.home}/bin:{os.environ['PATH']}",
        }

    def run(self, *words: object, more: dict[str, str] | None = None) -> str:
        """What a command prints; it has to end well."""
        done = self.tried(*words, more=more)
        # Some programs of GDAL print errors and end with 0.
        failed = [row for row in done.stderr.splitlines() if row.startswith(("ERROR", "FAILURE"))]
        if done.returncode or failed:
            raise Wrong(f"{' '.join(map(str, words))[:200]} ended with {done.returncode}: {done.stderr.strip()[:2000]}")
        return done.stdout

    def tried(self, *words: object, more: dict[str, str] | None = None) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            list(map(str, words)),
            cwd=self.home,
            env=self.environment() | (more or {}),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=TIMEOUT_S,
            check=False,
        )

    @property
    def on_demo(self) -> bool:
        return self.region == "Varrow"
