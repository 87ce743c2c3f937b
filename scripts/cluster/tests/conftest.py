"""A planned work folder and a program that stands in for the real one."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

DISTRICTS = {"n4250e00150": 40.0, "n4250e00175": 30.0, "n4275e00150": 20.0, "s2825e04675": 10.0}
LAYER = "".join(f"part of {name}" for name in sorted(DISTRICTS))


class Setting:
    """A work folder, a program, and the command."""

    def __init__(self, home: Path) -> None:
        self.home, self.work, self.layer = home, home / "work", home / "layer.gpkg"
        self.program, self.temporary = home / "waymask", home / "tmp"
        self.ray = Path("/tmp")
        self.running: list[subprocess.Popen[str]] = []
        shutil.copy(Path(__file__).parent / "fake.py", self.program)
        self.program.write_text(self.program.read_text().replace("/usr/bin/env python3", sys.executable, 1))
        self.program.chmod(0o755)
        self.temporary.mkdir()
        (self.work / "bundles").mkdir(parents=True)
        (self.work / "waymask-work").touch()
        self.plan(version=1)
        for name in DISTRICTS:
            (self.work / "bundles" / f"{name}.bundle").write_text(name)

    def plan(self, version: int) -> None:
        (self.work / "plan.json").write_text(json.dumps({"version": version, "districts": DISTRICTS}))

    def wrong(self, **what: object) -> None:
        Path(f"{self.program}.json").write_text(json.dumps(what))

    def log(self, kind: str) -> list[list[str]]:
        path = Path(f"{self.program}.log")
        lines = [line.split() for line in path.read_text().splitlines()] if path.exists() else []
        return [line[1:] for line in lines if line[0] == kind]

    def start(self, *options: object, output: bool = True) -> "subprocess.Popen[str]":
        command = [sys.executable, "-m", "waymask_cluster.cli", self.work, "--program", self.program, *options]
        if output:
            command += ["-o", self.layer]
        # Ray needs short names of sockets, so it keeps its own folder.
        environment = {k: v for k, v in os.environ.items() if k != "RAY_ADDRESS"}
        environment |= {"TMPDIR": str(self.temporary), "RAY_TMPDIR": str(self.ray), "HOME": str(self.home)}
        child = subprocess.Popen(
            [str(word) for word in command],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
            start_new_session=True,
        )
        self.running.append(child)
        return child

    def run(self, *options: object, output: bool = True) -> tuple[int, str]:
        """Exit code and standard error; nothing is ever printed to standard output."""
        child = self.start(*options, output=output)
        out, errors = child.communicate(timeout=120)
        assert out == ""
        return child.returncode, errors

    def parts(self) -> list[str]:
        return sorted(path.name.split("-")[0] for path in self.work.glob("*-*-*.gpkg"))

    def left(self) -> list[str]:
        """What is in work and temporary folders and should not be."""
        unfinished = [str(path) for path in self.work.glob("*.new.*")]
        return unfinished + [str(path) for path in self.temporary.glob("waymask-cluster-*")]

    def alive(self) -> list[int]:
        """Children that were started and still are there."""
        return [int(line[1]) for line in self.log("start") if is_alive(int(line[1]), str(self.program))]


def is_alive(pid: int, program: str) -> bool:
    try:
        words = Path(f"/proc/{pid}/cmdline").read_bytes().decode().split("\0")
    except OSError:
        return False
    return program in words


def wait_for(what: Callable[[], object], within_s: float = 60) -> None:
    until = time.monotonic() + within_s
    while not what():
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.05)


@pytest.fixture
def setting(tmp_path: Path) -> Iterator[Setting]:
    it = Setting(tmp_path)
    yield it
    for child in it.running:
        if child.poll() is None:
            os.killpg(child.pid, signal.SIGKILL)
            child.wait()
