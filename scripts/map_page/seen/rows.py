"""Rows of a check: what was looked at, and whether it is so."""

from dataclasses import dataclass, field


@dataclass
class Rows:
    """What was found so far."""

    all: list[tuple[str, bool, str]] = field(default_factory=list)

    def add(self, name: str, ok: bool, found: object = "") -> None:
        self.all.append((name, bool(ok), "" if ok else str(found)[:400]))

    def same(self, name: str, found: object, wanted: object) -> None:
        self.add(name, found == wanted, f"{found!r}, not {wanted!r}")

    def wrong(self) -> int:
        return sum(not ok for _, ok, _ in self.all)

    def tell(self, only_failed: bool) -> None:
        for name, ok, found in self.all:
            if not ok or not only_failed:
                print(f"{'ok  ' if ok else 'FAIL'} {name}{': ' if found else ''}{found}")
        print(f"{len(self.all) - self.wrong()} of {len(self.all)}")
