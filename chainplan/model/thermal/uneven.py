"""How much hotter a ring is at its join than all over, while the heat of its own weld spreads."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray


@frozen
class Uneven:
    """Rings whose wire takes seconds to come to one temperature: thick stainless, titanium.

    After its own weld the join of a ring is above the ring's mean by
    ``q/C · 2·Σ exp(−n²·t/spread)``, the solution along a closed wire
    (``heat/hot_zone.ring_source_rise_k``) at its hottest place, losses to the air left out; so no
    place of the ring is hotter. It is right from when the heat has gone two wires far; sooner the
    value of that moment is taken, which is several times the mean rise.
    """

    spread_s: FloatArray  # (n,) time of the slowest wave; 0: the ring is of one temperature
    soonest_s: FloatArray  # (n,) from when the solution is right

    def share(self, ring: IntArray, lag_s: FloatArray) -> FloatArray:
        """How far the join is above the mean so long after its weld, as a share of the mean rise.

        Nothing before the weld. The shapes of both are the same.
        """
        spread = self.spread_s[ring]
        found = np.zeros(np.shape(lag_s))
        some = (spread > 0) & (lag_s > 0)
        if some.any():
            gone = np.maximum(lag_s[some], self.soonest_s[ring][some]) / spread[some]
            found[some] = _waves(gone)
        return found

    def most_share(self) -> FloatArray:
        """Factor of ``exp(−t/spread)`` that is nowhere below the share, (n,).

        The share over that exponential falls with time, so its value at the soonest moment holds
        for all later ones.
        """
        found = np.zeros(self.spread_s.shape)
        slow = self.spread_s > 0
        soonest = self.soonest_s[slow] / self.spread_s[slow]
        found[slow] = _waves(soonest) * np.exp(soonest)
        return found

    def at_join_k(
        self, rise_k: FloatArray, welded_s: FloatArray, ring: IntArray, at_s: FloatArray
    ) -> FloatArray:
        """How far above their means rings are at their joins at some moments, shape of ``ring``.

        Parameters
        ----------
        rise_k, welded_s : array, shape (n,)
            Mean rise of each ring by its own weld, and when that falls, inf if it does not.
            [K], [s]
        ring : array
            Which of them; what is beyond is no ring but a part, and has none.
        at_s : array
            When. [s]
        """
        found = np.zeros(ring.shape)
        own = np.flatnonzero(ring < self.spread_s.shape[0])
        own = own[self.spread_s[ring[own]] > 0]
        if own.size:
            some = ring[own]
            lag = at_s[own] - welded_s[some]
            found[own] = self.share(some, lag) * rise_k[some]
        return found


def _waves(gone: FloatArray) -> FloatArray:
    """Sum of the fading waves, ``2·Σ exp(−n²·gone)``, by four of them or by their transform.

    ``1 + 2·Σ exp(−n²·x) = √(π/x)·(1 + 2·Σ exp(−π²·n²/x))``: on either side of 1 what is left out is
    below e^(−25).
    """
    late = np.maximum(gone, 1.0)
    slow = 2 * sum(np.exp(-(n**2) * late) for n in (1, 2, 3, 4))
    soon = np.minimum(gone, 1.0)
    quick = np.sqrt(np.pi / soon) * (1 + 2 * np.exp(-(np.pi**2) / soon)) - 1
    total: FloatArray = np.where(gone < 1.0, quick, slow)
    return total
