"""Folders that may not be written, files that may not be read, disks that are read-only, folders of other users."""

import os
import shutil
from pathlib import Path

from .bench import COMMANDS, FAILED, Answer, Bench, Case
from .full import HIDDEN, Disk, can_mount

PART = "rights"
# Whoever has no rights: by custom `nobody`.
NOBODY = 65534
AS_NOBODY = ("setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups", "--")
# Which folders a command writes to.
WRITES = {"build": ("out", "work"), "shards": ("work",), "shard": ("work",), "merge": ("out",)}
WRITES |= {"map": ("out",), "plan": ("out",)}


def prove(bench: Bench, few: bool) -> None:
    if os.geteuid() != 0 or not shutil.which("setpriv"):
        bench.report.skip(PART, "needs root and setpriv to run as nobody")
    else:
        as_nobody(bench)
    if not can_mount(bench.home):
        bench.report.skip(PART, "file systems in memory cannot be mounted here; needs root")
    else:
        read_only(bench)


def as_nobody(bench: Bench) -> None:
    bench.home.chmod(0o755)
    for command in COMMANDS:
        for place in WRITES[command]:
            case = given_to_nobody(bench, command, f"closed-{place}-{command}")
            closed = case.folder(place)
            os.chown(closed, 0, 0)
            closed.chmod(0o555)
            answer = bench.run(case, *bench.words(command, case), before=AS_NOBODY)
            judge(bench, case, command, (closed, answer), f"{command} without the right to write to {place}")
            done(case)
    work_of_another(bench)
    for command, path in (
        ("build", bench.extract),
        ("build", bench.elevation),
        ("shards", bench.profile),
        ("map", bench.island),
        ("plan", bench.island),
    ):
        case = given_to_nobody(bench, command, f"unread-{command}-{path.name}")
        # The samples are not ours to change.
        secret = case.home / path.name
        shutil.copy(path, secret)
        secret.chmod(0o600)
        words = [str(secret) if word == str(path) else word for word in bench.words(command, case)]
        answer = bench.run(case, *words, before=AS_NOBODY)
        judge(bench, case, command, (secret, answer), f"{command} without the right to read {path.name}")
        done(case)
    for name in ("plan.json", bench_part(bench)):
        case = given_to_nobody(bench, "merge", f"unread-{name[:8]}")
        secret = case.work / name
        os.chown(secret, 0, 0)
        secret.chmod(0o600)
        answer = bench.run(case, *bench.words("merge", case), before=AS_NOBODY)
        judge(bench, case, "merge", (case.work, answer), f"merge without the right to read {name}")
        done(case)


def bench_part(bench: Bench) -> str:
    return next(path.name for path in sorted(bench.rated.iterdir()) if path.name.endswith(".gpkg"))


def work_of_another(bench: Bench) -> None:
    """Whoever may only read the parts of another user can merge them, and rate none."""
    case = given_to_nobody(bench, "merge", "another")
    for path in [case.work, *case.work.rglob("*")]:
        os.chown(path, 0, 0)
        path.chmod(0o755 if path.is_dir() else 0o644)
    before = sorted((path.name, path.stat().st_mtime_ns) for path in case.work.iterdir())
    answer = bench.run(case, *bench.words("merge", case), before=AS_NOBODY)
    bench.report.check(PART, "bytes", answer.code == 0 and case.layer.read_bytes() == bench.new, answer.short())
    for command in ("shard", "build"):
        answer = bench.run(case, *bench.words(command, case), before=AS_NOBODY)
        refused(bench, (case.work, answer), f"{command} in the work folder of another user")
    after = sorted((path.name, path.stat().st_mtime_ns) for path in case.work.iterdir())
    bench.report.check(PART, "kept", before == after, f"the work folder of another user was changed: {after}")
    left = case.leftovers()
    bench.report.check(PART, "left", not left, f"the work folder of another user: left {left}")
    done(case)


def read_only(bench: Bench) -> None:
    for command in COMMANDS:
        for place in WRITES[command]:
            case = Case(bench.home / f"read-only-{place}-{command}")
            with Disk(case.disk(place)) as disk:
                bench.ready(command, case)
                disk.again("ro")
                answer = bench.run(case, *bench.words(command, case))
                what = f"{command} with a read-only disk for {place}"
                judge(bench, case, command, (case.folder(place), answer), what)
                bench.report.check(PART, "told", "read-only" in answer.err, f"{what}: {answer.short()}")
            shutil.rmtree(case.home)


def given_to_nobody(bench: Bench, command: str, name: str) -> Case:
    case = Case(bench.home / name)
    bench.ready(command, case)
    for path in [case.home, *case.home.rglob("*")]:
        os.chown(path, NOBODY, NOBODY)
        path.chmod(0o755 if path.is_dir() else 0o644)
    return case


def judge(bench: Bench, case: Case, command: str, seen: tuple[Path, Answer], what: str) -> None:
    refused(bench, seen, what)
    if before := bench.before(command):
        kept = bench.what_it_wrote(command, case) == before
        bench.report.check(PART, "kept", kept, f"{what}: what was there before is lost")
    left = case.leftovers()
    bench.report.check(PART, "left", not left, f"{what}: left {left}")


def refused(bench: Bench, seen: tuple[Path, Answer], what: str) -> None:
    path, answer = seen
    bench.report.check(PART, "code", answer.code == FAILED, f"{what}: {answer.short()}")
    lines = answer.err.splitlines()
    fact = next((n for n, line in enumerate(lines) if line.startswith("waymask: ")), None)
    told = fact is not None and str(path) in lines[fact] and len(lines) > fact + 1
    told = told and not HIDDEN.search(answer.err)
    bench.report.check(PART, "message", told, f"{what}: {answer.short()}")


def done(case: Case) -> None:
    shutil.rmtree(case.home)
