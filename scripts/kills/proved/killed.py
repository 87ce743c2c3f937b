"""Kills and interrupts at moments that are drawn, and what they leave."""

import os
import random
import shutil
import signal
import subprocess
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from .bench import COMMANDS, DISTRICTS, Answer, Bench, Case, Wrong, ended, read

PART = "killed"
# The command, what it should be at, and how often. 50 in all.
TARGETS = (
    ("build", "divide", 7),
    ("build", "rate", 12),
    ("build", "join", 8),
    ("shards", "divide", 5),
    ("estimate", "divide", 2),
    ("shard", "rate", 6),
    ("merge", "merge", 10),
)
# Ended by these they leave nothing at once.
ASKED = (
    (signal.SIGTERM, "build", "divide"),
    (signal.SIGTERM, "build", "rate"),
    (signal.SIGTERM, "build", "join"),
    (signal.SIGINT, "build", "rate"),
    (signal.SIGINT, "shard", "rate"),
    (signal.SIGTERM, "shards", "divide"),
    (signal.SIGINT, "merge", "merge"),
    (signal.SIGTERM, "estimate", "divide"),
)
STAGES = ("divide", "rate", "join", "merge")
LOOK_EVERY_S = 0.0003
AT_ONCE = 2
TRIES = 3


def stage(case: Case, command: str) -> str:
    """Where a command is, or was when it ended, by what lies on the disk."""
    if command == "merge":
        return "merge" if hidden(case.out) else "begin"
    if command == "estimate":
        return "divide" if hidden(case.tmp) else "begin"
    names = os.listdir(case.at_work) if case.at_work.is_dir() else []
    parts = len(case.parts())
    if command == "build" and parts == DISTRICTS:
        return "join"
    if parts or any(".new.gpkg" in name for name in names):
        return "rate"
    return "divide" if any(name.startswith(".dividing") for name in names) else "begin"


def hidden(folder: Path) -> bool:
    return any(name.startswith(".") for name in os.listdir(folder))


class Moments:
    """How long each stage takes when nothing disturbs it."""

    def __init__(self, bench: Bench) -> None:
        self.lasts_s: dict[tuple[str, str], float] = {}
        for command, _, _ in TARGETS:
            if any(command == known for known, _ in self.lasts_s):
                continue
            case = Case(bench.home / f"timed-{command}")
            bench.ready(command, case)
            running = bench.begin(case, *bench.words(command, case))
            reader = threading.Thread(target=running.communicate)
            reader.start()
            seen: Counter[str] = Counter()
            while running.poll() is None:
                then = time.monotonic_ns()
                at = stage(case, command)
                time.sleep(LOOK_EVERY_S)
                seen[at] += time.monotonic_ns() - then
            reader.join()
            for at, lasted_ns in seen.items():
                self.lasts_s[command, at] = lasted_ns * 1e-9
            shutil.rmtree(case.home)

    def wait(self, running: "subprocess.Popen[str]", case: Case, aim: tuple[str, str], share: float) -> None:
        """Waits until a command is some way into a stage, or has ended."""
        command, wanted = aim
        while running.poll() is None and stage(case, command) != wanted:
            time.sleep(LOOK_EVERY_S)
        time.sleep(share * self.lasts_s.get(aim, 0.01))


def prove(bench: Bench, few: bool) -> None:
    moments = Moments(bench)
    draws = random.Random(bench.seed)
    wanted = [(command, at) for command, at, times in TARGETS for _ in range(1 if few else times)]
    shares = [[draws.random() for _ in range(TRIES)] for _ in wanted]
    fell: Counter[str] = Counter()
    with ThreadPoolExecutor(AT_ONCE) as pool:
        work = [
            pool.submit(one_kill, bench, moments, n, *both) for n, both in enumerate(zip(wanted, shares, strict=True))
        ]
        for done in work:
            fell[done.result()] += 1
        asked = [pool.submit(one_signal, bench, moments, n, draws.random(), *aim) for n, aim in enumerate(ASKED)]
        for ending in asked:
            ending.result()
    told = ", ".join(f"{fell[at]} {at}" for at in sorted(fell))
    bench.report.notes.append(f"{sum(fell.values())} kills fell in: {told}")
    if not few:
        for at in STAGES:
            bench.report.check(PART, "spread", fell[at] > 0, f"no kill fell in {at}: {told}")


