"""A strict reader of iCalendar (RFC 5545), and what the icalendar package reads in the same file."""

import re
from dataclasses import dataclass, field

from .readers import Broken, text_of

TEXTS = {"SUMMARY", "DESCRIPTION", "LOCATION", "UID"}
LISTS = {"CATEGORIES"}
OTHERS = {"DTSTAMP", "DTSTART", "DTEND", "SEQUENCE", "GEO", "TRANSP"}


@dataclass
class Agenda:
    """The events of a file: values by property, escapes undone."""

    events: list[dict[str, str]] = field(default_factory=list)

    def texts(self) -> list[str]:
        return [value for event in self.events for value in event.values()]


def unescaped(value: str, separator: bool) -> str:
    """A value of type TEXT (section 3.3.11); in a list a comma separates."""
    out, at = "", 0
    while at < len(value):
        letter = value[at]
        if letter == "\\":
            following = value[at + 1 : at + 2]
            if following not in ("\\", ";", ",", "n", "N"):
                raise Broken(f"an escape of {following!a}")
            out += "\n" if following in "nN" else following
            at += 2
            continue
        if letter == ";" or (letter == "," and not separator):
            raise Broken(f"{letter!a} without an escape: {value[:60]!a}")
        out += letter
        at += 1
    return out


def lines(data: bytes) -> list[str]:
    """Unfolded lines. Each line of the file is whole letters, ends with CRLF and has at most 75 octets."""
    if not data.endswith(b"\r\n"):
        raise Broken("no line end at the end")
    out: list[str] = []
    for raw in data[:-2].split(b"\r\n"):
        if b"\r" in raw or b"\n" in raw:
            raise Broken(f"a line end that is not CRLF: {raw[:60]!r}")
        if len(raw) > 75:
            raise Broken(f"a line of {len(raw)} octets")
        line = text_of(raw)
        if re.search(r"[\x00-\x08\x0a-\x1f\x7f-\x9f]", line):
            raise Broken(f"a control: {line!a}")
        if line.startswith((" ", "\t")):
            out[-1] += line[1:]
        elif not line:
            raise Broken("an empty line")
        else:
            out.append(line)
    return out


def agenda(data: bytes) -> Agenda:
    said = lines(data)
    if said[0] != "BEGIN:VCALENDAR" or said[-1] != "END:VCALENDAR":
        raise Broken(f"begins with {said[0]!a}, ends with {said[-1]!a}")
    found, head = Agenda(), list[str]()
    event: dict[str, str] | None = None
    for line in said[1:-1]:
        name, colon, value = line.partition(":")
        if not colon or not re.fullmatch(r"[A-Z-]+", name):
            raise Broken(f"no property: {line[:60]!a}")
        if line in ("BEGIN:VEVENT", "END:VEVENT"):
            if (event is None) != (name == "BEGIN"):
                raise Broken(f"{line} at the wrong place")
            if event is not None:
                found.events.append(event)
            event = {} if name == "BEGIN" else None
        elif event is None:
            head.append(name)
        elif name in event or name not in TEXTS | LISTS | OTHERS:
            raise Broken(f"{name} twice, or not foreseen")
        else:
            event[name] = unescaped(value, name in LISTS) if name in TEXTS | LISTS else value
    if event is not None or sorted(head) != ["PRODID", "VERSION"]:
        raise Broken(f"an event without an end, or a head of {head}")
    for one in found.events:
        if not {"UID", "DTSTAMP", "DTSTART", "SUMMARY"} <= set(one):
            raise Broken(f"an event with {sorted(one)} only")
    uids = [one["UID"] for one in found.events]
    if len(set(uids)) != len(uids):
        raise Broken("an identity twice")
    return found


def second_opinion(data: bytes) -> list[dict[str, str]]:
    """Texts of each event, as the icalendar package reads them."""
    from icalendar import Calendar

    events = []
    for event in Calendar.from_ical(data).walk("VEVENT"):
        if event.errors:
            raise Broken(f"icalendar complains: {event.errors}")
        events.append({key: str(event[key]) for key in TEXTS if key in event})
    return events
