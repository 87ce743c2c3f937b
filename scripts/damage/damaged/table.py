"""Runs every mutant of every kind, and makes the table."""

import shutil
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from .bench import Answer, Bench, Wrong, clear, figures_of, notes_of
from .judge import FAULT, SILENT, VERDICTS, Judged, judged
from .kinds import Doing, Kind

HEAD = ["file", "mutants", *VERDICTS]
# What commands write; all of them write here.
OUTPUTS = "out."


@dataclass(frozen=True)
class Mutant:
    """One damaged file: how, and by which seed."""

    kind: Kind
    how: str
    number: int

    @property
    def seed(self) -> str:
        return f"{self.kind.name}/{self.how}/{self.number}"


@dataclass(frozen=True)
class Outcome:
    mutant: Mutant
    doing: Doing
    answer: Answer
    judged: Judged


@dataclass
class Row:
    """What came of the mutants of a kind."""

    kind: Kind
    outcomes: list[Outcome] = field(default_factory=list)

    def count(self, verdict: str) -> int:
        return sum(outcome.judged.verdict == verdict for outcome in self.outcomes)

    def cells(self) -> list[str]:
        return [self.kind.name, str(len(self.outcomes)), *(str(self.count(verdict)) for verdict in VERDICTS)]


class Stage:
    """Sound samples, and folders in which commands meet one damaged file."""

    def __init__(self, bench: Bench, samples: Path) -> None:
        self.bench, self.samples = bench, samples
        self.sound: dict[tuple[str, int], Answer] = {}

    def sample(self, kind: Kind) -> Path:
        found = sorted(self.samples.glob(kind.sample or kind.file))
        if len(found) != 1:
            raise Wrong(f"{len(found)} samples of {kind.name}")
        return found[0]

    def laid(self, kind: Kind, folder: Path) -> Path:
        """Lays out a folder; gives the path at which the file of this kind lies in it."""
        clear(folder)
        folder.mkdir(parents=True)
        for need in kind.needs:
            name, _, other = need.partition(":")
            source, to = self.samples / name, folder / (other or name)
            if source.is_dir():
                shutil.copytree(source, to)
            else:
                # Not linked: a fault might write to it.
                shutil.copyfile(source, to)
        sample = self.sample(kind)
        file = folder / kind.file
        if "*" in kind.file:
            file = file.with_name(sample.name)
        file.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(sample, file)
        return file

    def answer(self, folder: Path, doing: Doing) -> Answer:
        """Runs commands in a folder; the first that fails answers, else the last."""
        before = entries(folder)
        for command in doing:
            ran = self.bench.run(folder, command)
            if ran.code != 0 or not ran.ended:
                break
        written = [path for path in folder.iterdir() if path.name.startswith(OUTPUTS) and path.is_file()]
        left = tuple(sorted(name for name in entries(folder) - before if name not in {path.name for path in written}))
        expected = any(word.startswith(OUTPUTS) for word in command)
        told = [figures_of(path) for path in sorted(written)]
        broken = "; ".join(wrong for _, _, wrong in told if wrong)
        if ran.code == 0 and expected and not written:
            broken = "is not there"
        figures = [*(figures for figures, _, _ in told), ran.said]
        words = [*(notes for _, notes, _ in told), notes_of(ran.said), ran.error]
        return Answer(ran, "\n".join(figures), "\n".join(words), bool(written), left, broken)

    def of_sound(self, kind: Kind, which: int) -> Answer:
        """The answer to the sound file, asked once."""
        key = (kind.name, which)
        if key not in self.sound:
            folder = self.bench.home / f"sound-{len(self.sound)}"
            self.laid(kind, folder)
            self.sound[key] = self.answer(folder, kind.doings[which])
            clear(folder)
            if self.sound[key].ran.code != 0:
                raise Wrong(f"{kind.name}: the sound file fails: {self.sound[key].ran.error}")
        return self.sound[key]

    def tried(self, mutant_of: Mutant, which: int, folder: Path) -> Outcome:
        """Damages a file and does with it what is done with files of its kind."""
        kind = mutant_of.kind
        file = self.laid(kind, folder)
        file.write_bytes(kind.mutant(file.read_bytes(), mutant_of.how, mutant_of.seed))
        answer = self.answer(folder, kind.doings[which])
        clear(folder)
        verdict = judged(kind.law, file.name, mutant_of.how == "cut", self.sound[(kind.name, which)], answer)
        return Outcome(mutant_of, kind.doings[which], answer, verdict)


def entries(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def mutants(kind: Kind, more: int) -> list[Mutant]:
    return [Mutant(kind, how, number) for number in range(kind.each * more) for how in kind.mutations]


def run(stage: Stage, kinds: Iterable[Kind], workers: int, more: int = 1) -> list[Row]:
    rows = [Row(kind) for kind in kinds]
    for row in rows:
        for which in range(len(row.kind.doings)):
            stage.of_sound(row.kind, which)
    with ThreadPoolExecutor(workers) as pool:
        waiting: list[tuple[Row, Future[Outcome]]] = []
        for row in rows:
            for position, one in enumerate(mutants(row.kind, more)):
                folder = stage.bench.home / f"mutant-{len(waiting)}"
                waiting.append((row, pool.submit(stage.tried, one, position % len(row.kind.doings), folder)))
        for row, outcome in waiting:
            row.outcomes.append(outcome.result())
    return rows


def table(rows: Sequence[Row]) -> str:
    sums = ["all", *(str(sum(int(row.cells()[k]) for row in rows)) for k in range(1, len(HEAD)))]
    lines = [HEAD, *(row.cells() for row in rows), sums]
    widths = [max(len(line[k]) for line in lines) for k in range(len(HEAD))]
    return "\n".join(
        "  ".join(
            cell.ljust(width) if k == 0 else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        for line in lines
    )


def faults(rows: Sequence[Row]) -> list[str]:
    return [told(outcome) for row in rows for outcome in row.outcomes if outcome.judged.verdict == FAULT]


def unnoticed(rows: Sequence[Row]) -> list[str]:
    """What was answered otherwise without a word, by kind and by way of damage."""
    out = []
    for row in rows:
        hows = Counter(one.mutant.how for one in row.outcomes if one.judged.verdict == SILENT)
        if hows:
            out.append(f"{row.kind.name}: " + ", ".join(f"{how} {count}" for how, count in hows.items()))
    return out


def told(outcome: Outcome) -> str:
    commands = "; ".join("waymask " + " ".join(command) for command in outcome.doing)
    error = outcome.answer.ran.error.strip().replace("\n", " | ")[:300]
    return f"{outcome.mutant.seed}: {outcome.judged.why} ({commands}): {error}"