def one_kill(bench: Bench, moments: Moments, n: int, aim: tuple[str, str], shares: list[float]) -> str:
    """Kills a command, looks, and does it again; where the kill fell."""
    command, _ = aim
    for share in shares:
        case = Case(bench.home / f"kill-{n}", given=command != "build" or n % 2 == 0)
        bench.ready(command, case)
        running = bench.begin(case, *bench.words(command, case))
        moments.wait(running, case, aim, share)
        running.kill()
        killed = ended(running)
        if killed.code != -signal.SIGKILL:
            # It was done before.
            shutil.rmtree(case.home)
            continue
        at = "end" if command in ("build", "merge") and read(case.layer) == bench.new else stage(case, command)
        after(bench, case, (command, at), f"{command} killed in {at} (number {n})")
        shutil.rmtree(case.home)
        return at
    return "never"


def after(bench: Bench, case: Case, was: tuple[str, str], what: str) -> None:
    command, _ = was
    check = bench.report.check
    if command in ("build", "merge"):
        trouble = bench.is_whole(case.layer)
        check(PART, "whole", not trouble, f"{what}: {trouble}")
        opened = bench.run(case, "info", case.layer)
        check(PART, "opens", opened.code == 0, f"{what}: {opened.short()}")
    left = [path for path in case.leftovers() if path.is_dir() and path.name.startswith(".")]
    again = bench.run(case, *bench.words(command, case))
    check(PART, "again", again.code == 0, f"{what}: the next run ended with {again.short()}")
    for path in left:
        check(PART, "named", str(path) in again.err, f"{what}: the next run does not name {path}: {again.err[-300:]}")
    still = case.leftovers()
    check(PART, "left", not still, f"{what}: the next run left {still}")
    if command == "estimate":
        return
    for later in COMMANDS[COMMANDS.index(command) + 1 :] if command in ("shards", "shard") else ():
        if later in ("shard", "merge"):
            bench.run(case, *bench.words(later, case))
    check(
        PART, "bytes", read(case.layer) == bench.new, f"{what}: the layer is not that of a build that ran undisturbed"
    )
    if case.given and command == "build":
        expected = sorted(case.parts()) == sorted(path.name for path in bench.rated.iterdir() if is_part(path.name))
        check(PART, "bytes", expected, f"{what}: parts are {case.parts()}")


def is_part(name: str) -> bool:
    return name.endswith(".gpkg")


def one_signal(
    bench: Bench, moments: Moments, n: int, share: float, number: signal.Signals, command: str, at: str
) -> None:
    """Asks a command to end."""
    case = Case(bench.home / f"signal-{n}", given=command != "build" or n % 2 == 0)
    bench.ready(command, case)
    running = bench.begin(case, *bench.words(command, case))
    moments.wait(running, case, (command, at), share * 0.5)
    running.send_signal(number)
    answer: Answer = ended(running)
    what = f"{command} ended by {number.name} in {at}"
    check = bench.report.check
    # It may have been done before.
    check(PART, "code", answer.code in (0, 128 + number), f"{what}: {answer.short()}")
    if answer.code:
        check(PART, "told", f"stopped by {number.name}" in answer.err, f"{what}: {answer.short()}")
    left = case.leftovers()
    check(PART, "left", not left, f"{what}: left {left}")
    if command in ("build", "merge"):
        trouble = bench.is_whole(case.layer)
        check(PART, "whole", not trouble, f"{what}: {trouble}")
    shutil.rmtree(case.home)


__all__ = ["Wrong", "prove"]
