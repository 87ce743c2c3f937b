"""Runs the program under limits, and notes what came of it."""

import hashlib
import json
import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

# Of addresses a program may have more than of memory: libraries map what they never touch.
MOST_ADDRESSES_KIB = 6_000_000
# `waymask guide outputs`; signals have no business here.
EXIT_CODES = (0, 1, 2, 3)
PANICKED = 101


class Wrong(Exception):
    """What was not as it should be."""


@dataclass(frozen=True)
class Limits:
    """The law: no damaged file makes the program take more than this. What goes far beyond is ended."""

    memory_bytes: int = 1_000_000_000
    processor_s: float = 60
    wall_s: float = 200


@dataclass(frozen=True)
class Ran:
    """One run of the program."""

    code: int
    said: str
    error: str
    memory_bytes: int = 0
    processor_s: float = 0.0
    ended: bool = True


@dataclass(frozen=True)
class Answer:
    """What commands gave in a folder: the last run, what it answered, and files that have no business there."""

    ran: Ran
    figures: str = ""
    # What was said beside the answer: notes, bad data that was counted.
    words: str = ""
    # Whether any output is there.
    wrote: bool = False
    left: tuple[str, ...] = ()
    # Why a file that was written is none.
    broken: str = ""


@dataclass
class Bench:
    """The program, and a folder for everything."""

    waymask: Path
    home: Path
    limits: Limits = field(default_factory=Limits)
    environment: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        inherited = {name: value for name, value in os.environ.items() if not name.startswith(("RUST", "GDAL", "CPL"))}
        self.environment = {**inherited, "LC_ALL": "C.UTF-8", "RAYON_NUM_THREADS": "1"}

    def run(self, folder: Path, command: Sequence[str]) -> Ran:
        """Runs the program in a folder. Output goes to files: a pipe that nobody reads would hold it up."""
        environment = {**self.environment, "XDG_CONFIG_HOME": str(folder / "config")}
        processor_s = int(2 * self.limits.processor_s)
        limits = f'ulimit -v {MOST_ADDRESSES_KIB}; ulimit -t {processor_s}; ulimit -c 0; exec "$0" "$@"'
        out, err = folder / ".said", folder / ".error"
        with out.open("wb") as to_out, err.open("wb") as to_err:
            child = subprocess.Popen(
                ["sh", "-c", limits, str(self.waymask), *command],
                cwd=folder,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=to_out,
                stderr=to_err,
            )
            status, used, ended = waited(child, self.limits.wall_s)
        said, error = (path.read_text(encoding="utf-8", errors="replace") for path in (out, err))
        out.unlink()
        err.unlink()
        return Ran(
            os.waitstatus_to_exitcode(status), said, error, used.ru_maxrss * 1024, used.ru_utime + used.ru_stime, ended
        )


def waited(child: subprocess.Popen[bytes], most_s: float) -> tuple[int, resource.struct_rusage, bool]:
    """Waits for a program; `wait4` tells what this one took, and not all that have ended."""
    until_s = time.monotonic() + most_s
    ended = True
    pause_s = 0.002
    while True:
        pid, status, used = os.wait4(child.pid, os.WNOHANG)
        if pid:
            child.returncode = os.waitstatus_to_exitcode(status)
            return status, used, ended
        if time.monotonic() > until_s and ended:
            ended = False
            child.send_signal(signal.SIGKILL)
        time.sleep(pause_s)
        pause_s = min(pause_s * 1.5, 0.05)


def clear(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)


# Keys of answers as JSON under which is said what was wrong with an input.
NOTES = ("notes", "defects", "left_out", "meetings_left_out")


def notes_of(text: str) -> str:
    """The notes of an answer as JSON, wherever they stand in it."""
    try:
        told = json.loads(text)
    except ValueError:
        return ""
    return repr(sorted(map(repr, noted(told))))


def noted(told: object) -> Iterator[object]:
    if isinstance(told, dict):
        for key, value in told.items():
            yield from [value] if key in NOTES else noted(value)
    elif isinstance(told, list):
        for value in told:
            yield from noted(value)


def figures_of(path: Path) -> tuple[str, str, str]:
    """What a file that was written says, as text that is equal where it says the same; its notes; why it is none."""
    if path.suffix != ".gpkg":
        text = path.read_bytes()
        return hashlib.sha256(text).hexdigest(), "", "" if text else "is empty"
    try:
        return (*layer_figures(path), "")
    except sqlite3.Error as wrong:
        return "", "", f"is not a layer ({wrong})"


def layer_figures(path: Path) -> tuple[str, str]:
    """A hash of every row of a layer but its record, which names the inputs with their hashes, and what repeats it; and
    the bad data that its build counted."""
    base = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    try:
        (whole,) = base.execute("PRAGMA quick_check").fetchone()
        if whole != "ok":
            raise sqlite3.DatabaseError(whole)
        named = base.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        told = hashlib.sha256()
        for (name,) in named:
            if name.startswith(("gpkg_", "rtree_", "sqlite_")) or name in ("build_record", "layer_styles"):
                continue
            told.update(repr((name, base.execute(f'SELECT * FROM "{name}"').fetchall())).encode())
        defects = base.execute("SELECT value FROM build_record WHERE key = 'defects'").fetchall()
        return told.hexdigest(), repr(defects)
    finally:
        base.close()
