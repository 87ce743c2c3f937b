"""What a shard tells the driver while it runs. These travel between machines, so they hold nothing but plain values."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Job:
    """What a worker needs to know of its shard."""

    program: str
    work: str
    shard: int
    shards: int
    threads: int
    # Names of files that come along, relative to the work folder; none where the disk is shared.
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Started:
    """A worker took the shard."""

    node: str
    host: str


@dataclass(frozen=True)
class Part:
    """A file that is done, from a machine that does not share the disk."""

    name: str
    data: bytes


@dataclass(frozen=True)
class Ended:
    """The program ended, or could not be started; what it said last."""

    code: int
    said: str


@dataclass(frozen=True)
class Lost:
    """The worker or its machine is gone."""

    why: str


Event = Started | Part | Ended | Lost
