"""What `prove` works with: the program behind a wrapper that keeps a log, a cluster on loopback, and processes."""

import contextlib
import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

CLUSTER = Path(__file__).resolve().parent.parent
# Ray gives workers ports of 10002 to 19999; the one of the head must be another.
PORTS = range(7300, 7400)
HEAD, NODE = "127.0.0.2", "127.0.0.3"
STORE_BYTES = 150_000_000
TICKS = os.sysconf("SC_CLK_TCK")

# Stands before the program: tells of every start and end of a shard, and takes the program along when it dies.
WRAPPER = """#!{python} -IS
import ctypes, os, signal, subprocess, sys
program, words = {program!r}, sys.argv[1:]
if words[0] != "build":
    os.execv(program, [program, *words])
def tie():
    ctypes.CDLL(None).prctl(1, signal.SIGKILL)
def log(*told):
    with open({log!r}, "a") as file:
        file.write(" ".join(map(str, told)) + "\\n")
child = subprocess.Popen([program, *words], preexec_fn=tie)
signal.signal(signal.SIGTERM, lambda *_: child.terminate())
log("start", words[words.index("--shard") + 1], child.pid, os.getppid())
_, status, used = os.wait4(child.pid, 0)
code = os.waitstatus_to_exitcode(status)
log("end", words[words.index("--shard") + 1], child.pid, code, used.ru_utime + used.ru_stime)
sys.exit(code if code >= 0 else 3)
"""


class Wrong(Exception):
    """What was not as it should be."""


