"""A proved lower bound on the bench time of any order that keeps the limits.

Handling
    Every join is aimed at and welded once: ``Σ (handle + extra hits)``, whatever the order.
Moving, turning, changing
    The steps from join to join form a path through all joins, and a path is a spanning tree. With
    the length of an edge = seconds of moving + turning + changing, no path is shorter than the
    shortest spanning tree. Of that, the fewest turns and changes that visit every group of face
    and setting are named by themselves; the rest is moving. (Above a few thousand joins: half the
    sum of the distances from every join to its two nearest ones, less what the ends do not use.)
Cooling, last weld
    Let ring i be the last. All kernels are ≥ 0, so before its weld it is at least as warm as the
    other welds make it, and of the m − 1 others the one l places before it lies between l·h and
    M − (m−1−l)·h seconds back (h the shortest handling, M the time from first pulse to last). For
    every way of dealing the others out to the places the rise is at least the least sum of an
    assignment problem with the cost min over that span of K(i, j). If that exceeds the cap for
    every i, no order takes only M. The smallest M for which it does not is found by bisection.
Cooling, dose
    A part's rise integrates over all time to ``Σ_j ∫K(c, j)`` in every order. What comes after the
    last pulse is at most ``Σ_l max_j ∫_{l·h}^∞ K(c, j)``. Before it, the rise is at most the cap
    θ. So ``M ≥ (dose − tail)/θ``.

The bound is the larger of the first two together and of the cooling bounds. It does not know of
the fingers' limit, nor that cooling and travel do not always coincide: it may be too low, never too
high. Kernels are cut short (values left out are ≥ 0, which only lowers the bound) and read at
their samples, of which the smaller neighbour is taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.grid import group_sequence

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.order.timing import Caps
    from chainplan.order.work import Work

    FloatArray = npt.NDArray[np.float64]

_MOST_TREE_JOINS = 3000
_MOST_ASSIGNMENT_JOINS = 48


def shortest_tree_s(work: Work) -> float:
    """Length of the shortest spanning tree through all joins, in seconds of the hand.

    Prim's method on the full matrix, one vectorised pass a join.
    """
    joins = work.joins
    if joins < 2:
        return 0.0
    every = np.arange(joins, dtype=np.int32)
    nearest = np.asarray(work.step_s(np.zeros(joins, dtype=np.int32), every))
    left = np.ones(joins, dtype=bool)
    left[0] = False
    total = 0.0
    for _ in range(joins - 1):
        join = int(np.argmin(np.where(left, nearest, np.inf)))
        total += float(nearest[join])
        left[join] = False
        step = work.step_s(np.full(joins, join, dtype=np.int32), every)
        nearest = np.minimum(nearest, step)
    return total


def nearest_two_s(work: Work) -> float:
    """Lower bound on the moving alone from each join's two nearest others, in seconds."""
    from scipy.spatial import cKDTree

    if work.joins < 3:
        return 0.0
    near = cKDTree(work.place_mm).query(work.place_mm, k=3)[0][:, 1:]
    both = near.sum(axis=1)
    unused = np.sort(near[:, 1])[-2:].sum()  # the two ends lack one neighbour each
    return max(0.0, float(both.sum() - unused) / 2.0) / work.move_mm_s


