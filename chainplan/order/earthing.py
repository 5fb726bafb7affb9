"""How the piece is earthed: the way that the quickest plan needs, and what the others would cost.

Current that crosses many loose contacts between rings sparks there, marks them and may fuse them.
So the ring itself is gripped with earthed tweezers, which takes a moment at every join, or a clip
sits near it and is moved along, or the whole piece lies on a block of metal. A block costs the hand
nothing, but a ring that only lies on it may spark where it touches: it is never taken unasked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.kinds import ReturnLead
from chainplan.model.order import Earthing, LeadTime
from chainplan.order.clock.protocol import Settling
from chainplan.order.clock.select import make_clock
from chainplan.order.pattern.plain import end_to_end
from chainplan.order.pattern.sketch import sketch_patterns
from chainplan.order.piece.clip import loose_joins
from chainplan.order.piece.grid import group_sequence
from chainplan.order.say.earthed import say_earthed

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.model.bench.groups import LeadSettings
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated
    from chainplan.order.search.choose import Followable


@frozen
class Chosen:
    """The order to follow with one way of earthing the piece."""

    clock: Clock
    followable: Followable
    seen: Simulated

    @property
    def situation(self) -> Situation:
        """The piece, earthed in that way."""
        return self.clock.situation

    @property
    def rank(self) -> tuple[int, bool, float]:
        """What it is chosen by: limits set aside, then seconds, with those for things to mind."""
        settled, aside = self.followable.settled, len(self.situation.set_aside)
        price_s = self.situation.tuning.search.a_thing_s * (self.followable.to_remember - 1)
        return aside, not settled.feasible, settled.bench_s + price_s


@frozen
class EarthingWays:
    """One piece earthed in each way that was looked at, the best order first."""

    lead: LeadSettings | None  # None: nobody asked how the piece is earthed
    why: str
    every: dict[ReturnLead, Situation]
    chosen: tuple[Chosen, ...]


def choose_way(
    take: Callable[[ReturnLead], Situation],
    lead: LeadSettings | None,
    choose: Callable[[Situation], Chosen],
) -> EarthingWays:
    """Choose an order for each way of earthing that may be the quickest, and rank them.

    Parameters
    ----------
    take
        Gives the piece, earthed in a way.
    lead
        The settings; None: as if on a block, and the way is not told.
    choose
        Chooses an order for it.

    Returns
    -------
    Ways
        A way is not looked at if even without a wait it takes longer than another that was.
    """
    if lead is None:
        situation = take(ReturnLead.BLOCK)
        every = {ReturnLead.BLOCK: situation}
        return EarthingWays(lead=None, why="", every=every, chosen=(choose(situation),))
    every = {way: take(way) for way in ReturnLead}
    ways, why = [ReturnLead.CLIP, ReturnLead.TWEEZERS], "quickest"
    any_way = every[ReturnLead.BLOCK]
    if lead.return_lead:
        ways, why = [ReturnLead(lead.return_lead)], "set"
    elif loose_joins(any_way.layout, any_way.work).all():
        ways, why = [ReturnLead.TWEEZERS], "loose"
    found: list[Chosen] = []
    for way in sorted(ways, key=lambda way: least_s(every[way])):
        if not found or min(item.rank for item in found) > (0, False, least_s(every[way])):
            found.append(choose(every[way]))
    return EarthingWays(
        lead=lead, why=why, every=every, chosen=tuple(sorted(found, key=lambda item: item.rank))
    )


def least_s(situation: Situation) -> float:
    """Seconds that no order goes below: handling, the clip, turning, and once along the piece."""
    work = situation.work
    clip = work.clip_s * (work.least_places - 1)
    along = float(np.ptp(work.place_mm[:, 0])) / work.move_mm_s
    return work.handling_s + clip + group_sequence(work)[1] + along


def tell_earthing(ways: EarthingWays, chosen: Chosen) -> Earthing | None:
    """Say how the piece is earthed in an order, and what every other way would cost.

    ``chosen``: the best of ``ways``, perhaps with a freer order of the same joins.
    """
    lead = ways.lead
    if lead is None:
        return None
    work, order = chosen.situation.work, chosen.followable.settled.order
    way = chosen.situation.way
    known = {item.situation.way: item for item in ways.chosen} | {way: chosen}
    times = [
        _time_planned(known[other]) if other in known else _time_unplanned(situation, chosen)
        for other, situation in sorted(ways.every.items(), key=lambda item: item[0] is not way)
    ]
    return Earthing(
        way=way,
        why=ways.why,
        clip_ring=work.clip_rings(order),
        clip_s=work.clip_s,
        tweezers_s=lead.tweezers_s if way is ReturnLead.TWEEZERS else 0.0,
        times=tuple(times),
        said=say_earthed(ways.why, times),
    )


def _time_planned(item: Chosen) -> LeadTime:
    settled = item.followable.settled
    return LeadTime(
        way=item.situation.way,
        bench_time_s=settled.bench_s,
        clip_moves=item.situation.work.clip_moves(settled.order),
        how="planned" if settled.feasible else "none",
    )


def _time_unplanned(situation: Situation, chosen: Chosen) -> LeadTime:
    """Time end to end, the order to follow and its pattern with another way of earthing.

    Pieces whose heat is summed are timed end to end without waits.
    """
    situation = situation.without(chosen.situation.set_aside)
    work, grid = situation.work, situation.grid
    ends = end_to_end(grid, work)
    if not chosen.clock.follows:
        bench_s = work.bench_s(ends, np.cumsum(work.gaps_s(ends)))
        moves = work.clip_moves(ends)
        return LeadTime(way=situation.way, bench_time_s=bench_s, clip_moves=moves, how="at least")
    (same,) = sketch_patterns(grid, work, [(chosen.followable.pattern, ())]).orders
    mine = chosen.followable.settled.order
    clock = make_clock(situation)
    alike = clock.settle_all(np.stack([same, mine]))
    best = min(alike, key=_feasible_and_quick)
    # End to end may have to wait for long: it is left off once it takes longer than these.
    most_s = best.bench_s if best.feasible else np.inf
    ended = clock.settle_all(ends[None, :], Settling(most_s=most_s))
    best = min(*ended, best, key=_feasible_and_quick)
    return LeadTime(
        way=situation.way,
        bench_time_s=best.bench_s,
        clip_moves=work.clip_moves(best.order),
        how="up to" if best.feasible else "none",
    )


def _feasible_and_quick(settled: Settled) -> tuple[bool, float]:
    """Sort orders: those that keep the limits first, the quickest of them before the others."""
    return not settled.feasible, settled.bench_s
