"""The brief and map pages in Chromium: names are text there, and nothing else; compared with pages of plain names."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from . import hamlet
from .bench import Bench, Report, as_xml, context, mutilated
from .names import marks, one_line, plain, spelt, squeezed, went_in

PROGRAM = "/usr/bin/chromium"
# Software drawing, so that machines without a graphics card draw as well.
FLAGS = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"]
PROBE, SEARCH = (
    (Path(__file__).parent / f"{name}.js").read_text(encoding="utf-8").split("\n", 1)[1] for name in ("probe", "search")
)
LISTEN = """
window.violations = [];
document.addEventListener("securitypolicyviolation", (e) => {
  window.violations.push(`${e.violatedDirective} ${e.blockedURI}`);
});
"""
WAIT_MS = 90_000
# Longest name that a map page shows whole (guide, page `map`).
LONGEST = 200
# Attributes that may hold a name: those that are read to people.
SAID = {"title", "aria-label", "alt", "value", "aria-valuetext"}


@dataclass
class Shown:
    """An open page."""

    page: Any
    file: Path
    complaints: list[str] = field(default_factory=list)

    def probed(self) -> dict[str, Any]:
        found: dict[str, Any] = self.page.evaluate(PROBE)
        return found


@contextmanager
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as engine:
        chromium = engine.chromium.launch(executable_path=PROGRAM, args=FLAGS)
        yield chromium
        chromium.close()


@contextmanager
def shown(chromium: Any, file: Path, alive: bool) -> Iterator[Shown]:
    """Opens a page from the disk; a page that is alive says when it is ready."""
    context = chromium.new_context(viewport={"width": 1000, "height": 800}, reduced_motion="reduce")
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    held = Shown(page, file)

    def dialog(asked: Any) -> None:
        held.complaints.append(f"a dialog: {asked.message}")
        asked.dismiss()

    def request(made: Any) -> None:
        if made.url != file.resolve().as_uri() and not made.url.startswith("blob:null/"):
            held.complaints.append(f"a request: {made.url[:100]}")

    page.on("dialog", dialog)
    page.on("request", request)
    page.on("pageerror", lambda error: held.complaints.append(f"an error: {error}"))
    page.on("popup", lambda _: held.complaints.append("a window"))
    page.on("console", lambda said: held.complaints.append(f"console: {said.text}") if said.type == "error" else None)
    page.add_init_script(LISTEN)
    page.goto(file.resolve().as_uri())
    if alive:
        page.wait_for_selector("html[data-ready]", state="attached", timeout=WAIT_MS)
    yield held
    context.close()


def on_page(name: str) -> list[str]:
    """What a page may show of a name: white space is one space, and 200 letters are enough, with three dots."""
    whole = [squeezed(text) for text in as_xml(name)]
    return whole + [squeezed(one_line(name)[:LONGEST]) + "…"] * (len(name) > LONGEST)


def faults_of(found: dict[str, Any], twin: dict[str, Any] | None, held: Shown) -> list[str]:
    """What is wrong with a page, by what it is made of."""
    faults = list(dict.fromkeys(held.complaints)) + [f"policy violated: {said}" for said in found["violations"]]
    if found["taken"] is not None:
        faults.append(f"a script of {found['taken']} ran")
    faults += [f"every object has {key}" for key in found["polluted"]]
    texts = [squeezed(text) for drawn, text in found["texts"] if not drawn]
    faults += [f"{mark} is not whole: {context(texts, mark)}" for mark in mutilated(texts, on_page)]
    folder = held.file.parent
    for element, key, value in found["values"]:
        there = list(marks(value))
        if element == "a" and key == "href" and there:
            beside = (folder / unquote(value)).exists() and value.startswith("./")
            faults += [] if beside else [f"a link to {value[:80]!a}, which is not a file"]
            continue
        if there and key not in SAID:
            faults.append(f"{there[0]} stands in {key} of {element}")
        faults += [f"{mark} is not whole in {key}" for mark in mutilated([squeezed(value)], on_page)]
        if key.startswith("on") or ("javascript:" in value.lower() and key in ("href", "src", "action")):
            faults.append(f"{element} with {key}={value[:60]!a}")
    if twin is not None:
        faults += [
            f"an element that only hostile names make: {k}" for k in found["kinds"].keys() - twin["kinds"].keys()
        ]
        faults += [f"window.{k}, only with hostile names" for k in set(found["globals"]) - set(twin["globals"])]
        for tag in (
            "script",
            "style",
            "meta",
            "link",
            "a",
            "img",
            "iframe",
            "form",
            "input",
            "object",
            "embed",
            "base",
        ):
            both = [sum(n for kind, n in of["kinds"].items() if kind.split()[1] == tag) for of in (found, twin)]
            faults += [f"{both[0]} elements {tag}, {both[1]} with plain names"] if both[0] != both[1] else []
    return faults


def named_faults(found: dict[str, Any], letters: str, title: str, credit: str | None) -> list[str]:
    """Names that a page has to show and does not."""
    texts = [squeezed(text) for drawn, text in found["texts"] if not drawn]
    everything = "\n".join(texts)
    wanted = {mark: went_in(mark) for letter in letters for k in range(hamlet.COUNT) if (mark := plain(letter, k))}
    faults = [
        f"{mark} is not shown" for mark, name in wanted.items() if not any(n in everything for n in on_page(name))
    ]
    if squeezed(found["title"]) not in {t for name in on_page(title) for t in (name, f"{name}, trip", name + " (map)")}:
        faults.append(f"the title is {found['title'][:120]!a}")
    if credit and not any(name in everything for name in on_page(credit)):
        faults.append("the credit is not shown")
    return faults


def written(bench: Bench) -> dict[str, Path]:
    """The pages, with titles given and by default."""
    layer, track, home = bench.layer, bench.track, bench.home
    plan = ["plan", layer, track, "--meetings", bench.meetings]
    # A brief links to the maps beside it.
    files = {"all": bench.named(25, ".html"), "along": bench.named(2, ".html")}
    files |= {name: home / f"{name}.html" for name in ("brief", "driven")}
    bench.run("map", layer, "-o", files["all"], "--overwrite")
    title = ["--title", bench.spell("I", 0)]
    bench.run("map", layer, "--along", track, *title, "-o", files["along"], "--overwrite")
    bench.run(*plan, "--trip", bench.trip, "--title", bench.spell("I", 16), "-o", files["brief"], "--overwrite")
    bench.run(*plan, "--trip", bench.driven, "-o", files["driven"], "--overwrite")
    return files


def searched(held: Shown, report: Report, page: str, letters: str) -> None:
    """Each name is found, shown as text and whole; a road's figures bear its name."""
    asked = []
    for letter in letters:
        for k in range(hamlet.COUNT):
            name = one_line(went_in(plain(letter, k)))
            whole = len(name) <= LONGEST
            asked.append([plain(letter, k) if whole else name[:20], name if whole else name[:LONGEST] + "…", letter])
    for (typed, name, letter), (hits, card) in zip(asked, held.page.evaluate(SEARCH, asked), strict=True):
        what = f"{page}.html: search for {typed!a}"
        report.add(what, [] if squeezed(name) in map(squeezed, hits) else [f"found {hits[:3]!a}"])
        if letter == "R":
            report.add(what + ", card", [] if squeezed(name) in squeezed(card) else [f"the card says {card[:100]!a}"])


def compared(bench: Bench, twin: Bench) -> None:
    """All pages, hostile beside plain."""
    pages, plain_pages = written(bench), written(twin)
    report = bench.report
    with browser() as chromium:
        for name, file in pages.items():
            alive = name in ("all", "along")
            with shown(chromium, plain_pages[name], alive) as held:
                beside = held.probed()
                report.add(f"plain {name}.html", held.complaints)
            with shown(chromium, file, alive) as held:
                found = held.probed()
                if alive:
                    searched(held, report, name, "RSP" if name == "all" else "R")
                    late = held.probed()
                    report.add(f"{name}.html after the search", faults_of(late, None, held))
                report.add(f"{name}.html", faults_of(found, beside, held))
            titles = {
                "brief": spelt("I", 16),
                "along": spelt("I", 0),
                "all": bench.layer.stem,
                "driven": bench.track.stem,
            }
            letters = {"brief": "M", "driven": "M"}.get(name, "")
            report.add(f"names of {name}.html", named_faults(found, letters, titles[name], spelt("C", 0)))
