"""What the checks share: the program, a folder of hostile files, and the table of what was found."""

import os
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from . import hamlet
from .names import file_name, in_xml, marks, one_line, went_in
from .readers import Broken, terminal

# The widest that a command may take on a busy machine, with a program that is not optimised.
WAIT_S = 300
Form = Callable[[str], list[str]]


def exact(text: str) -> list[str]:
    return [text]


def as_xml(text: str) -> list[str]:
    """What is made one line first has a space where others have U+FFFD."""
    return [in_xml(text), one_line(text)]


def as_line(text: str) -> list[str]:
    return [one_line(text)]


def mutilated(texts: list[str], form: Form) -> list[str]:
    """Marks whose name does not stand whole beside them."""
    wrong = []
    for text in texts:
        wrong += [mark for mark in marks(text) if not any(name in text for name in form(went_in(mark)))]
    return list(dict.fromkeys(wrong))


def missing(texts: list[str], letters: str) -> list[str]:
    """Marks of these kinds that no text holds; a number after a letter says how many there have to be."""
    there = {mark for text in texts for mark in marks(text)}
    wanted = {hamlet.PLAIN(letter, k) for letter in letters for k in range(hamlet.COUNT)}
    return sorted(wanted - there)


@dataclass
class Report:
    """What was looked at, and what is wrong with it."""

    looked_at: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    texts: int = 0

    def add(self, what: str, faults: list[str]) -> None:
        self.looked_at.append(what)
        self.wrong += [f"{what}: {fault}" for fault in faults]

    def read(self, what: str, data: bytes, reader: Callable[[bytes], list[str]], form: Form, letters: str) -> None:
        """Reads data back; every name in it is whole, and all names of these kinds are there."""
        try:
            texts = reader(data)
        except Broken as broken:
            self.add(what, [str(broken)])
            return
        self.texts += sum(1 for text in texts for _ in marks(text))
        faults = [f"{mark} is not whole: {context(texts, mark)}" for mark in mutilated(texts, form)]
        self.add(what, faults + [f"{mark} is missing" for mark in missing(texts, letters)])


def context(texts: list[str], mark: str) -> str:
    text = next(text for text in texts if mark in text)
    at = text.index(mark)
    return ascii(text[max(0, at - 60) : at + 60])


@dataclass
class Bench:
    """A folder in which hostile files lie, or the same with plain names, and the program."""

    home: Path
    waymask: Path
    report: Report
    hostile: bool = True

    @property
    def spell(self) -> hamlet.Spell:
        return hamlet.HOSTILE if self.hostile else hamlet.PLAIN

    def named(self, number: int, ending: str) -> Path:
        """A file whose name is hostile."""
        return self.home / (file_name(self.spell("F", number)) + ending)

    def lay(self) -> None:
        """Writes what goes in."""
        hamlet.write_map(self.extract, self.spell)
        self.track.write_bytes(hamlet.gpx(self.spell("G", 1)).encode())
        self.meetings.write_bytes(hamlet.calendar(self.spell).encode())
        self.trip.write_text(hamlet.trip(self.spell, 8), encoding="utf-8")
        self.driven.write_text(hamlet.trip(self.spell, 0), encoding="utf-8")
        self.orbits.write_text(hamlet.orbits(self.spell))
        # Few drives: nothing here depends on how exact the figures are.
        self.few.write_text("[link]\ndrives = 8\n")

    @property
    def extract(self) -> Path:
        return self.named(1, ".osm.pbf")

    @property
    def layer(self) -> Path:
        return self.named(3, ".gpkg")

    @property
    def track(self) -> Path:
        return self.named(9, ".gpx")

    @property
    def meetings(self) -> Path:
        return self.named(20, ".ics")

    @property
    def trip(self) -> Path:
        return self.named(22, ".toml")

    @property
    def driven(self) -> Path:
        return self.named(19, ".toml")

    @property
    def orbits(self) -> Path:
        return self.named(18, ".json")

    @property
    def few(self) -> Path:
        return self.named(8, ".toml")

    def call(self, *words: object) -> tuple[int, bytes, bytes]:
        """Runs the program; whatever it prints is safe for a terminal."""
        args = [word if isinstance(word, bytes) else str(word) for word in words]
        env = {**os.environ, "XDG_CONFIG_HOME": str(self.home), "NO_COLOR": "1"}
        done = subprocess.run(
            [str(self.waymask), *args], capture_output=True, timeout=WAIT_S, cwd=self.home, env=env, check=False
        )
        for where, said in (("stdout", done.stdout), ("stderr", done.stderr)):
            try:
                terminal(said)
            except Broken as broken:
                self.report.add(f"{words[0]}, {where}", [str(broken)])
        return done.returncode, done.stdout, done.stderr

    def run(self, *words: object) -> bytes:
        """Runs what has to succeed."""
        code, out, err = self.call(*words)
        faults = [f"exit {code}: {err.decode(errors='replace')[:300]}"] if code else []
        self.report.add(ascii(" ".join(str(word) for word in words))[:80], faults)
        return out

    def extract_names(self) -> dict[str, dict[int, tuple[str | None, ...]]]:
        """What the map says, by kind and object: as the tags say it."""
        town = hamlet.street(self.spell)
        out: dict[str, dict[int, tuple[str | None, ...]]] = {}
        for key, _, _, tags in town.nodes:
            if "amenity" in tags or "place" in tags:
                out.setdefault("stops" if "amenity" in tags else "places", {})[key] = (tags["name"],)
        for key, _, tags in town.ways:
            if tags.get("highway") == "tertiary":
                out.setdefault("roads", {})[key] = (tags["name"], tags["ref"])
            kind = "decks" if "bridge" in tags else {"water": "lakes"}.get(tags.get("natural", ""))
            kind = "rivers" if "waterway" in tags else kind
            if kind:
                out.setdefault(kind, {})[key] = (tags["name"],)
        return out
