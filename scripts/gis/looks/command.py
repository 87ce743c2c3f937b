"""The command that checks the looks of a layer and prints a table."""

import argparse
import sys
import time
from pathlib import Path

from looks import engine, layer, selftest
from looks.checks import CHECKS, Expected, Row
from looks.layer import LooksError


def parser() -> argparse.ArgumentParser:
    told = argparse.ArgumentParser(prog="check", description="Measures the looks of a layer in QGIS.")
    told.add_argument("layer", type=Path, metavar="LAYER", help="a layer that waymask built")
    told.add_argument("--only", action="append", choices=list(CHECKS), help="one check; may be given more than once")
    told.add_argument(
        "--qml", type=Path, metavar="FOLDER", help="check the styles FOLDER/TABLE.qml instead of those of the layer"
    )
    told.add_argument("--failed", action="store_true", help="print only what fails")
    told.add_argument("--self-test", action="store_true", help="show that each check can fail")
    return told


def told(row: Row) -> str:
    """A line of the table."""
    if row.fine:
        return f"ok    {row.check:11}  {row.what:46}  {row.found}"
    return f"FAIL  {row.check:11}  {row.what:46}  {row.found}\n{'':19}wanted: {row.wanted}"


def main(arguments: list[str], expected: Expected) -> int:
    asked = parser().parse_args(arguments)
    try:
        running = engine.start()
        path = layer.restyled(running, asked.layer, asked.qml) if asked.qml else asked.layer
        if asked.self_test:
            wrong = selftest.run(running, path, expected)
            for line in wrong:
                print(f"check: {line}", file=sys.stderr)
            return 1 if wrong else 0
        file = layer.open_file(running, path)
        print(f"QGIS {running.version}, {asked.layer}")
        rows: list[Row] = []
        for name in asked.only or CHECKS:
            begun = time.monotonic()
            found = CHECKS[name](running, file, expected)
            for row in found:
                if not (row.fine and asked.failed):
                    print(told(row), flush=True)
            print(f"      {name}: {len(found)} rows, {time.monotonic() - begun:.1f} s", flush=True)
            rows += found
        heard = running.complaints.heard
        for line in heard:
            print(f"FAIL  QGIS says: {line}")
    except LooksError as fault:
        print(f"check: {fault}", file=sys.stderr)
        return 2
    failed = sum(not row.fine for row in rows)
    print(f"{len(rows) - failed} of {len(rows)} hold, QGIS complained {len(heard)} times")
    return 1 if failed or heard else 0
