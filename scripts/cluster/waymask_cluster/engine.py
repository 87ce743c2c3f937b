"""Ray, as far as it is used here: who is there, hand out a shard, hear of it, take it back."""

import contextlib
import io
import logging
import math
import os
import re
import secrets
import socket
import sys
import time
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

# Set before Ray is read: it must not report to anybody.
os.environ["RAY_USAGE_STATS_ENABLED"] = "0"

import ray
from ray import cloudpickle, exceptions

import waymask_cluster

from . import store
from .errors import AGAIN, FOR_GOOD, WRONG_USAGE, Failed
from .events import Event, Job, Lost
from .plan import Shard
from .worker import run_shard

LOCAL = "local"
ANSWER_S = 5
# The other half of the object store is for parts.
CARRIED_SHARE = 0.5
STARTED_AND_PART = 2
TOKEN = "every machine needs RAY_AUTH_MODE=token and the same token in ~/.ray/auth_token; see the README"


class Ticket:
    """A shard that was handed out."""

    def __init__(self, stream: Any, carried_bytes: int) -> None:
        self.stream = stream
        self.carried_bytes = carried_bytes


class Engine:
    """A cluster that this process has joined, or one of its own on this machine."""

    def __init__(self, job: Job, carried: bool) -> None:
        self.job, self.carried = job, carried
        self.carried_bytes = 0
        self.common: dict[str, Any] = {}
        self.nodes: list[dict[str, Any]] = []
        self.looked_s = -math.inf
        # The machines need Ray and the program, and not this package.
        cloudpickle.register_pickle_by_value(waymask_cluster)  # type: ignore[no-untyped-call]
        # Tries are counted here; Ray would repeat what was counted already. Two events may wait to be read, so that a
        # worker sends one part at a time.
        remote: Any = ray.remote
        self.task = remote(
            max_retries=0, num_returns="streaming", _generator_backpressure_num_objects=STARTED_AND_PART
        )(run_shard)
        self.look()

    def look(self) -> None:
        """Asks who is there, at most once a second."""
        if time.monotonic() - self.looked_s >= 1:
            nodes: Any = ray.nodes
            self.nodes = [node for node in nodes() if node["Alive"]]
            self.looked_s = time.monotonic()

    def _most(self, resource: str) -> float:
        return max((node["Resources"].get(resource, 0) for node in self.nodes), default=0)

    @property
    def cpus(self) -> int:
        return int(sum(node["Resources"].get("CPU", 0) for node in self.nodes))

    @property
    def slots(self) -> int:
        """Shards that can run at the same time."""
        return sum(int(node["Resources"].get("CPU", 0)) // self.job.threads for node in self.nodes)

    def check(self, shards: Sequence[Shard]) -> None:
        """What can never run is told before anything does."""
        largest = int(self._most("CPU"))
        if 0 < largest < self.job.threads:
            raise Failed(
                f"no machine here has {self.job.threads} processors; give --threads {largest} or less", WRONG_USAGE
            )
        if self.carried:
            room = self._room_bytes()
            for shard in shards:
                if (need := self._bytes_of(shard)) > room:
                    raise Failed(
                        f"shard {shard.number} takes {need:,} bytes of Ray's object store, of which {room:,} may be "
                        "used; give a larger --shards, or start Ray with a larger --object-store-memory"
                    )

    def _room_bytes(self) -> int:
        least = min((node["Resources"].get("object_store_memory", 0) for node in self.nodes), default=0)
        return int(least * CARRIED_SHARE)

    def _bytes_of(self, shard: Shard) -> int:
        if not self.carried:
            return 0
        work = Path(self.job.work)
        return sum((work / name).stat().st_size for name in store.names_of(shard.districts)) + shard.disk_bytes

    def has_room(self, shard: Shard) -> bool:
        """Whether the object store takes one more."""
        return self.carried_bytes == 0 or self.carried_bytes + self._bytes_of(shard) <= self._room_bytes()

    def submit(self, shard: Shard, shards: int, avoid: Collection[str]) -> Ticket:
        """Hands out a shard; `avoid` are machines on which it failed, which are taken if no other is there."""
        names = store.names_of(shard.districts) if self.carried else []
        job = Job(self.job.program, self.job.work, shard.number, shards, self.job.threads, tuple(names))
        options: dict[str, Any] = {"num_cpus": job.threads, "name": f"shard {shard.number} of {shards}"}
        # What no machine has is never handed out; the largest one is then taken as a whole.
        options["memory"] = int(min(shard.memory_bytes * job.threads, self._most("memory")))
        if avoid:
            options["label_selector"] = {"ray.io/node-id": f"!in({','.join(sorted(avoid))})"}
            options["fallback_strategy"] = [{"label_selector": {}}]
        carried_bytes = self._bytes_of(shard)
        files = [self._put(name) for name in names]
        ticket = Ticket(self.task.options(**options).remote(job, files), carried_bytes)
        self.carried_bytes += carried_bytes
        return ticket

    def _put(self, name: str) -> Any:
        if name in self.common:
            return self.common[name]
        path = Path(self.job.work) / name
        try:
            reference = ray.put(path.read_bytes())
        except (exceptions.ObjectStoreFullError, exceptions.OutOfDiskError) as error:
            raise Failed(
                f"{path}: Ray's object store is full; start Ray with more --object-store-memory", AGAIN
            ) from error
        if name in (store.PLAN, store.MARK):
            self.common[name] = reference
        return reference

    def poll(self, tickets: Mapping[Ticket, object], timeout_s: float) -> Iterator[tuple[Ticket, Event]]:
        """What was heard of shards, at most one thing of each."""
        by_stream = {ticket.stream: ticket for ticket in tickets}
        ready, _ = ray.wait(list(by_stream), num_returns=1, timeout=timeout_s, fetch_local=False)
        for stream in ready:
            yield by_stream[stream], self._next(stream)

    def _next(self, stream: Any) -> Event:
        try:
            event: Event = ray.get(next(stream))
        except StopIteration:
            return Lost("it ended without a word")
        except exceptions.LocalRayletDiedError as error:
            raise Failed(f"Ray on this machine has died: {error}", AGAIN) from error
        except exceptions.RayTaskError as error:
            # What the worker itself met may be Ray's trouble as well, such as files that were lost on their way.
            if isinstance(error.cause, exceptions.RayError):
                return Lost(_brief(error.cause))
            raise Failed(f"a worker failed: {error}") from error
        except exceptions.AuthenticationError as error:
            raise Failed(f"{_brief(error)}; {TOKEN}") from error
        except exceptions.RayError as error:
            return Lost(_brief(error))
        return event

    def done(self, ticket: Ticket) -> None:
        """Gives back what a shard held."""
        self.carried_bytes -= ticket.carried_bytes

    def cancel(self, ticket: Ticket, force: bool) -> None:
        """Ends a shard: the worker is interrupted, or by force killed."""
        with contextlib.suppress(exceptions.RayError, ValueError):
            ray.cancel(ticket.stream, force=force)

    def hosts(self) -> str:
        """The machines, for people."""
        counts = Counter(str(node["NodeManagerHostname"]) for node in self.nodes if node["Resources"].get("CPU", 0) > 0)
        return ", ".join(name if count == 1 else f"{name} ({count} nodes)" for name, count in sorted(counts.items()))


def _brief(error: BaseException) -> str:
    """Ray explains itself at length; its first sentence will do."""
    return f"{type(error).__name__}: " + re.split(r"\n|\. ", str(error).strip())[0].rstrip(".")


@contextlib.contextmanager
def joined(address: str | None) -> Iterator[None]:
    """Joins a cluster, or starts one on this machine; leaves it in the end."""
    address = address or os.environ.get("RAY_ADDRESS") or LOCAL
    check_address(address)
    if address == LOCAL and not {"RAY_AUTH_TOKEN", "RAY_AUTH_TOKEN_PATH"} & os.environ.keys():
        # A token of this run alone; Ray would leave one in the home folder.
        os.environ["RAY_AUTH_TOKEN"] = secrets.token_hex(32)
    # Ray prints of workers that die, in its own words and at length.
    with contextlib.redirect_stdout(io.StringIO()):
        try:
            with _silent_stderr():
                ray.init(
                    address=address,
                    include_dashboard=False if address == LOCAL else None,
                    log_to_driver=False,
                    logging_level=logging.CRITICAL,
                )
        except (exceptions.RayError, RuntimeError, OSError, ValueError) as error:
            if any("authentication" in str(cause).lower() for cause in _causes(error)):
                raise Failed(f"{address}: refuses the token of this machine, or finds none; {TOKEN}") from error
            code = AGAIN if isinstance(error, ConnectionError) else FOR_GOOD
            raise Failed(f"{address}: cannot join the cluster: {_brief(error)}", code) from error
        try:
            yield
        finally:
            ray.shutdown()


@contextlib.contextmanager
def _silent_stderr() -> Iterator[None]:
    """Ray's own code, which is not Python, writes a line for each second that it is refused."""
    sys.stderr.flush()
    kept, nothing = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 2)
    os.close(nothing)
    try:
        yield
    finally:
        sys.stderr.flush()
        os.dup2(kept, 2)
        os.close(kept)


def check_address(address: str) -> None:
    """Ray would wait for minutes where nobody answers."""
    if address.startswith("ray://"):
        raise Failed(
            f"{address}: this has to run on a machine of the cluster; give its HOST:PORT, or auto", WRONG_USAGE
        )
    host, colon, port = address.rpartition(":")
    if address in (LOCAL, "auto"):
        return
    if not colon or not port.isdecimal():
        raise Failed(f"{address}: is not HOST:PORT, auto or local", WRONG_USAGE)
    try:
        socket.create_connection((host.strip("[]"), int(port)), ANSWER_S).close()
    except OSError as error:
        raise Failed(
            f"{address}: no cluster answers there: {error}; start one with `ray start --head`", AGAIN
        ) from error


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__
