"""A proved lower bound on the bench time of any order that keeps the limits.

Handling
    Every join is aimed at and welded once: ``Σ (handle + extra hits)``, whatever the order.
Moving, turning, changing
    The steps from join to join form a path through all joins, and a path is a spanning tree. With
    the length of an edge = seconds of moving + turning + changing, no path is shorter than the
    shortest spanning tree. Of that, the fewest turns and changes that visit every group of face
    and setting are named by themselves; the rest is moving. (Above a few thousand joins: half the
    sum of the distances from every join to its two nearest ones, less what the ends do not use.)
Moving the clip
    A clip of the return lead is moved between any two of its places, and needs at least so many
    places as stretches of twice its reach cover the joins along either axis, or as prices of joins
    prove (``piece.clip``), wherever it sits. Its moves come on top: the tree above is reckoned
    without them.
Cooling, last weld
    Let ring i be the last. All kernels are ≥ 0, so before its weld it is at least as warm as the
    other welds make it, and of the m − 1 others the one l places before it lies between l·h and
    M − (m−1−l)·h seconds back (h the shortest handling, M the time from first pulse to last). For
    every way of dealing the others out to the places the rise is at least the least sum of an
    assignment problem with the cost min over that span of K(i, j). If that exceeds the cap for
    every i, no order takes only M. The smallest M for which it does not is found by bisection.
    (Above some fifty joins each weld simply gets its own best lag, which is lower still.)
Cooling, parts
    A part must stay below its cap at every moment, so also some time τ after the last pulse. The
    weld l places before the last one is then between l·h + τ and M − (m−1−l)·h + τ seconds back.
    The same assignment problem, with the part's kernels, must leave a sum below the part's cap.

Cooling, every place
    See ``places``: how soon each place of an order can come, the fingers' limit counted. Of few
    joins the last two are then looked at together, see ``last_two``.

The bound is the larger of the first two together and of the cooling bounds. It does not know that
cooling and travel do not always coincide: it may be too low, never too high. Kernels are cut short
(values left out are ≥ 0, which only lowers the bound) and sampled from below (``Field.even_k``);
sums are proved by prices (``dealing``), and rounding is added to every cap.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.piece.grid import group_sequence
from chainplan.order.proof.dealing import ROUNDING_K, least_sum
from chainplan.order.proof.last_two import bound_last_two_s
from chainplan.order.proof.places import PlacesProof, bound_places_s
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.order.clock.field import Caps
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import ProofTuning


_MOST_PERMUTED = 7
"""Groups of face and setting up to which ``group_sequence`` finds the fewest turns exactly."""


def shortest_tree_s(work: HandWork) -> float:
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


def nearest_two_s(work: HandWork) -> float:
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


def _deal_out(
    samples: FloatArray,
    ranks: FloatArray,
    span_s: float,
    place_s: float,
    later_s: float,
    step_s: float,
) -> FloatArray:
    """Least rise that each weld can bring at each place of an order, shape (welds, places). [K].

    A weld ``ranks[k]`` places before the last pulse, seen ``later_s`` after that pulse.
    """
    top = float(ranks.max(initial=0.0))
    low = np.floor((ranks * place_s + later_s) / step_s)
    high = np.ceil((span_s - (top - ranks) * place_s + later_s) / step_s)
    return _least_over_span(samples, low, np.maximum(high, low))


def _fits(cost: FloatArray, cap_k: float, most: int) -> bool:
    """Whether some way of dealing the welds out to the places stays below a cap."""
    cap_k += ROUNDING_K
    if float(cost.min(axis=1).sum()) > cap_k:
        return False
    if cost.shape[0] > most or float(cost.max(axis=1).sum()) <= cap_k:
        return True
    return least_sum(cost) <= cap_k


def _samples(caps: Caps, node: int, joins: npt.NDArray[np.int64]) -> FloatArray:
    return caps.field.even_k(node, joins)


def _last_weld_possible(
    caps: Caps, work: HandWork, span_s: float, place_s: float, most: int
) -> bool:
    """Whether any join could be the last one within a time from first pulse to last."""
    ranks = np.arange(1, work.joins, dtype=float)
    if work.joins > most:
        ranks = np.asarray([1.0, float(work.joins - 1)])  # the widest span for every weld
    for last in range(work.joins):
        others = np.delete(np.arange(work.joins), last)
        samples = _samples(caps, int(work.ring[last]), others)
        if ranks.shape[0] < others.shape[0]:
            low = np.asarray([place_s // caps.field.step_s])
            high = np.asarray([np.ceil(span_s / caps.field.step_s)])
            cost = _least_over_span(samples, low, high)
        else:
            cost = _deal_out(samples, ranks, span_s, place_s, 0.0, caps.field.step_s)
        if _fits(cost, float(caps.join_k[last]), most):
            return True
    return False


def _parts_possible(caps: Caps, work: HandWork, span_s: float, place_s: float, most: int) -> bool:
    """Whether every part could stay below its cap within a time from first pulse to last."""
    every = np.arange(work.joins)
    step_s = caps.field.step_s
    for node, cap_k in zip(caps.part_node.tolist(), caps.part_k.tolist(), strict=True):
        samples = _samples(caps, node, every)
        nearest = int(np.argmax(samples.max(axis=1)))
        peak_s = float(np.argmax(samples[nearest])) * step_s
        for later_s in (peak_s / 2, peak_s, 2 * peak_s):
            if work.joins > most:
                low = np.asarray([later_s // step_s])
                high = np.asarray([np.ceil((span_s + later_s) / step_s)])
                cost = _least_over_span(samples, low, high)
            else:
                ranks = every.astype(float)
                cost = _deal_out(samples, ranks, span_s, place_s, later_s, step_s)
            if not _fits(cost, cap_k, most):
                return False
    return True


def _cooling_span_s(caps: Caps, work: HandWork, least_s: float, most: int) -> float:
    """Smallest time from first pulse to last that the cooling arguments allow, by bisection."""
    place_s = work.handle_s + float(work.after_s.min(initial=0.0))
    heat = caps.field

    def possible(span_s: float) -> bool:
        return _parts_possible(caps, work, span_s, place_s, most) and _last_weld_possible(
            caps, work, span_s, place_s, most
        )

    if work.joins < 2 or possible(least_s):
        return least_s
    low, high = least_s, least_s + heat.window_s + heat.step_s
    if not possible(high):
        return least_s  # a single weld is too much: no order at all, and no bound to give
    while high - low > heat.step_s / 2:
        middle = (low + high) / 2
        low, high = (low, middle) if possible(middle) else (middle, high)
    return low


def bound_bench_time(
    work: HandWork,
    caps: Sequence[Caps],
    tuning: ProofTuning = USUAL.proof,
    *,
    hold: Hold | None = None,
    finger_c: float = np.inf,
) -> dict[str, float]:
    """Lower bound on the bench time, part by part, in seconds; the parts add up to it.

    Parameters
    ----------
    work : HandWork
        Joins and pace.
    caps : sequence of Caps
        What each corner allows, without any margin; empty: cooling is not counted.
    tuning : ProofTuning, optional
        How tight it is.
    hold, finger_c
        Where the fingers hold the piece, and how warm it may be there; without them their limit is
        not counted.

    Returns
    -------
    dict
        "handling", "turning and changing", "moving", with a clip "moving the clip", "cooling".
    """
    groups, turning = group_sequence(work)
    if len(groups) > _MOST_PERMUTED:
        faces = {face for face, _ in groups}
        settings = {setting for _, setting in groups}
        turning = (len(faces) - 1) * work.turn_s + (len(settings) - 1) * work.change_s
    if work.joins <= tuning.most_tree_joins:
        moving = max(shortest_tree_s(replace(work, clip_s=0.0)) - turning, 0.0)
    else:
        moving = nearest_two_s(work)
    clip = work.clip_s * (work.least_places - 1)
    without = work.handling_s + turning + moving + clip
    lead = work.handle_s + float(work.after_s.min(initial=0.0))
    least = max(without - lead, 0.0)
    span = least
    for cap in caps:
        span = _cooling_span_s(cap, work, span, tuning.most_assignment_joins)
    if caps and 2 <= work.joins <= tuning.most_assignment_joins:
        proof = PlacesProof(work=work, caps=caps, hold=hold, limit_c=finger_c)
        soonest_s = bound_places_s(proof, work.handle_s + span)
        if soonest_s is not None:
            last_s = float(soonest_s[-1])
            if 3 <= work.joins <= tuning.most_paired_joins:
                last_s = bound_last_two_s(proof, soonest_s)
            span = max(span, last_s - work.handle_s)
    return {
        "handling": work.handling_s,
        "turning and changing": turning,
        "moving": moving,
        **({"moving the clip": clip} if work.clip_ring.size else {}),
        "cooling": max(0.0, span - least),
    }
