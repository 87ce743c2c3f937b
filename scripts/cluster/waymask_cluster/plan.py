"""The plan of a work folder, as `waymask shards --json` tells it."""

import json
import math
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .errors import Failed, code_of

# Losing a shard of this size costs little.
SHARD_CPU_S = 600
# The program takes no more.
MOST_SHARDS = 100_000


@dataclass(frozen=True)
class Shard:
    """Some districts of a build."""

    number: int
    districts: tuple[str, ...]
    # Those whose part is not in the work folder.
    missing: tuple[str, ...]
    km: float
    cpu_s: float
    # Of one thread.
    memory_bytes: int
    # Of the parts.
    disk_bytes: int

    @property
    def missing_share(self) -> float:
        return len(self.missing) / max(len(self.districts), 1)

    @property
    def missing_km(self) -> float:
        """The plan tells kilometres of shards, not of districts; so this is a fair share of them."""
        return self.km * self.missing_share

    @property
    def missing_cpu_s(self) -> float:
        return self.cpu_s * self.missing_share


@dataclass(frozen=True)
class Plan:
    """All shards."""

    hash: str
    km: float
    shards: tuple[Shard, ...]

    @property
    def districts(self) -> int:
        return sum(len(shard.districts) for shard in self.shards)

    @property
    def todo(self) -> list[Shard]:
        return [shard for shard in self.shards if shard.missing]


def find_program(name: str) -> str:
    """The program's absolute path on this machine."""
    found = shutil.which(name)
    if found is None:
        raise Failed(f"{name}: program not found on this machine; name it with --program")
    return str(Path(found).absolute())


def read_plan(program: str, work: Path, shards: int) -> Plan:
    """Asks the program, which checks the plan and looks which parts are there."""
    command = [program, "shards", "--shards", str(shards), "--work", str(work), "--json"]
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    except OSError as error:
        raise Failed(f"{program}: cannot be started: {error.strerror}") from error
    if done.returncode:
        said = done.stderr.strip() or f"ended with {done.returncode}"
        raise Failed(f"{work}: the plan cannot be used: {said}", code_of(done.returncode))
    try:
        return parse_plan(json.loads(done.stdout))
    except (ValueError, KeyError, TypeError) as error:
        raise Failed(f"{program} shards --json: not understood ({error!r}); use a program of this version") from error


def parse_plan(told: Any) -> Plan:
    """Of the JSON that the program printed."""
    shards = tuple(
        Shard(
            number=int(shard["shard"]),
            districts=tuple(map(str, shard["districts"])),
            missing=tuple(map(str, shard["missing"])),
            km=float(shard["km"]),
            cpu_s=float(shard["cpu_s"]),
            memory_bytes=int(shard["memory_bytes"]),
            disk_bytes=int(shard["disk_bytes"]),
        )
        for shard in told["shards"]
    )
    return Plan(str(told["plan"]), float(told["km"]), shards)


def choose_shards(whole: Plan, cpus: int, carried: bool) -> int:
    """How many shards to make of a plan.

    Another number in a later run is harmless: parts belong to districts, not to shards. On a shared disk the program
    skips districts that are done. Where files are carried it sees none of them, so every district is a shard of its
    own: then nothing is rated twice, and no machine sends more than one part at a time.
    """
    most = max(min(whole.districts, MOST_SHARDS), 1)
    if carried:
        return most
    cpu_s = sum(shard.cpu_s for shard in whole.shards)
    return min(max(math.ceil(cpu_s / SHARD_CPU_S), cpus, 1), most)
