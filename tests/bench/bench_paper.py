"""Time and size of the diagrams and the bench sheet against the length of a piece.

Run as ``python tests/bench/bench_paper.py``; prints a table.
"""

from __future__ import annotations

import importlib.util
import sys
import tempfile
import time
from pathlib import Path

from chainplan.report.bench_sheet import write_bench_sheet
from chainplan.report.diagram.weld_order import write_diagrams

builders = Path(__file__).parents[1] / "unit" / "report" / "conftest.py"
spec = importlib.util.spec_from_file_location("report_builders", builders)
assert spec is not None
assert spec.loader is not None
invented = importlib.util.module_from_spec(spec)
spec.loader.exec_module(invented)


def main() -> int:
    """Print the table."""
    cases = [
        (f"chain of {rings}", invented.chain_layout(rings), 12)
        for rings in (70, 700, 2_000, 10_000)
    ]
    cases += [
        (f"sheet of {rows} × {rows}", invented.sheet_layout(rows, rows), 5)
        for rows in (10, 35, 100, 300)
    ]
    print("piece                pages diagrams s  PDF kB   PNG kB  sheet s     kB")
    for name, layout, stride in cases:
        plan = invented.whole_plan(invented.piece_plan("piece", layout, stride=stride))
        with tempfile.TemporaryDirectory() as folder:
            begin = time.perf_counter()
            files = write_diagrams(plan, Path(folder), images="png")
            middle = time.perf_counter()
            page = write_bench_sheet(plan, Path(folder) / "bench-sheet.html")
            end = time.perf_counter()
            sizes = [path.stat().st_size / 1000 for path in files]
            print(
                f"{name:20} {len(files) - 1:5} {middle - begin:10.2f} {sizes[0]:7.0f} "
                f"{sum(sizes[1:]):8.0f} {end - middle:8.3f} {page.stat().st_size / 1000:6.0f}"
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
