"""Find the order to weld a piece in, prove how good it is, and say what it gained."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError, did_you_mean
from chainplan.model.order import EndToEnd, LimitKind, OrderStatus, WeldOrder
from chainplan.order.earthing import choose_way, tell_earthing
from chainplan.order.keep import check_order, has_chances, keep_what_can_be
from chainplan.order.limits import (
    check_limits,
    trace,
    usual_corner,
    warmest_before_c,
)
from chainplan.order.pattern.plain import alternating_ends, end_to_end, random_order
from chainplan.order.piece.situation import earth, take_stock
from chainplan.order.proof.bound import bound_bench_time
from chainplan.order.proof.chance import judge_by_chance
from chainplan.order.proof.hurry import cold_after_s, waits_when_faster
from chainplan.order.say.advice import advise, advise_waiting, say_own_limit
from chainplan.order.say.causes import find_causes
from chainplan.order.say.chances import (
    ASKED_IN_VAIN,
    NOT_BY_KERNELS,
    ONLY_IF_ASKED,
    say_chance,
)
from chainplan.order.say.comparisons import compare, time_plain_orders
from chainplan.order.say.gains import say_gained
from chainplan.order.say.measure import measure_gains, simulate_unpaused
from chainplan.order.say.pass_lines import write_passes
from chainplan.order.search.choose import list_ring_by_ring
from chainplan.order.search.free import find_free
from chainplan.order.tuning import USUAL
from chainplan.reference.texts import in_english

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from chainplan.arrays import IntArray
    from chainplan.model.bench.groups import HeatSettings, LeadSettings, PaceSettings
    from chainplan.model.order import Chance, Earthing, WeldSetting
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatModel
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated
    from chainplan.order.search.choose import Followable
    from chainplan.order.tuning import Effort, OrderTuning

    Step = Callable[[str, int, int], None]

EFFORTS = ("usual", "thorough")


def find_order(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    lead: LeadSettings | None = None,
    seed: int = 0,
    effort: str = "usual",
    on_step: Step | None = None,
    tuning: OrderTuning = USUAL,
) -> WeldOrder:
    """Find the quickest order that a person can follow within all temperature limits.

    Parameters
    ----------
    layout, joins, heat
        The piece: where its rings and joins are, and how welds warm it.
    settings : sequence of WeldSetting
        What the welder is set to, one for each of the layout's materials.
    pace, limits
        The hand's pace; temperature limits. All must hold in every bad corner of the heat model;
        one that no order can keep is set aside by name, and all others hold.
    lead : LeadSettings, optional
        How the piece is earthed; without it that costs nothing and is not told.
    seed : int, optional
        Same seed, same order.
    effort : str, optional
        "usual" or "thorough".
    on_step : callable, optional
        Told ``(stage, done, total)`` as the work goes on.
    tuning : OrderTuning, optional
        How much is looked at, and how closely.

    Returns
    -------
    WeldOrder
        Order, passes, times, a proved lower bound, comparisons; advice if limits cannot be kept.

    Raises
    ------
    InputError
        For an effort that does not exist, or settings that do not fit the materials.
    """
    if effort not in EFFORTS:
        message = f"effort: found {effort!r}; {did_you_mean(effort, EFFORTS)}"
        raise InputError(message)
    if len(settings) != len(layout.materials):
        message = (
            f"settings: found {len(settings)}; one for each of the piece's "
            f"{len(layout.materials)} materials is needed"
        )
        raise InputError(message)
    tell = on_step if on_step is not None else _say_nothing
    if joins.in_place.size == 0:
        return _nothing_to_weld(layout, seed)
    tried: Effort = tuning.search.thorough if effort == "thorough" else tuning.search.usual
    tell("order", 0, 5)

    on_block = take_stock(
        layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed, tuning=tuning
    )
    ways = choose_way(
        lambda way: earth(on_block, way, lead),
        lead,
        lambda situation: keep_what_can_be(situation, tried),
    )
    best = ways.chosen[0]
    clock, chosen, seen = best.clock, best.followable, best.seen
    situation = clock.situation
    tell("order", 2, 5)
    few = situation.work.joins <= tuning.search.most_searched or effort == "thorough"
    mine_s = chosen.settled.bench_s
    baselines = time_plain_orders(clock, _plain_orders(clock.situation), mine_s, every=few)
    tell("order", 3, 5)
    parts = bound_bench_time(
        situation.work,
        clock.caps(),
        tuning.proof,
        hold=clock.hold,
        finger_c=situation.limits.kept_finger_c,
    )
    known = [chosen.settled, *(item for item in baselines.values() if item.held)]
    free, proved = find_free(clock, chosen, known, sum(parts.values()), tried)
    listed = None
    if limits.reserve_percent == 0:  # else the order has been chosen by chance too
        listed = list_ring_by_ring(clock.situation, chosen, free)
    if listed is not None:
        again, wrong = check_order(clock.situation, listed.settled)
        if not wrong:
            chosen, seen = listed, again
    tell("order", 4, 5)
    chance = _judge(clock.situation, seen, thorough=effort == "thorough")
    earthing = tell_earthing(ways, replace(best, followable=chosen))
    order = _write_order(clock, chosen, baselines, (free, proved), parts, seen, chance, earthing)
    if limits.kept_interpass_c > 0 and chosen.settled.feasible:
        without = replace(on_block, limits=replace(limits, highest_interpass_c=0.0))
        freely = earth(without, situation.way, lead)
        own = say_own_limit(situation, freely, [chosen.settled, baselines["end to end"]])
        order = replace(order, advice=(*order.advice, own))
    if few or clock.follows:
        order = replace(order, faster=waits_when_faster(clock, chosen.settled))
    tell("order", 5, 5)
    return order


def _say_nothing(stage: str, done: int, total: int) -> None:
    """Stand in for a progress callback."""


def _plain_orders(situation: Situation) -> dict[str, IntArray]:
    """List the orders that people use without a plan; of very many joins end to end alone."""
    work, grid = situation.work, situation.grid
    orders = {"end to end": end_to_end(grid, work)}
    if work.joins <= situation.tuning.say.most_compared:
        orders["alternating ends"] = alternating_ends(grid, work)
        orders["random"] = random_order(work, situation.seed)
    return orders


def _judge(situation: Situation, seen: Simulated, *, thorough: bool) -> tuple[Chance | None, str]:
    """Judge an order by chance; say why not, if that is left out for the piece's size."""
    heat, asked = situation.heat, situation.limits.reserve_percent > 0
    if has_chances(situation, thorough=thorough or asked):
        return judge_by_chance(situation, seen), ""
    nodes = len(heat.networks[heat.corners[0]].capacity_j_k)
    if nodes > situation.tuning.clock.most_exact_nodes:
        return None, ASKED_IN_VAIN if asked else NOT_BY_KERNELS
    return None, ONLY_IF_ASKED if heat.grid else ""


