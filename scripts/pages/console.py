"""Console blocks: commands and what they print."""
import difflib
import re
from dataclasses import dataclass, field

ANY = "..."
EXIT = re.compile(r"^\(exit (\d+)\)$")
# A figure that differs from run to run: `~12.5 s` stands for any figure there.
ABOUT = re.compile(r"~(\d+(?: \d{3})*(?:\.\d+)?)")
FIGURE = r"\d+(?: \d{3})*(?:\.\d+)?"
# What the program writes every ten seconds where nobody watches a terminal.
PROGRESS = re.compile(
    r"^[a-z][a-z ]*: \d+( of \d+)? \S+( \(\d+ %\))?, [\d.]+ \S+/s(, \d+ s left)?$"
    r"|^\d+ % done: [a-z]+(, \S+ \S+ left)?$"
    # How long the rest takes depends on the machine.
    r"|^[\d.]+ km of road in \d+ districts?(, .*)?: about .* yours may differ\)$"
)


@dataclass
class Command:
    line: int
    text: str
    printed: list = field(default_factory=list)
    status: int = 0


def commands(block):
    """The commands of a block; text before the first one is an error."""
    out, open_line = [], False
    for number, line in enumerate(block.lines, block.line + 1):
        if open_line:
            out[-1].text += "\n" + line
            open_line = line.endswith("\\")
        elif line.startswith("$ "):
            out.append(Command(number, line[2:]))
            open_line = line.endswith("\\")
        elif not out:
            if line.strip():
                raise ValueError(f"{number}: a console block begins with a line '$ command'")
        elif m := EXIT.match(line.strip()):
            out[-1].status = int(m.group(1))
        else:
            out[-1].printed.append(line.rstrip())
    if open_line:
        raise ValueError(f"{out[-1].line}: the command ends with \\ and does not go on")
    if not out:
        raise ValueError(f"{block.line}: a console block without a line '$ command'")
    for command in out:
        while command.printed and not command.printed[-1]:
            command.printed.pop()
    return out


def without_progress(text):
    """The lines of what was printed, without trailing blanks, blank ends and lines of progress."""
    lines = [line.rstrip() for line in text.splitlines()]
    lines = [line for line in lines if not PROGRESS.match(line)]
    while lines and not lines[-1]:
        lines.pop()
    return lines


def same_line(expected, line):
    if not ABOUT.search(expected):
        return expected == line
    parts, at = [], 0
    for m in ABOUT.finditer(expected):
        parts += [re.escape(expected[at : m.start()]), FIGURE]
        at = m.end()
    pattern = "".join([*parts, re.escape(expected[at:])])
    # A figure of another length moves its neighbours.
    return re.fullmatch(re.sub(r"(?:\\ )+", r" +", pattern), line) is not None


def holds(expected, lines):
    """Whether lines are those expected, where `...` stands for any number of lines."""
    reached = {0}
    for wanted in expected:
        if wanted.strip() == ANY:
            reached = set(range(min(reached), len(lines) + 1)) if reached else set()
        else:
            reached = {j + 1 for j in reached if j < len(lines) and same_line(wanted, lines[j])}
    return len(lines) in reached


def difference(expected, lines, most=60):
    """What differs, for people."""
    rows = list(difflib.unified_diff(expected, lines, "page", "printed", lineterm="", n=2))
    return rows[:most] + ([f"({len(rows) - most} more lines)"] if len(rows) > most else [])
