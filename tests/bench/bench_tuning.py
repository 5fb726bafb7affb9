"""What each number of a stage's tuning does: the same work with half and with twice of it.

Run as a script: ``python tests/bench/bench_tuning.py weave|join|heat|order|estimate [field …]``;
fields of the order stage are named with their room (``search.nearly``), and a room alone names all
of its fields. Seconds are of the processor, relative to the usual tuning; the outcome is compared
with the usual one. A field whose half and double change neither is one that nothing in this work
depends on. Numbers of no meaning when halved (an even count of one) stay at one.
"""

from __future__ import annotations

import sys
import time
from contextlib import nullcontext
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from bench_heat import lay_lattice
from bench_join import lay
from bench_order import prepare
from threadpoolctl import threadpool_limits

import chainplan
from chainplan.errors import ChainplanError
from chainplan.estimate import first_setting
from chainplan.estimate.tuning import tuning as estimate_tuning
from chainplan.heat import build_heat_model
from chainplan.heat.tuning import tuning as heat_tuning
from chainplan.join import place_joins
from chainplan.join.tuning import tuning as join_tuning
from chainplan.model.bench.groups import ElectrodeSettings, HeatSettings
from chainplan.model.job import HeatSensitivePart, Piece, Section
from chainplan.model.tuning import Tunable, change_tuning, list_tuning
from chainplan.order import find_order
from chainplan.order.stints import cut_order
from chainplan.order.tuning import USUAL, OrderTuning
from chainplan.reference import find_metal
from chainplan.weave import lay_piece, load_weave
from chainplan.weave.shape.comparison import count_shells
from chainplan.weave.solving import cache
from chainplan.weave.solving.solver import find_smallest, solve_repeat
from chainplan.weave.tuning import tuning as weave_tuning

if TYPE_CHECKING:
    from collections.abc import Iterator

SAMPLES = Path(__file__).parents[2] / "samples"
SOLVED = (
    ("byzantine", 4.0, "taut"),
    ("double-link", 3.4, "taut"),
    ("double-link", 3.4, "gathered"),
    ("european-4-in-1", 4.0, "taut"),
    ("jens-pind-3", 3.2, "taut"),
    ("half-persian-3-in-1", 5.0, "taut"),
)
STORED = (("byzantine", 3.71), ("full-persian-6-in-1", 6.13), ("box-chain", 5.2))


def work_weave() -> list[tuple[str, float]]:
    """Solve from seeds and from stored starts, find limits, lay a piece of two sections."""
    cache._solved.clear()
    found = []
    for key, ratio, state in SOLVED:
        repeat = solve_repeat(load_weave(key), ratio, state)
        found.append((f"{key} {state} from its seed", float(repeat.vectors[0, 0])))
    for key, ratio in STORED:
        for state in ("taut", "gathered"):
            repeat = cache.solve_cached(load_weave(key), ratio, state)
            found.append((f"{key} {state} from stored starts", float(repeat.vectors[0, 0])))
    found.append(("smallest double-link", find_smallest(load_weave("double-link")).aspect_ratio))
    ring = {"wire_mm": 1.0, "inner_mm": 3.6, "metal": "copper", "length_mm": 60.0}
    sections = (Section(weave="byzantine", **ring), Section(weave="single-link", **ring))
    layout = lay_piece(Piece(name="bench", quantity=1, sections=sections))
    found.append(("piece of two sections", float(np.ptp(layout.centre_mm[:, 0]))))
    found.append(("shells", float(sum(map(sum, count_shells(load_weave("box-chain")))))))
    return found


