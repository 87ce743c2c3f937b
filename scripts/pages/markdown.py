"""A page of Markdown taken apart: fenced blocks, inline code, links, headings. Only what the pages here use of it."""
import re
from dataclasses import dataclass, field
from pathlib import Path

FENCE = re.compile(r"^( *)(`{3,}|~{3,})\s*(.*)$")
CODE = re.compile(r"(?<!`)(`+)(?!`)((?:(?!\n\s*\n).)+?)(?<!`)\1(?!`)", re.DOTALL)
TARGET = re.compile(r"\]\(\s*<?([^)\s>]+)")
DEFINED = re.compile(r"^ {0,3}\[([^\]]+)\]:\s*<?([^\s>]+)", re.MULTILINE)
REFERRED = re.compile(r"\]\[([^\]]+)\]")
TAG = re.compile(r"<[a-z]+\s[^>]*?\b(?:src|href)\s*=\s*[\"']([^\"']+)", re.IGNORECASE)
BARE = re.compile(r"https?://[^\s<>)\]\"'`]+")
HEADING = re.compile(r"^(#{1,6})\s+(.*?)\s*#*\s*$")


@dataclass
class Block:
    """A fenced block: the line of its fence, the language, the words after it, and its lines without the indent."""

    line: int
    language: str
    words: list
    lines: list

    @property
    def text(self):
        return "\n".join(self.lines) + "\n"

    def option(self, name):
        """The value of a word `name=value` after the language; on pages of the guide `name-value`, since rustdoc refuses `=`."""
        return next((w[len(name) + 1 :] for w in self.words if w.startswith((name + "=", name + "-"))), None)


@dataclass
class Page:
    path: Path
    name: str
    blocks: list = field(default_factory=list)
    # The text with fenced blocks left out, line by line as it stands.
    prose: str = ""

    def line_at(self, offset):
        return self.prose.count("\n", 0, offset) + 1

    def code(self):
        """Inline code: line and text on one line."""
        return [(self.line_at(m.start()), " ".join(m.group(2).split())) for m in CODE.finditer(self.prose)]

    def plain(self):
        """Prose with inline code blanked, so that code is not read as links."""
        return CODE.sub(lambda m: re.sub(r"[^\n]", " ", m.group(0)), self.prose)

    def links(self):
        """Line and target of every link and picture; a reference without a definition has the target None."""
        plain = self.plain()
        found = [(self.line_at(m.start()), m.group(1)) for pattern in (TARGET, TAG) for m in pattern.finditer(plain)]
        defined = {m.group(1).lower() for m in DEFINED.finditer(plain)}
        found += [(self.line_at(m.start()), m.group(2)) for m in DEFINED.finditer(plain)]
        found += [(self.line_at(m.start()), None) for m in REFERRED.finditer(plain) if m.group(1).lower() not in defined]
        known = {target for _, target in found}
        found += [(self.line_at(m.start()), m.group(0)) for m in BARE.finditer(plain) if m.group(0).rstrip(".,;") not in known]
        return sorted(set(found), key=lambda link: (link[0], str(link[1])))

    def anchors(self):
        """What the headings are linked by, as GitHub makes it."""
        seen, out = {}, set()
        for line in self.prose.splitlines():
            if not (m := HEADING.match(line)):
                continue
            words = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", m.group(2)).replace("`", "")
            slug = re.sub(r"[^\w\- ]", "", words.lower()).replace(" ", "-")
            count = seen.get(slug, 0)
            seen[slug] = count + 1
            out.add(f"{slug}-{count}" if count else slug)
        return out


def read(path, name):
    """Takes a page apart; a fence that is not closed is an error."""
    page, prose, block, closing = Page(path, name), [], None, None
    for number, line in enumerate(path.read_text(encoding="utf-8").split("\n"), 1):
        fence = FENCE.match(line)
        if block is None and fence and not ("`" in fence.group(3) and fence.group(2)[0] == "`"):
            words = fence.group(3).split()
            block = Block(number, words[0] if words else "", words[1:], [])
            indent, closing = len(fence.group(1)), fence.group(2)
            prose.append("")
        elif block is not None and fence and not fence.group(3) and fence.group(2).startswith(closing):
            page.blocks.append(block)
            block = None
            prose.append("")
        elif block is not None:
            block.lines.append(line[indent:] if not line[:indent].strip() else line)
            prose.append("")
        else:
            prose.append(line)
    if block is not None:
        raise ValueError(f"{name}:{block.line}: the block is not closed")
    page.prose = "\n".join(prose)
    return page
