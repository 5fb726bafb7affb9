"""Times and qualities of weld orders: ``python tests/bench/bench_order.py [largest count]``.

First table: seconds and peak memory of order and verifier from a thousand rings up, on European
4-in-1 sheets. Second table: quality on small pieces of several weaves. Invented pieces.
"""

from __future__ import annotations

import sys
import time
import tracemalloc

import numpy as np

from chainplan.heat import build_heat_model
from chainplan.join import place_joins
from chainplan.model.bench import Bench
from chainplan.model.job import Piece, Section
from chainplan.model.order import WeldSetting
from chainplan.order import find_order, verify_order
from chainplan.reference import find_metal
from chainplan.weave import lay_piece


def prepare(
    weave, *, rings=None, rows=None, metal="sterling-silver", wire=1.0, inner=4.5, joules=10.0
):
    """Take an invented piece as far as its heat model."""
    bench = Bench()
    section = Section(
        weave=weave, metal=metal, wire_mm=wire, inner_mm=inner, rings=rings, rows=rows
    )
    piece = Piece(name="bench piece", quantity=1, sections=(section,))
    layout = lay_piece(piece)
    joins = place_joins(layout, spot_mm=[0.9], electrode=bench.electrode, way="all in place")
    heat = build_heat_model(
        layout,
        metals={metal: find_metal(metal)},
        join_heat_set_j=np.full(layout.rings, joules),
        settings=bench.heat,
    )
    setting = WeldSetting(power_j=joules, hits=1, tip="sharp", source="estimate")
    return layout, joins, heat, {"settings": [setting], "pace": bench.pace, "limits": bench.heat}


def scale_table(largest: int) -> None:
    """Print seconds and megabytes against rings."""
    print("rings      order s   verify s   peak MB   KB/ring   bench h   above bound")
    count, before = 1000, None
    while count <= largest:
        rows = max(5, round(count**0.5))
        layout, joins, heat, kwargs = prepare("european-4-in-1", rings=count, rows=rows)
        for corner in heat.bad_corners:
            heat.kernels(corner)
        tracemalloc.start()
        begin = time.perf_counter()
        order = find_order(layout, joins, heat, **kwargs)
        seconds = time.perf_counter() - begin
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        begin = time.perf_counter()
        wrong = verify_order(layout, joins, heat, order.ring, order.start_s, **kwargs)
        checked = time.perf_counter() - begin
        slope = ""
        if before is not None:
            rate = np.log(seconds / before[1]) / np.log(layout.rings / before[0])
            slope = f"   exponent {rate:.2f}"
        print(
            f"{layout.rings:8d}  {seconds:8.2f}   {checked:8.2f}  {peak / 1e6:8.0f}  "
            f"{peak / 1e3 / layout.rings:8.2f}  {order.bench_time_s / 3600:8.2f}  "
            f"{100 * order.gap:8.1f} %   {order.status}, {len(wrong)} violations{slope}",
            flush=True,
        )
        before = (layout.rings, seconds)
        count *= 10


def quality_table() -> None:
    """Print bench minutes of the order to follow beside the bound and the plain orders."""
    pieces = {
        "strip of 5 rows": ("european-4-in-1", {"rings": 200, "rows": 5}),
        "sheet of 14 rows": ("european-4-in-1", {"rings": 200, "rows": 14}),
        "single chain": ("single-link", {"rings": 150}),
        "Byzantine": ("byzantine", {"rings": 300}),
        "double link": ("double-link", {"rings": 200}),
    }
    print()
    head = "piece               held   bound  follow    free  end to end  random  alternating"
    print(f"{head}   °C no waits")
    for name, (weave, size) in pieces.items():
        layout, joins, heat, kwargs = prepare(weave, **size)
        for held in (False, True):
            limits = type(kwargs["limits"])(held_bare=held)
            order = find_order(layout, joins, heat, **{**kwargs, "limits": limits})
            rows = {item.name: item for item in order.comparisons}
            mine, ends = rows["to follow"], rows["end to end"]
            print(
                f"{name:18s}  {'bare' if held else 'no':4s}  {order.lower_bound_s / 60:6.1f}  "
                f"{mine.bench_time_s / 60:6.1f}  {order.free_time_s / 60:6.1f}  "
                f"{ends.bench_time_s / 60:10.1f}  {rows['random'].bench_time_s / 60:6.1f}  "
                f"{rows['alternating ends'].bench_time_s / 60:11.1f}   "
                f"{mine.warmest_without_waits_c:3.0f} / {ends.warmest_without_waits_c:3.0f}   "
                f"{order.passes[0].text}",
                flush=True,
            )


if __name__ == "__main__":
    quality_table()
    print()
    scale_table(int(float(sys.argv[1])) if len(sys.argv) > 1 else 100_000)
