"""The finished weld order of a large piece: checked, compared and said."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kernels import WeldTimes
from chainplan.model.order import OrderComparison, WeldOrder
from chainplan.order.clock.large import (
    HELD_STEPS,
    LargeOrder,
    LargeSituation,
    choose_bare,
    choose_held,
    cool_to_hold,
    keep_limits,
)
from chainplan.order.limits import check_limits, usual_corner
from chainplan.order.pattern.plain import alternating_ends, end_to_end, random_order
from chainplan.order.proof.bound import bound_bench_time
from chainplan.order.proof.fingers import Grips, lay_out_grips, warm_at_fingers_c
from chainplan.order.say.advice import Obstacle, advise_limits, advise_part, worst_obstacle
from chainplan.order.say.pass_lines import write_passes
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from chainplan.arrays import FloatArray
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatRun

    Step = Callable[[str, int, int], None]

_MOST_COMPARED = 10_000
_SLOWER = 1.3
_MOST_SLOWER = 8
_FOLLOWED_S = 120.0
_NO_LIMIT = "With no limit binding, order saves no time"


def plan_large(situation: LargeSituation, pace: PaceSettings, tell: Step) -> WeldOrder:
    """Choose, check and describe the order of a large piece."""
    tell("order", 0, 4)
    bare = choose_bare(situation)
    tell("order", 1, 4)
    chosen, grips, held = _hold_best(situation, bare, pace)
    runs = _simulate(situation, chosen)
    tell("order", 2, 4)
    ends = keep_limits(situation, end_to_end(situation.grid, situation.work))
    others = {"end to end": ends}
    if situation.work.joins <= _MOST_COMPARED:
        others["alternating ends"] = keep_limits(
            situation, alternating_ends(situation.grid, situation.work)
        )
        others["random"] = keep_limits(situation, random_order(situation.work, situation.seed))
    tell("order", 3, 4)
    order = _write(situation, (chosen, bare), others, runs, (grips, held))
    tell("order", 4, 4)
    return order


def _hold_best(
    situation: LargeSituation, bare: LargeOrder, pace: PaceSettings
) -> tuple[LargeOrder, Grips | None, dict[str, FloatArray]]:
    """Weld so that the fingers find cool places: in a pattern that leaves some, or slower.

    Returns
    -------
    LargeOrder, Grips or None, dict
        The order; where the fingers were looked at, and how warm it is there in each corner.
    """
    chosen = bare
    if bare.feasible and not cool_to_hold(situation, bare.order, bare.start_s, pace):
        calm = choose_held(situation, pace)
        slow = _slow_down(situation, bare, pace, np.inf if calm is None else calm.bench_s)
        chosen = slow or calm or replace(bare, feasible=False)
    ring, heat = situation.work.ring[chosen.order], situation.heat
    grips = lay_out_grips(
        situation.layout,
        situation.joins,
        ring,
        chosen.start_s,
        pace=pace,
        limits=situation.limits,
    )
    held_c = warm_at_fingers_c(grips, heat, heat.corners, ring, chosen.start_s)
    return chosen, grips, held_c


def _slow_down(
    situation: LargeSituation, bare: LargeOrder, pace: PaceSettings, most_s: float
) -> LargeOrder | None:
    """Weld at a slower even pace until the fingers find cool places; None if that takes longer."""
    work, slower = situation.work, max(1.0, 0.1 * situation.work.handle_s)
    for _ in range(_MOST_SLOWER):
        wait = bare.wait_s + slower
        start = np.cumsum(work.gaps_s(bare.order) + wait)
        bench_s = work.bench_s(bare.order, start)
        if bench_s >= most_s:
            return None
        if all(
            cool_to_hold(situation, bare.order, start, pace, most) for most in (HELD_STEPS, None)
        ):
            return replace(bare, wait_s=wait, start_s=start, bench_s=bench_s)
        slower *= _SLOWER
    return None


def _simulate(situation: LargeSituation, chosen: LargeOrder) -> dict[str, HeatRun]:
    """Simulate an order in every corner; peaks where they are told."""
    heat, ring = situation.heat, situation.work.ring[chosen.order]
    return {
        corner: heat.simulate(
            corner, ring, chosen.start_s, peaks=bool(heat.parts) or corner in heat.bad_corners
        )
        for corner in heat.corners
    }


def _compare(
    situation: LargeSituation, name: str, item: LargeOrder, *, counted: bool
) -> OrderComparison:
    notes = ["waits as an even, slower pace"] if item.even_pace else []
    if not counted:
        notes.append("at least: the fingers are not counted, they could only lengthen it")
    start = np.cumsum(situation.work.gaps_s(item.order))
    warmest = warmest_plain = situation.warmest_c(item.order, item.start_s)
    if item.waiting_s > 0:
        warmest_plain = situation.warmest_c(item.order, start)
    return OrderComparison(
        name=name,
        bench_time_s=item.bench_s,
        wait_s=item.waiting_s,
        travel_mm=situation.work.travel_mm(item.order),
        warmest_interpass_c=warmest,
        warmest_without_waits_c=warmest_plain,
        feasible=item.feasible,
        note="; ".join(notes),
        fingers_counted=counted,
    )


def _write(
    situation: LargeSituation,
    both: tuple[LargeOrder, LargeOrder],
    others: Mapping[str, LargeOrder],
    runs: Mapping[str, HeatRun],
    fingers: tuple[Grips | None, dict[str, FloatArray]],
) -> WeldOrder:
    work, heat = situation.work, situation.heat
    chosen, bare = both
    touched = fingers[0] is not None
    ring = work.ring[chosen.order]
    passes, number = write_passes(chosen.passes, work, chosen.start_s, chosen.wait_s)
    fair = [chosen] if touched else [chosen, *others.values()]
    quickest = min(fair, key=lambda item: (not item.feasible, item.bench_s))
    named = {"to follow": chosen, "free": quickest, **others}
    told = {
        id(item): _compare(situation, name, item, counted=item is chosen or not touched)
        for name, item in named.items()
    }
    comparisons = tuple(replace(told[id(item)], name=name) for name, item in named.items())
    parts = bound_bench_time(work, [])
    ends = others["end to end"]
    ends_start = np.cumsum(work.gaps_s(ends.order))
    worst = heat.bad_corners[-1]
    high = [runs[corner] for corner in heat.bad_corners]
    usual = usual_corner(heat)
    free_of_waits = not touched and ends.feasible and ends.waiting_s == 0 and chosen.waiting_s == 0
    status = "infeasible" if not chosen.feasible else "complete"
    return WeldOrder(
        piece=situation.layout.piece,
        status="no limit binds" if chosen.feasible and free_of_waits else status,
        ring=ring.astype(np.int32),
        pass_number=number,
        start_s=chosen.start_s,
        wait_s=chosen.wait_s,
        interpass_low_c=runs[heat.corners[0]].before_c,
        interpass_usual_c=runs[usual].before_c,
        interpass_high_c=np.max([run.before_c for run in high], axis=0),
        passes=passes,
        bench_time_s=chosen.bench_s,
        lower_bound_s=sum(parts.values()),
        bound_parts=parts,
        free_time_s=quickest.bench_s,
        comparisons=comparisons,
        limits=check_limits(heat, situation.limits, ring, fingers[0], runs, fingers[1]),
        gained=_gained(chosen, bare, ends, sum(parts.values()), touched=touched),
        advice=() if chosen.feasible else _advice(situation),
        peak_c=np.max([run.peak_c for run in high], axis=0)[: situation.layout.rings],
        end_to_end_peak_c=heat.simulate(worst, work.ring[ends.order], ends_start).peak_c[
            : situation.layout.rings
        ],
        seed=situation.seed,
    )


def _gained(
    chosen: LargeOrder, bare: LargeOrder, ends: LargeOrder, bound_s: float, *, touched: bool
) -> tuple[str, ...]:
    if not chosen.feasible:
        return ("No order tried keeps the limits: see the advice.",)
    out = []
    saved = ends.bench_s - bare.bench_s
    with_tweezers = "With tweezers instead of fingers" if touched else "Under the same limits"
    if ends.waiting_s == 0:
        start = "With tweezers instead of fingers no limit binds" if touched else _NO_LIMIT
        out.append(
            f"{start}: end to end keeps every {'other ' if touched else ''}limit without a wait "
            f"({show_duration(ends.bench_s)})."
        )
    elif saved > 1:
        out.append(
            f"{with_tweezers} end to end takes {show_duration(ends.bench_s)}, "
            f"{show_duration(ends.waiting_s)} of it waiting; this order takes "
            f"{show_duration(bare.bench_s)} and saves {show_duration(saved)}."
        )
    else:
        out.append(f"{with_tweezers} no order tried is quicker than end to end.")
    if touched:
        out.append(
            f"This order keeps the limit for the fingers too and so takes "
            f"{show_duration(chosen.bench_s)}; on a piece of this size end to end is not timed "
            "with it."
        )
    gap = chosen.bench_s / bound_s - 1
    share = "less than 1 %" if gap < 0.01 else f"{np.ceil(100 * gap):.0f} %"
    out.append(
        f"Proved: no order takes less than {show_duration(bound_s)}; this one is {share} above "
        "that. On a piece of this size the bound counts handling, turning and moving alone."
    )
    return tuple(out)


def find_large_obstacles(situation: LargeSituation) -> list[Obstacle]:
    """Parts that one weld alone brings above their limits, with the worst bad corner of each."""
    work, heat = situation.work, situation.heat
    join_of = np.full(situation.layout.rings, -1, dtype=np.int32)
    join_of[work.ring] = np.arange(work.joins, dtype=np.int32)
    found = []
    for part in heat.parts:
        looks, peaks = [], []
        for corner in heat.bad_corners:
            table, base = heat.kernels(corner), float(heat.networks[corner].base_c[part.node])
            near = table.near(part.node)[0]
            joins = join_of[near[near < situation.layout.rings]]
            joins = joins[joins >= 0]
            looks.append(
                Obstacle(
                    part=part,
                    corner=corner,
                    window_s=float(table.log_time_s[-1]),
                    joins=joins,
                    peak_c=base,
                    spare_k=part.limit_c - base,
                )
            )
            peaks.append(
                np.asarray([_one_weld_k(situation, corner, part.node, join) for join in joins])
            )
        found += worst_obstacle(looks, peaks)
    return found


def _one_weld_k(situation: LargeSituation, corner: str, node: int, join: int) -> float:
    """Highest rise of a node after one weld alone. [K]."""
    table = situation.heat.kernels(corner)
    welds = WeldTimes(len(table.node_class), situation.work.ring[[join]], np.zeros(1))
    times = np.arange(table.step_s, _FOLLOWED_S, table.step_s)
    nodes = np.full(times.shape[0], node, dtype=np.int32)
    return float(table.rises_k(welds, nodes, times).max())


def _advice(situation: LargeSituation) -> tuple[str, ...]:
    heat, limits = situation.heat, situation.limits
    bases = [heat.networks[corner].base_c for corner in heat.bad_corners]
    warmest = max(float(base[situation.work.ring].max()) for base in bases)
    held = max(float(base.min()) for base in bases) if limits.held_bare else None
    out = advise_limits(limits, warmest, held)
    for obstacle in find_large_obstacles(situation):
        out += advise_part(situation, obstacle)
    if not out:
        out.append(
            "No wait of up to ten minutes a join keeps the limits in any pattern tried. Use less "
            "power, close rings beforehand, a heat sink or tweezers, or plan the piece in shorter "
            "stretches."
        )
    return tuple(out)
