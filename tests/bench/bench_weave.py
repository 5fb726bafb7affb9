"""Times of the weave stage: a new ring size from scratch and from the table, and tiling.

Run as a script: ``python tests/bench/bench_weave.py [weave …]``.
"""

from __future__ import annotations

import sys
import time
import tracemalloc

import numpy as np

from chainplan.weave import (
    find_smallest_aspect_ratio,
    load_weave,
    solve_cached,
    solve_repeat,
    weave_keys,
)
from chainplan.weave.laying.tiling import Tiler, find_row_plan

MARGIN = 1.2377  # over the smallest ratio: between grid points of the table


def time_weaves(keys: list[str]) -> None:
    """Print a line a weave: seconds from the seed, from the table, from memory."""
    print("weave                      AR  from seed s  from table s  from memory ms  pitch differs")
    for key in keys:
        weave = load_weave(key)
        ratio = find_smallest_aspect_ratio(weave) * MARGIN
        clock = time.perf_counter()
        scratch = solve_repeat(weave, ratio)
        seed_s = time.perf_counter() - clock
        solve_cached(weave, ratio * 1.1)
        clock = time.perf_counter()
        cached = solve_cached(weave, ratio)
        table_s = time.perf_counter() - clock
        clock = time.perf_counter()
        solve_cached(weave, ratio)
        memory_s = time.perf_counter() - clock
        differs = scratch.vectors[0, 0] / cached.vectors[0, 0] - 1
        print(
            f"{key:22} {ratio:6.3f} {seed_s:12.2f} {table_s:13.3f} {1000 * memory_s:15.2f} "
            f"{differs:+14.1e}"
        )


def time_tiling() -> None:
    """Print processor seconds and bytes a ring for sheets of 10³ to 10⁶ rings, and the growth."""
    weave = load_weave("european-4-in-1")
    repeat = solve_cached(weave, 4.5)
    print("\nrings      seconds   bytes a ring kept   at the peak")
    sizes, seconds = [], []
    for wanted in (10**3, 10**4, 10**5, 10**6):
        rows = int(wanted**0.5)
        tiler = Tiler(repeat, find_row_plan(weave), rows)
        best = np.inf
        for _ in range(3):
            clock = time.process_time()
            tiling = tiler.tile(wanted // rows)
            best = min(best, time.process_time() - clock)
        kept = sum(getattr(tiling, name).nbytes for name in tiling.__slots__) / tiling.rings
        rings = tiling.rings
        del tiling
        tracemalloc.start()
        tiler.tile(wanted // rows)
        peak = tracemalloc.get_traced_memory()[1] / rings
        tracemalloc.stop()
        sizes.append(rings)
        seconds.append(best)
        print(f"{rings:8d} {best:9.4f} {kept:15.0f} {peak:18.0f}")
    growth = np.polyfit(np.log(sizes), np.log(seconds), 1)[0]
    print(f"growth exponent from 10³ to 10⁶ rings: {growth:.2f}")


if __name__ == "__main__":
    time_weaves(sys.argv[1:] or list(weave_keys()))
    time_tiling()
