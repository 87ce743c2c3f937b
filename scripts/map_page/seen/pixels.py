"""Pixels of a screenshot, read without a library: PNG of eight bits, red, green, blue and maybe alpha."""

import struct
import zlib
from dataclasses import dataclass


@dataclass
class Picture:
    """Rows of pixels."""

    width: int
    height: int
    channels: int
    rows: list[bytes]

    @staticmethod
    def of(png: bytes) -> "Picture":
        """Unpacks a PNG (RFC 2083, filters of chapter 6)."""
        at, data, head = 8, b"", (0, 0, 8, 2)
        while at < len(png):
            length, kind = struct.unpack_from(">I4s", png, at)
            body = png[at + 8 : at + 8 + length]
            if kind == b"IHDR":
                head = struct.unpack_from(">IIBB", body)
            elif kind == b"IDAT":
                data += body
            at += 12 + length
        width, height, depth, colour = head
        assert depth == 8 and colour in (2, 6)
        channels = 3 if colour == 2 else 4
        raw, stride = zlib.decompress(data), width * channels
        rows, above = [], bytes(stride)
        for y in range(height):
            start = y * (stride + 1)
            above = unfiltered(raw[start], raw[start + 1 : start + 1 + stride], above, channels)
            rows.append(above)
        return Picture(width, height, channels, rows)

    def near(self, colour: str, reach: int = 6) -> int:
        """Pixels that differ from a colour by at most `reach` in each channel."""
        wanted = bytes.fromhex(colour[1:])
        step, found = self.channels, 0
        for row in self.rows:
            for x in range(0, len(row), step):
                if all(abs(row[x + k] - wanted[k]) <= reach for k in range(3)):
                    found += 1
        return found

    def lightness(self) -> float:
        """Mean of all channels, 0 to 255."""
        return sum(sum(row) for row in self.rows) / (self.width * self.height * self.channels)


def unfiltered(kind: int, line: bytes, above: bytes, channels: int) -> bytes:
    if kind == 0:
        return line
    out = bytearray(line)
    for i in range(len(out)):
        left = out[i - channels] if i >= channels else 0
        up = above[i]
        corner = above[i - channels] if i >= channels else 0
        if kind == 1:
            guess = left
        elif kind == 2:
            guess = up
        elif kind == 3:
            guess = (left + up) // 2
        else:
            p = left + up - corner
            away = (abs(p - left), abs(p - up), abs(p - corner))
            guess = (left, up, corner)[away.index(min(away))]
        out[i] = (out[i] + guess) & 0xFF
    return bytes(out)
