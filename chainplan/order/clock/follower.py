"""The heat of a small piece as a sum of fading modes: when each join may be welded, fingers too.

Between welds the network is linear, ``C dT/dt = −A T``. With ``C^-½ A C^-½ = V diag(rate) Vᵀ`` the
rise over the base temperature is ``T = C^-½ V a`` and every ``a`` fades by ``e^(−rate·t)``; a weld
of q joules at ring i adds ``q·V[i]/√C[i]`` to it. A state therefore tells all that later welds need
to know of the past, and going one step on costs the same however many welds came before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.field import Caps
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import ClockTuning


WAIT_STEP_S = 1.0
"""Waits are whole multiples of this, so that they can be counted out at the bench."""


@dataclass(frozen=True, kw_only=True)
class Fingers:
    """Patches the fingers can take: rings sorted by patch, and which patches each join can use."""

    ring: IntArray  # sorted by patch
    begin: IntArray  # (p,) first of each patch in ``ring``
    patch_ring: IntArray  # (p, q) rings of each patch, the first one repeated to fill up
    shape: FloatArray  # (c, n, p) rise of each patch's first ring per unit of a mode, K
    every: FloatArray  # (c, n, k) the same of all rings of patches, in the order of ``ring``
    base_c: FloatArray  # (c, 1, k) of all rings of patches
    reach: BoolArray  # (2, m, p) left, right
    limit_c: float

    def only(self, corner: slice) -> Fingers:
        """Look at one corner alone."""
        return replace(
            self, shape=self.shape[corner], every=self.every[corner], base_c=self.base_c[corner]
        )


@dataclass(frozen=True, kw_only=True)
class Follower:
    """A piece's network in some corners, solved; what each weld adds; what must stay cool.

    Pieces of many nodes are followed in single precision: rounding then adds some thousandths of a
    kelvin, far inside the margins.
    """

    rate: FloatArray  # (c, n) 1/s
    shape: FloatArray  # (nodes, c, n) rise of a node per unit of a mode, K
    weld: FloatArray  # (m, c, n) what a join's weld adds to the modes
    base_c: FloatArray  # (c, nodes)
    join_k: FloatArray  # (c, m)
    ahead: FloatArray  # (c, n, parts · samples) a part's rise at times to come
    part_k: FloatArray  # (c, parts · samples)
    touching: BoolArray  # (m,) joins whose weld counts for a part
    fingers: Fingers | None
    handle_s: float
    ring: IntArray  # (m,)
    wait_s: FloatArray  # waits that are tried
    wait_fading: FloatArray  # (c, n, waits) share of every mode left after each
    tuning: ClockTuning

    def only(self, corner: int) -> Follower:
        """Look at one corner alone."""
        one = slice(corner, corner + 1)
        return replace(
            self,
            rate=self.rate[one],
            shape=np.ascontiguousarray(self.shape[:, one]),
            weld=np.ascontiguousarray(self.weld[:, one]),
            base_c=self.base_c[one],
            join_k=self.join_k[one],
            ahead=self.ahead[one],
            part_k=self.part_k[one],
            wait_fading=self.wait_fading[one],
            fingers=self.fingers and self.fingers.only(one),
        )

    def bare(self) -> Follower:
        """Let no fingers hold the piece."""
        return replace(self, fingers=None)

    def cold(self, rows: int) -> FloatArray:
        """States before the first weld, shape (rows, corners, modes)."""
        return np.zeros((rows, *self.rate.shape), dtype=self.rate.dtype)

    def fading(self, seconds: FloatArray) -> FloatArray:
        """Share of every mode left after some seconds, shape (…, corners, modes)."""
        left: FloatArray = self.rate * -seconds.astype(self.rate.dtype)[..., None, None]
        return np.exp(left, out=left)

    def fade(self, state: FloatArray, seconds: FloatArray) -> FloatArray:
        """States some seconds later, one number a row."""
        faded: FloatArray = state * self.fading(seconds)
        return faded

    def rise_k(self, state: FloatArray) -> FloatArray:
        """Rise of every node, shape (rows, corners, nodes). [K]."""
        rise: FloatArray = np.matmul(state.transpose(1, 0, 2), self.shape.transpose(1, 2, 0))
        return rise.transpose(1, 0, 2)

    def own_k(self, state: FloatArray, join: IntArray) -> FloatArray:
        """Rise of each row's own ring, shape (rows, corners). [K]."""
        rise: FloatArray = np.einsum("rcn,rcn->rc", state, self.shape[self.ring[join]])
        return rise

    def weld_ahead(
        self, state: FloatArray, join: IntArray, lag_s: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Weld on without any wait: states when the fingers close, and when each pulse falls.

        ``join`` and ``lag_s`` have shape (steps, rows), the states (steps, rows, corners, modes).
        Whether the limits allow each weld is asked of all of them together afterwards.
        """
        steps = join.shape[0]
        if self.fingers is None:
            then = self.fading(lag_s)
            then[0] *= state
            for step in range(1, steps):
                then[step] *= then[step - 1] + self.weld[join[step - 1]]
            return then, then
        early = np.maximum(lag_s - self.handle_s, 0.0)
        rest = lag_s - early
        closing, then = self.fading(early), np.empty((*lag_s.shape, *self.rate.shape), self.rate.dtype)
        last = self.fading(rest[:1, :1])[0] if np.ptp(rest) == 0 else None
        for step in range(steps):
            closing[step] *= state
            fading = self.fading(rest[step]) if last is None else last
            np.multiply(closing[step], fading, out=then[step])
            if step + 1 < steps:
                state = then[step] + self.weld[join[step]]
        return closing, then

    def allows(self, state: FloatArray, join: IntArray, lag_s: FloatArray) -> BoolArray:
        """Whether each row's join may be welded so long after the state. (rows,)."""
        return self.allows_at(*self._before(state, lag_s), join)

    def allows_at(self, closing: FloatArray, then: FloatArray, join: IntArray) -> BoolArray:
        """Whether each row's join may be welded at a state; the fingers have closed at another."""
        good: BoolArray = np.asarray((self.own_k(then, join) <= self.join_k[:, join].T).all(axis=1))
        if self.part_k.size:
            some = np.flatnonzero(good & self.touching[join])
            if some.size:
                after = then[some] + self.weld[join[some]]
                peak = np.matmul(after.transpose(1, 0, 2), self.ahead)
                good[some] = (peak <= self.part_k[:, None, :]).all(axis=(0, 2))
        if self.fingers is not None:
            some = np.flatnonzero(good)
            if some.size:
                good[some] = self._place_for(self.fingers, closing[some], then[some], join[some])
        return good

    def _place_for(
        self, fingers: Fingers, closing: FloatArray, then: FloatArray, join: IntArray
    ) -> BoolArray:
        """Whether both fingers find a cool place; in large pieces the likeliest is asked first."""
        mine = fingers.reach[:, join]
        free: BoolArray = ~np.asarray(mine.any(axis=2))  # (2, rows) sides that are not held
        good = np.zeros(join.shape[0], dtype=bool)
        if self.shape.shape[0] > self.tuning.fine_nodes:
            good = self._likely_place_for(fingers, (closing, then), mine, free)
        left = np.flatnonzero(~good)
        if left.size:
            warm = self._patches_c(fingers, closing[left], then[left])
            able = ((warm <= fingers.limit_c) & mine[:, left]).any(axis=2)
            good[left] = np.all(able | free[:, left], axis=0)
        return good

    def _likely_place_for(
        self,
        fingers: Fingers,
        states: tuple[FloatArray, FloatArray],
        mine: BoolArray,
        free: BoolArray,
    ) -> BoolArray:
        """Whether the patch whose first ring is coolest will do, on both sides. (rows,)."""
        closing, then = states
        rows = then.shape[0]
        likely = np.matmul(then.transpose(1, 0, 2), fingers.shape)
        likely = (likely + self.base_c[:, None, fingers.patch_ring[:, 0]]).max(axis=0)
        pick = np.where(mine, likely, np.inf).argmin(axis=2)  # (2, rows)
        place = fingers.patch_ring[pick].transpose(1, 0, 2).reshape(rows, -1)
        shape = self.shape[place].transpose(0, 2, 1, 3)
        both = np.stack([closing, then], axis=3)
        warm = np.matmul(shape, both).max(axis=3) + self.base_c[:, place].transpose(1, 0, 2)
        cool = (warm.max(axis=1) <= fingers.limit_c).reshape(rows, 2, -1).all(axis=2)
        good: BoolArray = np.all(cool.T | free, axis=0)
        return good

    def warmest_held_c(self, closing: FloatArray, then: FloatArray, join: IntArray) -> FloatArray:
        """Coolest place of the worse side; −inf: not held. (rows,) [°C]."""
        if self.fingers is None:
            return np.full(join.shape[0], -np.inf)
        warm = self._patches_c(self.fingers, closing, then)
        mine = self.fingers.reach[:, join]
        coolest = np.where(mine, warm, np.inf).min(axis=2)
        worst: FloatArray = np.where(mine.any(axis=2), coolest, -np.inf).max(axis=0)
        return worst

    def _patches_c(self, fingers: Fingers, closing: FloatArray, then: FloatArray) -> FloatArray:
        """Warmest ring of every patch, in the worse corner and moment, shape (rows, patches). [°C].

        All rings and both moments are asked of the linear algebra together.
        """
        states = np.concatenate([closing.transpose(1, 0, 2), then.transpose(1, 0, 2)], axis=1)
        warm = np.matmul(states, fingers.every)
        warm += fingers.base_c
        corner = warm[0] if warm.shape[0] == 1 else warm.max(axis=0)
        rows = then.shape[0]
        worse = np.maximum(corner[:rows], corner[rows:])
        patch: FloatArray = np.maximum.reduceat(worse, fingers.begin, axis=1)
        return patch

    def _before(self, state: FloatArray, lag_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """States when the fingers close and when the pulse falls."""
        if self.fingers is None:
            then = self.fade(state, lag_s)
            return then, then
        early = np.maximum(lag_s - self.handle_s, 0.0)
        closing = self.fade(state, early)
        rest = lag_s - early
        if np.ptp(rest) == 0:
            return closing, closing * self.fading(rest[:1])
        return closing, self.fade(closing, rest)

    def least_wait_s(
        self,
        state: FloatArray,
        join: IntArray,
        lag_s: FloatArray,
        most_s: FloatArray | None = None,
    ) -> FloatArray:
        """Shortest whole wait after which each row's join may be welded (inf: none). [s].

        ``most_s``: longer waits are of no use to the row, and may be given as inf.
        """
        return self._wait_from(*self._before(state, lag_s), join, most_s)

    def _wait_from(
        self,
        closing: FloatArray,
        then: FloatArray,
        join: IntArray,
        most_s: FloatArray | None = None,
    ) -> FloatArray:
        """Shortest whole wait from the state at which the fingers close, none among them."""
        waits = np.where(self.allows_at(closing, then, join), 0.0, np.inf)
        left = np.flatnonzero(waits > 0)
        if left.size:
            most_s = None if most_s is None else most_s[left]
            waits[left] = self.wait_beyond_s(closing[left], then[left], join[left], most_s)
        return waits

    def wait_beyond_s(
        self,
        closing: FloatArray,
        then: FloatArray,
        join: IntArray,
        most_s: FloatArray | None = None,
    ) -> FloatArray:
        """Shortest wait of rows that have to wait; see ``least_wait_s``. [s].

        Waits are tried in turn, those first at which the join's own limit holds in every corner.
        In large pieces a row at a time, all its waits together: what the rings within its reach
        do while it waits is one product of matrices.
        """
        if self.shape.shape[0] > self.tuning.fine_nodes:
            most = np.full(join.shape[0], np.inf) if most_s is None else most_s
            rows = zip(closing, then, join.tolist(), most.tolist(), strict=True)
            return np.asarray([self._row_wait_s(*row) for row in rows])
        waits = np.full(join.shape[0], np.inf)
        left = np.arange(join.shape[0])
        weight = then[left] * self.shape[self.ring[join[left]]]
        here = np.matmul(weight.transpose(1, 0, 2), self.wait_fading)
        good = (here <= self.join_k[:, join[left]][:, :, None]).all(axis=0)
        if most_s is not None:
            good &= self.wait_s <= most_s[left, None]
        at_once = self.tuning.first_at_once
        while left.size:
            able = good.any(axis=1)
            left, good = left[able], good[able]
            row, place = np.nonzero(good & (np.cumsum(good, axis=1) <= at_once))
            ready = self._allows_after(closing, then, join, left[row], self.wait_s[place])
            good[row, place] = False
            np.minimum.at(waits, left[row[ready]], self.wait_s[place[ready]])
            waiting = np.isinf(waits[left])
            left, good = left[waiting], good[waiting]
            at_once = min(2 * at_once, self.tuning.most_at_once)
        self._shorten(closing, then, join, waits)
        return waits

    def _row_wait_s(
        self, closing: FloatArray, then: FloatArray, join: int, most_s: float
    ) -> float:
        """Shortest wait of one join that has to wait, inf if there is none. [s].

        The waits to be tried first; then the whole seconds between the one found and the one before.
        """
        own = np.matmul((then * self.shape[self.ring[join]])[:, None], self.wait_fading)[:, 0]
        able = (own <= self.join_k[:, join, None]).all(axis=0) & (self.wait_s <= most_s)
        tried = np.flatnonzero(able)
        for begin in range(0, tried.size, self.tuning.waits_together):
            some = tried[begin : begin + self.tuning.waits_together]
            good = self._good_waits(closing, then, join, self.wait_fading[:, :, some])
            if good.any():
                place = int(some[np.argmax(good)])
                low = self.wait_s[place - 1] if place else 0.0
                between = np.arange(low + WAIT_STEP_S, self.wait_s[place], WAIT_STEP_S)
                if between.size:
                    fading = np.exp(-self.rate[:, :, None] * between.astype(self.rate.dtype))
                    own = np.matmul((then * self.shape[self.ring[join]])[:, None], fading)[:, 0]
                    good = self._good_waits(closing, then, join, fading)
                    good &= (own <= self.join_k[:, join, None]).all(axis=0)
                    if good.any():
                        return float(between[np.argmax(good)])
                return float(self.wait_s[place])
        return np.inf

    def _good_waits(
        self, closing: FloatArray, then: FloatArray, join: int, fading: FloatArray
    ) -> BoolArray:
        """Whether parts and fingers allow a join after some waits, (waits,)."""
        later = then[:, :, None] * fading
        good = np.ones(fading.shape[2], dtype=bool)
        if self.part_k.size and self.touching[join]:
            after = (later + self.weld[join][:, :, None]).transpose(0, 2, 1)
            good &= (np.matmul(after, self.ahead) <= self.part_k[:, None]).all(axis=(0, 2))
        if self.fingers is None:
            return good
        both = np.concatenate([closing[:, :, None] * fading, later], axis=2)
        for reach in self.fingers.reach[:, join]:
            patch = np.flatnonzero(reach)
            if not patch.size:
                continue
            ring = self.fingers.patch_ring[patch]
            shape = self.shape[ring.ravel()].transpose(1, 0, 2)
            warm = np.matmul(shape, both) + self.base_c[:, ring.ravel(), None]
            worse = warm.max(axis=0).reshape(*ring.shape, 2, -1).max(axis=(1, 2))
            good &= (worse <= self.fingers.limit_c).any(axis=0)
        return good

    def _allows_after(
        self,
        closing: FloatArray,
        then: FloatArray,
        join: IntArray,
        rows: npt.NDArray[np.int64],
        wait_s: FloatArray,
    ) -> BoolArray:
        if rows.size == 0:
            return np.zeros(0, dtype=bool)
        fading = self.fading(wait_s)
        faded = then[rows] * fading
        closed = faded if self.fingers is None else closing[rows] * fading
        return self.allows_at(closed, faded, join[rows])

    def _shorten(
        self, closing: FloatArray, then: FloatArray, join: IntArray, waits: FloatArray
    ) -> None:
        """Halve the steps between the waits that were tried, down to whole seconds (in place)."""
        rows = np.flatnonzero(np.isfinite(waits) & (waits > 0))
        place = np.searchsorted(self.wait_s, waits[rows])
        low = np.where(place > 0, self.wait_s[place - 1], 0.0)
        while True:
            wide = waits[rows] - low > 1.5 * WAIT_STEP_S
            rows, low = rows[wide], low[wide]
            if rows.size == 0:
                return
            middle = low + np.floor((waits[rows] - low) / (2 * WAIT_STEP_S)) * WAIT_STEP_S
            ready = self._allows_after(closing, then, join, rows, middle)
            waits[rows[ready]] = middle[ready]
            low = np.where(ready, low, middle)

    def weld_next(
        self,
        state: FloatArray,
        join: IntArray,
        lag_s: FloatArray,
        most_s: FloatArray | None = None,
    ) -> tuple[FloatArray, FloatArray]:
        """Weld each row's join as soon as it may be: the wait, and the state just after.

        Where no wait helps, or only one longer than ``most_s``, the wait is inf and the join is
        welded without one.
        """
        closing, then = self._before(state, lag_s)
        wait = self._wait_from(closing, then, join, most_s)
        late = np.flatnonzero((wait > 0) & np.isfinite(wait))
        if late.size:
            then[late] = self.fade(then[late], wait[late])
        return wait, then + self.weld[join]


def solve_modes(
    work: HandWork,
    caps: Sequence[Caps],
    hold: Hold | None,
    hold_limit_c: float,
    tuning: ClockTuning = USUAL.clock,
) -> Follower:
    """Lay the solved network of a piece out in the corners that the caps belong to."""
    fields = [cap.field for cap in caps]
    nodes = fields[0].base_c.shape[0]
    fine = nodes <= tuning.fine_nodes
    kind: type = np.float64 if fine else np.float32
    rate: FloatArray = np.asarray([field.rate for field in fields], dtype=kind)
    shape: FloatArray = np.empty((nodes, len(fields), rate.shape[1]), dtype=kind)
    for corner, field in enumerate(fields):
        shape[:, corner] = field.vectors / field.root_capacity[:, None]
    heat_j: FloatArray = np.stack([field.heat_j for field in fields], axis=1).astype(kind)
    window = max(cap.field.window_s for cap in caps)
    late = np.geomspace(tuning.ahead_s, max(window, 2.0 * tuning.ahead_s), tuning.ahead_samples)
    ahead_s = np.concatenate([np.arange(tuning.ahead_s), late])
    wait_s = list_waits_s(window + WAIT_STEP_S, tuning, fine=fine)
    touching = np.zeros(work.joins, dtype=bool)
    ahead, part_k = [], []
    for corner, cap in enumerate(caps):
        fading = np.exp(-np.outer(rate[corner], ahead_s))
        parts = [shape[node, corner, :, None] * fading for node in cap.part_node.tolist()]
        ahead.append(np.concatenate([np.zeros((rate.shape[1], 0)), *parts], axis=1))
        cap_k = _follow_nearest(cap, touching, tuning.neglected)
        part_k.append(np.repeat(cap_k, ahead_s.shape[0]))
    base_c = np.asarray([field.base_c for field in fields])
    return Follower(
        rate=rate,
        shape=shape,
        weld=shape[work.ring] * heat_j[:, :, None],
        base_c=base_c,
        join_k=np.asarray([cap.join_k for cap in caps]),
        ahead=np.asarray(ahead, dtype=kind),
        part_k=np.asarray(part_k),
        touching=touching,
        fingers=None if hold is None else _fingers(hold, hold_limit_c, shape, base_c),
        handle_s=work.handle_s,
        ring=work.ring,
        wait_s=wait_s,
        wait_fading=np.exp(-rate[:, :, None] * wait_s.astype(kind)),
        tuning=tuning,
    )


def list_waits_s(longest_s: float, tuning: ClockTuning, *, fine: bool) -> FloatArray:
    """Whole waits to try: every one, or above some seconds a quarter longer each time."""
    waits: FloatArray = np.arange(1.0, int(longest_s / WAIT_STEP_S) + 1) * WAIT_STEP_S
    if fine and waits.size <= tuning.most_waits:
        return waits
    count = int(np.log(max(longest_s, 2.0)) / np.log(tuning.longer)) + 2
    longer: FloatArray = np.ceil(tuning.longer ** np.arange(count) / WAIT_STEP_S) * WAIT_STEP_S
    return np.unique(longer)


def _follow_nearest(cap: Caps, touching: BoolArray, neglected: float) -> FloatArray:
    """Mark the joins that count for a part; caps less what all the others could bring. [K]."""
    cap_k = cap.part_k.astype(float)
    for index, node in enumerate(cap.part_node.tolist()):
        peak = cap.field.peaks_k(node)
        rank = np.argsort(peak, kind="stable")
        small = np.cumsum(peak[rank]) <= neglected * cap_k[index]
        touching[rank[~small]] = True
        cap_k[index] -= float(peak[rank[small]].sum())
    return cap_k


def _fingers(
    hold: Hold, limit_c: float, shape: FloatArray, base_c: FloatArray
) -> Fingers:
    used = hold.patch_ring >= 0
    count = used.sum(axis=1)
    ring = hold.patch_ring[used].astype(np.int32)
    return Fingers(
        ring=ring,
        begin=np.concatenate([[0], np.cumsum(count)[:-1]]).astype(np.int32),
        patch_ring=np.where(used, hold.patch_ring, hold.patch_ring[:, :1]),
        shape=np.ascontiguousarray(shape[hold.patch_ring[:, 0]].transpose(1, 2, 0)),
        every=np.ascontiguousarray(shape[ring].transpose(1, 2, 0)),
        base_c=base_c[:, None, ring].astype(shape.dtype),
        reach=hold.reach,
        limit_c=limit_c,
    )
