"""The best order of a few joins, by trying all that could be better than the best known."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.timing import WAIT_STEP_S, join_wait_s, time_orders

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.order.timing import Caps
    from chainplan.order.work import Work

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]


def find_best_of_all(
    work: Work, caps: Sequence[Caps], known: IntArray, *, most_states: int
) -> tuple[IntArray, bool]:
    """Find the order with the least bench time, each join welded as soon as the limits allow.

    Beginnings of orders grow side by side by one join at a time; those that cannot end before the
    best known order are dropped. What still has to come takes at least its handling and, for the
    hand, the cheapest step into each join; and no join can be welded before the heat already in
    the piece has left it, nor two at once.

    Parameters
    ----------
    work, caps
        Joins and limits.
    known : array, shape (m,)
        A good order to beat.
    most_states : int
        Give up being exact above this many beginnings of one length (the best are kept).

    Returns
    -------
    array, bool
        The best order found, and whether every other one has been ruled out.
    """
    joins = work.joins
    best = time_orders(work, caps, known)
    best_s = float(best.bench_s[0]) if best.feasible[0] else np.inf
    order, exact = known, True
    every = np.arange(joins, dtype=np.int32)
    steps = work.step_s(every[:, None], every[None, :])
    np.fill_diagonal(steps, np.inf)
    cheapest = steps.min(axis=0) if joins > 1 else np.zeros(joins)
    begun = every[:, None]
    for length in range(1, joins + 1):
        timed = time_orders(work, caps, begun)
        inside = np.zeros((begun.shape[0], joins), dtype=bool)
        np.put_along_axis(inside, begun.astype(np.int64), values=True, axis=1)
        to_come = np.where(inside, 0.0, work.handle_s + work.after_s + cheapest).sum(axis=1)
        least = timed.bench_s + to_come
        keep = timed.feasible & (least < best_s - 1e-9)
        if length == joins:
            if keep.any():
                order = begun[np.argmin(np.where(keep, timed.bench_s, np.inf))]
            break
        begun, inside, least = begun[keep], inside[keep], least[keep]
        if caps and begun.shape[0]:
            start = timed.start_s[keep]
            cooled = _cooled_s(work, caps, begun, start, inside, cheapest)
            hopeful = cooled < best_s - 1e-9
            begun, inside = begun[hopeful], inside[hopeful]
            least = np.maximum(least, cooled)[hopeful]
        if begun.shape[0] > most_states:
            pick = np.argsort(least, kind="stable")[:most_states]
            begun, inside, exact = begun[pick], inside[pick], False
        row, join = np.nonzero(~inside)
        begun = np.concatenate([begun[row], join[:, None].astype(np.int32)], axis=1)
        if begun.shape[0] == 0:
            break
    return order.astype(np.int32), exact


def _cooled_s(
    work: Work,
    caps: Sequence[Caps],
    begun: IntArray,
    start_s: FloatArray,
    inside: npt.NDArray[np.bool_],
    cheapest_s: FloatArray,
) -> FloatArray:
    """Least bench time of begun orders, from when each join left has cooled. [s]."""
    row, left = np.nonzero(~inside)
    join: IntArray = left.astype(np.int32)
    last = begun[row, -1]
    soonest = start_s[row, -1] + work.after_s[last] + work.handle_s + cheapest_s[join]
    lag = soonest[:, None] - start_s[row]
    wait = join_wait_s(caps, work.ring[join], join, begun[row], lag)
    ready = np.full(inside.shape, -np.inf)
    ready[row, join] = soonest + np.maximum(wait - WAIT_STEP_S, 0.0)
    ready = -np.sort(-ready, axis=1)  # latest first: k more must follow the k-th latest
    follow = np.arange(inside.shape[1]) * (work.handle_s + float(work.after_s.min()))
    latest: FloatArray = np.max(ready + follow, axis=1) + float(work.after_s.min())
    return latest
