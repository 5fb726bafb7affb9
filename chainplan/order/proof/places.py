"""How soon each place of any order can come: a lower bound that knows the fingers.

Let join i be welded in place k, at t. Just before, its own ring is not above its limit, and on
every side that is held some patch within its reach is cool: every ring of it, in every bad corner,
when the fingers close and when the pulse falls. All kernels are ≥ 0, so each of these rings is at
least as warm as the welds of the first k − 1 places make it. The weld of place l fell between
(k − l)·h and t − e(l) before that, h the least time from one pulse to the next and e(l) the soonest
that place l can come.

Which joins are in which place is not known. They are dealt out so that a ring gets least: all but
i, to the k − 1 places or, at no heat, to the m − k places after k. If even so for every i its own
ring is too warm, or every patch of one side has a ring that is, then no join is welded in place k
at t. What a weld brings at least falls with t, so the least t is found by bisection: it is e(k).
From the first place to the last, what has been found for one bounds the lags of those after it.

Small pieces have joins that nothing is held for, and these could come last. So the same is done
for the n-th of the joins that are held (H of them), with b of the others after it: its place is
k = n + (m − H) − b, of the places after it b are for those others and H − n for any held ones.
Its least time over all b is also a bound for place n + m − H and all after it.

What is given away: each ring, corner, moment and place is dealt out for by itself, so the joins
that are said to come late need not be the same; and waits are put where each place likes them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.proof.dealing import ROUNDING_K, Kernels, least_sum, sample_kernels

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.field import Caps
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.work import HandWork

_LOOKED_AT = 8
"""Rings, corners and moments of a patch that are dealt out in full; more only raise the bound."""
_FORBIDDEN_K = 1e6
"""Costs of giving a place to a join that may not have it: far above any rise."""
_ANY, _FREE, _HELD = 0, 1, 2
"""Who may have a place after the one looked at: any join, one that nothing is held for, one held;
names, no measures."""


@frozen
class Moment:
    """A place of an order at a time, seen from the welds before it."""

    least_k: FloatArray  # (corners · 2, nodes, joins, places before), pulse and closing in turn
    after: tuple[int, ...]  # of each place after it, which joins may have it

    def later_k(self, held: BoolArray) -> FloatArray:
        """Forbid each join some of the places after, (joins, places after). [K]."""
        kinds = np.asarray(self.after, dtype=int)
        wrong = (kinds == _FREE) & held[:, None] | (kinds == _HELD) & ~held[:, None]
        return np.where(wrong, _FORBIDDEN_K, 0.0)


@dataclass(frozen=True, kw_only=True)
class PlacesProof:
    """Joins and limits of a piece, and how every weld warms the rings that limits are of."""

    work: HandWork
    caps: Sequence[Caps]
    hold: Hold | None
    limit_c: float

    @cached_property
    def held(self) -> BoolArray:
        """Joins that the fingers hold the piece for, (m,)."""
        if self.hold is None:
            return np.zeros(self.work.joins, dtype=bool)
        return np.asarray(self.hold.reach.any(axis=(0, 2)))

    @cached_property
    def nodes(self) -> IntArray:
        """Rings of joins, and rings that the fingers may take, ascending."""
        rings = [self.work.ring]
        if self.hold is not None:
            used = self.hold.patch_ring[self.hold.reach.any(axis=(0, 1))]
            rings.append(used[used >= 0].astype(np.int32))
        return np.unique(np.concatenate(rings))

    @cached_property
    def kernels(self) -> list[Kernels]:
        """Of those rings in each corner."""
        return [sample_kernels(cap.field, self.nodes) for cap in self.caps]

    @cached_property
    def own(self) -> IntArray:
        """Place of each join's own ring among the nodes, (m,)."""
        return np.searchsorted(self.nodes, self.work.ring).astype(np.int32)

    @cached_property
    def finger_k(self) -> FloatArray:
        """What the fingers' limit leaves of each node, pulse and closing in turn. [K]."""
        left = [self.limit_c - cap.field.base_c[self.nodes] + ROUNDING_K for cap in self.caps]
        return np.repeat(left, 2, axis=0)

    @cached_property
    def each_s(self) -> float:
        """Least time from one pulse to the next. [s]."""
        every = np.arange(self.work.joins, dtype=np.int32)
        step = self.work.step_s(every[:, None], every[None, :])
        np.fill_diagonal(step, np.inf)
        least = float(step.min()) if every.shape[0] > 1 else 0.0
        return self.work.handle_s + float(self.work.after_s.min()) + least

    def moment(self, at_s: float, soonest_s: FloatArray, after: tuple[int, ...]) -> Moment:
        """See a place at a time. ``soonest_s``: of each place before it, and of its own. [s]."""
        places = soonest_s.shape[0] - 1
        low, high = np.arange(places, 0, -1) * self.each_s, at_s - soonest_s[:-1]
        least = [
            kernels.least_k(np.maximum(low - back_s, 0.0), high - back_s)
            for kernels in self.kernels
            for back_s in (0.0, self.work.handle_s)
        ]
        return Moment(least_k=np.stack(least), after=after)

    def possible(self, moment: Moment, joins: Sequence[int]) -> bool:
        """Whether one of some joins may be welded."""
        return any(self._may_be_welded(join, moment) for join in joins)

    def _may_be_welded(self, join: int, moment: Moment) -> bool:
        others = np.delete(np.arange(self.work.joins, dtype=np.int32), join)
        later = moment.later_k(self.held)[others]
        row = int(self.own[join])
        for corner, cap in enumerate(self.caps):
            spare = float(cap.join_k[join]) + ROUNDING_K
            if _too_warm(moment.least_k[2 * corner, row][others], later, spare):
                return False
        if self.hold is None:
            return True
        for side in self.hold.reach[:, join]:
            patches = np.flatnonzero(side).tolist()
            if patches and not any(self._cool(patch, others, later, moment) for patch in patches):
                return False
        return True

    def _cool(self, patch: int, others: IntArray, later: FloatArray, moment: Moment) -> bool:
        """Whether a patch need not be too warm.

        Those of its rings, corners and moments are dealt out for that are most above the limit if
        every weld has the place in which it brings least.
        """
        if self.hold is None:
            return True
        rings = self.hold.patch_ring[patch]
        rows = np.searchsorted(self.nodes, rings[rings >= 0])
        mine, spare = moment.least_k[:, rows][:, :, others], self.finger_k[:, rows]
        if rows.shape[0] > 1:  # their mean too: no two of them can be welded in the first place
            mine = np.concatenate([mine, mine.mean(axis=1, keepdims=True)], axis=1)
            spare = np.concatenate([spare, spare.mean(axis=1, keepdims=True)], axis=1)
        over = np.minimum(mine.min(axis=3, initial=np.inf), later.min(axis=1, initial=np.inf))
        ranked = np.argsort((spare - over.sum(axis=2)), axis=None, kind="stable")
        return not any(
            _too_warm(mine[which, ring], later, float(spare[which, ring]))
            for which, ring in zip(*np.unravel_index(ranked[:_LOOKED_AT], spare.shape), strict=True)
        )

    def soonest_s(
        self, place: int, soonest_s: FloatArray, joins: Sequence[int], after: tuple[int, ...]
    ) -> float:
        """Least time at which one of some joins can have a place. [s].

        ``soonest_s``: of every place, from those before. inf: none of them can ever have it.
        """

        def possible(at_s: float) -> bool:
            return self.possible(self.moment(at_s, soonest_s[:place], after), joins)

        low = float(soonest_s[place - 1])
        if possible(low):
            return low
        step_s, window_s = self.kernels[0].step_s, max(c.field.window_s for c in self.caps)
        ahead = 8 * step_s
        high = low + ahead
        while not possible(high):
            if high > soonest_s[place - 1] + window_s + step_s:
                return np.inf
            low, ahead = high, 2 * ahead
            high = low + ahead
        while high - low > step_s / 2:
            middle = (low + high) / 2
            low, high = (low, middle) if possible(middle) else (middle, high)
        return low


