"""The command `waymask-cluster`."""

import argparse
import contextlib
import errno
import fcntl
import importlib.util
import os
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import FrameType

from . import leash, store
from .errors import AGAIN, FOR_GOOD, WRONG_USAGE, Failed, code_of
from .events import Job
from .plan import Plan, choose_shards, find_program, read_plan
from .progress import Pace, Progress

NEEDS_RAY = 'ray is not installed: pip install "ray==2.60.*"'


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the command; its exit code."""
    options = parser().parse_args(arguments)
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        run(options)
    except Failed as failed:
        print(f"waymask-cluster: {failed}", file=sys.stderr)
        return failed.code
    except KeyboardInterrupt:
        print("waymask-cluster: stopped; finished parts stay, and the same command goes on", file=sys.stderr)
        return AGAIN
    except OSError as error:
        print(
            f"waymask-cluster: {error.filename or 'the disk'}: {error.strerror or error}; finished parts stay",
            file=sys.stderr,
        )
        return AGAIN if error.errno in (errno.ENOSPC, errno.EDQUOT) else FOR_GOOD
    return 0


def parser() -> argparse.ArgumentParser:
    it = argparse.ArgumentParser(
        prog="waymask-cluster",
        description="Rates the shards of a planned build on many machines, and joins them to a layer.",
    )
    it.add_argument("work", type=Path, metavar="WORK", help="work folder that `waymask shards` planned")
    it.add_argument("-o", "--output", type=Path, metavar="LAYER", help="file to write: the layer (.gpkg)")
    it.add_argument(
        "--shards",
        type=_whole_number(1),
        metavar="N",
        help="number of shards (default: ten minutes of a processor each)",
    )
    it.add_argument(
        "--address", help="cluster to join, HOST:PORT or auto (default: RAY_ADDRESS, else this machine alone)"
    )
    it.add_argument(
        "--program", default="waymask", metavar="PATH", help="the program, on every machine (default: waymask)"
    )
    it.add_argument("--no-shared-disk", action="store_true", help="send bundles to the machines, and parts back")
    it.add_argument("--threads", type=_whole_number(1), default=1, metavar="N", help="threads of a shard (default: 1)")
    it.add_argument(
        "--retries", type=_whole_number(0), default=3, metavar="N", help="further tries of a shard (default: 3)"
    )
    it.add_argument("--overwrite", action="store_true", help="replace the layer if it exists")
    it.add_argument("--no-masks", action="store_true", help="leave out sky masks, which are most of a layer")
    it.add_argument("--no-merge", action="store_true", help="make the parts only; needs no -o")
    it.add_argument("-q", "--quiet", action="store_true", help="print errors only")
    return it


def _whole_number(least: int) -> Callable[[str], int]:
    def number(text: str) -> int:
        if not text.isdecimal() or int(text) < least:
            raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of at least {least}")
        return int(text)

    return number


def _interrupt(_signal: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def run(options: argparse.Namespace) -> None:
    """All of it, from the plan to the layer."""
    if importlib.util.find_spec("ray") is None:
        raise Failed(NEEDS_RAY)
    work = options.work.absolute()
    if "/" in options.program:
        options.program = str(Path(options.program).absolute())
    program = find_program(options.program)
    check_output(options, work)
    with held(work):
        store.remove_unfinished(work)
        rate(options, program, work)
        if not options.no_merge:
            merge(options, program, work)


def check_output(options: argparse.Namespace, work: Path) -> None:
    """What would fail in the end is told before hours of work."""
    output: Path | None = options.output
    if options.no_merge:
        return
    if output is None:
        raise Failed("name the layer with -o, or leave it out with --no-merge", WRONG_USAGE)
    if output.exists() and not options.overwrite:
        raise Failed(f"{output}: exists; replace it with --overwrite, or name another file with -o")
    if not output.absolute().parent.is_dir():
        raise Failed(f"{output.parent}: is not a folder; make it, or name another file with -o")
    if work.is_dir() and output.absolute().parent.samefile(work):
        raise Failed(f"{output}: lies in the work folder; write the layer to another folder with -o", WRONG_USAGE)


@contextlib.contextmanager
def held(work: Path) -> Iterator[None]:
    """Keeps a second driver out of a work folder: two would rate everything twice."""
    plan = work / store.PLAN
    if not plan.is_file():
        raise Failed(f"{work}: holds no {store.PLAN}; plan a build with `waymask shards ... --work {work}`")
    if not os.access(work, os.W_OK):
        raise Failed(f"{work}: cannot be written; parts are kept there")
    try:
        file = plan.open("r+b")
    except OSError as error:
        raise Failed(f"{plan}: cannot be opened: {error.strerror}") from error
    with file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise Failed(f"{work}: another waymask-cluster works there; wait until it is done", AGAIN) from error
        yield


def rate(options: argparse.Namespace, program: str, work: Path) -> None:
    """Makes the parts that are missing. What is there before and after is what the program says is there."""
    carried = bool(options.no_shared_disk)
    whole = read_plan(program, work, 1)
    if not whole.todo:
        return
    # Ray takes seconds to read; the rest does not need it.
    from .drive import Drive
    from .engine import Engine, joined

    with joined(options.address):
        # Ray has put its own in place, which would not end what runs.
        signal.signal(signal.SIGTERM, _interrupt)
        engine = Engine(Job(options.program, str(work), 0, 0, options.threads), carried)
        shards = options.shards or choose_shards(whole, engine.cpus, carried)
        plan = read_plan(program, work, shards)
        todo = plan.todo
        engine.check(todo)
        progress = progress_of(plan, options.quiet)
        hosts = engine.hosts() or "no machine yet"
        progress.say(f"{len(todo)} of {shards} shards to rate on {engine.cpus} processors of {hosts}")
        Drive(engine, todo, shards, work, options.retries, progress).run()
        progress.tick(0, engine.slots, now=True)
        progress.clear()
    left = read_plan(program, work, shards).todo
    if left:
        districts = " ".join(name for shard in left for name in shard.missing[:3])
        raise Failed(
            f"{work}: parts are missing although their shards were done (shards "
            f"{' '.join(str(shard.number) for shard in left)}; districts {districts}); "
            "is this folder the same on all machines? If not, use --no-shared-disk"
        )


def progress_of(plan: Plan, quiet: bool) -> Progress:
    km, cpu_s = sum(shard.missing_km for shard in plan.todo), sum(shard.missing_cpu_s for shard in plan.todo)
    return Progress(len(plan.todo), km, Pace(cpu_s / km if km > 0 else 0), quiet)


def merge(options: argparse.Namespace, program: str, work: Path) -> None:
    """Joins the parts; the program writes the layer whole or not at all."""
    chosen = [flag for flag in ("--overwrite", "--no-masks", "--quiet") if getattr(options, flag[2:].replace("-", "_"))]
    with tempfile.TemporaryDirectory() as folder:
        said = Path(folder) / "said"
        code = leash.run([program, "merge", str(work), "-o", str(options.output), *chosen], said)
        text = leash.tail(said)
    if code:
        raise Failed(f"the layer was not written: {text or f'ended with {code}'}", code_of(code))


if __name__ == "__main__":
    sys.exit(main())
