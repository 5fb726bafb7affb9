"""How soon the last weld of a small piece can fall, seen from its last two welds together.

``places`` deals the welds out anew for each place, so those that come late for one ring come early
for the next. Here the last two joins are named: a is welded at T − δ, b at T, all others before.
Each of the others has one place l. At a it is felt with a lag between (m − 1 − l)·h and
T − δ − e(l), at b with the same lag and δ more. Both rings keep their limits, so the sum of their
rises is no more than the sum of what the limits leave, less what a brings b. What a weld costs at a
place is the least of that sum over the lags; if even the least assignment of the others to the
places costs more, a and b are not the last two with that δ. If no two joins are, with any δ from
the least time between two pulses to T less the soonest that a can come, no order ends at T. The two
rings may be looked at in different corners, since each limit holds in all of them.

Intervals of δ are taken together, with the least kernel of b over them, and halved where two joins
still fit. A later T only lets lags and δ be longer, so the least T is found by bisection.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from chainplan.order.proof.dealing import ROUNDING_K, least_sum

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.order.proof.places import PlacesProof

_WIDEST_STEPS, _NARROWEST_STEPS = 16, 2
"""Samples in an interval of δ: so many are looked at together at first, so few at last. Measured:
the last halving takes a third of the time and raises the bound of 13 joins by half a second."""
_CLOSE_S = 0.5
"""The bound is found to within so much: a tenth of a handling (judgement)."""


@dataclass(frozen=True, kw_only=True)
class _LastTwo:
    """The last two welds of a piece. Times of the last pulse and δ count samples."""

    proof: PlacesProof
    soonest_s: FloatArray

    @cached_property
    def step_s(self) -> float:
        return self.proof.kernels[0].step_s

    @cached_property
    def curves(self) -> list[FloatArray]:
        """Rise of each join's ring after each join's weld, a corner each, (m, m, samples). [K]."""
        rows = self.proof.own
        return [kernels.level[0][rows] for kernels in self.proof.kernels]

    @cached_property
    def before_s(self) -> FloatArray:
        """Soonest that each join can be the last but one, (m,). [s]."""
        count = self.proof.work.joins
        found = [self.proof.soonest_s(count - 1, self.soonest_s, [k], (0,)) for k in range(count)]
        return np.asarray(found)

    def possible(self, last_s: float) -> bool:
        """Whether some two joins may be the last with the last pulse at some time."""
        least = int(self.proof.each_s // self.step_s)
        most = int(np.ceil((last_s - float(self.before_s.min())) / self.step_s))
        every = ~np.eye(self.proof.work.joins, dtype=bool)
        return any(
            self._some_fit(last_s, apart, _WIDEST_STEPS, every)
            for apart in range(least, most + 1, _WIDEST_STEPS)
        )

    def _some_fit(self, last_s: float, apart: int, steps: int, pairs: BoolArray) -> bool:
        """Whether some two of ``pairs`` (last but one, last) fit with δ in an interval."""
        able = self.before_s <= last_s - apart * self.step_s
        left = self._fitting(last_s, apart, steps, pairs & able[:, None])
        if not left.any() or steps <= _NARROWEST_STEPS:
            return bool(left.any())
        half = steps // 2
        return any(self._some_fit(last_s, at, half, left) for at in (apart, apart + half))

    def _fitting(self, last_s: float, apart: int, steps: int, pairs: BoolArray) -> BoolArray:
        """Which of some pairs may be the last two with δ between so many samples and some more."""
        count = self.proof.work.joins
        early_s = last_s - apart * self.step_s
        low = ((count - 1 - np.arange(1, count - 1)) * self.proof.each_s // self.step_s).astype(int)
        high = np.ceil((early_s - self.soonest_s[: count - 2]) / self.step_s).astype(int)
        high = np.minimum(np.maximum(high, low), self.curves[0].shape[-1] - 1)
        low = np.minimum(low, high)
        need = int(high.max(initial=0)) + 1
        pairs = pairs.copy()
        corners = product(range(len(self.curves)), repeat=2)
        for mine, theirs in sorted(corners, key=lambda pair: pair[0] != pair[1]):
            if not pairs.any():
                break
            later = self._later_k(theirs, apart, steps, need)
            for a in np.flatnonzero(pairs.any(axis=1)).tolist():
                last = np.flatnonzero(pairs[a])
                both = self.curves[mine][a, :, :need] + later[last]
                cost = np.stack(
                    [
                        both[..., first : end + 1].min(axis=-1)
                        for first, end in zip(low.tolist(), high.tolist(), strict=True)
                    ],
                    axis=-1,
                )
                caps = self.proof.caps
                brought = self.curves[theirs][last, a, apart : apart + steps + 1].min(axis=-1)
                spare = caps[mine].join_k[a] + caps[theirs].join_k[last] - brought
                for row, b in enumerate(last.tolist()):
                    rest = np.delete(cost[row], [a, b], axis=0)
                    pairs[a, b] = not _too_much(rest, float(spare[row]) + 2 * ROUNDING_K)
        return pairs

    def _later_k(self, corner: int, apart: int, steps: int, need: int) -> FloatArray:
        """Least rise of every join's ring δ after each sample, over an interval of δ. [K].

        Lag and δ may each lie between two samples, so their sum lies within one step of the sample
        after both; none is more than the rise within a step of it.
        """
        curve = self.curves[corner]
        short = max(0, apart + steps + 1 + need - curve.shape[-1])
        whole = np.pad(curve, ((0, 0), (0, 0), (0, short)))  # beyond the window: zero
        least: FloatArray = sliding_window_view(
            whole[..., apart : apart + steps + 1 + need], steps + 2, axis=-1
        ).min(axis=-1)
        return least


def _too_much(cost: FloatArray, spare_k: float) -> bool:
    """Whether two rings are above their limits together however the welds are dealt out."""
    if not np.isfinite(spare_k):
        return False
    if float(cost.min(axis=1).sum()) > spare_k or float(cost.min(axis=0).sum()) > spare_k:
        return True
    return float(cost.max(axis=1).sum()) > spare_k and least_sum(cost) > spare_k


def bound_last_two_s(proof: PlacesProof, soonest_s: FloatArray) -> float:
    """Soonest that the last pulse of any order can fall. [s].

    Parameters
    ----------
    proof : PlacesProof
        Three joins or more, and their limits.
    soonest_s : array, shape (m,)
        Soonest of each place, in rising order, as ``bound_places_s`` finds it. [s]
    """
    two = _LastTwo(proof=proof, soonest_s=soonest_s)
    known_s = low = float(soonest_s[-1])
    if not np.isfinite(two.before_s).any() or two.possible(low):
        return known_s
    window_s = max(cap.field.window_s for cap in proof.caps)
    ahead = 8 * _CLOSE_S
    high = low + ahead
    while not two.possible(high):
        if high > known_s + window_s:
            return known_s  # no order keeps the limits: there is no bound to give
        low, ahead = high, 2 * ahead
        high = low + ahead
    while high - low > _CLOSE_S:
        middle = (low + high) / 2
        low, high = (low, middle) if two.possible(middle) else (middle, high)
    return low
