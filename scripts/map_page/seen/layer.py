"""A layer as plain SQL and bytes tell it: what a page has to show."""

import sqlite3
import struct
from dataclasses import dataclass
from pathlib import Path

RATINGS = ["steady", "blips", "gaps", "drops", "dark"]
Place = tuple[float, float]


@dataclass
class Road:
    """A segment."""

    segment_id: int
    name: str
    way: int
    rating: int
    forward: tuple[int, int, int | None, float] | None
    backward: tuple[int, int, int | None, float] | None
    evidence: str
    length_m: float
    line: list[Place]

    def middle(self) -> Place:
        """Half way along it, in plain degrees."""
        steps = list(zip(self.line, self.line[1:], strict=False))
        long = [((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5 for a, b in steps]
        left = sum(long) / 2
        for (a, b), step in zip(steps, long, strict=True):
            if left <= step and step > 0:
                share = left / step
                return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)
            left -= step
        return self.line[-1]


def line_of(blob: bytes) -> list[Place]:
    """The places of a line (OGC 12-128r18 2.1.3; well-known binary, little-endian), longitude first."""
    box = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}[(blob[3] >> 1) & 7]
    at = 8 + box
    order, kind, count = struct.unpack_from("<BII", blob, at)
    assert order == 1 and kind == 2
    return [struct.unpack_from("<dd", blob, at + 9 + 16 * k) for k in range(count)]


def opened(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{path}?mode=ro", uri=True)


def roads(path: Path) -> list[Road]:
    """All roads but ferries and shuttle trains, by id."""
    sides = ", ".join(
        f"rating_{way}, rating_best_{way}, rating_worst_{way}, outage_p95_{way}_s" for way in ("forward", "backward")
    )
    sql = f"""SELECT segment_id, name, ref, way_id, rating, evidence, length_m, geom, {sides} FROM segments
              WHERE highway NOT IN ('ferry', 'shuttle_train') ORDER BY segment_id"""
    found = []
    for row in opened(path).execute(sql):
        segment_id, name, ref, way, rating, evidence, length_m, geom = row[:8]
        both = f"{name} ({ref})" if name and ref and name != ref else name or ref or ""
        forward, backward = (tuple(side) if side[0] is not None else None for side in (row[8:12], row[12:16]))
        found.append(Road(segment_id, both, way, rating, forward, backward, evidence, length_m, line_of(geom)))
    return found


def kilometres(path: Path, where: str = "1") -> float:
    """Kilometres of road, metres rounded segment by segment as the page does."""
    sql = f"SELECT coalesce(sum(cast(round(length_m) AS INTEGER)), 0) FROM segments WHERE {where}"
    return float(opened(path).execute(sql).fetchone()[0]) / 1000


def count(path: Path, table: str, where: str = "1") -> int:
    return int(opened(path).execute(f"SELECT count(*) FROM {table} WHERE {where}").fetchone()[0])
