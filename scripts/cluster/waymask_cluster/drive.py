"""Hands out shards until all are done: what is lost is tried again, what fails for good ends the run."""

import time
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from .errors import AGAIN, Failed
from .events import Ended, Event, Lost, Part, Started
from .plan import Shard
from .progress import Progress
from .store import DamagedPart, keep_part

POLL_S = 1.0
# The n-th try waits so long, doubled each time: what was full or locked may have changed by then.
WAIT_S = 1.0
MOST_WAIT_S = 60.0
# The program gets some seconds to end by itself, see leash.py.
STOP_S = 8.0


class Hands(Protocol):
    """Who runs shards; see engine.py."""

    @property
    def slots(self) -> int: ...
    def look(self) -> None: ...
    def has_room(self, shard: Shard) -> bool: ...
    def submit(self, shard: Shard, shards: int, avoid: Collection[str]) -> Any: ...
    def poll(self, tickets: Mapping[Any, object], timeout_s: float) -> Iterator[tuple[Any, Event]]: ...
    def done(self, ticket: Any) -> None: ...
    def cancel(self, ticket: Any, force: bool) -> None: ...


@dataclass
class Task:
    """A shard that is not done."""

    shard: Shard
    tries: int = 0
    avoid: set[str] = field(default_factory=set)
    due_s: float = 0
    started: Started | None = None
    begun_s: float = 0
    damaged: str = ""

    @property
    def where(self) -> str:
        return f"{self.started.host} (node {self.started.node[:8]})" if self.started else "a machine unknown"


class Drive:
    """One run."""

    def __init__(
        self, hands: Hands, todo: Sequence[Shard], shards: int, work: Path, retries: int, progress: Progress
    ) -> None:
        self.hands, self.shards, self.work, self.retries, self.progress = hands, shards, work, retries, progress
        # The longest first, so that no machine is left with much when the others are done.
        self.waiting = [Task(shard) for shard in sorted(todo, key=lambda shard: (-shard.missing_km, shard.number))]
        self.running: dict[Any, Task] = {}
        self.given_up: list[str] = []

    def run(self) -> None:
        """Until all is done. Shards whose tries are used up do not hold up the others."""
        try:
            while self.waiting or self.running:
                self.hands.look()
                self.hand_out()
                self.progress.tick(len(self.running), self.hands.slots)
                self.hear(POLL_S)
        finally:
            self.stop()
            self.progress.clear()
        if self.given_up:
            raise Failed("\n".join([*self.given_up, "finished parts stay; the same command goes on"]), AGAIN)

    def hand_out(self) -> None:
        """No more than can run, so that little is in flight."""
        for task in list(self.waiting):
            # Without a machine one waits in Ray, which may be a reason to start one.
            if len(self.running) >= max(self.hands.slots, 1) or not self.hands.has_room(task.shard):
                break
            if task.due_s <= time.monotonic():
                self.waiting.remove(task)
                self.running[self.hands.submit(task.shard, self.shards, task.avoid)] = task

    def hear(self, timeout_s: float) -> None:
        if not self.running:
            time.sleep(min(timeout_s, max(min(task.due_s for task in self.waiting) - time.monotonic(), 0)))
            return
        for ticket, event in list(self.hands.poll(self.running, timeout_s)):
            self.take(ticket, self.running[ticket], event)

    def take(self, ticket: Any, task: Task, event: Event) -> None:
        match event:
            case Started():
                task.started, task.begun_s = event, time.monotonic()
            case Part(name, data):
                try:
                    keep_part(self.work, name, data, task.shard.districts)
                except DamagedPart as damaged:
                    task.damaged = str(damaged)
            case Ended(0, _) if not task.damaged:
                self.release(ticket)
                self.progress.add(task.shard.missing_km, time.monotonic() - task.begun_s)
            case Ended(0, _):
                self.again(ticket, task, f"sent a damaged part: {task.damaged}")
            case Ended(code, said) if code == AGAIN:
                self.again(ticket, task, said)
            case Ended(code, said):
                self.release(ticket)
                raise Failed(f"shard {task.shard.number} of {self.shards} failed on {task.where}: {said}", code)
            case Lost(why):
                self.again(ticket, task, why)

    def release(self, ticket: Any) -> None:
        del self.running[ticket]
        self.hands.done(ticket)

    def again(self, ticket: Any, task: Task, why: str) -> None:
        """Tries a shard once more, elsewhere if it can be."""
        self.release(ticket)
        text = f"shard {task.shard.number} of {self.shards} on {task.where}: {why}"
        if task.tries >= self.retries:
            self.given_up.append(f"{text} (tried {task.tries + 1} times)")
            return
        if task.started:
            task.avoid.add(task.started.node)
        wait_s = min(WAIT_S * 2**task.tries, MOST_WAIT_S)
        task.tries, task.started, task.damaged = task.tries + 1, None, ""
        task.due_s = time.monotonic() + wait_s
        self.waiting.append(task)
        self.progress.say(f"{text}; try {task.tries + 1} of {self.retries + 1} in {wait_s:.0f} s")

    def stop(self) -> None:
        """Ends what runs: first asked, then by force."""
        if not self.running:
            return
        for ticket in self.running:
            self.hands.cancel(ticket, force=False)
        until_s = time.monotonic() + STOP_S
        while self.running and (left_s := until_s - time.monotonic()) > 0:
            try:
                for ticket, event in list(self.hands.poll(self.running, left_s)):
                    if isinstance(event, Ended | Lost):
                        self.release(ticket)
                    elif isinstance(event, Part):
                        keep_part(self.work, event.name, event.data, self.running[ticket].shard.districts)
            except (Failed, DamagedPart):
                # The run ends already, and for another reason.
                break
        for ticket in list(self.running):
            self.hands.cancel(ticket, force=True)
            self.release(ticket)
