"""What ends a run, and with which exit code."""

FOR_GOOD = 1
WRONG_USAGE = 2
AGAIN = 3


def code_of(ended: int) -> int:
    """What the end of a program means; below zero is the signal that it died of."""
    if ended < 0:
        return AGAIN
    return ended if ended <= AGAIN else FOR_GOOD


class Failed(Exception):
    """A run that ends: what the user reads, and the exit code."""

    def __init__(self, message: str, code: int = FOR_GOOD) -> None:
        super().__init__(message)
        self.code = code