def _nothing_to_weld(layout: Layout, seed: int) -> WeldOrder:
    none_i, none_f = np.zeros(0, dtype=np.int32), np.zeros(0)
    return WeldOrder(
        piece=layout.piece,
        status=OrderStatus.COMPLETE,
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
    clock: Clock,
    chosen: Followable,
    baselines: Mapping[str, Settled],
    free: tuple[Settled, bool],
    parts: Mapping[str, float],
    seen: Simulated,
    chance: tuple[Chance | None, str],
    earthing: Earthing | None,
) -> WeldOrder:
    situation, settled = clock.situation, chosen.settled
    work, heat, rings = situation.work, situation.heat, situation.layout.rings
    checks = check_limits(situation, seen)
    causes = find_causes(situation, seen, settled.wait_s, checks)
    passes, pass_number = write_passes(chosen.passes, work, settled, causes, checks)
    ring_limit_c = np.full(rings, np.inf)
    ring_limit_c[work.ring] = situation.interpass_c
    ends = baselines["end to end"]
    unpaused = simulate_unpaused(situation, ends.order)
    bare = None if chance[0] is None else judge_by_chance(situation, unpaused)
    kept = None if bare is None else bare.keeps_all
    gains = measure_gains(clock, chosen, ends, unpaused, checks, kept)
    times, traces = trace(clock, settled, seen)
    with_pauses = _simulate_ends(situation, settled, ends, seen)
    simulated = (seen, unpaused, *(() if with_pauses is None else (with_pauses,)))
    comparisons = compare(clock, settled, free[0], baselines, simulated)
    rest_s, cold_s = cold_after_s(situation, settled)
    advised = tuple(advise(clock, settled))
    return WeldOrder(
        piece=situation.layout.piece,
        status=_status(situation, settled, ends),
        ring=seen.ring.astype(np.int32),
        pass_number=pass_number,
        start_s=settled.start_s,
        wait_s=settled.wait_s,
        interpass_low_c=seen.runs[heat.corners[0]].before_c,
        interpass_usual_c=seen.runs[usual_corner(heat)].before_c,
        interpass_high_c=warmest_before_c(situation, seen),
        passes=passes,
        bench_time_s=settled.bench_s,
        lower_bound_s=sum(parts.values()),
        bound_parts=parts,
        free_time_s=free[0].bench_s,
        comparisons=comparisons,
        limits=checks,
        gained=(
            *say_gained(clock, chosen, comparisons, parts, gains, chance[0], proved=free[1]),
            *(() if earthing is None else (earthing.said,)),
        ),
        gains=gains,
        advice=(
            *(in_english(item) for item in advised),
            *advise_waiting(clock, settled),
            *say_chance(chance[0], chance[1], some_aside=bool(situation.set_aside)),
        ),
        advised=advised,
        chance=chance[0],
        earthing=earthing,
        set_aside=situation.set_aside,
        wait_limit=causes,
        ring_limit_c=ring_limit_c,
        end_to_end=_go_end_to_end(situation, settled, ends, with_pauses),
        trace_time_s=times,
        trace_c=traces,
        rest_s=rest_s,
        cold_s=cold_s,
        seed=situation.seed,
    )


