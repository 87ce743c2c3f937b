"""A PostgreSQL server of one's own: in a temporary folder, reached through a socket there and not over any network."""

import contextlib
import ctypes
import os
import pwd
import re
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .bench import Bench, Missing, Wrong

START_S = 60


def programs() -> Path:
    """Where Debian keeps the programs of the newest PostgreSQL."""
    found = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    if not found:
        raise Missing("no PostgreSQL (Debian packages postgresql-15-postgis-3 and postgresql-15-pgrouting)")
    return max(found, key=lambda path: int(re.sub(r"\D", "", path.parent.name) or 0))


def owner() -> pwd.struct_passwd:
    """Who runs the server: PostgreSQL refuses to be run by root."""
    if os.getuid():
        return pwd.getpwuid(os.getuid())
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            return pwd.getpwnam(name)
    raise Missing("no user postgres to run PostgreSQL as")


class Server:
    """A server with one database, and how programs reach it."""

    def __init__(self, bench: Bench, home: Path) -> None:
        self.bench, self.home, self.log = bench, home, home / "log"
        # Programs that use PostgreSQL's library take these, so commands of the pages need no address.
        self.reached_by = {"PGHOST": str(home), "PGUSER": "doors", "PGDATABASE": "roads", "PGPORT": "5432"}

    def sql(self, text: str) -> str:
        """Runs statements with psql, the first error ends them; the rows of the last query as CSV, `\\N` for NULL."""
        words = ["psql", "-X", "-q", "--csv", "-P", "null=\\N", "-v", "ON_ERROR_STOP=1", "-f", "-"]
        done = subprocess.run(
            words,
            input=text,
            env=self.bench.environment() | self.reached_by | {"PGOPTIONS": "-c client_min_messages=warning"},
            cwd=self.bench.home,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise Wrong(f"psql ended with {done.returncode}: {done.stderr.strip()[:1500]}")
        return done.stdout

    def command(self, line: str) -> None:
        """A command of a page, in bash."""
        self.bench.run("bash", "-c", line, more=self.reached_by)


def tie() -> None:
    """Lets the kernel of Linux end the server at once (SIGQUIT) if this script is killed."""
    ctypes.CDLL(None).prctl(1, signal.SIGQUIT)


@contextlib.contextmanager
def server(bench: Bench) -> Iterator[Server]:
    """A server that ends with the block, whatever happens in it."""
    at, who = programs(), owner()
    if not shutil.which("psql"):
        raise Missing("no psql (Debian package postgresql-client-15)")
    # A short path: that of a socket has at most 107 bytes.
    home = Path(tempfile.mkdtemp(prefix="doors-pg-", dir="/tmp"))
    shared: dict[str, Any] = {"cwd": home, "stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL}
    shared["env"] = {"LC_ALL": "C.UTF-8", "PATH": os.environ["PATH"], "HOME": str(home)}
    if not os.getuid():
        os.chown(home, who.pw_uid, who.pw_gid)
        shared |= {"user": who.pw_uid, "group": who.pw_gid, "extra_groups": []}
    running: subprocess.Popen[str] | None = None

    def log() -> str:
        return (home / "log").read_text(errors="replace")[-1500:] if (home / "log").is_file() else ""

    def run(*words: object) -> str:
        done = subprocess.run(list(map(str, words)), stderr=subprocess.PIPE, text=True, check=False, **shared)
        return done.stderr.strip() or f"it ended with {done.returncode}" if done.returncode else ""

    try:
        make = (at / "initdb", "-D", home / "data", "-U", "doors", "-A", "trust", "-E", "UTF8", "--no-sync")
        if failed := run(*make, "--no-instructions"):
            raise Wrong(f"initdb: {failed}")
        # No network; nothing is kept for a crash.
        settings = {
            "listen_addresses": "",
            "fsync": "off",
            "full_page_writes": "off",
            "max_connections": 10,
            "jit": "off",
        }
        words = [at / "postgres", "-D", home / "data", "-k", home]
        words += [word for name, value in settings.items() for word in ("-c", f"{name}={value}")]
        with (home / "log").open("w") as file:
            running = subprocess.Popen(list(map(str, words)), stderr=file, text=True, preexec_fn=tie, **shared)
        until_s = time.monotonic() + START_S
        while failed := run(at / "createdb", "-h", home, "-U", "doors", "roads"):
            if running.poll() is not None or time.monotonic() > until_s:
                raise Wrong(f"PostgreSQL does not start: {failed} {log()}")
            time.sleep(0.1)
        yield Server(bench, home)
    finally:
        if running:
            running.send_signal(signal.SIGQUIT)
            running.wait(START_S)
        shutil.rmtree(home, ignore_errors=True)
