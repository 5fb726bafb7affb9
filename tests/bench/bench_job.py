"""Prints how long reading a job takes by number of pieces and kind of file."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from chainplan.job import read_job, write_job

SIZES = (10, 100, 1000, 5000)


def main() -> None:
    """Write and read jobs of growing size; print seconds and how they grow."""
    print(f"{'kind':6}{'pieces':>8}{'write s':>10}{'read s':>10}{'ms a piece':>12}")
    with tempfile.TemporaryDirectory() as folder:
        for ending in ("xlsx", "toml", "csv"):
            for size in SIZES:
                rows = [
                    {
                        "name": f"Chain {n}", "quantity": 1, "weave": "single-link",
                        "wire": 1.0 + n / 10000, "inner": 4.0, "metal": "copper", "length": 200.0,
                    }
                    for n in range(size)
                ]  # fmt: skip
                path = Path(folder) / f"job.{ending}"
                start = time.perf_counter()
                write_job({"pieces": rows}, path)
                written = time.perf_counter()
                job = read_job(path)
                done = time.perf_counter()
                read_s = done - written
                each_ms = 1000 * read_s / len(job.pieces)
                line = f"{ending:6}{size:8}{written - start:10.2f}{read_s:10.2f}{each_ms:12.2f}"
                print(line)


if __name__ == "__main__":
    main()
