"""Share of the examiner in a plan's processor time, and its growth with the rings.

    python tests/bench/bench_examine.py [samples] [chains] [sheets] [largest count]

Each plan is made, written and examined in a process of its own, so that the examiner's modules and
patterns are loaded there as in every plan; processor time of one thread, so that other work on the
machine counts little. Where ``PYTHONDONTWRITEBYTECODE`` is set its modules are compiled each time.
"""

from __future__ import annotations

import multiprocessing
import sys
import tempfile
import time
from pathlib import Path

import chainplan

ROOT = Path(__file__).resolve().parents[2]
CHAINS = (456, 1000, 10_000, 100_000)
CHAIN = """
[bench.heat]
held_bare = false

[[piece]]
name = "Chain"
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "copper"
rings = {rings}
"""
SHEETS = ((32, 1000), (100, 10_000))
SHEET = """
[bench.heat]
held_bare = false

[[piece]]
name = "Sheet"
weave = "european-4-in-1"
wire_mm = 1.0
inner_mm = 4.5
metal = "copper"
rows = {rows}
rings = {rings}
"""


def measure(job_file: Path, folder: Path) -> tuple[int, float, float]:
    """Rings of all pieces, seconds of planning and writing, seconds of examining."""
    marks: dict[str, float] = {}

    def step(stage: str, _done: int, _total: int) -> None:
        marks.setdefault(stage, time.process_time())

    begin = time.process_time()
    plan = chainplan.make_plan(chainplan.read_job(job_file), on_step=step)
    chainplan.write_plan(plan, folder, on_step=step)
    examined = time.process_time() - marks["examine"]
    rings = sum(piece.layout.rings for piece in plan.pieces)
    return rings, marks["examine"] - begin, examined


def main() -> None:
    """Print a row a job."""
    wanted = [word for word in sys.argv[1:] if not word.isdigit()]
    wanted = wanted or ["samples", "chains", "sheets"]
    largest = next((int(word) for word in sys.argv[1:] if word.isdigit()), CHAINS[-1])
    print(
        f"{'job':24} {'rings':>8} {'rest s':>8} {'examine s':>10} {'of all':>7} {'µs a ring':>10}"
    )
    with tempfile.TemporaryDirectory() as place:
        jobs = [ROOT / "samples" / name for name in ("necklace.toml", "craft-fair.xlsx")]
        jobs = jobs if "samples" in wanted else []
        for rings in CHAINS if "chains" in wanted else ():
            path = Path(place) / f"chain-{rings}.toml"
            path.write_text(CHAIN.format(rings=rings), encoding="utf-8")
            jobs += [path] if rings <= largest else []
        for rows, rings in SHEETS if "sheets" in wanted else ():
            path = Path(place) / f"sheet-{rings}.toml"
            path.write_text(SHEET.format(rows=rows, rings=rings), encoding="utf-8")
            jobs += [path] if rings <= largest else []
        for job in jobs:
            with multiprocessing.get_context("spawn").Pool(1) as pool:
                rings, rest, examined = pool.apply(measure, (job, Path(place) / f"out-{job.stem}"))
            share = examined / (rest + examined)
            print(
                f"{job.stem:24} {rings:10} {rest:10.2f} {examined:10.2f} {share:10.1%} "
                f"{1e6 * examined / rings:10.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
