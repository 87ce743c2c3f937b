"""Handing out, retries and ends, with hands that do as they are told."""

import hashlib
import io
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

import pytest

from waymask_cluster import drive
from waymask_cluster.drive import Drive
from waymask_cluster.errors import Failed
from waymask_cluster.events import Ended, Event, Lost, Part, Started
from waymask_cluster.plan import Shard
from waymask_cluster.progress import Pace, Progress

DATA = b"part"
NAME = f"n0001e00000-{'0' * 32}-{hashlib.sha256(DATA).hexdigest()[:32]}.gpkg"


class Scripted:
    """Hands that tell of each try of a shard what is written for it."""

    def __init__(self, script: dict[int, list[list[Event]]], slots: int = 2) -> None:
        self.script, self.slots = script, slots
        self.submitted: list[tuple[int, list[str]]] = []
        self.open: dict[int, list[Event]] = {}
        self.cancelled: list[tuple[int, bool]] = []
        self.most = 0

    def look(self) -> None:
        pass

    def has_room(self, shard: Shard) -> bool:
        return True

    def submit(self, shard: Shard, shards: int, avoid: Collection[str]) -> int:
        self.submitted.append((shard.number, sorted(avoid)))
        self.open[shard.number] = list(self.script[shard.number].pop(0))
        self.most = max(self.most, len(self.open))
        return shard.number

    def poll(self, tickets: Mapping[int, object], timeout_s: float) -> Iterator[tuple[int, Event]]:
        assert set(tickets) == set(self.open)
        for ticket in list(self.open):
            if self.open[ticket]:
                yield ticket, self.open[ticket].pop(0)

    def done(self, ticket: int) -> None:
        del self.open[ticket]

    def cancel(self, ticket: int, force: bool) -> None:
        self.cancelled.append((ticket, force))
        if not force and self.open[ticket] != []:
            self.open[ticket] = [Lost("cancelled")]


def started(node: str = "a") -> Started:
    return Started(node, f"host-{node}")


GOOD: list[Event] = [started(), Ended(0, "")]


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drive, "WAIT_S", 0.01)
    monkeypatch.setattr(drive, "STOP_S", 0.05)


def run(hands: Scripted, work: Path, shards: int, retries: int = 3) -> str:
    todo = [Shard(n, (f"n{n:04}e00000",), (f"n{n:04}e00000",), 1.0, 1.0, 1, 1) for n in range(1, shards + 1)]
    told = io.StringIO()
    Drive(hands, todo, shards, work, retries, Progress(shards, shards, Pace(1), out=told)).run()
    return told.getvalue()


def test_no_more_are_handed_out_than_can_run(tmp_path: Path) -> None:
    hands = Scripted({n: [GOOD] for n in range(1, 6)})
    run(hands, tmp_path, 5)
    assert ([number for number, _ in hands.submitted], hands.most) == ([1, 2, 3, 4, 5], 2)


def test_what_may_succeed_is_tried_again_and_elsewhere(tmp_path: Path) -> None:
    hands = Scripted({1: [[started("a"), Ended(3, "disk full")], [started("b"), Lost("WorkerCrashedError")], GOOD]})
    told = run(hands, tmp_path, 1)
    assert hands.submitted == [(1, []), (1, ["a"]), (1, ["a", "b"])]
    assert "shard 1 of 1 on host-a (node a): disk full; try 2 of 4" in told
    assert "shard 1 of 1 on host-b (node b): WorkerCrashedError; try 3 of 4" in told


def test_tries_end_and_the_others_are_finished(tmp_path: Path) -> None:
    hands = Scripted({1: [[started(), Ended(3, "disk full")]] * 3, 2: [GOOD], 3: [GOOD]}, slots=1)
    with pytest.raises(Failed, match=r"shard 1 of 3 on host-a .*disk full \(tried 3 times\)") as failed:
        run(hands, tmp_path, 3, retries=2)
    assert failed.value.code == 3
    assert sorted(number for number, _ in hands.submitted) == [1, 1, 1, 2, 3]


@pytest.mark.parametrize("code", [1, 2])
def test_what_fails_for_good_ends_all(tmp_path: Path, code: int) -> None:
    hands = Scripted({1: [[started("a"), Ended(code, "another program")]], 2: [[started("b")]], 3: [GOOD]})
    with pytest.raises(Failed, match=r"shard 1 of 3 failed on host-a \(node a\): another program") as failed:
        run(hands, tmp_path, 3)
    assert failed.value.code == code
    assert [number for number, _ in hands.submitted] == [1, 2]
    assert (2, False) in hands.cancelled and (2, True) in hands.cancelled and not hands.open


def test_a_damaged_part_is_refused_and_made_again(tmp_path: Path) -> None:
    bad: list[Event] = [started("a"), Part(NAME, b"pert"), Ended(0, "")]
    hands = Scripted({1: [bad, [started("b"), Part(NAME, DATA), Ended(0, "")]]})
    assert "sent a damaged part" in run(hands, tmp_path, 1)
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [(NAME, DATA)]
    assert hands.submitted == [(1, []), (1, ["a"])]


def test_without_a_machine_one_shard_waits_for_one(tmp_path: Path) -> None:
    hands = Scripted({1: [GOOD], 2: [GOOD]}, slots=0)
    run(hands, tmp_path, 2)
    assert hands.most == 1
