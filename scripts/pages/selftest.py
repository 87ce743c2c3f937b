"""Proof that each check can fail: a page with known faults, each announced by `<!-- fault: words -->` before it."""
import re
from pathlib import Path

from pages import check, phrases

FAULT = re.compile(r"<!-- fault: (.+?) -->")
PAGE = Path(__file__).with_name("faults.md")
GOOD = Path(__file__).with_name("sound.md")


def run(setting):
    """0 if every fault is found and nothing else."""
    wrong = phrases.faults()
    faulty = check.Checker(setting, with_data=False)
    faulty.page(PAGE, "faults.md")
    # Each problem belongs to the announcement before it that names it.
    text = PAGE.read_text(encoding="utf-8").split("\n")
    announced = [[number, m.group(1)] for number, line in enumerate(text, 1) for m in FAULT.finditer(line)]
    found = sorted(faulty.seen.problems, key=lambda p: p[1])
    for _, line, what in found:
        at = next((a for a in announced if a[0] <= line and a[1] in what), None)
        if at:
            announced.remove(at)
        else:
            wrong.append(f"faults.md:{line}: not announced: {what}")
    wrong += [f"faults.md:{line}: not found: {words}" for line, words in announced]
    if len(faulty.seen.skipped) != 1:
        wrong.append(f"faults.md: one block is skipped without its data, not {len(faulty.seen.skipped)}")
    sound = check.Checker(setting, with_data=False)
    sound.page(GOOD, "sound.md")
    wrong += [f"{name}:{line}: {what}" for name, line, what in sound.seen.problems]
    if sound.seen.commands < 5:
        wrong.append(f"sound.md: {sound.seen.commands} commands were run")
    print("\n".join([*wrong, f"{len(found)} faults found, {len(wrong)} differences from what is announced"]))
    return 1 if wrong or not found else 0
