"""Find the order to weld a piece in, prove how good it is, and say what it gained."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError, did_you_mean
from chainplan.model.order import LimitCheck, WeldOrder
from chainplan.order.account import compare, say_gained
from chainplan.order.advice import advise_infeasible, advise_waiting
from chainplan.order.bound import bound_bench_time
from chainplan.order.grip import lay_out_grips
from chainplan.order.large import MOST_SMALL, take_large_stock
from chainplan.order.largeplan import plan_large
from chainplan.order.patterns import alternating_ends, end_to_end, random_order
from chainplan.order.portfolio import EFFORTS, choose_followable, find_free
from chainplan.order.situation import take_stock
from chainplan.order.verify import ALLOWANCE_K, verify_order
from chainplan.order.words import write_passes

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel, HeatRun
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout
    from chainplan.model.order import WeldSetting
    from chainplan.order.portfolio import Effort, Followable
    from chainplan.order.situation import Settled, Situation

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]
    Step = Callable[[str, int, int], None]

_TRACE_STEPS = 200


def find_order(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    seed: int = 0,
    effort: str = "usual",
    on_step: Step | None = None,
) -> WeldOrder:
    """Find the quickest order that a person can follow within all temperature limits.

    Parameters
    ----------
    layout, joins, heat
        The piece: where its rings and joins are, and how welds warm it.
    settings : sequence of WeldSetting
        What the welder is set to, one a section.
    pace, limits
        The hand's pace; temperature limits. All must hold in every bad corner of the heat model.
    seed : int, optional
        Same seed, same order.
    effort : str, optional
        "usual" or "thorough".
    on_step : callable, optional
        Told ``(stage, done, total)`` as the work goes on.

    Returns
    -------
    WeldOrder
        Order, passes, times, a proved lower bound, comparisons; advice if limits cannot be kept.

    Raises
    ------
    InputError
        For an effort that does not exist, or settings that do not fit the sections.
    """
    if effort not in EFFORTS:
        message = f"effort: found {effort!r}; {did_you_mean(effort, EFFORTS)}"
        raise InputError(message)
    if len(settings) != len(layout.sections):
        message = (
            f"settings: found {len(settings)}; one for each of the piece's "
            f"{len(layout.sections)} sections is needed"
        )
        raise InputError(message)
    tell = on_step if on_step is not None else _say_nothing
    if joins.in_place.size == 0:
        return _nothing_to_weld(layout, seed)
    if joins.in_place.size > MOST_SMALL or layout.rings > 2 * MOST_SMALL:
        stock = take_large_stock(
            layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
        )
        return plan_large(stock, pace, tell)
    tell("order", 0, 5)
    situation = take_stock(
        layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
    )
    chosen, situation, runs = _choose_checked(situation, EFFORTS[effort], settings)
    tell("order", 2, 5)
    baselines = {
        "end to end": situation.settle(end_to_end(situation.grid, situation.work)),
        "alternating ends": situation.settle(alternating_ends(situation.grid, situation.work)),
        "random": situation.settle(random_order(situation.work, seed)),
    }
    tell("order", 3, 5)
    parts = bound_bench_time(situation.work, situation.caps(margin=False))
    bound_s = sum(parts.values())
    free, proved = find_free(
        situation, [chosen.settled, *baselines.values()], bound_s, EFFORTS[effort]
    )
    tell("order", 4, 5)
    order = _write_order(situation, chosen, baselines, (free, proved), parts, runs)
    tell("order", 5, 5)
    return order


def _say_nothing(stage: str, done: int, total: int) -> None:
    """Stand in for a progress callback."""


def _choose_checked(
    situation: Situation, effort: Effort, settings: Sequence[WeldSetting]
) -> tuple[Followable, Situation, dict[str, HeatRun]]:
    """Choose the order to follow and simulate it; keep back more if the simulation objects."""
    for _ in range(4):
        chosen = choose_followable(situation, effort)
        settled = chosen.settled
        ring = situation.work.ring[settled.order]
        if not settled.feasible:
            break
        violations = verify_order(
            situation.layout,
            situation.joins,
            situation.heat,
            ring,
            settled.start_s,
            settings=settings,
            pace=situation.pace,
            limits=situation.limits,
        )
        over = [v.temperature_c - v.limit_c for v in violations if np.isfinite(v.temperature_c)]
        if not over:
            break
        situation = situation.with_margin(situation.margin_k + max(over) + ALLOWANCE_K)
    runs = {
        corner: situation.heat.simulate(corner, ring, settled.start_s)
        for corner in situation.heat.corners
    }
    return chosen, situation, runs


def _nothing_to_weld(layout: Layout, seed: int) -> WeldOrder:
    none_i, none_f = np.zeros(0, dtype=np.int32), np.zeros(0)
    return WeldOrder(
        piece=layout.piece,
        status="complete",
        ring=none_i,
        pass_number=none_i,
        start_s=none_f,
        wait_s=none_f,
        interpass_low_c=none_f,
        interpass_usual_c=none_f,
        interpass_high_c=none_f,
        passes=(),
        bench_time_s=0.0,
        lower_bound_s=0.0,
        bound_parts={},
        free_time_s=0.0,
        comparisons=(),
        limits=(),
        gained=("Every ring is closed beforehand: nothing is welded in place.",),
        seed=seed,
    )


def _write_order(
    situation: Situation,
    chosen: Followable,
    baselines: dict[str, Settled],
    free: tuple[Settled, bool],
    parts: dict[str, float],
    runs: dict[str, HeatRun],
) -> WeldOrder:
    work, heat, settled = situation.work, situation.heat, chosen.settled
    ring = work.ring[settled.order]
    bad = [runs[corner] for corner in heat.bad_corners]
    usual = next(c for c in heat.corners if c not in heat.bad_corners and c != "low")
    passes, pass_number = write_passes(chosen.passes, work, settled.start_s, settled.wait_s)
    ends = baselines["end to end"]
    ends_peak = np.max(
        [
            heat.simulate(corner, work.ring[ends.order], np.cumsum(work.gaps_s(ends.order))).peak_c
            for corner in heat.bad_corners
        ],
        axis=0,
    )
    limits, times, traces = _check_limits(situation, settled, runs, usual)
    comparisons = compare(situation, settled, free[0], baselines)
    no_wait = ends.feasible and ends.waiting_s == 0
    status = "infeasible" if not settled.feasible else "complete"
    if settled.feasible and no_wait:
        status = "no limit binds"
    gained = say_gained(situation, chosen, comparisons, parts, proved=free[1])
    advice = advise_waiting(situation, settled)
    if not settled.feasible:
        advice = advise_infeasible(situation)
    return WeldOrder(
        piece=situation.layout.piece,
        status=status,
        ring=ring.astype(np.int32),
        pass_number=pass_number,
        start_s=settled.start_s,
        wait_s=settled.wait_s,
        interpass_low_c=runs[heat.corners[0]].before_c,
        interpass_usual_c=runs[usual].before_c,
        interpass_high_c=np.max([run.before_c for run in bad], axis=0),
        passes=passes,
        bench_time_s=settled.bench_s,
        lower_bound_s=sum(parts.values()),
        bound_parts=parts,
        free_time_s=free[0].bench_s,
        comparisons=comparisons,
        limits=limits,
        gained=gained,
        advice=tuple(advice),
        peak_c=np.max([run.peak_c for run in bad], axis=0)[: situation.layout.rings],
        end_to_end_peak_c=ends_peak[: situation.layout.rings],
        trace_time_s=times,
        trace_c=traces,
        seed=situation.seed,
    )


def _check_limits(
    situation: Situation, settled: Settled, runs: dict[str, HeatRun], usual: str
) -> tuple[tuple[LimitCheck, ...], FloatArray, dict[str, FloatArray]]:
    """How near the order comes to every limit, and what fingers and parts go through."""
    heat, limits, work = situation.heat, situation.limits, situation.work
    ring = work.ring[settled.order]
    corners = {"low": (heat.corners[0],), "usual": (usual,), "high": heat.bad_corners}

    def of(values: dict[str, float]) -> dict[str, float]:
        return {
            f"{name}_c": max(values[corner] for corner in group) for name, group in corners.items()
        }

    before = {corner: float(run.before_c.max()) for corner, run in runs.items()}
    hot = max(heat.bad_corners, key=lambda corner: before[corner])
    worst = int(np.argmax(runs[hot].before_c))
    checks = [
        LimitCheck(
            name="interpass",
            where=f"ring {int(ring[worst]) + 1}, step {worst + 1}",
            limit_c=limits.highest_interpass_c,
            holds=before[hot] <= limits.highest_interpass_c + ALLOWANCE_K,
            **of(before),
        )
    ]
    grips = lay_out_grips(
        situation.layout,
        situation.joins,
        ring,
        settled.start_s,
        pace=situation.pace,
        limits=limits,
        most_steps=_TRACE_STEPS,
    )
    times = settled.start_s
    if times.shape[0] > _TRACE_STEPS:
        pick = np.unique(np.linspace(0, times.shape[0] - 1, _TRACE_STEPS).astype(int))
        times = times[pick]
    moments = times if grips is None else grips.moment_s
    traces: dict[str, FloatArray] = {}
    held: dict[str, float] = {}
    for corner in heat.corners:
        if grips is None and not heat.parts:
            break
        at_c = heat.simulate(corner, ring, settled.start_s, moments).at_c
        if at_c is None:
            break
        if grips is not None:
            warm = grips.temperatures_c(at_c)
            held[corner] = float(warm.max())
            if corner in heat.bad_corners:
                seen = np.where(np.isfinite(warm), warm, np.nan)
                known = traces.get("fingers")
                traces["fingers"] = seen if known is None else np.fmax(known, seen)
        if corner in heat.bad_corners:
            rows = slice(None) if grips is None else grips.place[1]
            for part in heat.parts:
                here = at_c[rows, part.node]
                traces[part.name] = np.maximum(traces.get(part.name, here), here)
    if held and np.isfinite(list(held.values())).all():
        values = of(held)
        checks.append(
            LimitCheck(
                name="fingers",
                where="coolest place in reach, on the worse side of the join",
                limit_c=limits.finger_limit_c,
                holds=values["high_c"] <= limits.finger_limit_c + ALLOWANCE_K,
                **values,
            )
        )
    for part in heat.parts:
        peaks = of({corner: float(run.peak_c[part.node]) for corner, run in runs.items()})
        near = ", ".join(str(number + 1) for number in sorted(part.near_rings)[:4])
        checks.append(
            LimitCheck(
                name=part.name,
                where=f"next to ring {near}" if near else "on the piece",
                limit_c=part.limit_c,
                holds=peaks["high_c"] <= part.limit_c + ALLOWANCE_K,
                **peaks,
            )
        )
    if grips is not None:
        times = settled.start_s[grips.steps]
    return tuple(checks), times, traces
