"""What is left of an order, bounded: all sets of the joins left gone through, heat and all.

Beginnings that have the same joins behind them are bounded together: of their heat the least that
any of them has left is taken, ring by ring and moment by moment, counted from its last weld. From
there all sets Q of the joins left are gone through, each with the join j that is welded last of Q:
the soonest moment of j's pulse, and the least rise of every ring from then on.

Claim: no end of any of those beginnings has j's pulse sooner, with Q welded by then, or a ring
cooler afterwards. By induction over the size of Q. The next join k falls one step after j at least,
in an interval in which its own ring may be cool enough and the fingers find on each side a patch
that may be, both when they close and when the pulse falls. After it, a ring is at least as warm as
after Q by whichever j was last, and by k's weld besides. This fell at k's soonest moment or later,
and at least s steps before the pulse that is s welds later, so it brings at least its least
between those two lags. What cannot yet have happened in an interval counts as too warm there.

One bad corner is looked at, the one in which welds are felt most at other rings: limits hold in all
corners, so each of them alone bounds every order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.proof.dealing import ROUNDING_K

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.search.outlook import Outlook


_MOST_PATCHES = 62
"""Patches that are told apart, one bit each; of more the fingers are left out of the bound."""


@frozen
class Rest:
    """Least rises of every weld in one corner, laid out to be moved to when it falls.

    The last axis is time in intervals, from as long before the weld as it is followed after; what
    is too soon for a pulse so many steps later is inf. Single precision.
    """

    outlook: Outlook
    corner: int
    own: FloatArray  # (s, m, m, 2 g) a weld's rise at the rings of joins when their pulse falls
    near: FloatArray  # (s, m, nodes, 2 g) at all rings when the fingers close; (0,) without fingers

    @property
    def most_left(self) -> int:
        """Most joins left that can be gone through."""
        return int(self.own.shape[0]) + 1

    def last_s(self, least_k: FloatArray, left: IntArray, soonest_s: FloatArray) -> FloatArray:
        """Soonest last pulse of groups of beginnings, counted from each one's last weld. [s].

        Parameters
        ----------
        least_k : array, shape (groups, nodes, g)
            Least rise of every node in each interval after the last weld. Later ones are of no use.
        left : array, shape (groups, r)
            Joins still to be welded, ``most_left`` at most.
        soonest_s : array, shape (groups, r)
            When each of them could be the next if nothing were warm.

        Returns
        -------
        array, shape (groups,)
            inf: not within the intervals given.
        """
        walk = _Walk(self, left, least_k.shape[2])
        places = range(left.shape[1])
        own = least_k[np.arange(left.shape[0])[:, None], self.outlook.work.ring[left]]
        near = [least_k] * len(places) if walk.held else []
        behind = {0: _Behind(rest=tuple(places), own=[own] * len(places), near=near)}
        able = walk.able(behind[0])
        pulses = {1 << k: {k: walk.soonest_s(able[k], soonest_s[:, k])} for k in places}
        for size in range(1, len(places)):
            pulses, behind = _go_on(walk, pulses, behind, len(places) - size)
        last: FloatArray = np.min(list(pulses[(1 << len(places)) - 1].values()), axis=0)
        return last


@frozen
class _Behind:
    """Least rises once some joins are welded, as the pulse 0, 1, … welds after the next meets them.

    ``rest``: places in ``left`` of the joins that are not welded.
    """

    rest: tuple[int, ...]
    own: list[FloatArray]  # each (groups, rest, g)
    near: list[FloatArray]  # each (groups, nodes, g); none without fingers


def _go_on(
    walk: _Walk,
    pulses: dict[int, dict[int, FloatArray]],
    behind: dict[int, _Behind],
    rest: int,
) -> tuple[dict[int, dict[int, FloatArray]], dict[int, _Behind]]:
    """From all sets of one size to all sets of one join more; ``rest`` joins are not in them.

    ``pulses``: of each set, one bit a place in ``left``, the soonest pulse by its last join.
    ``behind``: of each set of one join fewer.
    """
    later: dict[int, dict[int, FloatArray]] = {}
    whole: dict[int, _Behind] = {}
    for done, by_last in pulses.items():
        for last, pulse_s in by_last.items():
            mine = walk.welded(behind[done ^ (1 << last)], last, pulse_s, rest)
            able = walk.able(mine)
            for k in mine.rest:
                then_s = walk.soonest_s(able[k], pulse_s + walk.gap_s(last, k))
                known = later.setdefault(done | (1 << k), {})
                known[k] = np.minimum(known[k], then_s) if k in known else then_s
            if done in whole:
                same = whole[done]
                for least, more in zip(same.own + same.near, mine.own + mine.near, strict=True):
                    np.minimum(least, more, out=least)
            else:
                whole[done] = mine
    return later, whole


class _Walk:
    """Groups of beginnings on their way through the sets of the joins left."""

    def __init__(self, rest: Rest, left: IntArray, intervals: int) -> None:
        modes = rest.outlook.modes
        self.left, self.outlook = left, rest.outlook
        self.until_s = np.arange(1, intervals + 1) * rest.outlook.step_s
        self.cap_k = (modes.join_k[rest.corner][left] + ROUNDING_K).astype(np.float32)
        self.held = rest.near.size > 0
        self.own = np.lib.stride_tricks.sliding_window_view(rest.own, intervals, axis=3)
        self.none = rest.own.shape[3] // 2  # intervals after which a weld is no longer followed
        if modes.fingers is not None and self.held:
            self.near = np.lib.stride_tricks.sliding_window_view(rest.near, intervals, axis=3)
            self.patch_ring = modes.fingers.patch_ring
            base_c = modes.base_c[rest.corner][self.patch_ring].max(axis=1)
            limit_k = modes.fingers.limit_c + ROUNDING_K - base_c
            self.limit_k = limit_k.astype(np.float32)[:, None]
            bit = np.int64(1) << np.arange(limit_k.size)
            reach = (modes.fingers.reach * bit[:, None]).sum(axis=1)  # (2, m)
            self.reach = reach[:, left, None]

    def gap_s(self, last: int, then: int) -> FloatArray:
        """Least time from the pulse of one place's join to that of another's. [s]."""
        gap: FloatArray = self.outlook.gap_s[self.left[:, last], self.left[:, then]]
        return gap

    def able(self, behind: _Behind) -> dict[int, BoolArray]:
        """Intervals in which nothing known forbids each join that is left, (groups, g)."""
        cool = self._cool(behind.near[0]) if self.held else None
        found = {}
        for number, k in enumerate(behind.rest):
            good = behind.own[0][:, number] <= self.cap_k[:, k, None]
            for side in self.reach[:, :, k] if cool is not None else ():
                good &= (cool & side != 0) | (side == 0)
            found[k] = good
        return found

    def _cool(self, near: FloatArray) -> npt.NDArray[np.int64]:
        """Patches that may be cool both when fingers close and at the pulse, one bit each."""
        bits = np.zeros((near.shape[0], near.shape[2]), dtype=np.int64)
        for number, rings in enumerate(self.patch_ring):
            cool = near[:, rings[0]] <= self.limit_k[number]
            for ring in rings[1:]:
                cool &= near[:, ring] <= self.limit_k[number]
            bits |= cool.astype(np.int64) << number
        closing = self.outlook.closing
        both = np.zeros_like(bits)
        both[:, closing:] = bits[:, closing:] & bits[:, : bits.shape[1] - closing]
        return both

    def soonest_s(self, able: BoolArray, from_s: FloatArray) -> FloatArray:
        """First moment from some time on in an interval that will do; inf: none. [s]."""
        good = able & (self.until_s >= from_s[:, None])
        first = good.argmax(axis=1)
        found = np.maximum(first * self.outlook.step_s, from_s)
        return np.where(good[np.arange(first.size), first], found, np.inf)

    def welded(self, before: _Behind, last: int, pulse_s: FloatArray, steps: int) -> _Behind:
        """Add the weld of one place's join, which falls at some moment at the soonest."""
        passed = np.where(np.isfinite(pulse_s), pulse_s / self.outlook.step_s, self.none)
        begin = self.none - np.minimum(passed, self.none).astype(np.intp)[:, None]
        keep = [number for number, k in enumerate(before.rest) if k != last]
        rest = tuple(before.rest[number] for number in keep)
        mine, others = self.left[:, last, None], self.left[:, list(rest)]
        own, near = [], []
        for later in range(steps):
            rise = self.own[later, mine, others, begin]
            rise += before.own[later + 1][:, keep]
            own.append(rise)
            if self.held:
                rise = self.near[later, mine, np.arange(self.near.shape[2]), begin]
                rise += before.near[later + 1]
                near.append(rise)
        return _Behind(rest=rest, own=own, near=near)


