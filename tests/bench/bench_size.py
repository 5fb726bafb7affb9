"""Seconds and memory of a plan from a thousand rings up: ``bench_size.py [largest count] [weave]``.

A single chain and a European 4-in-1 sheet of copper, planned, written and examined, each size in a
process of its own. Seconds are of the processor, so that other work on the machine counts little;
*growth* is the exponent from the size before: 1 means twice the time for twice the rings.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import chainplan

PIECE = """
[bench.heat]
held_bare = false

[[piece]]
name = "Piece"
weave = "{weave}"
wire_mm = 1.0
inner_mm = {inner}
metal = "copper"
rings = {rings}
{rows}
"""
KINDS = {"single-link": 4.0, "european-4-in-1": 4.5}
STAGES = ("laid out", "joins, heat", "order", "estimates", "files", "examined")


def measure(weave: str, rings: int) -> tuple[int, list[float], float]:
    """Rings, seconds of every stage, highest memory in MB."""
    import openpyxl  # noqa: F401  (imports are not a stage's time)
    import pandas as pd  # noqa: F401
    import scipy.optimize
    import scipy.sparse.linalg  # noqa: F401

    marks: list[tuple[str, float]] = []

    def step(stage: str, _done: int, _total: int) -> None:
        if not marks or marks[-1][0] != stage:
            marks.append((stage, time.process_time()))

    rows = f"rows = {max(5, round(rings**0.5))}" if weave == "european-4-in-1" else ""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "job.toml"
        text = PIECE.format(weave=weave, inner=KINDS[weave], rings=rings, rows=rows)
        path.write_text(text, encoding="utf-8")
        plan = chainplan.make_plan(chainplan.read_job(path), on_step=step)
        chainplan.write_plan(plan, Path(place) / "out", on_step=step)
        marks.append(("end", time.process_time()))
    begun = dict(reversed(marks))
    ends = [begun[name] for name in ("pieces", "order", "estimates", "files", "examine", "end")]
    seconds = np.diff([begun["weaves"], *ends]).tolist()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return sum(piece.layout.rings for piece in plan.pieces), seconds, peak


def main() -> None:
    """Print a table a weave."""
    largest = int(float(sys.argv[1])) if len(sys.argv) > 1 else 100_000
    context = multiprocessing.get_context("spawn")
    for weave in sys.argv[2:] or KINDS:
        head = " ".join(f"{name:>12}" for name in STAGES)
        print(f"\n{weave}\n{'rings':>9} {head} {'all s':>9} {'MB':>6} {'KB/ring':>8} {'growth':>7}")
        count, before = 1000, None
        while count <= largest:
            with context.Pool(1) as pool:
                rings, seconds, peak = pool.apply(measure, (weave, count))
            growth = ""
            if before is not None:
                growth = f"{np.log(sum(seconds) / before[1]) / np.log(rings / before[0]):7.2f}"
            cells = " ".join(f"{value:12.2f}" for value in seconds)
            print(
                f"{rings:9d} {cells} {sum(seconds):9.1f} {peak:6.0f} {1024 * peak / rings:8.2f} "
                f"{growth}",
                flush=True,
            )
            before = (rings, sum(seconds))
            count *= 10


if __name__ == "__main__":
    main()
