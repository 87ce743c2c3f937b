"""One shard on one machine: a task of Ray, which runs the program and tells what becomes of it."""

import os
import shutil
import socket
from collections.abc import Generator, Iterator, Sequence
from pathlib import Path
from typing import Any

import ray

from . import leash, scratch, store
from .errors import AGAIN, FOR_GOOD, code_of
from .events import Ended, Event, Job, Part, Started


def run_shard(job: Job, files: Sequence[Any]) -> Iterator[Event]:
    """Rates a shard. `files` are references to what `job.names` names."""
    yield Started(ray.get_runtime_context().get_node_id(), socket.gethostname())
    try:
        with scratch.folder() as folder:
            ended = yield from _run_in(folder, job, files)
    except OSError as error:
        # Of this machine's own disk: another one may do.
        ended = Ended(AGAIN, f"temporary folder: {error}; point TMPDIR of this machine to another disk")
    # Last of all, since the driver may end Ray as soon as it hears it.
    yield ended


def _run_in(folder: Path, job: Job, files: Sequence[Any]) -> Generator[Part, None, Ended]:
    program = shutil.which(job.program)
    if program is None:
        return Ended(FOR_GOOD, f"{job.program}: program not found; install it there, or name it with --program")
    work = folder / "work" if job.names else Path(job.work)
    if job.names:
        store.unpack(work, job.names, ray.get(list(files)))
    elif not (work / store.PLAN).is_file():
        return Ended(FOR_GOOD, f"{work / store.PLAN} is not there; share the folder, or use --no-shared-disk")
    said = folder / "said"
    shard = ["--shard", f"{job.shard}/{job.shards}", "--work", str(work)]
    # What the program leaves when it is killed goes with the folder.
    environment = {**os.environ, "TMPDIR": str(folder)}
    code = leash.run([program, "build", *shard, "--quiet", "-j", str(job.threads)], said, environment)
    if job.names:
        for path in store.parts_in(work):
            yield Part(path.name, path.read_bytes())
            path.unlink()
    return Ended(code_of(code), leash.tail(said) or (f"ended with {code}" if code > 0 else f"killed by signal {-code}"))
