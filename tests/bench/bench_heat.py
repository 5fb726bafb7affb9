"""Seconds and memory of the heat stage from 10³ to 10⁶ rings, and how its time grows.

Run as a script: ``python tests/bench/bench_heat.py [largest]``. Every size runs in a process of its
own, so that the memory is its own: peak over what the laid-out piece already takes. "kernels" is
one table; "before" simulates welding all rings end to end, temperatures before each weld; "peaks"
also looks for the highest temperature of every ring. Seconds are of the processor, not of the
clock: other work on the machine does not count.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import time

import numpy as np

from chainplan.heat import build_heat_model
from chainplan.model.bench.groups import HeatSettings
from chainplan.model.piece.layout import Layout, SectionLayout
from chainplan.reference import find_metal

CORNERS = ("usual", "hot, good links")


def lay_lattice(columns: int, rows: int) -> Layout:
    """4-in-1 sheet of 1.0 mm wire, 4.5 mm inner diameter; one row: a single chain."""
    n = columns * rows
    number = np.arange(n, dtype=np.int32).reshape(columns, rows)
    column, row = np.divmod(np.arange(n, dtype=np.int32), np.int32(rows))
    pairs = [np.column_stack([number[:-1].ravel(), number[1:].ravel()])]
    even, odd = slice(0, -1, 2), slice(1, -1, 2)
    pairs.append(np.column_stack([number[even, 1:].ravel(), number[1::2][:, :-1].ravel()]))
    after_odd = number[2::2]
    pairs.append(np.column_stack([number[odd, :-1].ravel(), after_odd[:, 1:].ravel()]))
    links = np.concatenate(pairs).astype(np.int32)
    links = links[np.lexsort((links[:, 1], links[:, 0]))]
    pitch = 3.2 if rows > 1 else 4.5
    centre = np.column_stack([pitch * column, 6.5 * (row + 0.5 * (column % 2)), 0.0 * row])
    zeros = np.zeros(n, dtype=np.int32)
    section = SectionLayout(
        weave="invented",
        form="sheet" if rows > 1 else "chain",
        metal="sterling-silver",
        temper="annealed",
        wire_mm=1.0,
        inner_mm=4.5,
        first_ring=0,
        rings=n,
        joins=n,
        links=len(links),
        repeats=columns,
        rows=rows,
        length_mm=pitch * columns,
        shorter_mm=0.0,
        longer_mm=0.0,
        wanted_mm=None,
        width_mm=6.5 * rows,
        thickness_mm=2.0,
        rings_per_cm=1.0,
        computed_rings_per_cm=1.0,
    )
    return Layout(
        piece="invented",
        centre_mm=centre,
        normal=np.broadcast_to(np.array([0.0, 0.0, 1.0]), (n, 3)),
        mean_radius_mm=np.full(n, 2.75),
        wire_mm=np.full(n, 1.0),
        section=zeros,
        place=zeros,
        along=column,
        across=row,
        row=row,
        column=column,
        links=links,
        contacts=np.zeros((0, 2), dtype=np.int32),
        sections=(section,),
        length_mm=pitch * columns,
    )


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(columns: int, rows: int, corner: str) -> tuple[float, ...]:
    """Seconds of model, kernels, run, run with peaks; MB; bound in K."""
    layout = lay_lattice(columns, rows)
    metals = {"sterling-silver": find_metal("sterling-silver")}
    import scipy.sparse  # noqa: F401  (its import is not the model's time)

    base = peak_mb()
    marks = [time.process_time()]
    heat = build_heat_model(layout, metals=metals, join_heat_set_j=10.0, settings=HeatSettings())
    marks.append(time.process_time())
    table = heat.kernels(corner)
    marks.append(time.process_time())
    ring, start = np.arange(layout.rings), np.arange(layout.rings) * 5.0
    heat.simulate(corner, ring, start, peaks_of=())
    marks.append(time.process_time())
    heat.simulate(corner, ring, start)
    marks.append(time.process_time())
    return (*np.diff(marks).tolist(), peak_mb() - base, table.dropped_k)


def main(largest: int) -> None:
    context = multiprocessing.get_context("spawn")
    for title, shape in (
        ("chain", lambda n: (n, 1)),
        ("strip, 5 rows", lambda n: (n // 5, 5)),
        ("sheet", lambda n: (n // max(int(n**0.5), 1), max(int(n**0.5), 1))),
    ):
        for corner in CORNERS:
            print(f"\n{title}; {corner}")
            print("   rings   model s  kernels s  before s  peaks s     MB  KB/ring  left out ≤ K")
            seen = []
            for size in (10**3, 10**4, 10**5, 10**6):
                if size > largest:
                    break
                columns, rows = shape(size)
                with context.Pool(1) as pool:
                    row = pool.apply(measure, (columns, rows, corner))
                rings = columns * rows
                seen.append((rings, sum(row[:4])))
                print(
                    f"{rings:8d} {row[0]:9.2f} {row[1]:10.2f} {row[2]:9.2f} {row[3]:8.2f} "
                    f"{row[4]:6.0f} {row[4] * 1024 / rings:8.2f} {row[5]:13.1f}"
                )
            sizes, seconds = np.array(seen).T
            if len(sizes) > 1:
                slope = np.polyfit(np.log(sizes), np.log(seconds), 1)[0]
                last = np.log(seconds[-1] / seconds[-2]) / np.log(sizes[-1] / sizes[-2])
                print(f"   time grows with rings to the {slope:.2f} (last step {last:.2f})")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10**6)
