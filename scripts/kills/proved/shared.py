"""Builds that meet in one folder, readers while a layer is replaced, an extract that is replaced while it is read."""

import json
import os
import random
import shutil
import sqlite3
import struct
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from .bench import AGAIN, Answer, Bench, Case, ended, read
from .killed import LOOK_EVERY_S, stage

PART = "shared"
# Another process namespace each, as containers are.
APART = ("unshare", "--pid", "--fork", "--mount-proc", "--kill-child")
MEETINGS = 1
READING_S = 6.0
PAUSE_S = 0.01
REPLACEMENTS = 40
# So long after dividing began the extract is replaced at most.
READING_EXTRACT_S = 0.02
# One word of the map for another of the same length.
WORDS = (b"tertiary", b"motorway")


def prove(bench: Bench, few: bool) -> None:
    apart = subprocess.run([*APART, "true"], capture_output=True, check=False).returncode == 0
    if not apart:
        bench.report.skip(PART, "process namespaces cannot be made here; needs root and unshare")
    for n in range(1 if few else MEETINGS):
        for before in ((), APART)[: 2 if apart and not few else 1]:
            two_builds(bench, f"meet-{n}-{len(before)}", before, one_output=True)
            two_builds(bench, f"meet-{n}-{len(before)}", before, one_output=False)
            two_shards(bench, f"shards-{n}-{len(before)}", before)
    readers(bench, 1.0 if few else READING_S)
    replaced(bench, 2 if few else REPLACEMENTS)


def together(bench: Bench, runs: list[tuple[Case, list[str]]], before: tuple[str, ...]) -> list[Answer]:
    running = [bench.begin(case, *words, before=before) for case, words in runs]
    answers: dict[int, Answer] = {}

    def wait(n: int) -> None:
        answers[n] = ended(running[n])

    waiting = [threading.Thread(target=wait, args=(n,)) for n in range(len(running))]
    for one in waiting:
        one.start()
    for one in waiting:
        one.join()
    return [answers[n] for n in range(len(running))]


def two_builds(bench: Bench, name: str, before: tuple[str, ...], one_output: bool) -> None:
    """One waits or is told to; in the end both are done."""
    what = f"two builds in one work folder, {'one output' if one_output else 'two outputs'}{', apart' * bool(before)}"
    case = Case(bench.home / f"{name}-{one_output}")
    outputs = [case.layer, case.layer if one_output else case.out / "second.gpkg"]
    runs = [
        (case, [str(output) if word == str(case.layer) else word for word in bench.words("build", case)])
        for output in outputs
    ]
    check = bench.report.check
    for answer in together(bench, runs, before):
        in_use = answer.code == AGAIN and "is in use by another build" in answer.err
        check(PART, "refused", answer.code == 0 or in_use, f"{what}: {answer.short()}")
    for (_, words), output in zip(runs, outputs, strict=True):
        answer = bench.run(case, *words)
        check(PART, "again", answer.code == 0, f"{what}: the next run ended with {answer.short()}")
        check(PART, "bytes", read(output) == bench.new, f"{what}: {output.name} is another layer")
    check(PART, "parts", "\n".join(case.parts()).encode() == bench.written["shard"], f"{what}: {case.parts()}")
    left = case.leftovers()
    check(PART, "left", not left, f"{what}: left {left}")
    shutil.rmtree(case.home)


def two_shards(bench: Bench, name: str, before: tuple[str, ...]) -> None:
    """Shards, also the same one twice, in one folder at once, each from the extract and planning for itself."""
    case = Case(bench.home / name)
    inputs = [bench.extract, "--elevation", bench.elevation, "--profile", bench.profile, "--work", case.work]
    shards = ["1/2", "2/2", "1/2"]
    runs = [(case, [str(word) for word in ["build", *inputs, "--shard", shard]]) for shard in shards]
    check = bench.report.check
    for answer in together(bench, runs, before):
        check(PART, "again", answer.code == 0, f"shards {shards} at once{', apart' * bool(before)}: {answer.short()}")
    answer = bench.run(case, *bench.words("merge", case))
    right = answer.code == 0 and read(case.layer) == bench.new
    check(PART, "bytes", right, f"merged from shards {shards} at once: {answer.short()}")
    left = case.leftovers()
    check(PART, "left", not left, f"shards {shards} at once: left {left}")
    shutil.rmtree(case.home)


def seen_by_python(layer: Path) -> str:
    """What another program reads of a layer, in one transaction."""
    base = sqlite3.connect(f"file:{layer}?mode=ro", uri=True)
    try:
        base.execute("BEGIN")
        rows = base.execute("SELECT count(*), total(outage_forward_s), total(length_m) FROM segments").fetchone()
        told = base.execute("SELECT * FROM lanes ORDER BY fid").fetchall()
        return f"{rows} {told}"
    except sqlite3.Error as error:
        return f"error: {error}"
    finally:
        base.close()


def darkest_line(layer: Path) -> list[tuple[float, float]]:
    """The places along the worst segment of a layer (OGC 12-128r18, clause 2.1.3, around a WKB line)."""
    base = sqlite3.connect(f"file:{layer}?mode=ro", uri=True)
    (blob,) = base.execute("SELECT geom FROM segments ORDER BY outage_forward_s DESC, length_m DESC LIMIT 1").fetchone()
    base.close()
    # Bits 1 to 3 of the flags say how many figures the box has.
    line = blob[8 + 8 * (0, 4, 6, 6, 8)[blob[3] >> 1 & 7] :]
    (count,) = struct.unpack_from("<I", line, 5)
    figures = struct.unpack_from(f"<{2 * count}d", line, 9)
    return list(zip(figures[::2], figures[1::2], strict=True))


