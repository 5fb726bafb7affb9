"""The order to follow within every limit that can be kept, in as many plausible benches as asked.

An order is chosen, simulated, and chosen anew with more kept back where the simulation objects; a
limit that cannot be kept is set aside by name.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.model.order import ViolationKind
from chainplan.order.clock.select import make_clock
from chainplan.order.earthing import Chosen
from chainplan.order.limits import aside_of, find_hopeless, find_in_the_way, still_wrong
from chainplan.order.proof.chance import judge_by_chance, short_of_k
from chainplan.order.proof.verify import ALLOWANCE_K, list_too_warm, simulate_order
from chainplan.order.say.chances import ROUNDED
from chainplan.order.search.choose import choose_followable

if TYPE_CHECKING:
    from chainplan.model.order import Violation
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated
    from chainplan.order.search.choose import Followable
    from chainplan.order.tuning import Effort


def keep_what_can_be(situation: Situation, effort: Effort) -> Chosen:
    """Choose the order to follow; set limits aside by name, one by one, until the others hold."""
    clock = make_clock(situation)
    hopeless = find_hopeless(clock)
    if hopeless:
        clock = make_clock(situation.without(hopeless))
    while True:
        clock, chosen, seen, wrong = _choose_checked(clock, effort)
        if not chosen.settled.feasible:
            item = find_in_the_way(clock, chosen.settled.order)
            items = [] if item is None else [item]
        else:
            items = aside_of(clock.situation, wrong)
        if not items:
            best = Chosen(clock=clock, followable=chosen, seen=seen)
            return _keep_in_chance(best, effort)
        clock = make_clock(clock.situation.without(items))


def _keep_in_chance(best: Chosen, effort: Effort) -> Chosen:
    """Choose anew, with more kept back each time, until enough plausible benches keep all limits.

    If no order does, the one that the most benches keep.
    """
    situation = best.situation
    wanted = situation.limits.reserve_percent / 100
    if wanted <= 0 or not has_chances(situation, thorough=True):
        return best
    tried, clock = best, best.clock
    most = -1.0
    for _ in range(situation.tuning.search.most_reserves):
        chance = judge_by_chance(tried.situation, tried.seen)
        if chance is None:
            return best
        if chance.keeps_all > most:
            best, most = tried, chance.keeps_all
        if most >= wanted - ROUNDED:
            break
        more, hold_more = short_of_k(tried.situation, tried.seen, wanted)
        least = situation.tuning.search.least_reserve_k
        clock = clock.with_margins(
            more + least if more > 0 else 0.0, hold_more + least if hold_more > 0 else 0.0
        )
        clock, chosen, seen, wrong = _choose_checked(clock, effort)
        if wrong or not chosen.settled.feasible:
            break
        tried = Chosen(clock=clock, followable=chosen, seen=seen)
    return best


def has_chances(situation: Situation, *, thorough: bool) -> bool:
    """Whether a piece is judged by chance: of a large one only if that is asked for."""
    heat = situation.heat
    nodes = len(heat.networks[heat.corners[0]].capacity_j_k)
    few = thorough or nodes <= situation.tuning.proof.most_chance_nodes
    return bool(heat.grid) and few and nodes <= situation.tuning.clock.most_exact_nodes


def _choose_checked(
    clock: Clock, effort: Effort
) -> tuple[Clock, Followable, Simulated, tuple[Violation, ...]]:
    """Choose the order to follow and simulate it; keep back more if the simulation objects."""
    tuning = clock.situation.tuning.search
    for check in range(tuning.most_checks):
        chosen = choose_followable(clock, effort)
        seen, wrong = check_order(clock.situation, chosen.settled)
        if not wrong or not chosen.settled.feasible or check == tuning.most_checks - 1:
            break
        over = [0.0, 0.0]
        for item in wrong:
            fingers = item.kind is ViolationKind.FINGERS
            over[fingers] = max(over[fingers], item.temperature_c - item.limit_c + ALLOWANCE_K)
        more, hold_more = (min(extra, tuning.most_margin_k) for extra in over)
        clock = clock.with_margins(more, hold_more)
    return clock, chosen, seen, wrong


def check_order(situation: Situation, settled: Settled) -> tuple[Simulated, tuple[Violation, ...]]:
    """Simulate an order in every corner and look for broken limits among those to be kept."""
    heat = situation.heat
    seen = simulate_order(
        situation.layout,
        situation.joins,
        heat,
        situation.work.ring[settled.order],
        settled.start_s,
        pace=situation.pace,
        limits=situation.limits,
        corners=heat.corners,
        clip_ring=situation.work.clip_rings(settled.order),
        tuning=situation.tuning.proof,
    )
    wrong = list_too_warm(seen, heat, situation.limits, situation.tuning.proof)
    return seen, still_wrong(situation, wrong)