def _simulate_ends(
    situation: Situation, settled: Settled, ends: Settled, seen: Simulated
) -> Simulated | None:
    """Simulate end to end with the pauses it needs; None if no pauses are enough."""
    if not ends.feasible:
        return None
    if np.array_equal(ends.start_s, settled.start_s) and np.array_equal(ends.order, settled.order):
        return seen
    return check_order(situation, ends)[0]


def _go_end_to_end(
    situation: Situation, settled: Settled, ends: Settled, seen: Simulated | None
) -> EndToEnd | None:
    """Look at end to end with the pauses it needs, ring by ring as the order to follow welds."""
    if seen is None:
        return None
    place = np.empty(ends.order.shape[0], dtype=np.intp)
    place[ends.order] = np.arange(ends.order.shape[0])
    warmest: dict[str, float] = {}
    told = {LimitKind.PART, LimitKind.FINGERS} if ends.held else {LimitKind.PART}
    for check in check_limits(situation, seen):
        if check.kind in told:  # of a large piece the pauses for the fingers are not counted
            warmest[check.name] = max(check.high_c, warmest.get(check.name, -np.inf))
    return EndToEnd(
        bench_time_s=ends.bench_s,
        before_c=warmest_before_c(situation, seen)[place[settled.order]],
        warmest_c=warmest,
    )


def _status(situation: Situation, settled: Settled, ends: Settled) -> OrderStatus:
    """Whether a limit is broken or set aside, or none asks for anything."""
    if situation.set_aside or not settled.feasible:
        return OrderStatus.INFEASIBLE
    if ends.feasible and ends.waiting_s == 0 and settled.waiting_s == 0:
        return OrderStatus.NO_LIMIT_BINDS
    return OrderStatus.COMPLETE
