"""Modules by themselves, without Ray."""

import errno
import hashlib
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from waymask_cluster import leash, scratch, store
from waymask_cluster.errors import Failed
from waymask_cluster.plan import Plan, Shard, choose_shards, find_program, read_plan
from waymask_cluster.progress import Pace, Progress

from .conftest import DISTRICTS, Setting, wait_for


def shard(number: int, km: float, cpu_s: float, districts: int = 1) -> Shard:
    names = tuple(f"n{number:04}e{i:05}" for i in range(districts))
    return Shard(number, names, names, km, cpu_s, 1, 1)


def part(district: str, data: bytes) -> str:
    return f"{district}-{'0' * 32}-{hashlib.sha256(data).hexdigest()[:32]}.gpkg"


def test_the_plan_is_what_the_program_tells(setting: Setting) -> None:
    plan = read_plan(str(setting.program), setting.work, 3)
    assert (plan.hash, plan.km, plan.districts, len(plan.shards)) == ("abc", 100.0, 4, 3)
    first = plan.shards[0]
    assert (first.number, first.districts, first.km) == (1, ("n4250e00150", "s2825e04675"), 50.0)
    assert first.missing == first.districts
    done = part("n4250e00150", b"x").replace("0" * 32, "0123456789abcdef" * 2)
    (setting.work / done).write_bytes(b"x")
    plan = read_plan(str(setting.program), setting.work, 3)
    assert plan.shards[0].missing == ("s2825e04675",)
    assert (plan.shards[0].missing_km, len(plan.todo)) == (25.0, 3)


def test_a_plan_that_cannot_be_used_is_told_in_the_words_of_the_program(setting: Setting) -> None:
    setting.plan(version=7)
    with pytest.raises(Failed, match=r"is of version 7, this program reads 1; plan again") as failed:
        read_plan(str(setting.program), setting.work, 1)
    assert failed.value.code == 1


def test_a_program_that_tells_something_else_or_is_not_there_is_named(setting: Setting) -> None:
    setting.program.write_text("#!/bin/sh\necho '{\"shards\": [{}]}'\n")
    with pytest.raises(Failed, match="not understood"):
        read_plan(str(setting.program), setting.work, 1)
    with pytest.raises(Failed, match=r"/nowhere/waymask: program not found on this machine"):
        find_program("/nowhere/waymask")


def test_shards_are_ten_minutes_or_one_for_each_processor_and_no_more_than_districts() -> None:
    def plan(cpu_s: float) -> Plan:
        return Plan("", 0, (shard(1, 1, cpu_s, districts=50),))

    assert [choose_shards(plan(s), 4, False) for s in (60, 6000, 6001, 600_000)] == [4, 10, 11, 50]
    assert choose_shards(plan(60), 200, False) == 50
    assert choose_shards(plan(60), 4, True) == 50
    assert choose_shards(Plan("", 0, ()), 0, False) == 1


def test_a_part_is_kept_whole_or_refused(tmp_path: Path) -> None:
    name = part("n4250e00150", b"data")
    store.keep_part(tmp_path, name, b"data", ["n4250e00150"])
    assert (tmp_path / name).read_bytes() == b"data"
    for bad, data, expected in [
        (name, b"date", ["n4250e00150"]),
        (name, b"data", ["n4250e00175"]),
        ("../" + name, b"data", ["n4250e00150"]),
        ("plan.json", b"data", ["n4250e00150"]),
    ]:
        with pytest.raises(store.DamagedPart):
            store.keep_part(tmp_path, bad, data, expected)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_disk_that_is_full_leaves_no_half_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Failed, match="No space left on device") as failed:
        store.keep_part(tmp_path, part("n4250e00150", b"data"), b"data", ["n4250e00150"])
    assert (failed.value.code, list(tmp_path.iterdir())) == (3, [])


def test_what_a_killed_driver_left_half_written_goes(tmp_path: Path) -> None:
    (tmp_path / f"n4250e00150{store.NEW}").touch()
    (tmp_path / "n4250e00150.new.gpkg").touch()
    store.remove_unfinished(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["n4250e00150.new.gpkg"]


def test_scratch_folders_go_and_those_of_the_dead_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with scratch.folder() as mine:
        dead = tmp_path / (scratch.PREFIX + "dead")
        (dead / "work").mkdir(parents=True)
        other = tmp_path / "other"
        other.mkdir()
        # Another process: the lock of this one keeps it from the folder in use.
        sweep = f"import tempfile; tempfile.tempdir = {str(tmp_path)!r}; from waymask_cluster import scratch; "
        subprocess.run([sys.executable, "-c", sweep + "scratch.sweep()"], check=True)
        assert (mine.exists(), dead.exists(), other.exists()) == (True, False, True)
    assert list(tmp_path.iterdir()) == [other]


def test_a_child_tells_its_code_and_last_words(tmp_path: Path) -> None:
    said = tmp_path / "said"
    script = "for i in $(seq 20); do echo line $i >&2; done; exit 3"
    assert leash.run(["/bin/sh", "-c", script], said) == 3
    assert leash.tail(said).splitlines() == [f"line {i}" for i in range(15, 21)]
    assert leash.run(["/bin/sh", "-c", "kill -9 $$"], said) == -9
    assert leash.run(["/nowhere"], said) == 1
    assert leash.tail(said) == "/nowhere: cannot be started: No such file or directory"


def test_a_child_ends_with_the_process_that_started_it(tmp_path: Path) -> None:
    pid = tmp_path / "pid"
    run = f"leash.run(['/bin/sh', '-c', 'echo $$ >{pid}; exec sleep 60'], Path('{tmp_path}/said'))"
    parent = subprocess.Popen(
        [sys.executable, "-c", f"from pathlib import Path; from waymask_cluster import leash; {run}"]
    )
    wait_for(lambda: pid.exists() and pid.read_text().strip(), 10)
    child = Path(f"/proc/{pid.read_text().strip()}")
    assert child.exists()
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    wait_for(lambda: not child.exists() or "Z" in (child / "stat").read_text().split()[2], 3)


def test_a_child_whose_parent_died_before_it_was_tied_does_not_start(tmp_path: Path) -> None:
    ran = tmp_path / "ran"
    done = subprocess.run(
        [sys.executable, "-c", leash.LEASH, str(os.getppid()), "/usr/bin/touch", str(ran)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, ran.exists()) == (1, False)
    assert "has ended" in done.stderr


def test_time_left_is_forecast_first_and_measured_then() -> None:
    pace = Pace(forecast_s_per_km=2)
    assert pace.left_s(100, 4) == 50
    pace.add(30, 10)
    assert pace.left_s(100, 4) == 75


def test_lines_elsewhere_than_on_a_terminal_are_plain_and_few(capsys: pytest.CaptureFixture[str]) -> None:
    progress = Progress(4, sum(DISTRICTS.values()), Pace(1))
    progress.tick(2, 2)
    progress.add(40, 4)
    progress.tick(2, 2)
    progress.tick(0, 0, now=True)
    Progress(4, 1, Pace(1), quiet=True).tick(1, 1)
    assert capsys.readouterr().err.splitlines() == [
        "0 of 4 shards, 0 of 100 km, 50 s left, 2 running",
        "1 of 4 shards, 40 of 100 km, no machine is there",
    ]