def work_join() -> list[tuple[str, float]]:
    """Place the joins of three chains and a strip."""
    found = []
    for weave, ratio, rows in (
        ("byzantine", 3.6, 1),
        ("jens-pind-3", 3.0, 1),
        ("european-4-in-1", 4.5, 7),
        ("full-persian-6-in-1", 5.8, 1),
    ):
        layout = lay(weave, ratio, 300, rows)
        joins = place_joins(
            layout,
            spot_mm=[0.9],
            electrode=ElectrodeSettings(),
            way="as many as possible beforehand",
        )
        found.append((f"{weave} on its first face", float((joins.face == 0).sum())))
        found.append((f"{weave} clearance", float(np.nanmean(joins.clearance_mm))))
        found.append((f"{weave} to the next wire", float(np.nanmean(joins.spot_gap_mm))))
    return found


def work_heat() -> list[tuple[str, float]]:
    """Make the kernel tables of a chain and a sheet, and run the modes of a short chain."""
    metals = {"sterling-silver": find_metal("sterling-silver")}
    found = []
    for columns, rows in ((1500, 1), (20, 20), (140, 1)):
        layout = lay_lattice(columns, rows)
        model = build_heat_model(
            layout, metals=metals, join_heat_set_j=10.0, settings=HeatSettings()
        )
        corner = "hot, good links"
        if layout.rings > 150:
            table = model.kernels(corner)
            found.append((f"{columns} by {rows}, left out at most", float(table.dropped_k)))
            found.append((f"{columns} by {rows}, MB", table.log_rise_k.nbytes / 1e6))
        ring = np.arange(0, layout.rings, 7)
        run = model.simulate(corner, ring, np.arange(len(ring)) * 4.0)
        found.append((f"{columns} by {rows}, peak", float(run.peak_c.max())))
    return found


def bench_pieces() -> Iterator[tuple[str, tuple[Any, ...], dict[str, Any], bool]]:
    """Yield name, what find_order takes, and whether the summed clock takes the piece."""
    copper = {"weave": "single-link", "metal": "copper", "wire": 1.6, "inner": 6.8, "joules": 18.0}
    yield "bracelet of 28", *_kept("bracelet", rings=28, **copper), False
    yield "chain of 90", *_kept("chain", rings=90, **copper), True
    sheet = {"weave": "european-4-in-1", "metal": "copper", "wire": 1.0, "inner": 4.5}
    yield "strip of 7 rows", *_kept("strip", rings=70, rows=7, joules=11.0, **sheet), False
    stone = HeatSensitivePart(
        piece="bench piece", name="stone", kind="amber", limit_c=100.0, place_mm=60.0, length_mm=8.0
    )
    silver = {"weave": "double-link", "inner": 3.6, "joules": 8.0}
    yield "chain with a stone", *_kept("stone", rings=60, parts=(stone,), **silver), False


_prepared: dict[str, tuple[tuple[Any, ...], dict[str, Any]]] = {}


def _kept(name: str, **size: Any) -> tuple[tuple[Any, ...], dict[str, Any]]:
    """Prepare an invented piece once, so that its modes and kernels are not counted.

    Fingers hold on both sides, ends too: then limits bind and there is something to choose. Held as
    usual, three of the four pieces take the first way that is tried.
    """
    if name not in _prepared:
        limits = HeatSettings(sides_held=2, end_tweezers=False)
        *three, kwargs = prepare(**size, limits=limits)
        _prepared[name] = (tuple(three), kwargs)
    return _prepared[name]


def work_order(tuning: OrderTuning) -> list[tuple[str, float]]:
    """Order four invented pieces, one of them by the summed clock, and cut them into stints."""
    found = []
    for name, three, kwargs, summed in bench_pieces():
        most = tuning.clock.most_exact_joins // 20 if summed else tuning.clock.most_exact_joins
        held = change_tuning(tuning, "clock.most_exact_joins", most)
        order = find_order(*three, **kwargs, tuning=held)
        stints = cut_order(order, kwargs["pace"], tuning=tuning.batch)
        found += [
            (f"{name}, min", order.bench_time_s / 60),
            (f"{name}, bound min", order.lower_bound_s / 60),
            (f"{name}, freer min", order.free_time_s / 60),
            (f"{name}, passes", float(len(order.passes))),
            (f"{name}, stints", float(stints.steps.size)),
            (f"{name}, sentences", float(len(order.gained) + len(order.advice))),
        ]
    return found


