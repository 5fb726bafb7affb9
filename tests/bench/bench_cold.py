"""Wall time of cold commands against bare Python that only imports the same libraries.

Prints a table of ratios from one run; run it with ``python tests/bench/bench_cold.py``.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "samples"
ROUNDS = 7
LIBRARIES = "import pandas, networkx, openpyxl, scipy.optimize, matplotlib.pyplot"


def best_s(command: list[str]) -> float:
    """Best of several wall times: the least disturbed by other work on the machine."""
    times = []
    for _ in range(ROUNDS):
        started = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        times.append(time.perf_counter() - started)
    return min(times)


def main() -> None:
    """Print the table."""
    python = sys.executable
    with tempfile.TemporaryDirectory() as folder:
        plan = [python, "-m", "chainplan", "plan", str(SAMPLES / "necklace.xlsx"), "--out", folder]
        rows = [
            (
                "chainplan plan necklace.xlsx",
                [*plan[:-1], f"{folder}/out"],
                [python, "-c", LIBRARIES],
            ),
            (
                "chainplan --help",
                [python, "-m", "chainplan", "--help"],
                [python, "-c", "import argparse"],
            ),
        ]
        print(f"{'command':32} {'s':>7} {'bare s':>7} {'ratio':>6}  (best of {ROUNDS})")
        for name, ours, bare in rows:
            ours_s, bare_s = best_s(ours), best_s(bare)
            print(f"{name:32} {ours_s:7.3f} {bare_s:7.3f} {ours_s / bare_s:6.2f}")


if __name__ == "__main__":
    main()
