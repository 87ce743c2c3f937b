"""x"""
from pathlib import Path

SPOILS = ()


def program(home: Path, spoil: str) -> Path:
    return home
