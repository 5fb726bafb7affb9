"""Times and qualities of weld orders: ``python tests/bench/bench_order.py [largest count]``.

First table: quality on the samples, a strip, a sheet and every weave. Then seconds of the processor
and memory of heat, order and verifier from a thousand rings up, on European 4-in-1 sheets and
single chains, every size in a process of its own. Invented pieces.

``--set room.name=value`` (as often as wanted, for instance ``--set search.nearly=0.02``) measures
with another choice of the numbers in ``chainplan/order/tuning.py``; ``--only WORD`` keeps to the
pieces whose names hold a word; a largest count of 0 leaves the second table out.
"""

from __future__ import annotations

import argparse
import ast
import multiprocessing
import resource
import time
from pathlib import Path

import numpy as np

import chainplan
from chainplan.estimate import first_settings
from chainplan.heat import build_heat_model
from chainplan.join import place_joins
from chainplan.model.bench import Bench
from chainplan.model.job import Piece, Section
from chainplan.model.order import WeldOrder, WeldSetting
from chainplan.model.tuning import change_tuning
from chainplan.order import find_order, verify_order
from chainplan.order.tuning import USUAL, OrderTuning
from chainplan.reference import find_metal
from chainplan.weave import find_smallest_aspect_ratio, lay_piece, load_weave, weave_keys

SAMPLES = Path(__file__).parents[2] / "samples"


def prepare(
    weave, *, rings=None, rows=None, metal="sterling-silver", wire=1.0, inner=4.5, joules=10.0,
    parts=(),
):  # fmt: skip
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
        parts=parts,
    )
    setting = WeldSetting(power_j=joules, hits=1, tip="sharp", source="estimate")
    return layout, joins, heat, {"settings": [setting], "pace": bench.pace, "limits": bench.heat}


