"""x"""
from .bench import Bench


def prove(bench: Bench, few: bool) -> None: ...
