"""The command, with Ray on this machine and a program that stands in for the real one."""

import fcntl
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from .conftest import LAYER, Setting, wait_for

CARRIED = pytest.mark.parametrize("carried", [(), ("--no-shared-disk",)], ids=["shared", "carried"])


def ends(setting: Setting) -> list[str]:
    return sorted(line[0] for line in setting.log("end"))


@CARRIED
def test_a_build_from_plan_to_layer_and_nothing_is_left(setting: Setting, carried: tuple[str, ...]) -> None:
    code, told = setting.run("--shards", 4, *carried)
    assert (code, setting.layer.read_text()) == (0, LAYER), told
    assert "4 of 4 shards, 100 of 100 km" in told
    assert ends(setting) == ["1/4", "2/4", "3/4", "4/4"]
    assert (setting.left(), setting.alive()) == ([], [])
    # Nothing is missing now, so nothing is rated, and Ray is not even started.
    setting.layer.unlink()
    code, told = setting.run("--quiet", *carried)
    assert (code, told, setting.layer.read_text(), len(ends(setting))) == (0, "", LAYER, 4)
    # A token of Ray that outlives the run would lie here.
    assert not (setting.home / ".ray").exists()


@CARRIED
def test_only_what_is_missing_is_rated(setting: Setting, carried: tuple[str, ...]) -> None:
    assert setting.run("--no-merge", "--shards", 4, output=False)[0] == 0
    next(setting.work.glob("n4275*.gpkg")).unlink()
    code, told = setting.run("--shards", 4, *carried)
    assert (code, setting.layer.read_text()) == (0, LAYER), told
    assert ends(setting) == ["1/4", "2/4", "3/4", "3/4", "4/4"]


def test_what_may_succeed_is_tried_again(setting: Setting) -> None:
    setting.wrong(codes={"1/2": [3, 3, 0]})
    code, told = setting.run("--shards", 2)
    assert (code, setting.layer.read_text()) == (0, LAYER), told
    assert sorted(line[0] for line in setting.log("start")) == ["1/2", "1/2", "1/2", "2/2"]
    assert "trouble 3 in 1/2; try 3 of 4" in told


@pytest.mark.parametrize("failure", [1, 2])
def test_what_fails_for_good_ends_all_and_names_shard_and_machine(setting: Setting, failure: int) -> None:
    setting.wrong(codes={"1/4": [failure]}, sleep_s=30)
    code, told = setting.run("--shards", 4)
    assert code == failure
    assert "shard 1 of 4 failed on " in told and "(node " in told and f"trouble {failure} in 1/4" in told
    assert len(setting.log("start")) <= 2
    assert (setting.alive(), setting.left(), setting.layer.exists()) == ([], setting.left(), False)


