"""Blocks of a page of the guide that carry a name: queries, recipes and commands, word for word as people read them."""

import re
from dataclasses import dataclass

from .bench import GUIDE, Wrong

FENCE = re.compile(r"^```(\S*)(.*)$")


@dataclass(frozen=True)
class Block:
    language: str
    text: str

    def commands(self) -> list[str]:
        """Commands of a console block, each continued by a backslash at the end of a line."""
        found: list[str] = []
        goes_on = False
        for line in self.text.splitlines():
            if goes_on:
                found[-1] += "\n" + line
            elif line.startswith("$ "):
                found.append(line[2:])
            goes_on = bool(found) and (goes_on or line.startswith("$ ")) and line.endswith("\\")
        return found


def blocks(page: str) -> dict[str, Block]:
    """Blocks of a page by the name that `door-NAME` gives them."""
    found: dict[str, Block] = {}
    name, language, lines = "", "", list[str]()
    inside = False
    for line in (GUIDE / f"{page}.md").read_text(encoding="utf-8").splitlines():
        fence = FENCE.match(line)
        if not inside and fence:
            inside, language, lines = True, fence.group(1), []
            named = re.search(r"\bdoor-(\S+)", fence.group(2))
            name = named.group(1) if named else ""
        elif inside and line == "```":
            inside = False
            if name in found:
                raise Wrong(f"{page}.md has two blocks called {name}")
            if name:
                found[name] = Block(language, "\n".join(lines) + "\n")
        elif inside:
            lines.append(line)
    return found


class Page:
    """A page, of which every named block has to be taken by somebody."""

    def __init__(self, topic: str) -> None:
        self.topic, self.blocks, self.taken = topic, blocks(topic), set[str]()

    def take(self, name: str) -> Block:
        if name not in self.blocks:
            raise Wrong(f"{self.topic}.md has no block door-{name}")
        self.taken.add(name)
        return self.blocks[name]

    def write(self, name: str, text: str) -> None:
        """Puts another text into a block."""
        path = GUIDE / f"{self.topic}.md"
        page = path.read_text(encoding="utf-8")
        old = re.search(rf"^```\S*[^\n]*\bdoor-{re.escape(name)}\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
        if not old:
            raise Wrong(f"{self.topic}.md has no block door-{name}")
        path.write_text(page[: old.start(1)] + text + page[old.end(1) :], encoding="utf-8")

    def left(self) -> list[str]:
        return sorted(self.blocks.keys() - self.taken)


def moved(text: str, changes: dict[str, str]) -> str:
    """A text of the demo for another region: each word is there, and gives way to another."""
    for old, new in changes.items():
        if old not in text:
            raise Wrong(f"no {old!r} to be replaced in: {text}")
        text = text.replace(old, new)
    return text