def readers(bench: Bench, lasting_s: float) -> None:
    """A layer is replaced again and again; whoever reads it gets an answer to the old one or to the new one."""
    case = Case(bench.home / "readers")
    spare = [case.home / "old.gpkg", case.home / "new.gpkg"]
    for path, content in zip(spare, (bench.old, bench.new), strict=True):
        path.write_bytes(content)
    track = case.home / "track.geojson"
    track.write_text(json.dumps({"type": "LineString", "coordinates": darkest_line(spare[1])}))

    def asked(*words: object) -> Callable[[Path], str]:
        def ask(layer: Path) -> str:
            answer = bench.run(case, *[layer if word == "LAYER" else word for word in words])
            said = answer.out.replace(str(layer), "LAYER")
            return said if answer.code == 0 else f"error: {answer.short().replace(str(layer), 'LAYER')}"

        return ask

    doors = {
        "info": asked("info", "LAYER", "--json"),
        "corridor": asked("corridor", "LAYER", track, "--json"),
        "python": seen_by_python,
    }
    allowed = {name: {door(path) for path in spare} for name, door in doors.items()}
    # A merge of the parts of the new layer, and the old one put back in between.
    shutil.copytree(bench.rated, case.work, dirs_exist_ok=True)
    case.layer.write_bytes(bench.old)
    stopped, counted = threading.Event(), Counter[str]()

    def replace() -> None:
        while not stopped.is_set():
            answer = bench.run(case, *bench.words("merge", case))
            bench.report.check(PART, "writes", answer.code == 0, f"merge while others read: {answer.short()}")
            time.sleep(0.02)
            shutil.copy(spare[0], case.home / "next.gpkg")
            os.replace(case.home / "next.gpkg", case.layer)
            counted["replaced"] += 2

    def look(name: str) -> None:
        while not stopped.is_set():
            said = doors[name](case.layer)
            counted[name] += 1
            # Who reads without a pause leaves no time to those who write.
            time.sleep(PAUSE_S)
            bench.report.check(PART, "readers", said in allowed[name], f"{name} while it was replaced: {said[:300]}")

    threads = [threading.Thread(target=replace)]
    threads += [threading.Thread(target=look, args=(name,)) for name in doors]
    for thread in threads:
        thread.start()
    time.sleep(lasting_s)
    stopped.set()
    for thread in threads:
        thread.join()
    for name, both in allowed.items():
        bench.report.check(PART, "differ", len(both) == 2, f"{name} says the same of both layers: nothing is seen")
        failing = [said for said in both if said.startswith("error: ")]
        bench.report.check(PART, "differ", not failing, f"{name} fails on a layer at rest: {failing}")
    read_by = ", ".join(f"{counted[name]} times by {name}" for name in doors)
    bench.report.notes.append(f"a layer was replaced {counted['replaced']} times, and read {read_by}")
    shutil.rmtree(case.home)


def replaced(bench: Bench, times: int) -> None:
    """An extract is replaced by another of the same size and time while it is divided."""
    case = Case(bench.home / "replaced")
    maps = [case.home / "a.osm.pbf", case.home / "b.osm.pbf"]
    plain = ["osmium", "cat", "--output-format=pbf,pbf_compression=none", "-o", str(maps[0]), str(bench.extract)]
    subprocess.run(plain, check=True, capture_output=True)
    content = maps[0].read_bytes()
    maps[1].write_bytes(content.replace(*WORDS))
    path = case.home / "read.osm.pbf"
    inputs = ["--profile", bench.profile, "--shards", "1", "--work", case.work]

    def put(source: Path) -> None:
        new = case.home / "next.osm.pbf"
        new.write_bytes(source.read_bytes())
        os.utime(new, (1_700_000_000, 1_700_000_000))
        os.replace(new, path)

    def fresh() -> None:
        shutil.rmtree(case.work)
        case.make()

    plans = []
    for source in maps:
        put(source)
        fresh()
        bench.run(case, "shards", path, *inputs)
        plans.append(bench.what_it_wrote("shards", case))
    bench.report.check(PART, "differ", plans[0] != plans[1] and WORDS[0] in content, "both extracts give one plan")
    draws, ends = random.Random(bench.seed), Counter[str]()
    for _ in range(times):
        put(maps[0])
        fresh()
        running = bench.begin(case, "shards", path, *inputs)
        while running.poll() is None and stage(case, "shards") != "divide":
            time.sleep(LOOK_EVERY_S)
        time.sleep(draws.random() * READING_EXTRACT_S)
        put(maps[1])
        answer = ended(running)
        told = answer.code == AGAIN and "changed while it was read" in answer.err
        one_of_both = answer.code == 0 and bench.what_it_wrote("shards", case) in plans
        bench.report.check(PART, "mixture", told or one_of_both, f"an extract that was replaced: {answer.short()}")
        ends["refused" if told else "planned"] += 1
        left = case.leftovers()
        bench.report.check(PART, "left", not left, f"an extract that was replaced: left {left}")
    counts = ", ".join(f"{count} {how}" for how, count in sorted(ends.items()))
    bench.report.notes.append(f"an extract was replaced while it was read: {counts}")
    shutil.rmtree(case.home)
