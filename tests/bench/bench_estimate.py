"""Time of the estimates: rings in one piece, and pieces in one job.

Run it as a script: ``python tests/bench/bench_estimate.py``.
"""

import datetime
import subprocess
import sys
import time
from decimal import Decimal

from chainplan.estimate import estimate_counts, first_setting
from chainplan.estimate.material.spares import spare_rings
from chainplan.model.bench import Bench
from chainplan.model.estimate import PieceCounts, RingGroup
from chainplan.model.job import Job, Price
from chainplan.reference import find_metal


def a_piece(name: str, rings: int) -> PieceCounts:
    """Count an invented sterling chain."""
    group = RingGroup(
        section=0,
        weave="any",
        metal="sterling-silver",
        temper="annealed",
        wire_mm=1.0,
        inner_mm=4.0,
        rings=rings,
        joins_in_place=rings,
        joins_beforehand=0,
        links=2 * rings,
        power_j=8.0,
        hits=1,
    )
    return PieceCounts(
        piece=name,
        quantity=2,
        groups=(group,),
        weld_s=6.0 * rings,
        list_price=Decimal(10 * rings),
    )


def seconds_of(job: Job, pieces: list[PieceCounts]) -> float:
    """Best of three runs with nothing remembered of earlier ones."""
    best = float("inf")
    for _ in range(3):
        spare_rings.cache_clear()
        start = time.perf_counter()
        estimate_counts(job, pieces)
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    """Print the tables."""
    prices = (Price(item="sterling-silver", price=Decimal(1), per="g"),)
    job = Job(
        name="bench",
        pieces=(),
        bench=Bench(),
        prices=prices,
        start_date=datetime.date(2027, 1, 4),
    )
    print("rings in one piece   estimates, ms")
    for rings in (1_000, 10_000, 100_000, 1_000_000):
        print(f"{rings:>18,}   {1000 * seconds_of(job, [a_piece('a', rings)]):10.1f}")
    print("pieces of 500 rings  estimates, ms")
    for count in (1, 10, 100):
        pieces = [a_piece(f"piece {k}", 500) for k in range(count)]
        print(f"{count:>18,}   {1000 * seconds_of(job, pieces):10.1f}")
    start = time.perf_counter()
    first_setting(find_metal("copper"), 1.0, bench=Bench())
    print(f"first setting of one section: {1000 * (time.perf_counter() - start):.1f} ms")
    code = "import time; t = time.perf_counter(); import {}; print(time.perf_counter() - t)"
    for name in ("numpy", "chainplan.reference", "chainplan.estimate.batch"):
        run = [sys.executable, "-c", code.format(name)]
        text = subprocess.run(run, capture_output=True, text=True, check=True).stdout
        print(f"cold import of {name}: {1000 * float(text):.0f} ms")


if __name__ == "__main__":
    main()
