from .bench import Bench
def run(bench: Bench) -> int: return 0
