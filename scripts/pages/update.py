"""Puts what commands print now in place of what a page says, keeping what the page leaves out."""
import difflib

from pages import console

# Lines less alike than this are not the same line in other words.
ALIKE = 0.4


def fitted(expected, lines):
    """The lines a page shows, as they are printed now: each the line most like it, in the same order."""
    if console.ANY not in [e.strip() for e in expected]:
        return list(lines)
    out, at, skipping = [], 0, False
    for wanted in expected:
        if wanted.strip() == console.ANY:
            out.append(wanted)
            skipping = True
            continue
        found = nearest(wanted, lines, at) if skipping else (at if at < len(lines) else None)
        if found is None:
            continue
        out.append(wanted if console.same_line(wanted, lines[found]) else lines[found])
        at, skipping = found + 1, False
    if not skipping and at < len(lines):
        out.append(console.ANY)
    return out


def nearest(wanted, lines, first):
    likeness = [difflib.SequenceMatcher(None, wanted, line, autojunk=False).ratio() for line in lines[first:]]
    if not likeness or max(likeness) < ALIKE:
        return None
    return first + likeness.index(max(likeness))


def rewrite(path, changes):
    """Replaces blocks of lines of a file: (first line from 1, how many, new lines)."""
    text = path.read_text(encoding="utf-8").split("\n")
    for first, count, new in sorted(changes, reverse=True):
        text[first - 1 : first - 1 + count] = new
    path.write_text("\n".join(text), encoding="utf-8")
