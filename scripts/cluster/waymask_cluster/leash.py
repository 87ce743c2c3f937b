"""Runs a program that ends with the process that started it.

The kernel kills the program when the thread that started it ends (PR_SET_PDEATHSIG, Linux only), so call `run` on the
main thread. A process with threads must not run Python between fork and exec; so a second, small interpreter asks for
the signal and then becomes the program. The parent may have died before it asked: then it has another, and gives up.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

LEASH = """
import ctypes, os, signal, sys
parent, command = int(sys.argv[1]), sys.argv[2:]
if sys.platform == "linux":
    PR_SET_PDEATHSIG = 1
    if ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0) != 0:
        sys.exit(f"prctl: {os.strerror(ctypes.get_errno())}")
if os.getppid() != parent:
    sys.exit("the process that started this has ended")
# Ray blocks Ctrl-C in its workers, and what they start would inherit that.
signal.pthread_sigmask(signal.SIG_SETMASK, [])
try:
    os.execv(command[0], command)
except OSError as error:
    sys.exit(f"{command[0]}: cannot be started: {error.strerror}")
"""
POLL_S = 0.05
GRACE_S = 5
TAIL_BYTES = 4096
TAIL_LINES = 6


def run(command: Sequence[str], said: Path, environment: Mapping[str, str] | None = None) -> int:
    """Runs a program, whose errors go to the file `said`; below zero is the signal that it died of."""
    leash = [sys.executable, "-I", "-S", "-c", LEASH, str(os.getpid()), *command]
    with said.open("wb") as errors:
        child = subprocess.Popen(
            leash, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=errors, env=environment
        )
    try:
        # Ray interrupts a task by an exception, which only comes up between two steps of Python.
        while child.poll() is None:
            time.sleep(POLL_S)
    finally:
        end(child)
    return child.returncode


def end(child: "subprocess.Popen[bytes]") -> None:
    """Ends a child that still runs: asked first, then by force."""
    if child.poll() is None:
        child.send_signal(signal.SIGTERM)
        try:
            child.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def tail(path: Path) -> str:
    """The last lines of a file."""
    with path.open("rb") as file:
        file.seek(max(path.stat().st_size - TAIL_BYTES, 0))
        text = file.read().decode(errors="replace")
    return "\n".join([line for line in text.splitlines() if line.strip()][-TAIL_LINES:])
