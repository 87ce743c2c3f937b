"""Hostile names, each with a mark of its own, and what a format may make of them.

What is allowed is what the guide says (page `decisions/foreign`) and what the formats themselves say; none of it is
taken from the program.
"""

import re
import unicodedata
from collections.abc import Iterator

# A letter for what bears the name and its number: text that holds a mark has to hold the name whole.
MARK = re.compile(r"[A-Z]\d\dq")
# Which kinds of names come from calendars, names of files, tracks and the map; the others come from TOML or JSON.
OF_CALENDARS, OF_FILES, OF_TRACKS, OF_MAPS = "MUXLZ", "F", "G", "RQDSPWV"
SATELLITE = "\U0001f6f0"

# `@` stands where the mark goes.
TEMPLATES = [
    "</script><script>window.taken='@'</script>",
    "<img src=x onerror=\"window.taken='@'\">",
    "\" onmouseover=\"window.taken='@'\" autofocus onfocus=\"window.taken='@'",
    "' onmouseover='window.taken=1' @'",
    "]]>@<![CDATA[",
    "<!--@",
    "--><b>@</b><!-- -->",
    "&amp;lt;i&gt;@&#60;b&#62;&nbsp;&bogus;",
    "{{7*7}}${window.taken=7}`@`<%= 7*7 %>#{7*7}",
    '=HYPERLINK("http://waymask.invalid/@","win")',
    "+1+1@",
    "-2+3@",
    "@SUM(1)@",
    "=cmd|'/C calc'!A0@",
    "tab\tin\t@",
    "line\nbreak\r\nand\rmore @",
    "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nUID:@",
    "x\\nEND:VEVENT\\nBEGIN:VEVENT\\n@",
    "back\\slash \\, \\; \\N @\\",
    'comma, semicolon; colon: "quoted", ^n^\'@',
    "\u202egpj.exe \u2066hidden\u2069 @",
    "line\u2028separator\u2029and\u0085next @",
    "controls\x01\x07\x08\x0b\x0c\x1b[31m\x7f\u009b@",
    "nul\x00in the middle @",
    "not a character \ufffe\uffff\ufdd0 @",
    "mark\ufeff width\u200b join\u200d soft\u00ad tag\U000e0041 @",
    "javascript:window.taken='@'",
    "data:text/html,<script>window.taken='@'</script>",
    "</style><style>*{display:none}</style>@",
    "</title><textarea>@",
    "<svg onload=\"window.taken='@'\"><foreignObject>",
    SATELLITE * 300 + "@",
    "é" * 120 + "e\u0301" * 30 + "@",
    "../../etc/passwd %s %n %00 @",
    "; DROP TABLE segments; -- @",
    "'||(SELECT 1)||'@",
    "@ to @ km \u00a0 0.0, 0.0",
    '{"name": "@", "name": "@"}',
    "__proto__ constructor @",
    "Straße \u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645 עברית 東京 @",
]


def spelt(letter: str, number: int) -> str:
    """The name of a thing of a kind."""
    # A sign at the very beginning stands for itself: a formula of old spreadsheets.
    head, rest = ("@", TEMPLATES[number][1:]) if TEMPLATES[number].startswith("@SUM") else ("", TEMPLATES[number])
    return head + rest.replace("@", plain(letter, number))


def plain(letter: str, number: int) -> str:
    """A name that harms nobody: the mark alone."""
    return f"{letter}{number:02}q"


def went_in(mark: str) -> str:
    """The name that a mark stands for, as the format that it was read from can hold it."""
    letter, text = mark[0], spelt(mark[0], int(mark[1:3]))
    if letter in OF_CALENDARS:
        return in_calendar(text)
    if letter in OF_FILES:
        return file_name(text)
    if letter in OF_MAPS:
        return in_layer(text)
    return kept_by_xml(text) if letter in OF_TRACKS else text


def marks(text: str) -> Iterator[str]:
    """The marks in a text, each once."""
    yield from dict.fromkeys(MARK.findall(text))


SPACES = "\t\n\x0b\x0c\r\x85\u2028\u2029"
# Format characters that the scripts of Persia and India need (guide, decisions/foreign).
JOINERS = "\u200c\u200d"


def deceives(letter: str) -> bool:
    """Controls, marks of direction and characters without width."""
    return letter not in JOINERS and unicodedata.category(letter) in ("Cc", "Cf")


def one_line(text: str) -> str:
    """As text for people may be: line ends and tabs a space, what deceives U+FFFD."""
    return "".join(" " if c in SPACES else "\ufffd" if deceives(c) else c for c in text)


def in_xml(text: str) -> str:
    """As XML may be: line ends are as a parser makes them; what is forbidden or deceives is U+FFFD."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(
        c if c in "\t\n\r" else "\ufffd" if deceives(c) or c in "\u2028\u2029\ufffe\uffff" else c for c in text
    )


def kept_by_xml(text: str) -> str:
    """What XML 1.0 can hold of a text; the rest was never in the file."""
    return "".join(c for c in text if c in "\t\n\r" or (c >= " " and c not in "\ufffe\uffff"))


def in_layer(text: str) -> str:
    """What a layer holds: SQLite's own functions end a text at U+0000 (sqlite.org/nulinstr.html)."""
    return text.replace("\x00", "\ufffd")


def as_argument(text: str) -> str:
    """What can be given on a command line."""
    return text.replace("\x00", "0")


def file_name(text: str) -> str:
    """The name of a file: neither the letter that separates folders nor the one that ends names is in it."""
    return as_argument(text).replace("/", "|")


def in_calendar(text: str) -> str:
    """As RFC 5545 may be (section 3.3.11): a line end is one, other controls are a space."""
    text = text.replace("\r\n", "\n")
    return "".join(" " if unicodedata.category(c) == "Cc" and c != "\n" else c for c in text)


def squeezed(text: str) -> str:
    """White space as HTML shows it."""
    return re.sub(r"[ \t\n\r\f]+", " ", text).strip()
