#!/usr/bin/env python3
"""Stands in for the program: the same verbs, files and exit codes, and no roads.

`<this file>.json` says what shall go wrong; `<this file>.log` gets a line for every start and end of a shard.
"""

import hashlib
import json
import os
import sys
import time
from pathlib import Path
from typing import Any

HERE = Path(__file__)
KEY = "0123456789abcdef" * 2


def log(*words: object) -> None:
    with open(f"{HERE}.log", "a") as file:
        file.write(" ".join(map(str, words)) + "\n")


def lines() -> list[list[str]]:
    path = Path(f"{HERE}.log")
    return [line.split() for line in path.read_text().splitlines()] if path.exists() else []


def leave(code: int, said: str) -> None:
    print(f"fake: {said}", file=sys.stderr)
    sys.exit(code)


def value(arguments: list[str], flag: str) -> str | None:
    return arguments[arguments.index(flag) + 1] if flag in arguments else None


def part_in(work: Path, district: str) -> Path | None:
    for path in work.glob(f"{district}-{KEY}-*.gpkg"):
        if hashlib.sha256(path.read_bytes()).hexdigest()[:32] == path.stem.rsplit("-", 1)[1]:
            return path
    return None


def plan_of(work: Path) -> dict[str, Any]:
    try:
        plan: dict[str, Any] = json.loads((work / "plan.json").read_text())
    except OSError:
        leave(1, f"{work}: no plan there")
    if plan["version"] != 1:
        leave(1, f"{work / 'plan.json'}: is of version {plan['version']}, this program reads 1; plan again")
    return plan


def shard_of(plan: dict[str, Any], number: int, count: int) -> dict[str, float]:
    names = sorted(plan["districts"])
    return {name: plan["districts"][name] for index, name in enumerate(names) if index % count == number - 1}


def shards(arguments: list[str]) -> None:
    work, count = Path(value(arguments, "--work") or ""), int(value(arguments, "--shards") or "")
    plan = plan_of(work)
    told = []
    for number in range(1, count + 1):
        own = shard_of(plan, number, count)
        missing = [name for name in own if part_in(work, name) is None]
        figures = {"cpu_s": sum(own.values()) * 0.09, "memory_bytes": 1 << 20, "disk_bytes": len(own) * 1000}
        told.append({"shard": number, "districts": list(own), "missing": missing, "km": sum(own.values()), **figures})
    print(json.dumps({"work": str(work), "plan": "abc", "km": sum(plan["districts"].values()), "shards": told}))


def build(arguments: list[str], wrong: dict[str, Any]) -> None:
    work, shard = Path(value(arguments, "--work") or ""), value(arguments, "--shard") or ""
    number, count = map(int, shard.split("/"))
    before = sum(line[0] == "start" and line[1] == shard for line in lines())
    log("start", shard, os.getpid(), os.getppid(), work)
    codes = wrong.get("codes", {}).get(shard, [])
    if before < len(codes) and codes[before]:
        leave(codes[before], f"trouble {codes[before]} in {shard}")
    for name in shard_of(plan_of(work), number, count):
        if not (work / "bundles" / f"{name}.bundle").is_file():
            leave(1, f"{name}: no bundle")
        if part_in(work, name):
            continue
        new = work / f"{name}.new.gpkg"
        new.write_text(f"half of {name}")
        time.sleep(wrong.get("sleep_s", 0))
        data = f"part of {name}".encode()
        new.write_bytes(data)
        damaged = before < wrong.get("damaged", {}).get(name, 0)
        digest = hashlib.sha256(data + b"!" * damaged).hexdigest()[:32]
        new.rename(work / f"{name}-{KEY}-{digest}.gpkg")
    log("end", shard, os.getpid())


def merge(arguments: list[str]) -> None:
    work, output = Path(arguments[0]), Path(value(arguments, "-o") or "")
    parts = {name: part_in(work, name) for name in sorted(plan_of(work)["districts"])}
    if missing := [name for name, path in parts.items() if path is None]:
        leave(1, f"parts are missing: {missing}")
    output.write_bytes(b"".join(path.read_bytes() for path in parts.values() if path))


def main() -> None:
    told = Path(f"{HERE}.json")
    wrong = json.loads(told.read_text()) if told.exists() else {}
    verb, *arguments = sys.argv[1:]
    match verb:
        case "shards":
            shards(arguments)
        case "build":
            build(arguments, wrong)
        case "merge":
            merge(arguments)
        case _:
            leave(2, "wrong usage")


if __name__ == "__main__":
    main()
