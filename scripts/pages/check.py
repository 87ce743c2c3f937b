"""Checks pages: every block, inline command and link of each. A problem is a line and what is wrong there."""
import json
import re
import shlex
import shutil
import tomllib
import urllib.parse
from dataclasses import dataclass, field

from pages import console, markdown, phrases, programs, update, work

# Words after the language that mean something.
KNOWN = {
    "console": {"fetch", *(f"data={name}" for name in work.DATA)},
    "toml": {"trip", "profile"},
    "sql": {"layer"},
    "json": set(),
    "python": set(),
    "text": set(),
    "": set(),
}
COMMAND = re.compile(r"^ *(\$ |(\S*/)?waymask [a-z-])")
SHELLS = {"sh", "bash", "shell", "shell-session", "terminal"}


@dataclass
class Seen:
    """What a run did and found."""

    problems: list = field(default_factory=list)
    skipped: list = field(default_factory=list)
    outside: list = field(default_factory=list)
    commands: int = 0
    blocks: int = 0
    inline: int = 0
    links: int = 0


class Checker:
    def __init__(self, setting, with_data, updates=False):
        self.setting, self.with_data, self.seen, self.pages = setting, with_data, Seen(), {}
        # Blocks of lines of the page at hand that are printed otherwise now; None where pages are only checked.
        self.changes = [] if updates else None

    def problem(self, page, line, what):
        self.seen.problems.append((page.name, line, what))

    def page(self, path, name):
        """Checks one page whole."""
        try:
            page = markdown.read(path, name)
        except ValueError as broken:
            self.seen.problems.append((name, int(str(broken).split(":")[1]), str(broken).split(": ", 1)[1]))
            return
        folder = work.Folder(self.setting, re.sub(r"\W+", "-", name))
        try:
            for block in page.blocks:
                self.seen.blocks += 1
                self.block(page, block, folder)
        finally:
            folder.away()
        if self.changes:
            update.rewrite(path, self.changes)
            self.changes.clear()
        self.indented(page)
        self.inline(page)
        self.links(page)

    def block(self, page, block, folder):
        if block.language not in KNOWN:
            hint = "commands stand in ```console blocks" if block.language in SHELLS else f"known are {', '.join(filter(None, KNOWN))}"
            return self.problem(page, block.line, f"a block of {block.language}: {hint}")
        # A block with a name is also read by scripts/doors/prove.
        words = {w for w in block.words if not (w.startswith("door-") or (block.language in ("toml", "json") and w.startswith("file-")))}
        if unknown := words - KNOWN[block.language]:
            return self.problem(page, block.line, f"```{block.language} does not know {' '.join(sorted(unknown))}")
        check = {"console": self.console, "toml": self.toml, "sql": self.sql, "json": self.json, "python": self.python}.get(block.language, self.silent)
        return check(page, block, folder)

    def console(self, page, block, folder):
        try:
            commands = console.commands(block)
        except ValueError as broken:
            line, what = str(broken).split(": ", 1)
            return self.problem(page, int(line), what)
        data = block.option("data")
        if "fetch" in block.words:
            for command in commands:
                self.seen.commands += 1
                self.named(page, command)
            return None
        if data and not self.with_data:
            return self.skip(page, block, f"needs {data}; scripts/docs --data runs it")
        if data and not folder.lay(data):
            return self.skip(page, block, f"no {data} in {self.setting.data} (set WAYMASK_DATA)")
        folder.fill()
        for command in commands:
            self.seen.commands += 1
            self.follow(page, command, folder, data)
        return None

    def skip(self, page, block, reason):
        self.seen.skipped.append((page.name, block.line, reason))

    def named(self, page, command):
        """Programs and flags of a command that is not run."""
        for words in self.split(page, command.line, command.text):
            if wrong := programs.fetch_unknown(words, self.setting.waymask, self.setting.root):
                self.problem(page, command.line, wrong)

    def split(self, page, line, text):
        try:
            return programs.split(text)
        except ValueError as broken:
            self.problem(page, line, f"{text}: {broken}")
            return []

    def follow(self, page, command, folder, data):
        status, printed = folder.run(command.text, data)
        lines = console.without_progress(printed)
        if status != command.status:
            said = [f"    {line}" for line in lines[-10:]]
            self.problem(page, command.line, "\n".join([f"exit status {status}, the page says {command.status}: {command.text}", *said]))
        elif command.printed and not console.holds(command.printed, lines):
            if self.changes is not None:
                first = command.line + command.text.count("\n") + 1
                self.changes.append((first, len(command.printed), update.fitted(command.printed, lines)))
                print(f"{page.name}:{first}: prints something else now: {command.text.splitlines()[0]}")
                return
            rows = [f"    {row}" for row in console.difference(command.printed, lines)]
            self.problem(page, command.line, "\n".join([f"prints something else: {command.text}", *rows]))

    def toml(self, page, block, folder):
        try:
            tomllib.loads(block.text)
        except tomllib.TOMLDecodeError as broken:
            return self.problem(page, block.line, f"not valid TOML: {broken}")
        file = self.kept(block, folder)
        for word in KNOWN["toml"].intersection(block.words):
            file = file or folder.write(f"block-{block.line}.toml", block.text)
            command = {"trip": "spend", "profile": "settings profile"}[word]
            status, printed = self.setting.run(f"waymask {command} {shlex.quote(str(file))}", folder.path)
            if status:
                self.problem(page, block.line, f"waymask {command} refuses it: {printed.strip()}")
        return None

    def sql(self, page, block, folder):
        if "layer" not in block.words:
            return self.by_a_door(page, block, "```sql blocks are marked `layer`: they are run on the layer of the demo")
        folder.fill()
        status, printed = self.setting.run(f"ogrinfo -q {work.LAYER} -sql {shlex.quote(block.text.strip())}", folder.path)
        # ogrinfo ends with 0 where the statement fails.
        if status or re.search(r"^(ERROR|FAILURE)", printed, re.MULTILINE):
            return self.problem(page, block.line, f"the statement fails: {printed.strip()[:400]}")
        return None

    def python(self, page, block, _folder):
        return self.by_a_door(page, block, "```python blocks are marked door-NAME")

    def by_a_door(self, page, block, otherwise):
        """scripts/doors/prove runs the block, and fails where nobody does."""
        return None if block.option("door") else self.problem(page, block.line, otherwise)

    def kept(self, block, folder):
        """Writes a block with file-NAME, for the commands after it."""
        name = block.option("file")
        return folder.write(name, block.text) if name else None

    def json(self, page, block, folder):
        self.kept(block, folder)
        try:
            json.loads(block.text)
        except ValueError as broken:
            self.problem(page, block.line, f"not valid JSON: {broken}")

    def silent(self, page, block, _folder):
        for number, line in enumerate(block.lines, block.line + 1):
            if COMMAND.match(line):
                self.problem(page, number, f"a command in a block that is not checked; use ```console: {line.strip()}")

    def indented(self, page):
        """Blocks by indentation: commands in them are not checked."""
        before, inside = "", False
        for number, line in enumerate(page.prose.split("\n"), 1):
            inside = line.startswith("    ") and (inside or not before.strip())
            if inside and COMMAND.match(line):
                self.problem(page, number, f"a command in an indented block; use ```console: {line.strip()}")
            before = line

    def inline(self, page):
        for line, code in page.code():
            if code.startswith("waymask "):
                self.seen.inline += 1
                for words in self.split(page, line, code):
                    if words[0] == "waymask" and (wrong := self.setting.waymask.unknown(words[1:])):
                        self.problem(page, line, f"`{code}`: {wrong}")
            elif m := programs.LONG.match(code):
                self.seen.inline += 1
                if m.group(1) not in self.setting.waymask.all_flags():
                    self.problem(page, line, f"`{code}`: no command has this flag")

    def links(self, page):
        for line, target in page.links():
            self.seen.links += 1
            if target is None:
                self.problem(page, line, "a link refers to a definition that is not there")
            elif re.match(r"^[a-z]+:", target):
                self.seen.outside.append((page.name, line, target))
            elif wrong := self.dead(page, urllib.parse.unquote(target)):
                self.problem(page, line, f"{target}: {wrong}")

    def phrases(self, files):
        """Phrases that read foreign, in pages, comments and texts of the code."""
        for file in files:
            name = str(file.relative_to(self.setting.root))
            for line, phrase, better in phrases.found(file.read_text(encoding="utf-8")):
                self.seen.problems.append((name, line, f'"{phrase}" reads foreign: {better}'))

    def dead(self, page, target):
        """What is wrong with a link into the repository."""
        file, _, anchor = target.partition("#")
        root = self.setting.root.resolve()
        # A copy of a page for trials stands for the page at the top of the repository.
        folder = page.path.resolve().parent if page.path.resolve().is_relative_to(root) else root
        path = (folder / file).resolve() if file else page.path.resolve()
        if file and not path.exists():
            return "there is no such file"
        if file and not path.is_relative_to(root):
            return "it leads out of the repository"
        if anchor and path.suffix == ".md":
            if path not in self.pages:
                self.pages[path] = markdown.read(path, str(path)).anchors()
            if anchor not in self.pages[path]:
                return "there is no such heading"
        return None


def report(seen):
    """Prints what was found."""
    for name, line, what in seen.problems:
        print(f"{name}:{line}: {what}")
    for name, line, reason in seen.skipped:
        print(f"skipped: {name}:{line}: {reason}")


def available():
    """Programs that pages need and the machine lacks."""
    return [p for p in ("bash", "ogrinfo") if not shutil.which(p)]
