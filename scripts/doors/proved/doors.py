"""The doors of a layer, in the order they are proved."""

from collections.abc import Callable

from . import formats, questions, routing, unfit
from .bench import Bench, Missing
from .page import Page
from .postgres import Server, server

Door = Callable[[Bench, Server | None], None]


def all_of_page(topic: str, work: Callable[[Bench, Page, Server | None], None]) -> Door:
    """A door whose page has no named block that nobody runs."""

    def door(bench: Bench, base: Server | None) -> None:
        page = Page(topic)
        work(bench, page, base)
        # Without a server its blocks are skipped, which is told elsewhere.
        left = page.left() if base else []
        wrong = [f"nobody runs {name}" for name in left]
        bench.report.add(topic, "page", "blocks that are proved", len(page.taken), wrong, of_layer=False)

    return door


DOORS: dict[str, Door] = {
    "sql": all_of_page("sql", questions.prove),
    "routing": all_of_page("routing-tools", routing.prove),
    "formats": all_of_page("formats", formats.prove),
    # What these print is on the page `sql`, and followed there.
    "unfit": unfit.prove,
}
# Those that ask a PostgreSQL server.
SERVED = {"sql", "routing"}


def prove(bench: Bench, wanted: list[str], self_test: bool) -> None:
    def all_of_them(base: Server | None) -> None:
        for name in wanted:
            DOORS[name](bench, base)

    if not SERVED.intersection(wanted):
        return all_of_them(None)
    try:
        with server(bench) as base:
            return all_of_them(base)
    except Missing as missing:
        bench.report.skip("sql and routing", "PostgreSQL", str(missing))
    return all_of_them(None)
