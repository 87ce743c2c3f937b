"""What is right and what is a fault, where a file was damaged."""

import re
from dataclasses import dataclass, field

from .bench import EXIT_CODES, PANICKED, Answer, Limits

# As the columns of the table are called.
SAME, PLACED, NAMED, SAID, SILENT, FAULT = (
    "undamaged",
    "file, place",
    "file alone",
    "said so",
    "unnoticed",
    "fault",
)
VERDICTS = (SAME, PLACED, NAMED, SAID, SILENT, FAULT)
# A damaged track may be one of another place. Then the layer is at fault as much as the track.
ELSEWHERE = "does not cover the track"
PANIC = re.compile(r"panicked at|RUST_BACKTRACE|stack overflow|memory allocation of|core dumped|\bSIG[A-Z]+\b")


@dataclass(frozen=True)
class Law:
    """What holds of one kind of file."""

    # What guards it; nothing where nothing does.
    checksum: str
    # Where in the file a place is said to be.
    place: str
    # A file cut short never gives another answer.
    cut_told: bool
    limits: Limits = field(default_factory=Limits)


@dataclass(frozen=True)
class Judged:
    verdict: str
    why: str = ""


def judged(law: Law, file: str, was_cut: bool, sound: Answer, answer: Answer) -> Judged:
    """The verdict on what a damaged file of a name gave, compared with what the sound one gives."""
    ran = answer.ran
    if wrong := always_wrong(answer, law.limits):
        return Judged(FAULT, "; ".join(wrong))
    if ran.code != 0:
        return judged_error(law, file, answer)
    if answer.figures == sound.figures:
        return Judged(SAME)
    if law.checksum:
        return Judged(FAULT, "a file with a checksum gave another answer")
    if was_cut and law.cut_told:
        return Judged(FAULT, "a file cut short gave another answer")
    return Judged(SAID if answer.words != sound.words else SILENT)


def always_wrong(answer: Answer, limits: Limits) -> list[str]:
    """What no input excuses."""
    ran, found = answer.ran, []
    if not ran.ended:
        found.append("did not end")
    if ran.code < 0:
        found.append(f"ended by signal {-ran.code}")
    if ran.code == PANICKED or PANIC.search(ran.error):
        found.append("panicked")
    if ran.code >= 0 and ran.code not in (*EXIT_CODES, PANICKED):
        found.append(f"exit code {ran.code} is not documented")
    if ran.memory_bytes > limits.memory_bytes:
        found.append(f"took {ran.memory_bytes / 1e6:.0f} MB of memory")
    if ran.processor_s > limits.processor_s:
        found.append(f"took {ran.processor_s:.0f} s of processor")
    if ran.code != 0 and answer.wrote:
        found.append("failed, and wrote an output")
    if answer.broken:
        found.append(f"left a broken output: {answer.broken}")
    if answer.left:
        found.append(f"left files behind: {', '.join(answer.left)}")
    return found


def judged_error(law: Law, file: str, answer: Answer) -> Judged:
    error = answer.ran.error
    if file not in error and ELSEWHERE not in error:
        return Judged(FAULT, "the error does not name the file")
    if re.search(law.place, error):
        return Judged(PLACED)
    if law.checksum:
        return Judged(FAULT, "a file with a checksum, and the error names no place")
    return Judged(NAMED)
