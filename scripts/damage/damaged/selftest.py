"""Whether the table sees what it has to see: programs that do wrong in every way, and pages that differ."""

import random
import sqlite3
from dataclasses import dataclass, replace
from pathlib import Path

from . import kinds, page
from .bench import Bench, Limits, figures_of
from .judge import FAULT, NAMED, PLACED, SAID, SAME, SILENT, Law
from .kinds import Kind
from .table import Mutant, Stage

SOUND = b"sound\n"
FILE = "file.txt"
LIMITS = Limits(memory_bytes=200_000_000, processor_s=0.5, wall_s=60)
BARE = Law("", r"line \d+", False, LIMITS)
SUMMED = replace(BARE, checksum="a sum")
WHOLE = replace(BARE, cut_told=True)
SAYS = 'echo "waymask: file.txt: is damaged%s" >&2; exit 1'


@dataclass(frozen=True)
class Case:
    """A program that does something about a damaged file, and what is to be seen of it."""

    does: str
    verdict: str
    why: str = ""
    law: Law = BARE
    how: str = "garbled"
    command: str = "ask"


CASES = [
    Case("echo answer", SAME),
    Case(SAYS % " (line 3)", PLACED),
    Case(SAYS % "", NAMED),
    Case("echo note >&2; echo other", SAID),
    Case("echo other", SILENT),
    Case("echo other", SILENT, how="cut"),
    Case("echo other", FAULT, "cut short gave another answer", WHOLE, "cut"),
    Case("echo other", FAULT, "checksum gave another answer", SUMMED),
    Case("echo note >&2; echo other", FAULT, "checksum gave another answer", SUMMED),
    Case(SAYS % "", FAULT, "names no place", SUMMED),
    Case(SAYS % " (line 3)", PLACED, law=SUMMED),
    Case("echo waymask: something is damaged >&2; exit 1", FAULT, "does not name the file"),
    Case("echo \"thread 'main' panicked at src/x.rs:1\" >&2; exit 1", FAULT, "panicked"),
    Case("exit 101", FAULT, "panicked"),
    Case("exit 7", FAULT, "exit code 7"),
    Case("kill -ABRT $$", FAULT, "signal 6"),
    Case("sleep 60", FAULT, "did not end", replace(BARE, limits=replace(LIMITS, wall_s=2))),
    Case("python3 -c \"print(len(b'x' * 300_000_000))\"", FAULT, "MB of memory"),
    Case("exec python3 -c 'while True: pass'", FAULT, "of processor"),
    Case("printf half > out.gpkg; " + SAYS % " (line 3)", FAULT, "wrote an output", command="-o out.gpkg"),
    Case("printf half > out.gpkg; echo answer", FAULT, "broken output", command="-o out.gpkg"),
    Case("echo answer", FAULT, "broken output", command="-o out.gpkg"),
    Case("mkdir .out.gpkg.part-a1; " + SAYS % " (line 3)", FAULT, "left files behind"),
]
LAYER = (
    "import sqlite3; b = sqlite3.connect('out.gpkg'); b.execute('CREATE TABLE build_record (key, value)'); b.commit()"
)


def seen(bench: Bench, home: Path, case: Case) -> str:
    """What is wrong with the verdict; nothing where it is right."""
    home.mkdir()
    samples = home / "samples"
    samples.mkdir()
    (samples / FILE).write_bytes(SOUND)
    program = home / "program"
    # Sound files are answered as they should be.
    good = f'python3 -c "{LAYER}"; echo answer' if "-o" in case.command else "echo answer"
    program.write_text(f'#!/bin/sh\nif [ "$(cat {FILE})" = sound ]; then {good}\nelse {case.does}\nfi\n')
    program.chmod(0o755)
    changes = {"cut": lambda data, _: data[:2], "garbled": lambda data, _: b"x" + data[1:]}
    kind = Kind("stub", FILE, case.law, [[case.command.split()]], changes)
    stage = Stage(Bench(program, home, case.law.limits), samples)
    stage.of_sound(kind, 0)
    judged = stage.tried(Mutant(kind, case.how, 0), 0, home / "run").judged
    if judged.verdict != case.verdict or case.why not in judged.why:
        return f"`{case.does}` is taken for {judged.verdict} ({judged.why}), not for {case.verdict} ({case.why})"
    return ""


def mutants_wrong(samples: Path) -> list[str]:
    """Every way of damage changes every kind of file, in the same way each time."""
    found = []
    stage = Stage(Bench(samples, samples), samples)
    for kind in kinds.kinds():
        data = stage.sample(kind).read_bytes()
        for how in kind.mutations:
            one, again, other = (kind.mutant(data, how, f"{kind.name}/{how}/{k}") for k in (0, 0, 1))
            if one == data or one != again or (one == other and len(data) > 1000 and how in ("cut", "bits flipped")):
                found.append(f"{kind.name}, {how}: not damaged as it should be")
    return found


def layers_wrong(layer: Path) -> list[str]:
    """Whether a figure that changed, and a page that is damaged, show in what is compared."""
    figures = figures_of(layer)[0]
    copy = layer.with_name("changed.gpkg")
    copy.write_bytes(layer.read_bytes())
    base = sqlite3.connect(copy)
    for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        base.execute(f'DROP TRIGGER "{name}"')
    base.execute("UPDATE segments SET length_m = length_m + 0.001 WHERE segment_id = 1")
    base.commit()
    base.close()
    found = [] if figures_of(copy)[0] != figures else ["a layer with another length is taken for the same"]
    data = bytearray(layer.read_bytes())
    chance = random.Random("pages")
    data[4096 * 20 : 4096 * 22] = chance.randbytes(2 * 4096)
    copy.write_bytes(bytes(data))
    figures, _, broken = figures_of(copy)
    return found + ([] if broken else ["a layer with damaged pages is taken for one"])


def pages_wrong() -> list[str]:
    """Whether another word, a row too few and one too many on the page are seen."""
    text = page.PAGE.read_text(encoding="utf-8")
    row = next(line for line in text.splitlines() if line.startswith("| track, GPX"))
    spoiled = {
        "a row lost": text.replace(row + "\n", ""),
        "a row doubled": text.replace(row, f"{row}\n{row}"),
        "another checksum": text.replace(row, row.replace("none", "CRC-32")),
        "another promise": text.replace(row, row.replace("an error", "an answer")),
        "no table": text.replace("|", "/"),
    }
    found = [
        f"page: {what} is not seen" for what, other in spoiled.items() if not page.differences(kinds.kinds(), other)
    ]
    return found + page.differences(kinds.kinds())


def run(bench: Bench) -> int:
    wrong = [found for k, case in enumerate(CASES) if (found := seen(bench, bench.home / f"case-{k}", case))]
    samples = bench.home / "samples"
    samples.mkdir()
    kinds.make_samples(bench, samples)
    wrong += mutants_wrong(samples) + layers_wrong(samples / "layer.gpkg") + pages_wrong()
    for line in wrong:
        print(f"BLIND: {line}")
    print(f"{len(CASES)} programs that do right or wrong, {len(kinds.kinds())} kinds, the page: {len(wrong)} not seen")
    return 1 if wrong else 0
