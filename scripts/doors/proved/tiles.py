"""Vector tiles read without a library: the attributes of features (Mapbox Vector Tile 2.1, protocol buffers)."""

import gzip
import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path

from .bench import Value


def number(data: bytes, at: int) -> tuple[int, int]:
    """A number of variable length, and where it ends."""
    value = shift = 0
    while True:
        value |= (data[at] & 127) << shift
        shift, at = shift + 7, at + 1
        if not data[at - 1] & 128:
            return value, at


def fields(data: bytes) -> Iterator[tuple[int, int | bytes]]:
    """Fields of a message: number, and a number or bytes."""
    at = 0
    while at < len(data):
        key, at = number(data, at)
        kind = key & 7
        if kind == 0:
            value, at = number(data, at)
            yield key >> 3, value
        else:
            size, at = number(data, at) if kind == 2 else ({1: 8, 5: 4}[kind], at)
            yield key >> 3, data[at : at + size]
            at += size


def value_of(data: bytes) -> Value:
    (kind, value), *_ = fields(data)
    if isinstance(value, bytes):
        if kind == 1:
            return value.decode()
        return float(struct.unpack("<d" if kind == 3 else "<f", value)[0])
    if kind == 4:
        return value - (1 << 64) if value >> 63 else value
    if kind == 6:
        return (value >> 1) ^ -(value & 1)
    return bool(value) if kind == 7 else value


def features(tile: bytes) -> Iterator[dict[str, Value]]:
    """What a tile says about each feature."""
    for field, layer in fields(gzip.decompress(tile) if tile[:2] == b"\x1f\x8b" else tile):
        if field != 3 or not isinstance(layer, bytes):
            continue
        keys, values, found = list[str](), list[Value](), list[bytes]()
        for part, content in fields(layer):
            if isinstance(content, bytes):
                if part == 2:
                    found.append(content)
                elif part == 3:
                    keys.append(content.decode())
                elif part == 4:
                    values.append(value_of(content))
        for feature in found:
            packed = next((content for part, content in fields(feature) if part == 2), b"")
            assert isinstance(packed, bytes)
            numbers, at = list[int](), 0
            while at < len(packed):
                index, at = number(packed, at)
                numbers.append(index)
            yield {keys[a]: values[b] for a, b in zip(numbers[::2], numbers[1::2], strict=True)}


def in_mbtiles(path: Path) -> dict[tuple[int, int, int], bytes]:
    """Tiles by zoom, column and row, counted from the north."""
    base = sqlite3.connect(path)
    rows = base.execute("SELECT zoom_level, tile_column, tile_row, tile_data FROM tiles").fetchall()
    base.close()
    return {(zoom, x, (1 << zoom) - 1 - y): bytes(data) for zoom, x, y, data in rows}
