"""What each number of a stage's tuning does: the same work with half and with twice of it.

Run as a script: ``python tests/bench/bench_tuning.py weave|join|heat [field …]``. Seconds are of
the processor, relative to the usual tuning; the outcome is compared with the usual one. A field
whose half and double change neither is one that nothing in this work depends on.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

import numpy as np
from bench_heat import lay_lattice
from bench_join import lay

from chainplan.errors import ChainplanError
from chainplan.heat import build_heat_model
from chainplan.heat.tuning import tuning as heat_tuning
from chainplan.join import place_joins
from chainplan.join.tuning import tuning as join_tuning
from chainplan.model.bench.electrode import ElectrodeSettings
from chainplan.model.bench.heat import HeatSettings
from chainplan.model.job import Piece, Section
from chainplan.model.tuning import list_tuning
from chainplan.reference import find_metal
from chainplan.weave import lay_piece, load_weave
from chainplan.weave.shape.comparison import count_shells
from chainplan.weave.solving import cache
from chainplan.weave.solving.solver import find_smallest, solve_repeat
from chainplan.weave.tuning import tuning as weave_tuning

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


STAGES = {
    "weave": (weave_tuning, work_weave),
    "join": (join_tuning, work_join),
    "heat": (heat_tuning, work_heat),
}


def other_value(value: object, factor: float) -> object:
    """Half or twice of a number; of a row of numbers each."""
    if isinstance(value, tuple):
        return tuple(other_value(part, factor) for part in value)
    if isinstance(value, int):
        return max(1, round(value * factor))
    return value * factor


def measure(tuning, work, changed) -> tuple[float, list[tuple[str, float]], str]:
    """Processor seconds and outcome of the work under a tuning, or what went wrong."""
    with tuning.using(changed):
        start = time.process_time()
        try:
            found, wrong = work(), ""
        except ChainplanError as error:
            found, wrong = [], str(error).splitlines()[0]
        return time.process_time() - start, found, wrong


def main(stage: str, names: list[str]) -> None:
    """Print two lines a field."""
    tuning, work = STAGES[stage]
    work()
    usual_s, usual, _ = min((measure(tuning, work, tuning()) for _ in range(3)), key=lambda m: m[0])
    print(f"{stage}: {usual_s:.2f} s; " + "; ".join(f"{name} {value:.6g}" for name, value in usual))
    for info in list_tuning(tuning()):
        if names and info.name not in names:
            continue
        for factor in (0.5, 2.0):
            value = other_value(info.value, factor)
            seconds, found, wrong = measure(tuning, work, replace(tuning(), **{info.name: value}))
            differs = [
                f"{name} {value:.6g} ({value / usual_value - 1:+.1e})"
                for (name, value), (_, usual_value) in zip(found, usual, strict=False)
                if abs(value - usual_value) > 1e-7 * abs(usual_value)
            ]
            said = wrong or "; ".join(differs) or "the same"
            print(f"{info.name} {value}: time {seconds / usual_s - 1:+.0%}; {said}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
