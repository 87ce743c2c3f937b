"""Writes OpenStreetMap PBF (fileformat.proto and osmformat.proto) from plain Python objects."""

import struct
import zlib

ENTITIES_PER_BLOCK = 4000
GRANULARITY_NANODEG = 100


def varint(value):
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def zigzag(value):
    return varint(value << 1 if value >= 0 else (-value << 1) - 1)


def number(field, value):
    return varint(field << 3) + varint(value)


def signed(field, value):
    return varint(field << 3) + zigzag(value)


def chunk(field, data):
    return varint(field << 3 | 2) + varint(len(data)) + data


def packed(field, values):
    """A packed list; an empty one is left out, as writers of protobuf do: GDAL 3.6 takes one of no bytes for damage."""
    return chunk(field, b"".join(varint(v) for v in values)) if values else b""


def packed_deltas(field, values):
    out, last = [], 0
    for value in values:
        out.append(zigzag(value - last))
        last = value
    return chunk(field, b"".join(out)) if out else b""


class Strings:
    """The string table of one block; index 0 stays empty as the format asks."""

    def __init__(self):
        self.index = {"": 0}

    def id(self, text):
        return self.index.setdefault(text, len(self.index))

    def message(self):
        return b"".join(chunk(1, text.encode()) for text in self.index)


def tags(strings, pairs):
    ordered = sorted(pairs.items())
    return packed(2, [strings.id(k) for k, _ in ordered]) + packed(3, [strings.id(v) for _, v in ordered])


def dense_nodes(strings, nodes):
    """One DenseNodes group; nodes are (id, lon in 1e-7 deg, lat in 1e-7 deg, tags)."""
    keys_vals = []
    for _, _, _, pairs in nodes:
        for key, value in sorted(pairs.items()):
            keys_vals += [strings.id(key), strings.id(value)]
        keys_vals.append(0)
    body = packed_deltas(1, [n[0] for n in nodes])
    body += packed_deltas(8, [n[2] for n in nodes]) + packed_deltas(9, [n[1] for n in nodes])
    return chunk(2, body + packed(10, keys_vals))


def way(strings, item):
    ident, refs, pairs = item
    return chunk(3, number(1, ident) + tags(strings, pairs) + packed_deltas(8, refs))


def relation(strings, item):
    """A relation of ways: members are (way id, role)."""
    ident, members, pairs = item
    body = number(1, ident) + tags(strings, pairs) + packed(8, [strings.id(role) for _, role in members])
    return chunk(4, body + packed_deltas(9, [ref for ref, _ in members]) + packed(10, [1] * len(members)))


def blob(kind, raw):
    data = number(2, len(raw)) + chunk(3, zlib.compress(raw, 9))
    header = chunk(1, kind) + number(3, len(data))
    return struct.pack(">I", len(header)) + header + data


def header(nodes, program, source, timestamp_s):
    lons, lats = [n[1] for n in nodes], [n[2] for n in nodes]
    box = zip((1, 2, 3, 4), (min(lons), max(lons), max(lats), min(lats)))
    body = chunk(1, b"".join(signed(field, value * GRANULARITY_NANODEG) for field, value in box))
    body += chunk(4, b"OsmSchema-V0.6") + chunk(4, b"DenseNodes") + chunk(5, b"Sort.Type_then_ID")
    body += chunk(16, program.encode()) + chunk(17, source.encode()) + number(32, timestamp_s)
    return blob(b"OSMHeader", body)


def write(path, nodes, ways, relations, program, source, timestamp_s):
    """Writes the whole file, sorted by kind and id."""
    nodes, ways, relations = sorted(nodes, key=lambda n: n[0]), sorted(ways), sorted(relations)
    with open(path, "wb") as out:
        out.write(header(nodes, program, source, timestamp_s))
        for items, encode in ((nodes, dense_nodes), (ways, way), (relations, relation)):
            for start in range(0, len(items), ENTITIES_PER_BLOCK):
                part = items[start : start + ENTITIES_PER_BLOCK]
                strings = Strings()
                group = encode(strings, part) if encode is dense_nodes else b"".join(encode(strings, i) for i in part)
                out.write(blob(b"OSMData", chunk(1, strings.message()) + chunk(2, group)))
