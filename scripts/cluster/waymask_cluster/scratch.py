"""Temporary folders of workers, on the machine that a worker runs on.

A worker holds a lock on its folder, which the kernel lets go of when the worker dies, however it dies. So a folder that
can be locked belongs to nobody, and the next worker removes it.
"""

import contextlib
import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

PREFIX = "waymask-cluster-"


def _lock(folder: Path) -> int | None:
    """A descriptor that holds the lock of a folder; nothing where another process does, or it is gone."""
    try:
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except OSError:
        return None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        # Another worker may have locked and removed it in between.
        if os.stat(folder).st_ino == os.fstat(descriptor).st_ino:
            return descriptor
    except OSError:
        pass
    os.close(descriptor)
    return None


def sweep() -> None:
    """Removes the folders of this user that dead workers left."""
    for folder in Path(tempfile.gettempdir()).glob(PREFIX + "*"):
        with contextlib.suppress(OSError):
            if folder.stat().st_uid == os.getuid() and (lock := _lock(folder)) is not None:
                shutil.rmtree(folder, ignore_errors=True)
                os.close(lock)


@contextlib.contextmanager
def folder() -> Iterator[Path]:
    """A new folder, which goes in the end."""
    sweep()
    lock = None
    while lock is None:
        path = Path(tempfile.mkdtemp(prefix=PREFIX))
        lock = _lock(path)
    try:
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)
        os.close(lock)
