"""Times and qualities of weld orders: ``python tests/bench/bench_order.py [largest count]``.

First table: quality on the samples, a strip, a sheet and every weave, held between the fingers
("bare"), with tweezers alone ("tweezers"), and between the fingers with a clip on the piece
("clip"). Second: small pieces against the true optimum among all orders. Then seconds of the
processor and memory of heat, order and verifier from a thousand rings up, on European 4-in-1 sheets
and single chains, every size in a process of its own. Invented pieces.

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
from dataclasses import replace
from pathlib import Path

import numpy as np

import chainplan
from chainplan.estimate import first_settings
from chainplan.heat import build_heat_model
from chainplan.join import place_joins
from chainplan.model.bench import Bench
from chainplan.model.bench.groups import (
    HeatSettings,
    LeadSettings,
)
from chainplan.model.job import Piece, Section
from chainplan.model.order import WeldOrder, WeldSetting
from chainplan.model.tuning import change_tuning
from chainplan.order import find_order, verify_order
from chainplan.order.clock.select import make_clock
from chainplan.order.piece.situation import take_stock
from chainplan.order.search.exact import find_best_of_all
from chainplan.order.tuning import USUAL, OrderTuning
from chainplan.reference import find_metal
from chainplan.weave import find_smallest_aspect_ratio, lay_piece, load_weave, weave_keys

SAMPLES = Path(__file__).parents[2] / "samples"


def prepare(
    weave, *, rings=None, rows=None, metal="sterling-silver", wire=1.0, inner=4.5, joules=10.0,
    parts=(), limits=None,
):  # fmt: skip
    """Take an invented piece as far as its heat model."""
    bench = Bench() if limits is None else replace(Bench(), heat=limits)
    section = Section(
        weave=weave, metal=metal, wire_mm=wire, inner_mm=inner, rings=rings, rows=rows
    )
    piece = Piece(name="bench piece", quantity=1, sections=(section,))
    layout = lay_piece(piece)
    count = len(layout.materials)
    joins = place_joins(
        layout, spot_mm=[0.9] * count, electrode=bench.electrode, way="all in place"
    )
    heat = build_heat_model(
        layout,
        metals={metal: find_metal(metal)},
        join_heat_set_j=np.full(layout.rings, joules),
        settings=bench.heat,
        parts=parts,
    )
    setting = WeldSetting(power_j=joules, hits=1, tip="sharp", source="estimate")
    return (
        layout,
        joins,
        heat,
        {"settings": [setting] * count, "pace": bench.pace, "limits": bench.heat},
    )


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


def beyond_bound_s(order: WeldOrder, lead: LeadSettings) -> tuple[float, float, float]:
    """What an order has beyond its bound: moves of the clip; waits; way, turns and changes. [s]."""
    clip_ring = None if order.earthing is None else order.earthing.clip_ring
    moves = 0 if clip_ring is None else int(np.count_nonzero(np.diff(clip_ring)))
    parts = order.bound_parts
    clip = moves * lead.clip_move_s - parts.get("moving the clip", 0.0)
    waits = float(order.wait_s.sum()) - parts["cooling"]
    return clip, waits, order.bench_time_s - order.lower_bound_s - clip - waits


def quality_line(name: str, way: str, order: WeldOrder, lead: LeadSettings) -> str:
    """Bench minutes of the order to follow beside the bound and the free order."""
    clip, waits, rest = beyond_bound_s(order, lead)
    mine = {item.name: item for item in order.comparisons}["to follow"]
    binding = [c.name for c in order.limits if c.limit_c - c.high_c < 1.0]
    parts = order.bound_parts
    return (
        f"{name:26.26s} {way:9s} {order.ring.size:5d} {order.lower_bound_s / 60:6.1f} "
        f"{mine.bench_time_s / 60:6.1f} {100 * order.gap:5.0f} % {order.free_time_s / 60:6.1f} "
        f"{parts['handling'] / 60:6.1f} {parts['cooling'] / 60:6.1f} "
        f"{clip:6.0f} {waits:6.0f} {rest:6.0f}  "
        f"{', '.join(dict.fromkeys(binding)) or '-':30.30s} "
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
        rows = 7 if key.startswith("japanese") else 6  # of six some would hang on nothing
        size = {"rings": 150, "inner": inner, **({} if weave.form == "chain" else {"rows": rows})}
        pieces[key] = (key, size)
    return pieces


WAYS = ("bare", "tweezers", "clip")


def ways_of(limits: HeatSettings) -> dict[str, tuple[HeatSettings, LeadSettings]]:
    """How a piece is held and earthed."""
    bare, held = replace(limits, held_bare=True), replace(limits, held_bare=False)
    tweezers, clip = LeadSettings(return_lead="tweezers"), LeadSettings(return_lead="clip")
    return dict(zip(WAYS, ((bare, tweezers), (held, tweezers), (bare, clip)), strict=True))


def quality_table(tuning: OrderTuning = USUAL, only: str = "") -> None:
    """Print how good the orders are, held in every way; what of the bound is handling, cooling.

    Minutes; then the seconds that the order has beyond its bound in moves of the clip, in waits and
    in way; last the limits that it comes within 1 K of.
    """
    print(
        "                           held      joins  bound follow     gap   free handle   cool "
        "  clip  waits    way"
    )
    gaps: list[float] = []

    def lines(name, layout, joins, heat, kwargs):
        for way, (limits, lead) in ways_of(kwargs["limits"]).items():
            if only not in f"{name} {way}":
                continue
            begun = time.process_time()
            how = {**kwargs, "limits": limits, "lead": lead}
            order = find_order(layout, joins, heat, **how, tuning=tuning)
            spent = time.process_time() - begun
            gaps.append(order.gap)
            print(f"{quality_line(name, way, order, lead)} {spent:6.1f} s", flush=True)

    for sample in sorted(SAMPLES.glob("*.xlsx")) + sorted(SAMPLES.glob("*.toml")):
        if sample.name in ("my-weave.toml", "necklace.toml"):  # no job, and the workbook's twin
            continue
        job = chainplan.read_job(sample)
        if not any(only in f"{piece.name} {way}" for piece in job.pieces for way in WAYS):
            continue
        for planned in chainplan.make_plan(job).pieces:
            settings = [item.setting for item in first_settings(job, planned.layout)]
            kwargs = {"settings": settings, "pace": job.bench.pace, "limits": job.bench.heat}
            lines(planned.piece.name, planned.layout, planned.joins, planned.heat, kwargs)
    for name, (weave, size) in invented_pieces().items():
        lines(name, *(prepared := prepare(weave, **size))[:3], prepared[3])
    within = sum(gap <= 0.10 for gap in gaps)
    print(f"{within} of {len(gaps)} within 10 % of the bound, mean gap {100 * np.mean(gaps):.0f} %")


def optimum_table(largest: int = 8) -> None:
    """Print bound, order and true optimum of small pieces; all orders are gone through.

    Fingers hold at the ends too: pieces so short would otherwise be held by tweezers alone.
    """
    print("\n                           held   joins  bound optimum follow  bound below optimum")
    for key, metal, joules in (
        ("single-link", "sterling-silver", 10.0),
        ("single-link", "copper", 12.0),
        ("byzantine", "sterling-silver", 10.0),
        ("european-4-in-1", "sterling-silver", 10.0),
    ):
        inner = 4.5 if key == "single-link" else find_smallest_aspect_ratio(load_weave(key)) + 0.6
        for held in (True, False):
            rows = {"rows": 3} if key == "european-4-in-1" else {}
            size = {"rings": largest, "inner": round(inner, 1), **rows}
            layout, joins, heat, kwargs = prepare(key, metal=metal, joules=joules, **size)
            limits = replace(kwargs["limits"], held_bare=held, end_tweezers=False)
            order = find_order(layout, joins, heat, **{**kwargs, "limits": limits})
            situation = take_stock(layout, joins, heat, **{**kwargs, "limits": limits}, seed=0)
            work, clock = situation.work, make_clock(situation)
            known = np.asarray([work.ring.tolist().index(ring) for ring in order.ring])
            best, proved = find_best_of_all(work, clock.follower, known, most_looks=250_000)
            best_s = clock.settle_all(best[None])[0].bench_s
            print(
                f"{key + ', ' + metal:26.26s} {'bare' if clock.hold else 'no':5s} {work.joins:6d} "
                f"{order.lower_bound_s:6.0f} {best_s:7.0f} {order.bench_time_s:6.0f}  "
                f"{100 * (1 - order.lower_bound_s / best_s):6.0f} % "
                f"{'' if proved else 'not proved'}",
                flush=True,
            )


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
    for rings in (8, 10, 12):
        optimum_table(rings)
    if given.largest >= 1000:
        for name in ("european-4-in-1", "single-link"):
            scale_table(name, int(given.largest), chosen)
