"""How far a run is, for people: a line that is drawn anew on a terminal, plain lines elsewhere."""

import sys
import time
from dataclasses import dataclass, field
from typing import TextIO

PLAIN_EVERY_S = 30.0
DRAWN_EVERY_S = 1.0
BAR = 24


@dataclass
class Pace:
    """Time left, from the forecast at first and from what was measured as soon as something was."""

    forecast_s_per_km: float
    busy_s: float = 0
    busy_km: float = 0

    def add(self, seconds: float, km: float) -> None:
        """A shard that was rated in this run."""
        self.busy_s += seconds
        self.busy_km += km

    def left_s(self, km: float, slots: int) -> float:
        s_per_km = self.busy_s / self.busy_km if self.busy_km > 0 else self.forecast_s_per_km
        return km * s_per_km / max(slots, 1)


@dataclass
class Progress:
    """Shards and kilometres of a run."""

    shards: int
    km: float
    pace: Pace
    quiet: bool = False
    out: TextIO = field(default_factory=lambda: sys.stderr)
    shards_done: int = 0
    km_done: float = 0
    told_s: float = field(default=float("-inf"))
    drawn: bool = False

    def add(self, km: float, seconds: float) -> None:
        """A shard is done."""
        self.shards_done += 1
        self.km_done += km
        self.pace.add(seconds, km)

    def tick(self, running: int, slots: int, now: bool = False) -> None:
        """Tells how far it is, if it is time to."""
        terminal = self.out.isatty()
        due = self.told_s + (DRAWN_EVERY_S if terminal else PLAIN_EVERY_S)
        if self.quiet or (time.monotonic() < due and not now):
            return
        self.told_s = time.monotonic()
        line = self.line(running, slots)
        if terminal:
            self.out.write(f"\r\x1b[K{self.bar()} {line}")
            self.drawn = True
        else:
            self.out.write(line + "\n")
        self.out.flush()

    def line(self, running: int, slots: int) -> str:
        left = _time(self.pace.left_s(self.km - self.km_done, slots)) if slots else "no machine is there"
        tail = f"{left} left, {running} running" if slots else left
        return f"{self.shards_done} of {self.shards} shards, {self.km_done:,.0f} of {self.km:,.0f} km, {tail}"

    def bar(self) -> str:
        full = round(BAR * min(self.km_done / self.km, 1)) if self.km > 0 else BAR
        return f"[{'#' * full}{'.' * (BAR - full)}]"

    def say(self, text: str) -> None:
        """A line that stays."""
        if not self.quiet:
            self.clear()
            self.out.write(text + "\n")
            self.out.flush()

    def clear(self) -> None:
        """Leaves the terminal at the start of an empty line."""
        if self.drawn:
            self.out.write("\r\x1b[K")
            self.out.flush()
            self.drawn = False


def _time(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes:02} min"
    return f"{minutes} min {rest:02} s" if minutes else f"{rest} s"