def make_rest(outlook: Outlook, most_left: int) -> Rest:
    """Prepare going through so many joins left at most."""
    work, modes, step_s = outlook.work, outlook.modes, outlook.step_s
    intervals = outlook.bend.shape[2]
    corners = range(modes.rate.shape[0])
    every = [outlook.least_k(modes.weld, intervals, corner) for corner in corners]
    corner = int(np.argmax([rise[:, work.ring].sum() for rise in every]))
    rise = every[corner]  # (m, nodes, g)

    def lay_out(rise: FloatArray, sooner_s: float) -> FloatArray:
        shape = (most_left - 1, *rise.shape[:2], 2 * intervals)
        laid: FloatArray = np.full(shape, np.inf, dtype=np.float32)
        for steps in range(1, most_left):
            first = int(max(steps * outlook.each_s - sooner_s, 0.0) / step_s)
            if first < intervals:
                least = np.minimum.accumulate(rise[..., first:], axis=2)
                laid[steps - 1, ..., intervals + first :] = least
        return laid

    near: FloatArray = np.zeros(0, dtype=np.float32)
    if modes.fingers is not None and modes.fingers.patch_ring.shape[0] <= _MOST_PATCHES:
        near = lay_out(rise, work.handle_s)
    return Rest(outlook=outlook, corner=corner, own=lay_out(rise[:, work.ring], 0.0), near=near)
