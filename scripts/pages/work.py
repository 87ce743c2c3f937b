"""The folder in which the commands of a page run, and what is made once for all pages."""
import hashlib
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

from pages import programs

LAYER = "out/varrow.gpkg"
TIMEOUT_S = 1800
# What a block with data=NAME finds in its folder: name there, and name in the folder of shared data.
DATA = {"andorra": {"andorra.osm.pbf": "andorra/andorra-2025.osm.pbf", "srtm": "andorra/*.hgt.zip"}}
# A layer that such a block may name without building it, and how it is built.
LAYERS = {"andorra.gpkg": "waymask build andorra.osm.pbf --elevation srtm/ -o andorra.gpkg"}


class Setting:
    """What all pages share: the repository, the program, data, layers that were made before."""

    def __init__(self, root, binary, data, cache, temporary):
        self.root, self.data, self.temporary = root, data, temporary
        self.waymask = programs.Waymask(str(binary), root)
        digest = hashlib.sha256(binary.read_bytes()).hexdigest()[:16]
        self.cache = cache / digest
        # Layers of other programs are of no more use.
        for old in cache.iterdir() if cache.is_dir() else []:
            if old != self.cache:
                shutil.rmtree(old, ignore_errors=True)
        self.cache.mkdir(parents=True, exist_ok=True)
        self.programs = temporary / "bin"
        self.programs.mkdir()
        (self.programs / "waymask").symlink_to(binary)
        keep = ("HOME", "CARGO_HOME", "PROJ_LIB", "GDAL_DATA", "LD_LIBRARY_PATH", "TMPDIR")
        self.env = {name: os.environ[name] for name in keep if name in os.environ}
        self.env |= {"PATH": f"{self.programs}:{os.environ['PATH']}", "LC_ALL": "C.UTF-8", "TZ": "UTC", "NO_COLOR": "1"}
        # Nobody's own settings.
        self.env |= {"XDG_CONFIG_HOME": str(temporary / "settings")}

    def run(self, text, folder):
        """Runs a command with bash; status and all that was printed."""
        try:
            done = subprocess.run(
                ["bash", "-c", text], cwd=folder, env=self.env, stdin=subprocess.DEVNULL, check=False,
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=TIMEOUT_S,
            )
        except subprocess.TimeoutExpired:
            return 124, f"not done after {TIMEOUT_S} s"
        return done.returncode, done.stdout.decode("utf-8", "replace")

    def kept(self, key, text, folder, output):
        """The same for a command that makes one file of given inputs: done once, and taken from the cache from then on."""
        key = hashlib.sha256(json.dumps(key).encode()).hexdigest()[:16]
        place = self.cache / key
        if not (place / "printed").is_file():
            status, printed = self.run(text, folder)
            if status or not (folder / output).is_file():
                return status, printed
            shutil.rmtree(place, ignore_errors=True)
            place.mkdir()
            shutil.copyfile(folder / output, place / "file")
            (place / "printed").write_text(printed, encoding="utf-8")
        else:
            (folder / output).unlink(missing_ok=True)
            shutil.copyfile(place / "file", folder / output)
        return 0, (place / "printed").read_text(encoding="utf-8")

    def stamps(self, paths):
        return [[str(p), p.stat().st_size, p.stat().st_mtime_ns] for p in sorted(paths)]

    def sources(self, name):
        """Files of shared data that blocks with data=NAME need; None where they are not there."""
        found = [sorted(self.data.glob(pattern)) for pattern in DATA[name].values()]
        return [p for files in found for p in files] if all(found) else None


class Folder:
    """The working folder of one page, filled when the first command needs it."""

    def __init__(self, setting, name):
        self.setting, self.path, self.given = setting, setting.temporary / name, set()

    def fill(self):
        if self.path.is_dir():
            return
        self.path.mkdir()
        samples = self.setting.root / "data-samples"
        shutil.copytree(samples, self.path / "data-samples")
        (self.path / "out").mkdir()
        # The command of scripts/demo.
        lib = self.setting.root / "scripts" / "lib.sh"
        text = f"source '{lib}' && rate_varrow waymask {LAYER}"
        key = [text, lib.read_text(encoding="utf-8"), self.setting.stamps(p for p in samples.iterdir() if p.suffix in (".pbf", ".tif"))]
        status, printed = self.setting.kept(key, text, self.path, LAYER)
        if status:
            raise RuntimeError(f"the layer of Varrow cannot be built:\n{printed}")

    def lay(self, name):
        """Puts shared data into the folder; False where there is none."""
        sources = self.setting.sources(name)
        if sources is None:
            return False
        self.fill()
        for there, pattern in DATA[name].items():
            if there in self.given:
                continue
            self.given.add(there)
            if "*" in pattern:
                (self.path / there).mkdir()
                for file in self.setting.data.glob(pattern):
                    (self.path / there / file.name).symlink_to(file.resolve())
            else:
                (self.path / there).symlink_to((self.setting.data / pattern).resolve())
        return True

    def run(self, text, data):
        """Runs a command of a page. Builds of shared data alone are run once, whichever page prints them."""
        if data:
            for layer, build in LAYERS.items():
                if layer in text and layer not in self.given and not self.builds(text, layer):
                    status, printed = self.build(build, data)
                    if status:
                        return status, printed
            if self.builds(text):
                return self.build(text, data)
        return self.setting.run(text, self.path)

    def builds(self, text, layer=None):
        """Whether a command is a build that reads nothing but shared data (into a certain layer)."""
        try:
            found = programs.split(text)
        except ValueError:
            # Not a plain command, such as one with a text in it.
            return False
        if len(found) != 1 or found[0][:2] != ["waymask", "build"] or "-o" not in found[0]:
            return False
        words = found[0]
        output = words[words.index("-o") + 1 : words.index("-o") + 2]
        read = {w.rstrip("/") for w in words[2:] if (self.path / w).exists()} - set(output)
        return bool(output) and read <= self.given and layer in (None, output[0])

    def build(self, text, data):
        words = programs.split(text)[0]
        output = words[words.index("-o") + 1]
        if (self.path / output).exists() and output not in self.given and "--overwrite" not in words:
            return self.setting.run(text, self.path)
        status, printed = self.setting.kept([words, self.setting.stamps(self.setting.sources(data))], text, self.path, output)
        if not status:
            self.given.add(output)
        return status, printed

    def write(self, name, text):
        self.fill()
        path = self.path / name
        path.write_text(text, encoding="utf-8")
        return path

    def away(self):
        shutil.rmtree(self.path, ignore_errors=True)


def page_files(root):
    """Every page: the readme, what contributors read, the guide and what it includes from other folders."""
    guide = root / "src" / "guide"
    named = re.findall(r'"([^"]+\.md)"', (guide / "mod.rs").read_text(encoding="utf-8"))
    pages = {(guide / name).resolve() for name in named} | {p.resolve() for p in guide.rglob("*.md")}
    others = ["README.md", "DEVELOPERS.md", "data-samples/README.md", "tests/data/README.md", ".github/CONTRIBUTING.md"]
    return [p for p in (root / name for name in others) if p.is_file()] + sorted(pages)


def data_folder(root):
    return Path(os.environ.get("WAYMASK_DATA") or root.parent / "shared" / "data")