def peak_mb():
    """Highest memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(weave, count, rows, tuning=USUAL):
    """Rings, seconds of heat, order and verifier, MB over the laid-out piece, and the order."""
    import scipy.sparse  # noqa: F401  (its import is not the order's time)

    layout, joins, heat, kwargs = prepare(weave, rings=count, rows=rows)
    base, marks = peak_mb(), [time.process_time()]
    for corner in heat.corners:
        if heat.exact:
            heat.modes(corner)
        else:
            heat.kernels(corner)
    marks.append(time.process_time())
    order = find_order(layout, joins, heat, **kwargs, tuning=tuning)
    marks.append(time.process_time())
    used = peak_mb() - base
    wrong = verify_order(layout, joins, heat, order.ring, order.start_s, **kwargs)
    marks.append(time.process_time())
    words = f"{order.status}, {len(wrong)} violations"
    return layout.rings, np.diff(marks).tolist(), used, order.bench_time_s, order.gap, words


def scale_table(weave, largest, tuning=USUAL):
    """Print seconds of the processor and megabytes against rings, each size in its own process."""
    context = multiprocessing.get_context("spawn")
    print(f"\n{weave}")
    print("   rings    heat s   order s  verify s      MB  KB/ring   bench h  above bound")
    count, before = 1000, None
    while count <= largest:
        rows = max(5, round(count**0.5)) if weave == "european-4-in-1" else None
        with context.Pool(1) as pool:
            rings, seconds, used, bench_s, gap, words = pool.apply(
                measure, (weave, count, rows, tuning)
            )
        slope = ""
        if before is not None:
            rate = np.log(sum(seconds[:2]) / before[1]) / np.log(rings / before[0])
            slope = f", exponent {rate:.2f}"
        print(
            f"{rings:8d}  {seconds[0]:8.2f}  {seconds[1]:8.2f}  {seconds[2]:8.2f}  {used:6.0f}  "
            f"{used * 1024 / rings:7.2f}  {bench_s / 3600:8.2f}  {100 * gap:9.1f} %  {words}"
            f"{slope}",
            flush=True,
        )
        before = (rings, sum(seconds[:2]))
        count *= 10


def quality_line(name: str, order: WeldOrder) -> str:
    """Bench minutes of the order to follow beside the bound and the plain orders."""
    rows = {item.name: item for item in order.comparisons}
    mine, ends = rows["to follow"], rows["end to end"]
    held = any(check.name == "fingers" for check in order.limits)
    return (
        f"{name:26.26s} {'bare' if held else 'no':4s} {order.ring.size:5d} "
        f"{order.lower_bound_s / 60:6.1f} {mine.bench_time_s / 60:6.1f} {100 * order.gap:5.0f} % "
        f"{order.free_time_s / 60:6.1f} {ends.bench_time_s / 60:6.1f} "
        f"{rows['random'].bench_time_s / 60:6.1f} "
        f"{rows['alternating ends'].bench_time_s / 60:6.1f}  "
        f"{mine.warmest_without_waits_c:4.0f} / {ends.warmest_without_waits_c:4.0f}   "
        f"{order.status}: {order.passes[0].text}"
    )


def invented_pieces() -> dict[str, tuple[str, dict[str, float]]]:
    """A strip, a sheet, and a piece of about 150 rings of every weave, rings not too tight."""
    pieces: dict[str, tuple[str, dict[str, float]]] = {
        "strip of 5 rows": ("european-4-in-1", {"rings": 200, "rows": 5, "inner": 4.5}),
        "sheet of 14 rows": ("european-4-in-1", {"rings": 200, "rows": 14, "inner": 4.5}),
    }
    for key in weave_keys():
        weave = load_weave(key)
        inner = round(find_smallest_aspect_ratio(weave) + 0.6, 1)
        size = {"rings": 150, "inner": inner, **({} if weave.form == "chain" else {"rows": 6})}
        pieces[key] = (key, size)
    return pieces


def quality_table(tuning: OrderTuning = USUAL, only: str = "") -> None:
    """Print how good the orders are, with fingers and without; degrees are without any wait."""
    head = "                           held joins  bound follow     gap   free   ends random altern"
    print(f"{head}   °C follow / ends  seconds")
    total = 0.0

    def line(name, layout, joins, heat, kwargs):
        begun = time.process_time()
        order = find_order(layout, joins, heat, **kwargs, tuning=tuning)
        spent = time.process_time() - begun
        print(f"{quality_line(name, order)} {spent:8.1f}", flush=True)
        return order.bench_time_s / 60

    for sample in ("necklace.xlsx", "craft-fair.xlsx"):
        job = chainplan.read_job(SAMPLES / sample)
        for planned in chainplan.make_plan(job).pieces:
            if only in planned.piece.name:
                settings = [item.setting for item in first_settings(job, planned.layout)]
                kwargs = {"settings": settings, "pace": job.bench.pace, "limits": job.bench.heat}
                three = (planned.layout, planned.joins, planned.heat)
                total += line(planned.piece.name, *three, kwargs)
    for name, (weave, size) in invented_pieces().items():
        if only not in name:
            continue
        layout, joins, heat, kwargs = prepare(weave, **size)
        for held in (False, True):
            limits = type(kwargs["limits"])(held_bare=held)
            total += line(name, layout, joins, heat, {**kwargs, "limits": limits})
    print(f"all to follow together: {total:.1f} min")


def tuned(choices: list[str]) -> OrderTuning:
    """Make the settings that choices such as "search.nearly=0.02" ask for."""
    tuning = USUAL
    for choice in choices:
        name, value = choice.split("=", 1)
        tuning = change_tuning(tuning, name, ast.literal_eval(value))
    return tuning


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("largest", nargs="?", type=float, default=100_000)
    asked.add_argument("--set", action="append", default=[], dest="choices")
    asked.add_argument("--only", default="")
    given = asked.parse_args()
    chosen = tuned(given.choices)
    quality_table(chosen, given.only)
    if given.largest >= 1000:
        for name in ("european-4-in-1", "single-link"):
            scale_table(name, int(given.largest), chosen)
