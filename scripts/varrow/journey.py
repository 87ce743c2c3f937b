"""The two tide-gauge surveyors' three days: a track along the roads, and their calendar."""

import datetime
import heapq
import random

from . import geometry as geo

FIX_EVERY_S = 5
NOISE_M = 2.0
ADVISORY_KMH = {"trunk": 100, "trunk_link": 50, "secondary": 68, "tertiary": 42, "unclassified": 50, "residential": 26,
                "living_street": 7, "service": 15, "track": 20}
# Each day: start (UTC), then places as (x, y, minutes spent there).
DAYS = [
    ("2026-06-15T09:30:00", [(2300, 1215, 0), (6700, 1570, 20), (13840, 2950, 75), (8870, 3120, 30), (5640, 730, 0)]),
    ("2026-06-16T09:00:00", [(5640, 730, 0), (4530, 1839, 10), (6600, 4500, 5), (8250, 8340, 90), (6950, 5950, 15), (4760, 2520, 0)]),
    ("2026-06-17T08:45:00", [(4760, 2520, 0), (6640, 2760, 20), (13220, 2868, 10), (1500, 4800, 40), (2300, 1215, 0)]),
]


class Graph:
    """Roads a van may use, as seconds between neighbouring nodes."""

    def __init__(self, world):
        self.points, self.next = world.points, {}
        for _, refs, tags in world.ways:
            speed = ADVISORY_KMH.get(tags.get("highway"))
            if speed is None or "bridge" in tags and tags["highway"] == "footway":
                continue
            for a, b in zip(refs, refs[1:]):
                cost = geo.dist(self.points[a], self.points[b]) / (speed / 3.6)
                self.next.setdefault(a, []).append((b, cost))
                self.next.setdefault(b, [])
                if tags.get("oneway") != "yes":
                    self.next[b].append((a, cost))

    def at(self, x, y):
        return min(self.next, key=lambda n: (geo.dist(self.points[n], (x, y)), n))

    def path(self, start, goal):
        """Nodes and seconds of the fastest way."""
        best, queue = {start: (0.0, None)}, [(0.0, start)]
        while queue:
            cost, here = heapq.heappop(queue)
            if here == goal:
                break
            if cost > best[here][0]:
                continue
            for there, more in self.next[here]:
                if there not in best or cost + more < best[there][0]:
                    best[there] = (cost + more, here)
                    heapq.heappush(queue, (cost + more, there))
        nodes = [goal]
        while nodes[-1] != start:
            nodes.append(best[nodes[-1]][1])
        return [(n, best[n][0]) for n in reversed(nodes)]


def fixes(world):
    """Per day a list of (time, lon, lat)."""
    graph, dice = Graph(world), random.Random(3)
    for start, stops in DAYS:
        clock = datetime.datetime.fromisoformat(start)
        out = []
        for (x1, y1, _), (x2, y2, minutes) in zip(stops, stops[1:]):
            path = graph.path(graph.at(x1, y1), graph.at(x2, y2))
            for seconds, point in every(path, world.points):
                noisy = tuple(c + (dice.random() + dice.random() - 1) * NOISE_M for c in point)
                out.append((clock + datetime.timedelta(seconds=seconds), *geo.lonlat(noisy)))
            clock += datetime.timedelta(seconds=round(path[-1][1]), minutes=minutes)
        yield out


def every(path, points):
    """Places along a timed path, one every few seconds, beginning with its start."""
    second = 0
    for (a, start), (b, end) in zip(path, path[1:]):
        while second <= end:
            t = (second - start) / (end - start) if end > start else 0.0
            pa, pb = points[a], points[b]
            yield second, (pa[0] + (pb[0] - pa[0]) * t, pa[1] + (pb[1] - pa[1]) * t)
            second += FIX_EVERY_S


def write_gpx(path, world):
    lines = ['<?xml version="1.0" encoding="UTF-8"?>',
             '<gpx version="1.1" creator="waymask make-varrow" xmlns="http://www.topografix.com/GPX/1/1">',
             "  <trk>", "    <name>Varrow gauge circuit</name>"]
    for day in fixes(world):
        lines.append("    <trkseg>")
        lines += [f'      <trkpt lat="{lat:.6f}" lon="{lon:.6f}"><time>{time.isoformat()}Z</time></trkpt>' for time, lon, lat in day]
        lines.append("    </trkseg>")
    lines += ["  </trk>", "</gpx>", ""]
    with open(path, "w", encoding="utf-8", newline="\n") as out:
        out.write("\n".join(lines))


ZONE = """BEGIN:VTIMEZONE
TZID:Varrow
BEGIN:STANDARD
DTSTART:20001029T010000
RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU
TZOFFSETFROM:-0100
TZOFFSETTO:-0200
TZNAME:VAT
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:20000326T000000
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=-1SU
TZOFFSETFROM:-0200
TZOFFSETTO:-0100
TZNAME:VAST
END:DAYLIGHT
END:VTIMEZONE"""

# Kind, summary, start, end, more lines; a value without Z and zone is floating: the van's own clock.
MEETINGS = [
    ("must-not-drop", "Datum review with the port office", "DTSTART:20260615T100000Z", "DTEND:20260615T103000Z", []),
    ("casual", "Chat with the harbour crew", "DTSTART;TZID=Varrow:20260615T103000", "DTEND;TZID=Varrow:20260615T111500", []),
    ("messages", "Send the Eastmark readings", "DTSTART:20260615T113000", "DTEND:20260615T120000", []),
    ("must-not-drop", "Weekly levelling call", "DTSTART;TZID=Varrow:20260602T083000", "DURATION:PT45M",
     ["RRULE:FREQ=WEEKLY;BYDAY=TU;COUNT=8", "EXDATE;TZID=Varrow:20260623T083000"]),
    ("casual", "Gauge workshop, questions and answers from the northern stations; bring the June tables", "DTSTART:20260616T111500Z",
     "DTEND:20260616T120000Z", ["LOCATION:Pellhaven\\, quay shed"]),
    ("messages", "Upload photographs of the pass benchmarks", "DTSTART;TZID=Varrow:20260616T110000", "DTEND;TZID=Varrow:20260616T113000", []),
    ("must-not-drop", "Budget hearing", "DTSTART:20260617T091500Z", "DTEND:20260617T094500Z", []),
    ("casual", "Farewell call", "DTSTART:20260617T100000", "DURATION:PT20M", ["STATUS:TENTATIVE"]),
]


def fold(line):
    """Lines of at most 75 octets, continued by a space (RFC 5545 section 3.1); all text here is ASCII."""
    out = [line[:75]]
    rest = line[75:]
    while rest:
        out.append(" " + rest[:74])
        rest = rest[74:]
    return out


def write_ics(path):
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//waymask//make-varrow//EN", *ZONE.split("\n")]
    for number, (kind, summary, start, end, more) in enumerate(MEETINGS, 1):
        text = summary.replace(",", "\\,").replace(";", "\\;")
        lines += ["BEGIN:VEVENT", f"UID:varrow-{number}@surveyors.invalid", "DTSTAMP:20260101T000000Z", start, end,
                  f"SUMMARY:{text}", f"CATEGORIES:{kind}", *more, "END:VEVENT"]
    lines.append("END:VCALENDAR")
    with open(path, "w", encoding="ascii", newline="") as out:
        out.write("".join(part + "\r\n" for line in lines for part in fold(line)))