def work_estimate() -> list[tuple[str, float]]:
    """Price, wire and hours of the sample fair by quick counts, and first settings."""
    job = chainplan.read_job(SAMPLES / "craft-fair.xlsx")
    quote = chainplan.quote_job(job)
    found = [("price of the fair", float(quote.price)), ("wire of the fair", quote.wire_m)]
    found += [(f"{item.piece}, bench h", item.bench_h) for item in quote.pieces]
    for metal, wire_mm in (("sterling-silver", 1.0), ("copper", 1.6), ("titanium", 2.4)):
        line = first_setting(find_metal(metal), wire_mm, bench=job.bench)
        found.append((f"{metal} {wire_mm}, J", line.setting.power_j))
        found.append((f"{metal} {wire_mm}, hits", float(line.setting.hits)))
    return found


STAGES: dict[str, tuple[Any, Any]] = {
    "weave": (weave_tuning, work_weave),
    "join": (join_tuning, work_join),
    "heat": (heat_tuning, work_heat),
    "order": (lambda: USUAL, work_order),
    "estimate": (estimate_tuning, work_estimate),
}


def other_value(value: object, factor: float) -> object:
    """Half or twice of a number; of a row of numbers each; of growth and shares, from one on."""
    if isinstance(value, tuple):
        return tuple(other_value(part, factor) for part in value)
    if is_dataclass(value):
        return replace(
            value, **{f.name: other_value(getattr(value, f.name), factor) for f in fields(value)}
        )
    if isinstance(value, int):
        return max(1, round(value * factor))
    if 1 < value < 2:  # a growth, or times of something: it stays above one
        return round(1 + (value - 1) * factor, 6)
    if 0.5 < value < 1:  # a share of nearly all: it stays below one
        return round(1 - (1 - value) / factor, 6)
    return value * factor


def measure(tuning, work, changed) -> tuple[float, list[tuple[str, float]], str]:
    """Processor seconds and outcome of the work under a tuning, or what went wrong."""
    with tuning.using(changed) if isinstance(tuning, Tunable) else nullcontext():
        start = time.process_time()
        try:
            found, wrong = work() if isinstance(tuning, Tunable) else work(changed), ""
        except ChainplanError as error:
            found, wrong = [], str(error).splitlines()[0]
        return time.process_time() - start, found, wrong


def main(stage: str, names: list[str]) -> None:
    """Print two lines a field."""
    tuning, work = STAGES[stage]
    measure(tuning, work, tuning())  # imports, tables and modes are made once
    usual_s, usual, _ = min((measure(tuning, work, tuning()) for _ in range(3)), key=lambda m: m[0])
    print(f"{stage}: {usual_s:.2f} s; " + "; ".join(f"{name} {value:.6g}" for name, value in usual))
    for info in list_tuning(tuning()):
        if names and not any(info.name == n or info.name.startswith(f"{n}.") for n in names):
            continue
        for factor in (0.5, 2.0):
            value = other_value(info.value, factor)
            if value == info.value:
                continue
            seconds, found, wrong = measure(tuning, work, change_tuning(tuning(), info.name, value))
            differs = [
                f"{name} {value:.6g} ({value / usual_value - 1:+.1e})"
                for (name, value), (_, usual_value) in zip(found, usual, strict=False)
                if abs(value - usual_value) > 1e-7 * abs(usual_value)
            ]
            said = wrong or "; ".join(differs) or "the same"
            print(f"{info.name} {value}: time {seconds / usual_s - 1:+.0%}; {said}", flush=True)


if __name__ == "__main__":
    with threadpool_limits(1):
        main(sys.argv[1], sys.argv[2:])
