"""Processor time of each question, cold: a process of its own, from start to answer.

Prints a table, the best of several runs; run it with ``python tests/bench/bench_questions.py``.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "samples"
ROUNDS = 5
RING = "--weave byzantine --wire 1.0mm --inner 3.5mm"
NECKLACE, FAIR = SAMPLES / "necklace.xlsx", SAMPLES / "craft-fair.xlsx"
CHANGES = "metal:sterling-silver+10% wage=35 yield=0.95"
QUESTIONS = {
    "count of a length": f"count {RING} --length 450mm",
    "count of a sheet, lying in three ways": (
        "count --weave european-4-in-1 --wire 1.2mm --inner 6mm --length 160mm --rows 5"
    ),
    "count --from-wire": f"count {RING} --from-wire 30m",
    "count --from-mass": f"count {RING} --from-mass 50g",
    "count --from-budget": f"count {RING} --from-budget 200 --job {NECKLACE}",
    "fit, all feels": "fit --weave byzantine --wire 0.9mm",
    "fit, one feel": "fit --weave byzantine --wire 0.9mm --feel supple",
    "substitute": f"substitute {NECKLACE}",
    "what-if of one piece": f"what-if {NECKLACE} {CHANGES}",
    "what-if of nine pieces": f"what-if {FAIR} {CHANGES}",
    "price-list of three lengths": f"price-list {NECKLACE} --lengths 40cm,45cm,50cm",
}
IMPORTS = "import numpy, scipy.optimize, openpyxl"


def best_s(command: list[str]) -> float:
    """Least processor time, user and system, of several runs."""
    times = []
    for _ in range(ROUNDS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times)


def main() -> None:
    """Print the table."""
    print(f"{'question':40} {'s':>5}  (processor time, best of {ROUNDS})")
    print(f"{IMPORTS:40} {best_s([sys.executable, '-c', IMPORTS]):5.2f}")
    for name, words in QUESTIONS.items():
        print(f"{name:40} {best_s([sys.executable, '-m', 'chainplan', *words.split()]):5.2f}")


if __name__ == "__main__":
    main()
