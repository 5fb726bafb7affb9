"""Wall and processor time of a plan with one worker and with several, in turn.

Prints a table of one run; ``python tests/bench/bench_workers.py [JOB] [WORKERS] [ROUNDS]``. The
modules should be compiled (no PYTHONDONTWRITEBYTECODE): else each process compiles them anew.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from chainplan.workers import cores

SAMPLES = Path(__file__).parents[2] / "samples"


def plan(job: str, workers: int, out: str) -> tuple[float, float]:
    """Plan a job anew; return seconds of wall and of all processes together."""
    import resource

    words = ["plan", job, "--fresh", "--workers", str(workers), "--out", out]
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    subprocess.run([sys.executable, "-m", "chainplan", *words], check=True, capture_output=True)
    took_s, after = time.monotonic() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    return took_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print the best of some rounds."""
    words = sys.argv[1:]
    job = words[0] if words else str(SAMPLES / "craft-fair.xlsx")
    many = int(words[1]) if len(words) > 1 else cores()
    rounds = int(words[2]) if len(words) > 2 else 5
    best: dict[int, tuple[float, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(rounds):
            for count in (1, many):
                took = plan(job, count, f"{folder}/out")
                best[count] = min(best.get(count, took), took)
    print(f"{'workers':>8} {'wall s':>8} {'processor s':>12}  (best of {rounds})")
    for count, (wall_s, processor_s) in best.items():
        print(f"{count:8} {wall_s:8.2f} {processor_s:12.2f}")
    print(f"{best[1][0] / best[many][0]:.2f} times as fast")


if __name__ == "__main__":
    main()
