"""How long a join has to wait: the shortest whole wait after which every limit allows its weld."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.follower import Follower

WAIT_STEP_S = 1.0
"""Waits are whole multiples of this, so that they can be counted out at the bench."""


def least_wait_s(
    modes: Follower,
    state: FloatArray,
    join: IntArray,
    lag_s: FloatArray,
    most_s: FloatArray | None = None,
) -> FloatArray:
    """Shortest whole wait after which each row's join may be welded (inf: none). [s].

    ``lag_s``: how long after the state it would be welded without one. ``most_s``: longer waits
    are of no use to the row, and may be given as inf.
    """
    closing, then = modes.before(state, lag_s)
    waits = np.where(modes.allows_at(closing, then, join), 0.0, np.inf)
    left = np.flatnonzero(waits > 0)
    if left.size:
        most_s = None if most_s is None else most_s[left]
        waits[left] = wait_beyond_s(modes, closing[left], then[left], join[left], most_s)
    return waits


def wait_beyond_s(
    modes: Follower,
    closing: FloatArray,
    then: FloatArray,
    join: IntArray,
    most_s: FloatArray | None = None,
) -> FloatArray:
    """Shortest wait of rows that have to wait; see ``least_wait_s``. [s].

    Waits are tried in turn, those first at which the join's own limit holds in every corner.
    In large pieces all waits of a row together: what the rings within its reach do while it waits
    is one product of matrices. Rows that only their own limit holds back are asked all at once.
    """
    if modes.shape.shape[0] > modes.tuning.fine_nodes:
        most = np.full(join.shape[0], np.inf) if most_s is None else most_s
        if modes.fingers is None:
            return _bare_waits_s(modes, then, join, most)
        rows = zip(closing, then, join.tolist(), most.tolist(), strict=True)
        return np.asarray([_row_wait_s(modes, *row) for row in rows])
    waits = np.full(join.shape[0], np.inf)
    left = np.arange(join.shape[0])
    weight = (then * modes.shape[modes.ring[join]]).transpose(1, 0, 2)
    begin, end = 0, modes.tuning.waits_together
    while left.size and begin < modes.wait_s.size:
        tried = modes.wait_s[begin:end]
        here = np.matmul(weight[:, left], modes.wait_fading[:, :, begin:end])
        good = (here <= modes.join_k[:, join[left]][:, :, None]).all(axis=0)
        if most_s is not None:
            good &= tried <= most_s[left, None]
        _first_good(modes, closing, then, join, (left, tried, good), waits)
        waiting = np.isinf(waits[left])
        if most_s is not None:
            waiting &= most_s[left] > tried[-1]
        left = left[waiting]
        begin, end = end, min(3 * end, end + modes.tuning.most_at_once)
    _shorten(modes, closing, then, join, waits)
    return waits


def _first_good(
    modes: Follower,
    closing: FloatArray,
    then: FloatArray,
    join: IntArray,
    tried: tuple[npt.NDArray[np.int64], FloatArray, BoolArray],
    waits: FloatArray,
) -> None:
    """Put down the first of some waits that parts and fingers allow too (in place).

    ``tried``: rows, waits, and for which of them the joins' own limits hold.
    """
    left, wait_s, good = tried
    if modes.fingers is None and not modes.touching[join[left]].any():
        able = good.any(axis=1)
        waits[left[able]] = wait_s[good[able].argmax(axis=1)]
        return
    at_once = modes.tuning.first_at_once
    while left.size:
        able = good.any(axis=1)
        left, good = left[able], good[able]
        row, place = np.nonzero(good & (np.cumsum(good, axis=1) <= at_once))
        ready = _allows_after(modes, closing, then, join, left[row], wait_s[place])
        good[row, place] = False
        np.minimum.at(waits, left[row[ready]], wait_s[place[ready]])
        waiting = np.isinf(waits[left])
        left, good = left[waiting], good[waiting]
        at_once *= 2


def _bare_waits_s(
    modes: Follower, then: FloatArray, join: IntArray, most_s: FloatArray
) -> FloatArray:
    """Shortest waits where no fingers hold. [s].

    What each join's own limit asks for is found for all together. Few near a part have to wait for
    longer than that; they are asked one by one.
    """
    waits = _own_waits_s(modes, then, join, most_s)
    near = np.flatnonzero(modes.touching[join] & np.isfinite(waits))
    if near.size:
        late = near[~_allows_after(modes, then, then, join, near, waits[near])]
        for row in late.tolist():
            waits[row] = _row_wait_s(modes, then[row], then[row], int(join[row]), most_s[row])
    return waits


def _own_waits_s(
    modes: Follower, then: FloatArray, join: IntArray, most_s: FloatArray
) -> FloatArray:
    """Shortest waits that the joins' own limits ask for (inf: none keeps them). [s].

    All rows and waits in one product; then the whole seconds between the wait found and the one
    before it, for all rows together that stopped at the same.
    """
    weight = (then * modes.shape[modes.ring[join]]).transpose(1, 0, 2)
    cap_k = modes.join_k[:, join, None]
    able = (np.matmul(weight, modes.wait_fading) <= cap_k).all(axis=0)
    able &= modes.wait_s <= most_s[:, None]
    place = np.where(able.any(axis=1), able.argmax(axis=1), -1)
    waits: FloatArray = np.where(place < 0, np.inf, modes.wait_s[place])
    for stop in np.unique(place[place >= 0]).tolist():
        low = modes.wait_s[stop - 1] if stop else 0.0
        between = np.arange(low + WAIT_STEP_S, modes.wait_s[stop], WAIT_STEP_S)
        if not between.size:
            continue
        rows = np.flatnonzero(place == stop)
        fading = np.exp(-modes.rate[:, :, None] * between.astype(modes.rate.dtype))
        good = (np.matmul(weight[:, rows], fading) <= cap_k[:, rows]).all(axis=0)
        sooner = good.any(axis=1)
        waits[rows[sooner]] = between[good[sooner].argmax(axis=1)]
    return waits


def _row_wait_s(
    modes: Follower, closing: FloatArray, then: FloatArray, join: int, most_s: float
) -> float:
    """Shortest wait of one join that has to wait, inf if there is none. [s].

    The waits to be tried first; then the whole seconds between the one found and the one before.
    """
    own = np.matmul((then * modes.shape[modes.ring[join]])[:, None], modes.wait_fading)[:, 0]
    able = (own <= modes.join_k[:, join, None]).all(axis=0) & (modes.wait_s <= most_s)
    tried = np.flatnonzero(able)
    for begin in range(0, tried.size, modes.tuning.waits_together):
        some = tried[begin : begin + modes.tuning.waits_together]
        good = _good_waits(modes, closing, then, join, modes.wait_fading[:, :, some])
        if good.any():
            place = int(some[np.argmax(good)])
            low = modes.wait_s[place - 1] if place else 0.0
            between = np.arange(low + WAIT_STEP_S, modes.wait_s[place], WAIT_STEP_S)
            if between.size:
                fading = np.exp(-modes.rate[:, :, None] * between.astype(modes.rate.dtype))
                own = np.matmul((then * modes.shape[modes.ring[join]])[:, None], fading)[:, 0]
                good = _good_waits(modes, closing, then, join, fading)
                good &= (own <= modes.join_k[:, join, None]).all(axis=0)
                if good.any():
                    return float(between[np.argmax(good)])
            return float(modes.wait_s[place])
    return np.inf


def _good_waits(
    modes: Follower, closing: FloatArray, then: FloatArray, join: int, fading: FloatArray
) -> BoolArray:
    """Whether parts and fingers allow a join after some waits, (waits,)."""
    later = then[:, :, None] * fading
    good = np.ones(fading.shape[2], dtype=bool)
    if modes.part_k.size and modes.touching[join]:
        after = (later + modes.weld[join][:, :, None]).transpose(0, 2, 1)
        good &= (np.matmul(after, modes.ahead) <= modes.part_k[:, None]).all(axis=(0, 2))
    if modes.fingers is None:
        return good
    both = np.concatenate([closing[:, :, None] * fading, later], axis=2)
    for reach in modes.fingers.reach[:, :, join]:
        patch = np.flatnonzero(reach)
        if not patch.size:
            continue
        ring = modes.fingers.patch_ring[patch]
        shape = modes.touch[ring.ravel()].transpose(1, 0, 2)
        warm = np.matmul(shape, both) + modes.base_c[:, ring.ravel(), None]
        worse = warm.max(axis=0).reshape(*ring.shape, 2, -1).max(axis=(1, 2))
        good &= (worse <= modes.fingers.limit_c).any(axis=0)
    return good


def _allows_after(
    modes: Follower,
    closing: FloatArray,
    then: FloatArray,
    join: IntArray,
    rows: npt.NDArray[np.int64],
    wait_s: FloatArray,
) -> BoolArray:
    if rows.size == 0:
        return np.zeros(0, dtype=bool)
    fading = modes.fading(wait_s)
    faded = then[rows] * fading
    closed = faded if modes.fingers is None else closing[rows] * fading
    return modes.allows_at(closed, faded, join[rows])


def _shorten(
    modes: Follower, closing: FloatArray, then: FloatArray, join: IntArray, waits: FloatArray
) -> None:
    """Halve the steps between the waits that were tried, down to whole seconds (in place)."""
    rows = np.flatnonzero(np.isfinite(waits) & (waits > 0))
    place = np.searchsorted(modes.wait_s, waits[rows])
    low = np.where(place > 0, modes.wait_s[place - 1], 0.0)
    while True:
        wide = waits[rows] - low > 1.5 * WAIT_STEP_S
        rows, low = rows[wide], low[wide]
        if rows.size == 0:
            return
        middle = low + np.floor((waits[rows] - low) / (2 * WAIT_STEP_S)) * WAIT_STEP_S
        ready = _allows_after(modes, closing, then, join, rows, middle)
        waits[rows[ready]] = middle[ready]
        low = np.where(ready, low, middle)
