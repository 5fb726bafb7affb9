"""Processor and wall time of each question, each in a process of its own, from start to answer.

Prints a table, the best of several runs: the first time a question is asked (nothing kept), and
again (solved repeats are kept). Modules count as compiled, as they are once a package was used.
Run it with ``python tests/bench/bench_questions.py [WORD …]``; words pick questions.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
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
    "count of two ring sizes": (
        "count --weave japanese-12-in-2 --wire 1.0mm --inner 6mm --second-wire 0.8mm "
        "--second-inner 3.2mm --length 100mm --rows 3"
    ),
    "count --from-wire": f"count {RING} --from-wire 30m",
    "count --from-mass": f"count {RING} --from-mass 50g",
    "count --from-budget": f"count {RING} --from-budget 200 --job {NECKLACE}",
    "fit, all feels": "fit --weave byzantine --wire 0.9mm",
    "fit, one feel": "fit --weave byzantine --wire 0.9mm --feel supple",
    "fit with a picture": "fit --weave byzantine --wire 0.9mm --picture {folder}/fit.png",
    "substitute": f"substitute {NECKLACE}",
    "what-if of one piece": f"what-if {NECKLACE} {CHANGES}",
    "what-if of nine pieces": f"what-if {FAIR} {CHANGES}",
    "price-list of three lengths": f"price-list {NECKLACE} --lengths 40cm,45cm,50cm",
    "compare of six rings": f"compare {NECKLACE} --wire 0.9mm,1.0mm --inner 3.5mm,3.75mm,4mm",
    "quote of nine pieces": f"quote {FAIR}",
    "check of nine pieces": f"check {FAIR}",
    "weaves of one ring": "weaves byzantine --wire 1.0mm --inner 3.5mm",
}
IMPORTS = "import numpy, scipy.optimize, openpyxl"


def best_s(command: list[str], kept: Path | None) -> tuple[float, float]:
    """Least processor time, user and system, and least wall time of several runs."""
    times, walls = [], []
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as folder:
            env["CHAINPLAN_CACHE"] = str(kept or folder)
            words = [word.replace("{folder}", folder) for word in command]
            before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
            subprocess.run(words, check=True, capture_output=True, env=env)
            walls.append(time.perf_counter() - began)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times), min(walls)


def main() -> None:
    """Print the table."""
    chosen = {
        name: words
        for name, words in QUESTIONS.items()
        if not sys.argv[1:] or any(word in name for word in sys.argv[1:])
    }
    print(f"{'':40} {'first':>12} {'again':>12}")
    print(f"{'question':40} {'s':>5} {'wall s':>6} {'s':>5} {'wall s':>6}  (best of {ROUNDS})")
    used, wall = best_s([sys.executable, "-c", IMPORTS], None)
    print(f"{IMPORTS:40} {used:5.2f} {wall:6.2f}")
    with tempfile.TemporaryDirectory() as kept:
        for name, words in chosen.items():
            command = [sys.executable, "-m", "chainplan", *words.split()]
            first, again = best_s(command, None), best_s(command, Path(kept))
            print(f"{name:40} {first[0]:5.2f} {first[1]:6.2f} {again[0]:5.2f} {again[1]:6.2f}")


if __name__ == "__main__":
    main()