def _least_over_span(samples: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Smallest sample of each curve between two sample numbers, one pair a place.

    Returns
    -------
    array, shape (curves, places)
        Prefix and suffix minima cannot answer a span, so places are gone through one by one.
    """
    top = samples.shape[1] - 1
    out = np.empty((samples.shape[0], low.shape[0]))
    for place, (begin, end) in enumerate(zip(low.tolist(), high.tolist(), strict=True)):
        first, last = min(int(begin), top), min(int(end), top)
        out[:, place] = samples[:, first : last + 1].min(axis=1)
    return out


def _could_be_last(caps: Caps, work: Work, last: int, span_s: float, place_s: float) -> bool:
    """Whether one join could be the last within a time, by the assignment problem."""
    heat = caps.field
    others = np.delete(np.arange(work.joins), last)
    curve = heat.offset[work.ring[last], others]
    samples = heat.rise[curve[:, None] + np.arange(heat.samples + 1)].astype(float)
    rank = np.arange(1, work.joins, dtype=float)
    low = np.floor(rank * place_s / heat.step_s)
    high = np.ceil((span_s - (work.joins - 1 - rank) * place_s) / heat.step_s)
    cost = _least_over_span(samples, low, np.maximum(high, low))
    cap = float(caps.join_k[last])
    if float(cost.min(axis=1).sum()) > cap:
        return False
    if float(cost.max(axis=1).sum()) <= cap:
        return True
    from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(cost)
    return bool(cost[rows, columns].sum() <= cap)


def _last_weld_span_s(caps: Caps, work: Work, least_s: float) -> float:
    """Smallest time from first pulse to last that the last-weld argument allows."""
    place_s = work.handle_s + float(work.after_s.min(initial=0.0))
    heat = caps.field

    def possible(span_s: float) -> bool:
        if work.joins > _MOST_ASSIGNMENT_JOINS:
            return _separately_possible(caps, work, span_s, place_s)
        return any(_could_be_last(caps, work, i, span_s, place_s) for i in range(work.joins))

    if work.joins < 2 or possible(least_s):
        return least_s
    low, high = least_s, least_s + heat.window_s + heat.step_s
    while high - low > heat.step_s / 2:
        middle = (low + high) / 2
        low, high = (low, middle) if possible(middle) else (middle, high)
    return low


def _separately_possible(caps: Caps, work: Work, span_s: float, place_s: float) -> bool:
    """Last-weld argument without the assignment: every other weld at its own best lag."""
    heat = caps.field
    low = int(place_s / heat.step_s)
    high = int(np.ceil(span_s / heat.step_s))
    if high >= heat.samples:
        return True  # everything may have been forgotten by then
    for last in range(work.joins):
        curve = heat.offset[work.ring[last], np.delete(np.arange(work.joins), last)]
        ends = np.minimum(heat.rise[curve + low], heat.rise[curve + high])
        inner = heat.rise[curve[:, None] + np.arange(low, high + 1)].min(axis=1)
        if float(np.minimum(ends, inner).sum()) <= float(caps.join_k[last]):
            return True
    return False


def _dose_span_s(caps: Caps, work: Work) -> float:
    """Smallest time from first pulse to last that the dose of any part allows."""
    heat = caps.field
    place_s = work.handle_s + float(work.after_s.min(initial=0.0))
    best = 0.0
    for node, cap in zip(caps.part_node.tolist(), caps.part_k.tolist(), strict=True):
        curve = heat.offset[node]
        samples = heat.rise[curve[:, None] + np.arange(heat.samples + 2)].astype(float)
        area = (samples[:, 1:] + samples[:, :-1]) / 2 * heat.step_s
        still = np.concatenate(
            [np.cumsum(area[:, ::-1], axis=1)[:, ::-1], np.zeros((curve.shape[0], 1))], axis=1
        )
        dose = float(still[:, 0].sum())
        place = (np.arange(work.joins) * place_s / heat.step_s).astype(int)
        tail = float(still.max(axis=0)[np.minimum(place, still.shape[1] - 1)].sum())
        if cap > 0:
            best = max(best, (dose - tail) / cap)
    return best


def bound_bench_time(work: Work, caps: Sequence[Caps]) -> dict[str, float]:
    """Lower bound on the bench time, part by part, in seconds; the parts add up to it.

    Parameters
    ----------
    work : Work
        Joins and pace.
    caps : sequence of Caps
        What each corner allows, without any margin.

    Returns
    -------
    dict
        "handling", "turning and changing", "moving", "cooling".
    """
    groups, turning = group_sequence(work)
    if len(groups) > 7:
        faces = {face for face, _ in groups}
        settings = {setting for _, setting in groups}
        turning = (len(faces) - 1) * work.turn_s + (len(settings) - 1) * work.change_s
    if work.joins <= _MOST_TREE_JOINS:
        moving = max(shortest_tree_s(work) - turning, 0.0)
    else:
        moving = nearest_two_s(work)
    without = work.handling_s + turning + moving
    lead = work.handle_s + float(work.after_s.min(initial=0.0))
    least = max(without - lead, 0.0)
    span = least
    for cap in caps:
        span = max(span, _last_weld_span_s(cap, work, span), _dose_span_s(cap, work))
    return {
        "handling": work.handling_s,
        "turning and changing": turning,
        "moving": moving,
        "cooling": max(0.0, span - least),
    }
