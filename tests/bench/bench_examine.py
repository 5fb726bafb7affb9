"""Time of the examiner beside that of the whole plan, and its growth with the rings.

    python tests/bench/bench_examine.py [samples] [chains] [sheets]

Processor time, so that other work on the machine counts little.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import chainplan

ROOT = Path(__file__).resolve().parents[2]
CHAINS = (10_000, 100_000)
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
SHEETS = ((10, 100), (32, 320), (100, 1000))
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
    begin = time.process_time()
    job = chainplan.read_job(job_file)
    plan = chainplan.make_plan(job)
    chainplan.write_plan(plan, folder)
    whole = time.process_time() - begin
    begin = time.process_time()
    found = chainplan.examine_plan(folder)
    examined = time.process_time() - begin
    if not found.ok:
        print(found.text())
    rings = sum(piece.layout.rings for piece in plan.pieces)
    return rings, whole - examined, examined


def main() -> None:
    """Print a row a job."""
    print(f"{'job':24} {'rings':>8} {'plan s':>8} {'examine s':>10} {'share':>7} {'µs a ring':>10}")
    with tempfile.TemporaryDirectory() as place:
        wanted = sys.argv[1:] or ["samples", "chains", "sheets"]
        jobs = [ROOT / "samples" / name for name in ("necklace.toml", "craft-fair.xlsx")]
        jobs = jobs if "samples" in wanted else []
        for rings in CHAINS if "chains" in wanted else ():
            path = Path(place) / f"chain-{rings}.toml"
            path.write_text(CHAIN.format(rings=rings), encoding="utf-8")
            jobs.append(path)
        for rows, columns in SHEETS if "sheets" in wanted else ():
            path = Path(place) / f"sheet-{rows}x{columns}.toml"
            path.write_text(SHEET.format(rows=rows, rings=rows * columns), encoding="utf-8")
            jobs.append(path)
        for job in jobs:
            rings, planned, examined = measure(job, Path(place) / f"out-{job.stem}")
            share = examined / planned
            print(
                f"{job.stem:24} {rings:8} {planned:8.2f} {examined:10.2f} {share:6.1%} "
                f"{1e6 * examined / rings:10.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
