"""Ways in which files are damaged. Each is drawn from a seed, so that a mutant can be made again."""

import random
import re
import struct
from collections.abc import Callable

Mutation = Callable[[bytes, random.Random], bytes]

# How other files begin: a zip, gzip, TIFF, SQLite, XML, JSON, a web page, and nothing but zeros.
HEADS = [
    b"PK\x03\x04\x14\0\0\0\x08\0",
    b"\x1f\x8b\x08\0\0\0\0\0",
    b"II*\0\x08\0\0\0",
    b"SQLite format 3\0",
    b"<?xml version='1.0'?>\n<gpx>",
    b'{"type": "FeatureCollection",',
    b"<!DOCTYPE html><html><body>404 Not Found",
    bytes(16),
]
# Numbers that texts do not expect.
EXTREMES = [
    "0",
    "-1",
    "1e308",
    "-1e308",
    "1e400",
    "1e-320",
    "nan",
    "inf",
    "-inf",
    "9223372036854775808",
    "99999999999999999999999",
    "00",
    "1_0",
    ".",
    "0x7f",
]
NUMBER = re.compile(rb"(?<![A-Za-z])-?\d+(?:\.\d+)?(?:[eE]-?\d+)?")
# Lengths that binary files do not expect, by the bytes they take.
LENGTHS = [0, 1, 0x7F, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF, 0x80000000]


def run_in(data: bytes, chance: random.Random, most: int | None = None) -> tuple[int, int]:
    """A stretch of the file: where it begins and ends."""
    length = chance.randint(1, max(1, min(most or len(data) // 8, len(data) - 1)))
    start = chance.randrange(len(data) - length + 1)
    return start, start + length


def cut(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data) // 50, len(data))]


def flipped(data: bytes, chance: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 1, 2, 8))):
        out[chance.randrange(len(out))] ^= 1 << chance.randrange(8)
    return bytes(out)


def zeroed(data: bytes, chance: random.Random) -> bytes:
    start, end = run_in(data, chance)
    return data[:start] + bytes(end - start) + data[end:]


def garbled(data: bytes, chance: random.Random) -> bytes:
    start, end = run_in(data, chance)
    return data[:start] + chance.randbytes(end - start) + data[end:]


def doubled(data: bytes, chance: random.Random) -> bytes:
    start, end = run_in(data, chance)
    return data[:end] + data[start:end] + data[end:]


def removed(data: bytes, chance: random.Random) -> bytes:
    start, end = run_in(data, chance)
    return data[:start] + data[end:]


def swapped(data: bytes, chance: random.Random) -> bytes:
    length = chance.randint(1, max(1, len(data) // 8))
    first = chance.randrange(len(data) - 2 * length + 1)
    second = chance.randrange(first + length, len(data) - length + 1)
    one, two = data[first : first + length], data[second : second + length]
    return data[:first] + two + data[first + length : second] + one + data[second + length :]


def inserted(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + chance.randbytes(chance.randint(1, 64)) + data[at:]


def wrong_length(data: bytes, chance: random.Random) -> bytes:
    kind = chance.choice("BHI")
    width = struct.calcsize(kind)
    at = chance.randrange(len(data) - width + 1)
    value = chance.choice(LENGTHS) & ((1 << 8 * width) - 1)
    return data[:at] + struct.pack(chance.choice("<>") + kind, value) + data[at + width :]


def headed(data: bytes, chance: random.Random) -> bytes:
    head = chance.choice(HEADS)
    return head + data[len(head) :] if chance.random() < 0.7 else head


def emptied(data: bytes, chance: random.Random) -> bytes:
    return chance.choice((b"", bytes(len(data)), b"\n"))


def number(data: bytes, chance: random.Random) -> bytes:
    found = chance.choice(list(NUMBER.finditer(data)))
    return data[: found.start()] + chance.choice(EXTREMES).encode() + data[found.end() :]


def lines(data: bytes, chance: random.Random) -> bytes:
    """A line lost, doubled or in another place."""
    all_lines = data.splitlines(keepends=True)
    at = chance.randrange(len(all_lines))
    line = all_lines.pop(at)
    how = chance.randrange(3)
    if how == 1:
        all_lines[at:at] = [line, line]
    elif how == 2:
        all_lines.insert(chance.randrange(len(all_lines) + 1), line)
    return b"".join(all_lines)


BINARY: dict[str, Mutation] = {
    "cut": cut,
    "bits flipped": flipped,
    "a run of zeros": zeroed,
    "a run garbled": garbled,
    "a run doubled": doubled,
    "a run lost": removed,
    "runs swapped": swapped,
    "bytes inserted": inserted,
    "a wrong length": wrong_length,
    "head of another file": headed,
    "nothing in it": emptied,
}
TEXT: dict[str, Mutation] = {
    **{name: change for name, change in BINARY.items() if name != "a wrong length"},
    "an extreme number": number,
    "another extreme number": number,
    "a line lost, doubled or moved": lines,
}
# What leaves everything else in its place.
SAME_LENGTH = {
    name: BINARY[name] for name in ("bits flipped", "a run of zeros", "a run garbled", "runs swapped", "a wrong length")
}
# Text without a number in it.
LETTERS = {name: change for name, change in TEXT.items() if "number" not in name}


def mutant(data: bytes, how: str, mutations: dict[str, Mutation], seed: str) -> bytes:
    """The file damaged in a way; never the sound file itself."""
    chance = random.Random(seed)
    for _ in range(100):
        made = mutations[how](data, chance)
        if made != data:
            return made
    raise ValueError(f"{how} changes nothing")
