"""Find the order to weld a piece in, prove how good it is, and say what it gained."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError, did_you_mean
from chainplan.model.order import WeldOrder
from chainplan.order.clock.large import MOST_SMALL, take_large_stock
from chainplan.order.clock.situation import MOST_SEARCHED, take_stock
from chainplan.order.limits import check_limits, trace, usual_corner
from chainplan.order.pattern.plain import alternating_ends, end_to_end, random_order
from chainplan.order.proof.bound import bound_bench_time
from chainplan.order.proof.fingers import lay_out_grips, warm_at_fingers_c
from chainplan.order.proof.verify import ALLOWANCE_K, FINGERS, list_too_warm
from chainplan.order.say.advice import advise_infeasible, advise_waiting
from chainplan.order.say.gains import compare, say_gained, time_plain_orders
from chainplan.order.say.largeplan import plan_large
from chainplan.order.say.pass_lines import write_passes
from chainplan.order.search.choose import (
    EFFORTS,
    choose_followable,
    list_ring_by_ring,
)
from chainplan.order.search.free import find_free

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel, HeatRun
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout
    from chainplan.model.order import Violation, WeldSetting
    from chainplan.order.clock.situation import Settled, Situation
    from chainplan.order.proof.fingers import Grips
    from chainplan.order.search.choose import Effort, Followable

    Step = Callable[[str, int, int], None]

_MOST_CHECKS = 4
_MOST_MARGIN_K = 2.0


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
    if joins.in_place.size > MOST_SMALL or layout.rings > 2000:
        stock = take_large_stock(
            layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
        )
        return plan_large(stock, pace, tell)
    tell("order", 0, 5)
    situation = take_stock(
        layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
    )
    chosen, situation, checked = _choose_checked(situation, EFFORTS[effort])
    tell("order", 2, 5)
    few = situation.work.joins <= MOST_SEARCHED or effort != "usual"
    orders = {
        "end to end": end_to_end(situation.grid, situation.work),
        "alternating ends": alternating_ends(situation.grid, situation.work),
        "random": random_order(situation.work, seed),
    }
    baselines = time_plain_orders(situation, orders, chosen.settled.bench_s, every=few)
    tell("order", 3, 5)
    parts = bound_bench_time(situation.work, situation.caps(margin=False))
    bound_s = sum(parts.values())
    known = [chosen.settled, *(item for item in baselines.values() if item.held)]
    free, proved = find_free(situation, chosen, known, bound_s, EFFORTS[effort])
    listed = list_ring_by_ring(situation, chosen, free)
    if listed is not None:
        again = _check(situation, listed.settled)
        if not again.wrong:
            chosen, checked = listed, again
    tell("order", 4, 5)
    order = _write_order(situation, chosen, baselines, (free, proved), parts, checked)
    tell("order", 5, 5)
    return order


@dataclass(frozen=True, kw_only=True)
class _Checked:
    """The order to follow, simulated in every corner."""

    runs: dict[str, HeatRun]
    grips: Grips | None
    held_c: dict[str, FloatArray]  # at the fingers, at the steps of ``grips``
    wrong: tuple[Violation, ...]


def _say_nothing(stage: str, done: int, total: int) -> None:
    """Stand in for a progress callback."""


def _choose_checked(situation: Situation, effort: Effort) -> tuple[Followable, Situation, _Checked]:
    """Choose the order to follow and simulate it; keep back more if the simulation objects."""
    for _ in range(_MOST_CHECKS):
        chosen = choose_followable(situation, effort)
        checked = _check(situation, chosen.settled)
        if not checked.wrong or not chosen.settled.feasible:
            break
        over = [0.0, 0.0]
        for item in checked.wrong:
            fingers = item.what.startswith(FINGERS)
            over[fingers] = max(over[fingers], item.temperature_c - item.limit_c + ALLOWANCE_K)
        situation = situation.with_margins(
            min(over[0], _MOST_MARGIN_K), min(over[1], _MOST_MARGIN_K)
        )
    else:
        settled = replace(chosen.settled, feasible=False)
        chosen = replace(chosen, settled=settled)
    return chosen, situation, checked


def _check(situation: Situation, settled: Settled) -> _Checked:
    """Simulate an order in every corner and look for broken limits."""
    heat, ring = situation.heat, situation.work.ring[settled.order]
    grips = lay_out_grips(
        situation.layout,
        situation.joins,
        ring,
        settled.start_s,
        pace=situation.pace,
        limits=situation.limits,
    )
    runs = {
        corner: heat.simulate(
            corner,
            ring,
            settled.start_s,
            peaks=bool(heat.parts) or corner in heat.bad_corners,
        )
        for corner in heat.corners
    }
    held_c = warm_at_fingers_c(grips, heat, heat.corners, ring, settled.start_s)
    bad = {corner: runs[corner] for corner in heat.bad_corners}
    wrong = list_too_warm(bad, grips, held_c, heat, settled.start_s, ring, situation.limits)
    return _Checked(runs=runs, grips=grips, held_c=held_c, wrong=tuple(wrong))


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
    checked: _Checked,
) -> WeldOrder:
    work, heat, settled = situation.work, situation.heat, chosen.settled
    ring, runs = work.ring[settled.order], checked.runs
    bad = [runs[corner] for corner in heat.bad_corners]
    usual = usual_corner(heat)
    passes, pass_number = write_passes(chosen.passes, work, settled.start_s, settled.wait_s)
    ends = baselines["end to end"]
    ends_start = np.cumsum(work.gaps_s(ends.order))
    ends_run = heat.simulate(heat.bad_corners[situation.leading], work.ring[ends.order], ends_start)
    times, traces = trace(situation, settled, checked.grips, checked.held_c)
    comparisons = compare(situation, settled, free[0], baselines)
    no_wait = ends.feasible and ends.waiting_s == 0 and settled.waiting_s == 0
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
        limits=check_limits(heat, situation.limits, ring, checked.grips, runs, checked.held_c),
        gained=gained,
        advice=tuple(advice),
        peak_c=np.max([run.peak_c for run in bad], axis=0)[: situation.layout.rings],
        end_to_end_peak_c=ends_run.peak_c[: situation.layout.rings],
        trace_time_s=times,
        trace_c=traces,
        seed=situation.seed,
    )