def _too_warm(cost: FloatArray, later: FloatArray, spare_k: float) -> bool:
    """Whether a ring is above a limit however the welds are dealt out, (welds, places) each."""
    if not np.isfinite(spare_k) or float(cost.max(axis=1, initial=0.0).sum()) <= spare_k:
        return False
    least = np.minimum(cost.min(axis=1, initial=np.inf), later.min(axis=1, initial=np.inf))
    if float(least.sum()) > spare_k:
        return True
    return least_sum(np.concatenate([cost, later], axis=1)) > spare_k


def bound_places_s(proof: PlacesProof, least_s: float) -> FloatArray | None:
    """Soonest that each place of any order can come, (m,); the last not before ``least_s``. [s].

    None if no order at all keeps the limits: there is no bound to give.
    """
    work, each_s, joins = proof.work, proof.each_s, proof.work.joins
    held = int(np.count_nonzero(proof.held))
    free, fingers = joins - held, np.flatnonzero(proof.held).tolist()
    soonest_s: FloatArray = work.handle_s + np.arange(joins, dtype=np.float64) * each_s
    last_s = least_s

    def put_off(place: int, at_s: float) -> None:
        later_s = at_s + np.arange(joins - place + 1) * each_s
        soonest_s[place - 1 :] = np.maximum(soonest_s[place - 1 :], later_s)

    for place in range(1, joins + 1):
        at_s = proof.soonest_s(place, soonest_s, range(joins), (_ANY,) * (joins - place))
        if not np.isfinite(at_s):
            return None
        put_off(place, at_s)
        number = place - free
        if number < 1 or not 0 < free < joins:
            continue
        mine_s = end_s = np.inf
        for later in range(free + 1):
            here, after_s = place - later, (held - number + later) * each_s
            if soonest_s[here - 1] >= mine_s and soonest_s[here - 1] + after_s >= end_s:
                continue
            after = (_FREE,) * later + (_HELD,) * (held - number)
            at_s = proof.soonest_s(here, soonest_s, fingers, after)
            mine_s, end_s = min(mine_s, at_s), min(end_s, at_s + after_s)
        if not np.isfinite(mine_s):
            return None
        put_off(place, mine_s)
        last_s = max(last_s, end_s)
    soonest_s[-1] = max(last_s, float(soonest_s[-1]))
    return soonest_s