def test_a_program_that_is_not_on_a_machine_is_named_with_it(setting: Setting) -> None:
    # Found by the driver through PATH, and not by the workers, whose PATH is another.
    other = setting.home / "bin"
    other.mkdir()
    (other / "waymask-only-here").symlink_to(setting.program)
    script = (
        "import os, sys, ray; from waymask_cluster import cli, engine; start = engine.ray.init\n"
        "def init(**options):\n"
        "    path, os.environ['PATH'] = os.environ['PATH'], '/usr/bin:/bin'\n"
        "    start(**options); os.environ['PATH'] = path\n"
        "engine.ray.init = init; sys.exit(cli.main(sys.argv[1:]))"
    )
    arguments = [str(setting.work), "-o", str(setting.layer), "--program", "waymask-only-here"]
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments],
        env=os.environ | {"PATH": f"{other}:{os.environ['PATH']}", "HOME": str(setting.home)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "(node " in done.stderr and "waymask-only-here: program not found" in done.stderr


def test_a_damaged_part_from_a_machine_is_refused(setting: Setting) -> None:
    setting.wrong(damaged={"n4275e00150": 1})
    code, told = setting.run("--no-shared-disk")
    assert (code, setting.layer.read_text()) == (0, LAYER), told
    assert "sent a damaged part: n4275e00150-" in told
    assert len(setting.parts()) == 4


@CARRIED
def test_a_worker_that_is_killed_takes_its_child_along(setting: Setting, carried: tuple[str, ...]) -> None:
    setting.wrong(sleep_s=3)
    child = setting.start("--shards", 4, *carried)
    wait_for(lambda: setting.log("start"))
    _, pid, worker, _ = setting.log("start")[0]
    os.kill(int(worker), signal.SIGKILL)
    wait_for(lambda: int(pid) not in setting.alive(), 3)
    _, told = child.communicate(timeout=120)
    assert (child.returncode, setting.layer.read_text()) == (0, LAYER), told
    assert "WorkerCrashedError" in told
    assert (len(setting.log("start")), len(setting.log("end")), setting.alive(), setting.left()) == (5, 4, [], [])


@CARRIED
def test_a_driver_that_is_killed_goes_on_where_it_was(setting: Setting, carried: tuple[str, ...]) -> None:
    setting.wrong(sleep_s=6)
    child = setting.start("--shards", 4, *carried)
    wait_for(lambda: len(setting.log("start")) > 2 and setting.parts())
    child.kill()
    child.wait()
    wait_for(lambda: not setting.alive(), 5)
    done = setting.parts()
    assert 0 < len(done) < 4
    setting.wrong()
    before = len(setting.log("start"))
    code, told = setting.run("--shards", 4, *carried)
    assert (code, setting.layer.read_text()) == (0, LAYER), told
    assert len(setting.log("start")) - before == 4 - len(done)
    assert setting.left() == []


@CARRIED
@pytest.mark.parametrize("group", [True, False], ids=["terminal", "driver alone"])
def test_an_interrupt_ends_children_and_keeps_parts(setting: Setting, carried: tuple[str, ...], group: bool) -> None:
    setting.wrong(sleep_s=2)
    child = setting.start("--shards", 4, *carried)
    wait_for(lambda: len(setting.log("start")) > 2 and setting.parts())
    # Ctrl-C on a terminal reaches every process of the foreground.
    (os.killpg if group else os.kill)(child.pid, signal.SIGINT)
    _, told = child.communicate(timeout=30)
    assert child.returncode == 3
    assert told.endswith("waymask-cluster: stopped; finished parts stay, and the same command goes on\n")
    assert "Traceback" not in told
    assert (setting.alive(), setting.layer.exists(), len(setting.parts()) > 0) == ([], False, True)
    assert [path for path in setting.left() if "waymask-cluster-" in path] == []


def test_a_work_folder_that_the_machines_do_not_share_is_told(setting: Setting) -> None:
    # The program of this test rates without leaving a part, as if it had written to another disk.
    text = setting.program.read_text().replace("        new.rename(", "        new.unlink() if work else new.rename(")
    setting.program.write_text(text)
    code, told = setting.run("--shards", 2)
    assert code == 1
    assert "parts are missing although their shards were done (shards 1 2;" in told and "--no-shared-disk" in told


def test_a_store_that_is_too_small_is_told_before_anything_runs(setting: Setting) -> None:
    big = setting.work / "bundles" / "n4250e00150.bundle"
    with big.open("wb") as file:
        file.truncate(1 << 40)
    code, told = setting.run("--no-shared-disk")
    assert (code, setting.log("start")) == (1, [])
    assert "object store" in told and "--object-store-memory" in told


def test_a_temporary_folder_with_too_long_a_name_is_told(setting: Setting) -> None:
    setting.ray = setting.home / ("long" * 30)
    setting.ray.mkdir()
    code, told = setting.run()
    assert (code, told.count("\n")) == (1, 1) and "AF_UNIX path length" in told, told


def test_without_ray_it_says_what_to_install(setting: Setting) -> None:
    script = "import sys; from importlib import util; util.find_spec = lambda name: None; "
    script += "from waymask_cluster import cli; sys.exit(cli.main(sys.argv[1:]))"
    command = [sys.executable, "-c", script, str(setting.work), "-o", str(setting.layer)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (
        1,
        'waymask-cluster: ray is not installed: pip install "ray==2.60.*"\n',
    )


def test_bad_input_is_told_without_ray(setting: Setting, tmp_path: Path) -> None:
    def fails(code: int, text: str, *options: object, output: bool = True) -> None:
        found, told = setting.run(*options, output=output)
        assert found == code and text in told and "Traceback" not in told, told

    fails(2, "name the layer with -o", output=False)
    fails(2, "lies in the work folder", "-o", setting.work / "layer.gpkg", output=False)
    fails(1, "is not a folder", "-o", tmp_path / "none" / "layer.gpkg", output=False)
    fails(2, "is not a whole number of at least 1", "--threads", "0")
    fails(1, "/nowhere/waymask: program not found", "--program", "/nowhere/waymask")
    setting.layer.write_text("mine")
    fails(1, "exists; replace it with --overwrite")
    assert setting.layer.read_text() == "mine"
    setting.layer.unlink()
    with (setting.work / "plan.json").open("r+b") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        fails(3, "another waymask-cluster works there")
    setting.plan(version=2)
    fails(1, "is of version 2, this program reads 1; plan again")
    (setting.work / "plan.json").unlink()
    fails(1, "holds no plan.json; plan a build with `waymask shards")
    assert setting.log("start") == []


@pytest.mark.parametrize(
    ("address", "expected", "text"),
    [
        ("127.0.0.1:1", 3, "no cluster answers there"),
        ("ray://127.0.0.1:10001", 2, "this has to run on a machine of the cluster"),
        ("nonsense", 2, "is not HOST:PORT"),
    ],
)
def test_a_cluster_that_is_not_there_is_told(setting: Setting, address: str, expected: int, text: str) -> None:
    code, told = setting.run("--address", address)
    assert (code, told.count("\n")) == (expected, 1) and told.startswith(f"waymask-cluster: {address}: {text}"), told
