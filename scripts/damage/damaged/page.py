"""The page of the guide about damaged files: its table must say of every kind what the suite holds it to."""

from .hamlet import ROOT
from .kinds import Kind

PAGE = ROOT / "src" / "guide" / "damage.md"
HEAD = ["file", "checksum", "cut short"]
ERROR, PART = "an error", "may pass for a whole one"


def wanted(kind: Kind) -> list[str]:
    """The row of a kind."""
    return [kind.name, kind.law.checksum or "none", ERROR if kind.law.cut_told else PART]


def rows(text: str) -> list[list[str]]:
    """The rows of the table that begins with the head."""
    lines = [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in text.splitlines()]
    if HEAD not in lines:
        return []
    found = []
    # Below the head is a line of dashes.
    for row in lines[lines.index(HEAD) + 2 :]:
        if len(row) != len(HEAD):
            break
        found.append(row)
    return found


def differences(kinds: list[Kind], text: str | None = None) -> list[str]:
    """Where the page and the list of kinds say different things."""
    found = rows(PAGE.read_text(encoding="utf-8") if text is None else text)
    right = [wanted(kind) for kind in kinds]
    if found == right:
        return []
    lost = [f"{PAGE.name}: misses the row {' | '.join(row)}" for row in right if row not in found]
    more = [f"{PAGE.name}: the row {' | '.join(row)} is not as the suite has it" for row in found if row not in right]
    return lost + more or [f"{PAGE.name}: rows are doubled or in another order"]
