"""python3 -m pages [--data] [--self-test] [--links] [PAGE...]; called by scripts/docs."""
import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

from pages import check, phrases, selftest, work


def main():
    parser = argparse.ArgumentParser(prog="scripts/docs", description="Follows the pages for people, literally.")
    parser.add_argument("--data", action="store_true", help="run blocks on shared data, too (../shared/data or $WAYMASK_DATA)")
    parser.add_argument("--update", action="store_true", help="write what commands print now into the pages")
    parser.add_argument("--self-test", action="store_true", help="check the checks by a page with known faults")
    parser.add_argument("--links", action="store_true", help="list the links that lead out of the repository")
    parser.add_argument("page", nargs="*", type=Path, help="pages to check; all by default")
    asked = parser.parse_args()
    root = Path(__file__).resolve().parents[2]
    binary, cache = Path(os.environ["WAYMASK_BIN"]).resolve(), Path(os.environ["WAYMASK_PAGES"])
    if missing := check.available():
        sys.exit(f"scripts/docs needs {', '.join(missing)} (Debian packages bash, gdal-bin)")
    with tempfile.TemporaryDirectory(prefix="pages-") as folder:
        setting = work.Setting(root, binary, work.data_folder(root), cache, Path(folder))
        if asked.self_test:
            sys.exit(selftest.run(setting))
        checker = check.Checker(setting, asked.data, asked.update)
        # Pages that are named are checked alone; all of them with the words of the code.
        for path in asked.page or work.page_files(root):
            if not path.is_file():
                sys.exit(f"{path}: no such page")
            inside = path.resolve().is_relative_to(root)
            name, before, begun = str(path.resolve().relative_to(root) if inside else path), checker.seen.commands, time.monotonic()
            checker.page(path, name)
            if ran := checker.seen.commands - before:
                print(f"{name}: {ran} commands, {time.monotonic() - begun:.1f} s", flush=True)
        if not asked.page:
            checker.phrases(phrases.texts(root, work.page_files(root)))
    seen = checker.seen
    check.report(seen)
    if asked.links:
        for name, line, target in seen.outside:
            print(f"{name}:{line}: {target}")
    tell(seen.skipped)
    print(
        f"{seen.blocks} blocks, {seen.commands} commands, {seen.inline} inline commands and flags, {seen.links} links "
        f"({len(seen.outside)} lead outside and are not followed): {len(seen.problems)} problems, {len(seen.skipped)} skipped"
    )
    failed = seen.problems or (asked.data and seen.skipped and os.environ.get("CI") == "true")
    sys.exit(1 if failed else 0)


def tell(skipped):
    """scripts/test counts what was skipped by the lines of this file."""
    if path := os.environ.get("WAYMASK_SKIPS"):
        with open(path, "a", encoding="utf-8") as file:
            for name, line, reason in skipped:
                file.write(f"pages: {name}:{line}: {reason}\n")


main()
