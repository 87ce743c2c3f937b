"""Programs that do everything wrong, for checks that have to see it."""

from pathlib import Path

# The first writes half a file under the final name, leaves its folders behind and says nothing that helps; the second
# does the same and says that all is well.
SPOILS = ("fails", "lies")
PROGRAM = """#!/usr/bin/env python3
import os, pathlib, signal, sys, time
words, lies = sys.argv[1:], {lies}
signal.signal(signal.SIGTERM, lambda *_: sys.exit(9))
signal.signal(signal.SIGINT, lambda *_: sys.exit(9))
def after(option):
    return pathlib.Path(words[words.index(option) + 1]) if option in words else None
def litter(folder, name):
    try:
        (folder / name).mkdir(exist_ok=True)
        (folder / name / str(os.getpid())).write_text("left")
    except OSError:
        pass
output, work = after("-o"), after("--work")
at_work = work or (output and pathlib.Path(str(output) + ".work"))
if output:
    for folder in (output.parent, at_work):
        try:
            folder.mkdir(exist_ok=True)
        except OSError:
            pass
    try:
        output.write_bytes(b"half")
    except OSError:
        pass
    litter(output.parent, ".layer.gpkg.part-abcdef123456")
if at_work:
    litter(at_work, ".dividing.part-abcdef123456")
    try:
        (at_work / "written").write_text("by others")
    except OSError:
        pass
litter(pathlib.Path(os.environ["TMPDIR"]), ".waymask-estimate.part-abcdef123456")
time.sleep(0.1)
print(os.getpid())
if not lies:
    print("it failed", file=sys.stderr)
sys.exit(0 if lies else 7)
"""


def program(home: Path, spoil: str) -> Path:
    path = home / f"waymask-{spoil}"
    path.write_text(PROGRAM.replace("{lies}", str(spoil == "lies")))
    path.chmod(0o755)
    return path
