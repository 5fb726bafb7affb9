"""Does this ring suit this weave: smallest ratio, looseness, a verdict in words, better sizes.

Two numbers are computed: how far the aspect ratio lies above the smallest one at which the rings
go together at all (the *margin*), and how much of its taut length a repeat gives up when it is
gathered (the *looseness*). The words for them are common practice, no source; their bounds were
set so that makers' published remarks on single ring sizes come out as they say, and are data here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import NotConverged
from chainplan.model.piece.weave import Tolerance, WeaveLimits
from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solve_cached, too_small

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.piece.weave import Weave

HELD_VERDICTS = (
    (0.03, "very tight"),
    (0.12, "tight"),
    (0.45, "supple"),
    (0.80, "loose"),
    (np.inf, "will not hold its pattern"),
)
"""For folded and wound weaves, whose file asks for a check of the fold: upper bound of the margin
above the smallest aspect ratio, and the word up to there."""
WOUND_VERDICTS = (
    (0.03, "very tight"),
    (0.12, "tight"),
    (0.22, "supple"),
    (0.35, "loose"),
    (np.inf, "will not hold its pattern"),
)
"""For spirals held by their turn, whose file asks for a range of turns: they unwind sooner."""
PLAIN_VERDICTS = ((0.03, "very tight"), (0.15, "tight"), (1.5, "supple"), (np.inf, "loose"))
"""For weaves that their links alone hold."""
SUITABLE_MARGIN = (0.08, 0.35)
"""Margins of the ring sizes that are suggested: clear of the lock, and no looser than spirals keep
their turn (common practice, no source)."""
INNER_STEP_MM = 0.25
"""Step of a usual series of mandrels (common practice, no source). [mm]"""
_SUGGESTED = 4  # sizes named: as many as are read in a message
TOLERANCE_OF_INNER = (-0.01, 0.01)
"""Real rings of one batch differ by about this much in inner diameter (convention)."""


def judge_ring(
    weave: Weave,
    wire_mm: float,
    inner_mm: float,
    *,
    ring_sizes: Sequence[tuple[float, float]] | None = None,
    stock_inner_mm: Sequence[float] = (),
) -> WeaveLimits:
    """Judge how a ring suits a weave.

    Parameters
    ----------
    weave : Weave
        The weave.
    wire_mm, inner_mm : float
        The ring of class 0. [mm]
    ring_sizes : sequence of (float, float), optional
        Wire and inner diameter of each class over those of class 0, instead of the file's.
    stock_inner_mm : sequence of float
        Inner diameters at hand in this wire, suggested before others. [mm]

    Returns
    -------
    WeaveLimits
        With the computed margins behind the verdict among its reasons.
    """
    ratio = inner_mm / wire_mm
    smallest = find_smallest_aspect_ratio(weave, ring_sizes=ring_sizes)
    margin = ratio / smallest - 1
    word = find_verdict(weave, margin)
    suitable = suggest_inner_mm(wire_mm, inner_mm, smallest, stock_inner_mm)
    if margin < -1e-6:
        return WeaveLimits(
            aspect_ratio=ratio,
            smallest_aspect_ratio=smallest,
            looseness=0.0,
            verdict="cannot be woven",
            reasons=(str(too_small(weave, ratio, smallest)),),
            suitable_inner_mm=suitable,
        )
    reasons = [
        f"aspect ratio {ratio:.3g} is {100 * margin:.0f} % above the smallest computed one, "
        f"{smallest:.3g}"
    ]
    looseness = 0.0
    try:
        looseness = measure_looseness(weave, ratio, ring_sizes)
        reasons.append(f"gathered, it gives up at least {100 * looseness:.0f} % of its taut length")
    except NotConverged:
        reasons.append("how far it can be gathered was not found")
    reasons.append("the words for these margins are common practice, no source")
    return WeaveLimits(
        aspect_ratio=ratio,
        smallest_aspect_ratio=smallest,
        looseness=looseness,
        verdict=word,
        reasons=tuple(reasons),
        suitable_inner_mm=suitable,
    )


def find_verdict(weave: Weave, margin: float) -> str:
    """Return the word for a margin above the smallest aspect ratio."""
    return next(word for bound, word in verdicts_of(weave) if margin < bound)


def verdicts_of(weave: Weave) -> tuple[tuple[float, str], ...]:
    """Return the words for a weave's margins, each with the margin up to which it holds."""
    rules = weave.data.get("invariants")
    checks = {rule["check"] for rule in rules} if isinstance(rules, (list, tuple)) else set()
    verdicts = HELD_VERDICTS if checks else PLAIN_VERDICTS
    if "turn" in checks:
        verdicts = WOUND_VERDICTS
    return verdicts


def measure_looseness(
    weave: Weave, aspect_ratio: float, ring_sizes: Sequence[tuple[float, float]] | None = None
) -> float:
    """Share of the taut length that the best gathered state found gives up (no unit, 0 to 1).

    The gathered state is the best one found, so the true looseness is at least this.
    """
    taut = solve_cached(weave, aspect_ratio, "taut", ring_sizes=ring_sizes)
    gathered = solve_cached(weave, aspect_ratio, "gathered", ring_sizes=ring_sizes)
    return max(0.0, 1.0 - float(gathered.vectors[0, 0] / taut.vectors[0, 0]))


def suggest_inner_mm(
    wire_mm: float,
    inner_mm: float,
    smallest: float,
    stock_inner_mm: Sequence[float] = (),
) -> tuple[float, ...]:
    """List the inner diameters nearest to the wanted one that suit: from stock, else a series.

    Examples
    --------
    >>> suggest_inner_mm(1.0, 3.0, 3.27)
    (3.75, 4.0, 4.25)
    >>> suggest_inner_mm(1.0, 3.0, 3.27, stock_inner_mm=(3.0, 4.1))
    (4.1,)
    """
    low, high = (wire_mm * smallest * (1 + margin) for margin in SUITABLE_MARGIN)
    at_hand = {size for size in stock_inner_mm if low <= size <= high}
    if not at_hand:
        first = np.ceil(low / INNER_STEP_MM)
        last = np.floor(high / INNER_STEP_MM)
        at_hand = {float(step * INNER_STEP_MM) for step in np.arange(first, last + 1)}
    if not at_hand:
        at_hand = {round((low + high) / 2, 2)}
    near = sorted(at_hand, key=lambda size: (abs(size - inner_mm), size))[:_SUGGESTED]
    return tuple(sorted(near))


def find_tolerances(
    weave: Weave,
    aspect_ratio: float,
    *,
    ring_sizes: Sequence[tuple[float, float]] | None,
    state: str = "taut",
    describe: Callable[[float, float], Tolerance | None],
) -> tuple[Tolerance, ...]:
    """Solve the weave with rings a little smaller and larger and describe each.

    Parameters
    ----------
    weave : Weave
        The weave.
    aspect_ratio : float
        Of the nominal ring.
    ring_sizes : sequence of (float, float), optional
        As in :func:`judge_ring`.
    describe : callable
        From the change of inner diameter and the pitch in wire diameters to a ``Tolerance``.
    """
    found = []
    smallest = find_smallest_aspect_ratio(weave, ring_sizes=ring_sizes)
    for change in TOLERANCE_OF_INNER:
        ratio = aspect_ratio * (1 + change)
        if ratio < smallest:
            continue
        repeat = solve_cached(weave, ratio, state, ring_sizes=ring_sizes)
        found.append(describe(change, float(repeat.vectors[0, 0])))
    return tuple(tolerance for tolerance in found if tolerance is not None)
