"""What programs know: commands and flags of waymask by its help, flags of GDAL and osmium by their usage or manual."""
import functools
import os
import re
import shlex
import shutil
import subprocess

LONG = re.compile(r"(?<![\w-])--([a-z][a-z0-9-]*)")
PLACEHOLDER = re.compile(r"^[^a-z]+$|^(…|\.\.\.)$")
OPERATORS = {"|", "||", "&&", ";", "&"}
# Programs whose flags are checked in blocks that are not run.
FAMILY = re.compile(r"^(gdal\w*|ogr\w*|osmium)(\.py)?$")


def text_of(*command):
    done = subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False)
    return done.stdout + done.stderr


def split(text):
    """The programs of a command line, each with its arguments, without redirections."""
    lexer = shlex.shlex(text.replace("\\\n", " "), posix=True, punctuation_chars="|&;<>")
    lexer.whitespace_split = True
    lexer.commenters = "#"
    out, words, skip = [], [], False
    for token in lexer:
        if token in OPERATORS:
            out.append(words)
            words = []
        elif re.fullmatch(r"[<>]+&?", token):
            if words and words[-1].isdigit():
                words.pop()
            skip = True
        elif skip:
            skip = False
        elif words or not re.match(r"^\w+=", token):
            words.append(token)
    return [w for w in [*out, words] if w]


class Waymask:
    """The program whose pages are checked."""

    def __init__(self, binary, root):
        self.binary, self.root = binary, root

    @functools.cache
    def help(self, *path):
        return text_of(self.binary, *path, "--help")

    @functools.cache
    def below(self, *path):
        """Commands of a command. The program lists its own in groups, each under a heading."""
        text = self.help(*path)
        if path:
            section = re.search(r"^Commands:\n((?:^ .*\n|^\n(?= ))*)", text, re.MULTILINE)
            text = section.group(1) if section else ""
        else:
            text = text.partition("\nOptions:")[0]
        return frozenset(re.findall(r"^  ([a-z][a-z-]*)  ", text, re.MULTILINE)) - {"help"}

    @functools.cache
    def topic(self, name):
        done = subprocess.run([self.binary, "guide", name], capture_output=True, check=False)
        return done.returncode == 0

    @functools.cache
    def all_flags(self):
        flags, paths = set(LONG.findall(self.help())), [(c,) for c in self.below()]
        while paths:
            path = paths.pop()
            flags |= set(LONG.findall(self.help(*path)))
            paths += [(*path, c) for c in self.below(*path)]
        # Flags of the scripts, which pages name too.
        for script in (self.root / "scripts").iterdir():
            if script.is_file():
                flags |= set(LONG.findall(script.read_text(encoding="utf-8")))
        return frozenset(flags)

    def unknown(self, words):
        """What a command line names that the program does not have; None if all is known."""
        path, rest = (), list(words)
        while rest and self.below(*path) and not rest[0].startswith("-"):
            if PLACEHOLDER.match(rest[0]):
                return None
            if rest[0] not in self.below(*path):
                # `settings` and its like take an argument where a command may stand.
                if path and re.search(r"^Usage:.*(\[COMMAND\]|\[[A-Z]+\])", self.help(*path), re.MULTILINE):
                    break
                return f"waymask {' '.join(path)}".strip() + f" has no command {rest[0]}"
            path = (*path, rest.pop(0))
        if path == ("guide",) and rest and not PLACEHOLDER.match(rest[0]) and not self.topic(rest[0]):
            return f"waymask guide has no topic {rest[0]}"
        known = self.help(*path)
        for word in rest:
            flag = word.split("=", 1)[0]
            if (m := LONG.fullmatch(flag)) and m.group(1) not in LONG.findall(known):
                return f"waymask {' '.join(path)} has no flag {flag}"
            if re.fullmatch(r"-[a-zA-Z]", flag) and not re.search(rf"(?<![\w-]){flag}(?!\w)", known):
                return f"waymask {' '.join(path)} has no flag {flag}"
        return None


@functools.cache
def usage(program, command):
    """All that a program of GDAL or osmium tells of its flags."""
    if program == "osmium":
        return text_of(program, command, "--help") if command else text_of(program, "--help")
    told = text_of(program, "--long-usage") + text_of(program, "--help")
    if shutil.which("man"):
        told += text_of("man", "-P", "cat", program)
    return told


def foreign_unknown(words):
    """What a program of GDAL or osmium does not have of what a command line names; None if all is known."""
    program = words[0]
    if not shutil.which(program):
        return f"{program} is not installed"
    command = next((w for w in words[1:] if not w.startswith("-")), "") if program == "osmium" else ""
    told = usage(program, command)
    for word in words[1:]:
        flag = word.split("=", 1)[0] if program == "osmium" else word
        if re.fullmatch(r"--?[a-zA-Z][\w-]*", flag) and not re.search(rf"(?<![\w-]){re.escape(flag)}(?![\w-])", told):
            return f"{' '.join(filter(None, [program, command]))} has no flag {flag}"
    return None


def fetch_unknown(words, waymask, root):
    """What is wrong with one program of a command that is not run; None if nothing is, or nothing can be told."""
    program = words[0]
    if program.rsplit("/", 1)[-1] == "waymask":
        return waymask.unknown(words[1:])
    if FAMILY.match(program):
        return foreign_unknown(words)
    if "/" in program and not program.startswith(("/", "~", "http")):
        path = root / program
        return None if os.access(path, os.X_OK) and path.is_file() else f"{program} is not a program of the repository"
    return None
