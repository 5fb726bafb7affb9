"""Does this ring suit this weave: smallest ratio, looseness, a verdict in words, better sizes.

Two numbers are computed: how far the aspect ratio lies above the smallest one at which the rings
go together at all (the *margin*), and how much of its taut length a repeat gives up when it is
gathered (the *looseness*). The words for them are judgement. At the tight end their bounds were set
so that makers' published remarks on single ring sizes come out as they say; at the loose end they
rest on a search (``escape.py``) for a way over into another state, without overlap, from the taut
and the gathered state.
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

TIGHT_VERDICTS = ((0.03, "very tight"), (0.12, "tight"))
"""For folded and wound weaves: upper bound of the margin above the smallest aspect ratio, and the
word up to there. Set so that published remarks on single ring sizes come out as they say."""
WAYS_OVER = {
    "box-chain": (0.05, 0.12, 0.12),
    "byzantine": (0.20, 0.30, 0.45),
    "half-persian-3-in-1": (0.45, 0.65, 0.65),
    "jens-pind-3": (0.30, 0.45, 0.45),
    "roundmaille": (0.0, 0.05, 0.05),
}
"""Of folded weaves: the margin up to which no way over into another state with the same links was
found, the one at which one was, and the one at which it was from the taut and the gathered state
alike, by ``python tests/bench/search_looseness.py`` (two walks of a hundred steps from each state).
Where none was found there may still be one."""
WINDS_FREELY = {"jens-pind-3": ((0.17, 0.21), (0.24, 0.30))}
"""Of spirals held by their turn: between which margins the taut chain begins to bear a turn of 5
and of 10 degrees more a ring without losing length, so that no pull turns it back, by a test of
``test_makers_on_aspect_ratios.py``. That comes long before a way over is found."""
FOLDED = "byzantine"
"""The fold whose loose end stands for those that the search says nothing of, the user's own among
them, and for box chain and roundmaille, whose ways over lie below the sizes that makers use: it is
the one with published remarks at both ends (it holds at 3.9, a margin of 0.20)."""
PLAIN_VERDICTS = ((0.03, "very tight"), (0.15, "tight"), (1.5, "supple"), (np.inf, "loose"))
"""For weaves that their links alone hold. Full Persian is one of them as far as was found: other
states with its links are known, but walks by chance at up to 135 % above its smallest ratio, from
the taut and the gathered state, all came back to its own lock when the rings were shrunk again
(``search_looseness.py full-persian-6-in-1``)."""
SUITABLE_MARGIN = (0.08, 0.35)
"""Margins of the ring sizes that are suggested: clear of the lock, and no looser than spirals keep
their turn; of weaves whose supple rings end sooner, no looser than that (judgement)."""
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
    supple = next(bound for bound, word in verdicts_of(weave) if word == "supple")
    most = min(SUITABLE_MARGIN[1], supple)
    suitable = suggest_inner_mm(wire_mm, inner_mm, smallest, stock_inner_mm, most=most)
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
    if weave.key in WAYS_OVER:
        reasons.append(say_way_over(*WAYS_OVER[weave.key][:2]))
    reasons.append("the words for these margins are judgement")
    return WeaveLimits(
        aspect_ratio=ratio,
        smallest_aspect_ratio=smallest,
        looseness=looseness,
        verdict=word,
        reasons=tuple(reasons),
        suitable_inner_mm=suitable,
    )


def say_way_over(held: float, over: float) -> str:
    """Say at which margins a search found a way out of the fold.

    Examples
    --------
    >>> say_way_over(0.2, 0.3)  # doctest: +ELLIPSIS
    'the rings could leave the pattern without bending from 30 % above it on (a search found no ...'
    """
    none = f"a search found no way at {100 * held:.0f} %" if held > 0 else "found by a search"
    return (
        f"the rings could leave the pattern without bending from {100 * over:.0f} % above it on "
        f"({none})"
    )


def find_verdict(weave: Weave, margin: float) -> str:
    """Return the word for a margin above the smallest aspect ratio."""
    return next(word for bound, word in verdicts_of(weave) if margin < bound)


def verdicts_of(weave: Weave) -> tuple[tuple[float, str], ...]:
    """Return the words for a weave's margins, each with the margin up to which it holds.

    A fold is supple up to halfway between the margins at which no way out of it was found and one
    was, and will not hold from where ways out were found from either state; a spiral is supple
    until it winds on by 5 degrees a ring at no cost and loose until it does by 10. Weaves whose
    check cannot be lost while the links stay are held by their links alone. Words are judgement.
    """
    rules = weave.data.get("invariants")
    checks = {rule["check"] for rule in rules} if isinstance(rules, (list, tuple)) else set()
    if not checks - {"handed"}:
        return PLAIN_VERDICTS
    if "turn" in checks:
        five, ten = WINDS_FREELY.get(weave.key, WINDS_FREELY["jens-pind-3"])
        supple, loose = sum(five) / 2, sum(ten) / 2
    else:
        held, over, both = WAYS_OVER.get(weave.key, WAYS_OVER[FOLDED])
        if over <= TIGHT_VERDICTS[-1][0]:
            held, over, both = WAYS_OVER[FOLDED]
        supple, loose = (held + over) / 2, both
    return (
        *TIGHT_VERDICTS,
        (round(supple, 3), "supple"),
        (loose, "loose"),
        (np.inf, "will not hold its pattern"),
    )


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
    *,
    most: float = SUITABLE_MARGIN[1],
) -> tuple[float, ...]:
    """List the inner diameters nearest to the wanted one that suit: from stock, else a series.

    Examples
    --------
    >>> suggest_inner_mm(1.0, 3.0, 3.27)
    (3.75, 4.0, 4.25)
    >>> suggest_inner_mm(1.0, 3.0, 3.27, stock_inner_mm=(3.0, 4.1))
    (4.1,)
    """
    low, high = (wire_mm * smallest * (1 + margin) for margin in (SUITABLE_MARGIN[0], most))
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
