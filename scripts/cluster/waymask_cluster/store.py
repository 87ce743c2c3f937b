"""Files of a work folder that pass between machines which share no disk."""

import contextlib
import errno
import hashlib
import os
import re
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path

from .errors import AGAIN, FOR_GOOD, Failed

PLAN = "plan.json"
MARK = "waymask-work"
BUNDLES = "bundles"
# District, what the part depends on, what it holds.
PART = re.compile(r"(?P<district>[ns][0-9]+[ew][0-9]+)-[0-9a-f]{32}-(?P<digest>[0-9a-f]{32})\.gpkg")
# The program takes files named like this for parts that are not finished, and removes them.
NEW = ".new.cluster.gpkg"


class DamagedPart(Exception):
    """A part that is not what its name says."""


def names_of(districts: Sequence[str]) -> list[str]:
    """The files that a shard reads, relative to the work folder."""
    return [PLAN, MARK, *(f"{BUNDLES}/{district}.bundle" for district in districts)]


def unpack(folder: Path, names: Sequence[str], files: Sequence[bytes]) -> None:
    """Makes a work folder of files that came along."""
    (folder / BUNDLES).mkdir(parents=True)
    for name, data in zip(names, files, strict=True):
        (folder / name).write_bytes(data)


def parts_in(folder: Path) -> Iterator[Path]:
    """Finished parts."""
    return (path for path in sorted(folder.iterdir()) if PART.fullmatch(path.name))


def keep_part(work: Path, name: str, data: bytes, expected: Collection[str]) -> None:
    """Puts a part into the work folder, whole or not at all."""
    match = PART.fullmatch(name)
    if match is None or match["district"] not in expected:
        raise DamagedPart(f"{name!r} is not the name of a part of this shard")
    if hashlib.sha256(data).hexdigest()[:32] != match["digest"]:
        raise DamagedPart(f"{name} is not what its name says")
    new = work / (match["district"] + NEW)
    try:
        with new.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        new.rename(work / name)
        _sync_folder(work)
    except OSError as error:
        with contextlib.suppress(OSError):
            new.unlink()
        code = AGAIN if error.errno in (errno.ENOSPC, errno.EDQUOT) else FOR_GOOD
        raise Failed(f"{work / name}: cannot be written: {error.strerror}; finished parts stay", code) from error


def remove_unfinished(work: Path) -> None:
    """Removes what an earlier driver left that was killed while it wrote. Only the driver that holds the folder may."""
    for path in work.glob("*" + NEW):
        with contextlib.suppress(OSError):
            path.unlink()


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