def stat_of(pid: int) -> list[str] | None:
    """Fields of a process from its state on; nothing where it is gone."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return None
    return fields if fields[0] != "Z" else None


def pids() -> list[int]:
    return [int(path.name) for path in Path("/proc").iterdir() if path.name.isdecimal()]


def words_of(pid: int) -> list[str]:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes().decode(errors="replace").split("\0")
    except OSError:
        return []


def below(ancestor: int) -> set[int]:
    """A process and all that descend from it."""
    parents = {pid: int(fields[1]) for pid in pids() if (fields := stat_of(pid))}
    found = {ancestor} & parents.keys()
    while more := {pid for pid, parent in parents.items() if parent in found} - found:
        found |= more
    return found


def wait_for(what: Callable[[], object], within_s: float, why: str) -> None:
    until_s = time.monotonic() + within_s
    while not what():
        if time.monotonic() > until_s:
            raise Wrong(f"not within {within_s:.0f} s: {why}")
        time.sleep(0.02)


class Bench:
    """A temporary folder with the program, its wrapper and its log."""

    def __init__(self, home: Path, program: Path) -> None:
        self.home, self.log_path = home, home / "log"
        # A name of its own, by which what is left over is found.
        self.program, self.wrapper = home / "bin" / "waymask-proved", home / "bin" / "waymask"
        (home / "bin").mkdir()
        (home / "tmp").mkdir()
        shutil.copy(program, self.program)
        self.wrapper.write_text(
            WRAPPER.format(python=sys.executable, program=str(self.program), log=str(self.log_path))
        )
        self.wrapper.chmod(0o755)
        token = home / "token"
        token.write_text(secrets.token_hex(32))
        token.chmod(0o600)
        self.environment = {name: value for name, value in os.environ.items() if name != "RAY_ADDRESS"}
        self.environment |= {
            "RAY_AUTH_MODE": "token",
            "RAY_AUTH_TOKEN_PATH": str(token),
            "RAY_USAGE_STATS_ENABLED": "0",
            # Ray's workers yield to all else on a machine, and would hardly run on one that is busy.
            "RAY_worker_niceness": "0",
        }
        self.drivers: list[subprocess.Popen[str]] = []
        self.environment |= {"TMPDIR": str(home / "tmp"), "PYTHONPATH": str(CLUSTER), "PYTHONDONTWRITEBYTECODE": "1"}

    def run(self, *words: object) -> None:
        done = subprocess.run(
            [self.program, *map(str, words)], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        if done.returncode:
            raise Wrong(f"waymask {words[0]} ended with {done.returncode}: {done.stderr.strip()}")

    def todo(self, work: Path, shards: int) -> int:
        """Shards of which a part is missing."""
        command = [str(self.program), "shards", "--shards", str(shards), "--work", str(work), "--json"]
        told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
        return sum(bool(shard["missing"]) for shard in told["shards"])

    def log(self, kind: str) -> list[list[str]]:
        lines = self.log_path.read_text().splitlines() if self.log_path.exists() else []
        return [line.split()[1:] for line in lines if line.split()[0] == kind]

    def drive(self, work: Path, layer: Path, *options: str) -> "subprocess.Popen[str]":
        command = [sys.executable, "-m", "waymask_cluster.cli", work, "-o", layer, "--program", self.wrapper, *options]
        driver = subprocess.Popen(
            list(map(str, command)), env=self.environment, stderr=subprocess.PIPE, text=True, start_new_session=True
        )
        self.drivers.append(driver)
        return driver

    def stop(self) -> None:
        """Ends drivers that still run."""
        for driver in self.drivers:
            if driver.poll() is None:
                driver.kill()
                driver.wait()

    def alive(self) -> list[int]:
        """Processes of the program that rate."""
        return [pid for pid in pids() if stat_of(pid) and {str(self.program), "build"} <= {*words_of(pid)}]


class Cluster:
    """Nodes on loopback, each a `ray start --block` and what it started."""

    def __init__(self, bench: Bench) -> None:
        self.bench, self.port = bench, free_port()
        self.address = f"{HEAD}:{self.port}"
        self.all: list[subprocess.Popen[bytes]] = []
        self.head = self.start(HEAD, "--head", "--port", str(self.port), "--include-dashboard", "false")
        wait_for(lambda: answers(HEAD, self.port), 60, "the head of the cluster answers")
        self.add()

    def start(self, address: str, *how: str) -> "subprocess.Popen[bytes]":
        size = ["--num-cpus", "1", "--object-store-memory", str(STORE_BYTES)]
        command = [
            sys.executable,
            "-m",
            "ray.scripts.scripts",
            "start",
            "--block",
            "--node-ip-address",
            address,
            *size,
            *how,
        ]
        with (self.bench.home / "ray.log").open("ab") as log:
            node = subprocess.Popen(
                command, env=self.bench.environment, stdout=log, stderr=subprocess.STDOUT, start_new_session=True
            )
        self.all.append(node)
        return node

    def add(self) -> None:
        self.node = self.start(NODE, "--address", self.address)

    def kill_node(self) -> None:
        """As when the plug is pulled, but for what rates there: that must end by itself."""
        for pid in below(self.node.pid):
            if "ray" in " ".join(words_of(pid)) and not {str(self.bench.program), str(self.bench.wrapper)} & {
                *words_of(pid)
            }:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGKILL)
        self.node.wait()

    def stop(self) -> None:
        known = set().union(*(below(node.pid) for node in self.all if node.poll() is None))
        for node in reversed(self.all):
            node.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                node.wait(20)
        for pid in known:
            if stat_of(pid) and words_of(pid):
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGKILL)


def free_port() -> int:
    for port in PORTS:
        with socket.socket() as it, contextlib.suppress(OSError):
            it.bind((HEAD, port))
            return port
    raise Wrong(f"no port of {PORTS.start} to {PORTS.stop} is free")


def answers(host: str, port: int) -> bool:
    with contextlib.suppress(OSError):
        socket.create_connection((host, port), 1).close()
        return True
    return False


def cpu_s_of(session: int, seen: dict[int, float]) -> float:
    """Processor time of everything in a session, of what was seen of it so far."""
    for pid in pids():
        if (fields := stat_of(pid)) and int(fields[3]) == session:
            seen[pid] = (int(fields[11]) + int(fields[12])) / TICKS
    return sum(seen.values())


def measured(child: "subprocess.Popen[str]") -> tuple[float, float]:
    """Wall and processor time of a command and all that it starts."""
    begun_s, seen = time.monotonic(), dict[int, float]()
    try:
        while child.poll() is None:
            cpu_s_of(child.pid, seen)
            time.sleep(0.1)
    finally:
        if child.poll() is None:
            os.killpg(child.pid, signal.SIGKILL)
            child.wait()
    if child.returncode:
        raise Wrong(f"ended with {child.returncode}: {child.communicate()[1]}")
    return time.monotonic() - begun_s, sum(seen.values())


@contextlib.contextmanager
def bench_for(program: Path) -> Iterator[Bench]:
    # Ray keeps its sockets below, whose names may not be long.
    with tempfile.TemporaryDirectory(prefix="prove-", dir="/tmp") as home:
        yield Bench(Path(home), program)
