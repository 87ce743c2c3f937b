"""Disks that are full at the beginning, that fill up while a command runs, and that take no more files."""

import itertools
import os
import re
import shutil
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from .bench import AGAIN, COMMANDS, Answer, Bench, Case, ended, read
from .killed import stage

PART = "full"
# Free bytes of a disk; the last is enough for everything.
KIB = 1 << 10
FREE = [
    n * KIB for n in (0, 4, 8, 16, 32, 48, 64, 96, 128, 192, 256, 384, 512, 768, 1024, 1536, 2048, 2560, 4096, 32768)
]
# Files that a disk still takes.
FILES = (0, 1, 2, 4, 6, 10, 20, 40)
# Who writes to which; the others get the smallest disk alone, and have to do without.
WRITERS = {
    "out": ("build", "merge", "map", "plan"),
    "work": ("build", "shards", "shard"),
    "tmp": ("build", "shard"),
}
# What is written where; TMPDIR is that of all.
MOMENTS = (("build", "divide"), ("build", "rate"), ("build", "join"), ("shard", "rate"), ("merge", "merge"))
AT_ONCE = 2
PAGE = 4096
ROOMY = "size=256m,nr_inodes=100000"
HIDDEN = re.compile(r"/\.[^/\s]")


class Disk:
    """A file system of its own on a folder, in memory."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __enter__(self) -> "Disk":
        subprocess.run(
            ["mount", "-t", "tmpfs", "-o", ROOMY, "tmpfs", str(self.folder)], check=True, capture_output=True
        )
        return self

    def __exit__(self, *_: object) -> None:
        subprocess.run(["umount", "--lazy", str(self.folder)], check=True, capture_output=True)

    def again(self, options: str) -> None:
        subprocess.run(["mount", "-o", f"remount,{options}", str(self.folder)], check=True, capture_output=True)

    def leave(self, free_bytes: int) -> None:
        told = os.statvfs(self.folder)
        self.again(f"size={(told.f_blocks - told.f_bfree) * told.f_frsize + free_bytes}")

    def leave_files(self, free: int) -> None:
        told = os.statvfs(self.folder)
        self.again(f"nr_inodes={told.f_files - told.f_ffree + free}")

    def filler(self) -> None:
        # A disk of size 0 would be one of any size.
        (self.folder / "filler").write_bytes(b"x" * PAGE)

    def fill(self) -> None:
        told = os.statvfs(self.folder)
        with open(self.folder / "filler", "ab") as file:
            try:
                os.posix_fallocate(file.fileno(), PAGE, max(1, told.f_bfree * told.f_frsize))
            except OSError:
                # Others wrote meanwhile: what is left, page by page.
                for n in range(1, 1 << 16):
                    try:
                        os.posix_fallocate(file.fileno(), PAGE * n, PAGE)
                    except OSError:
                        return


def can_mount(home: Path) -> bool:
    probe = home / "probe"
    probe.mkdir(exist_ok=True)
    try:
        with Disk(probe):
            return True
    except (OSError, subprocess.CalledProcessError):
        return False


def prove(bench: Bench, few: bool) -> None:
    if not can_mount(bench.home):
        bench.report.skip(PART, "file systems in memory cannot be mounted here; needs root")
        return
    sizes = [0, 64 * KIB] if few else FREE
    files = [2] if few else FILES
    work = [
        (place, of, free, command)
        for place, writers in WRITERS.items()
        for of, all_free in (("bytes", sizes), ("files", files))
        for free, command in itertools.product(all_free, COMMANDS)
        if command in writers or free == all_free[0]
    ]
    with ThreadPoolExecutor(AT_ONCE) as pool:
        all(pool.map(lambda one: sized(bench, *one), work))
        if not few:
            all(pool.map(lambda one: filled(bench, *one), itertools.product(WRITERS, MOMENTS)))


def sized(bench: Bench, place: str, of: str, free: int, command: str) -> bool:
    """A command with a disk of some size, or for some number of files."""
    # Where the disk of the output is small, the work folder is the one beside it.
    case = Case(bench.home / f"full-{place}-{of}-{free}-{command}", given=command != "build" or place != "out")
    with Disk(case.disk(place)) as disk:
        disk.filler()
        bench.ready(command, case)
        disk.leave(free) if of == "bytes" else disk.leave_files(free)
        answer = bench.run(case, *bench.words(command, case))
        what = f"{command}, {free} {of} free for {place}"
        judge(bench, case, command, (case.folder(place), answer), what)
        if command not in WRITERS[place] or (of == "bytes" and free == FREE[-1]):
            bench.report.check(PART, "enough", answer.code == 0, f"{what}: {answer.short()}")
    shutil.rmtree(case.home)
    return True


def filled(bench: Bench, place: str, aim: tuple[str, str]) -> bool:
    """A disk that fills up while a command runs."""
    command, at = aim
    case = Case(bench.home / f"filled-{place}-{command}-{at}", given=command != "build" or place != "out")
    with Disk(case.disk(place)) as disk:
        disk.filler()
        bench.ready(command, case)
        running = bench.begin(case, *bench.words(command, case))
        while running.poll() is None and stage(case, command) != at:
            time.sleep(0.0005)
        disk.fill()
        answer = ended(running)
        judge(bench, case, command, (case.folder(place), answer), f"{command}, {place} filled up in {at}")
    shutil.rmtree(case.home)
    return True


def judge(bench: Bench, case: Case, command: str, seen: tuple[Path, Answer], what: str) -> None:
    """Done and right, or refused in words that help, with nothing lost and nothing left."""
    folder, answer = seen
    check = bench.report.check
    left = case.leftovers()
    check(PART, "left", not left, f"{what}: left {left}")
    if answer.code == 0:
        right = bench.what_it_wrote(command, case) == bench.written[command]
        check(PART, "bytes", right, f"{what}: other bytes than with room")
        return
    check(PART, "code", answer.code == AGAIN, f"{what}: {answer.short()}")
    check(PART, "message", is_told_well(answer, folder), f"{what}: {answer.short()}")
    if before := bench.before(command):
        check(PART, "kept", bench.what_it_wrote(command, case) == before, f"{what}: what was there before is lost")
    if command == "build" and read(case.layer):
        trouble = bench.is_whole(case.layer)
        check(PART, "whole", not trouble, f"{what}: {trouble}")


def is_told_well(answer: Answer, folder: Path) -> bool:
    """Whether an error says in which folder that people know, what is the matter and what to do."""
    lines = [line for line in answer.err.splitlines() if not line.startswith(("warning: ", "waymask: removed"))]
    fact = next((n for n, line in enumerate(lines) if line.startswith("waymask: ")), None)
    if fact is None or len(lines) < fact + 2:
        return False
    known = lines[fact].startswith((f"waymask: {folder}", f"waymask: temporary file in {folder}"))
    return known and not HIDDEN.search(answer.err) and "run again" in lines[fact + 1]
