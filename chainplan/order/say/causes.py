"""Which limit asks for each wait: the one that would be broken, or all but, a second sooner."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import LimitKind
from chainplan.model.said import said, said_effect, said_part
from chainplan.order.piece.hold import spread
from chainplan.order.piece.ring_limits import list_ring_limits

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.order import LimitCheck
    from chainplan.model.said import Phrase
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated


SOONER_S = 1.0
"""Waits are whole seconds: so much sooner some limit was still in the way."""

_ASKS = {
    LimitKind.INTERPASS: "your own limit",
    LimitKind.SAMENESS: "even welds",
    LimitKind.FINGERS: "the fingers",
}


def say_cause(check: LimitCheck) -> str:
    """Say for what a wait is: "the fingers", "even welds", "spring clasp", "darkening, copper"."""
    return _ASKS.get(check.kind, check.name)


_TEXTS = {
    LimitKind.INTERPASS: "line.cause.own",
    LimitKind.SAMENESS: "line.cause.even",
    LimitKind.FINGERS: "line.cause.fingers",
}


def said_cause(words: str, checks: Sequence[LimitCheck]) -> Phrase | str:
    """Find the text of what a wait is for by its words; a part is called by its own name."""
    check = next(check for check in checks if say_cause(check) == words)
    if check.kind in _TEXTS:
        return said(_TEXTS[check.kind])
    if check.kind is LimitKind.METAL:
        return said_effect(check.name)
    return said_part(check.name)


def find_causes(
    situation: Situation, seen: Simulated, wait_s: FloatArray, checks: Sequence[LimitCheck]
) -> IntArray:
    """Find the limit that asks for each wait.

    Parameters
    ----------
    situation, seen
        The piece and its simulated order.
    wait_s : array, shape (k,)
        Wait before each step. [s]
    checks : sequence of LimitCheck
        The limits, as ``check_limits`` lists them.

    Returns
    -------
    array, shape (k,)
        Place in ``checks`` of the limit that asks for the wait; −1 where nobody waits. Of very many
        waits some are looked at, and those between them share their reason.
    """
    causes = np.full(wait_s.shape[0], -1, dtype=np.int32)
    waits = np.flatnonzero(wait_s > 0).astype(np.int32)
    if waits.size == 0 or not checks:
        return causes
    looked = spread(waits, situation.tuning.say.most_asked_why)
    over = np.full((len(checks), looked.shape[0]), -np.inf)
    rings = {item.name: item.limit_c for item in list_ring_limits(situation.heat, situation.limits)}
    sooner = np.minimum(wait_s[looked], SOONER_S)
    parts = iter(situation.heat.parts)
    for row, check in enumerate(checks):
        part = next(parts) if check.kind is LimitKind.PART else None
        if not situation.keeps(check.kind, check.name):
            continue
        if part is not None:
            over[row] = _warmest_after_c(situation, seen, part.node, looked) - part.limit_c
        elif check.kind is LimitKind.FINGERS:
            over[row] = _at_fingers_c(situation, seen, looked) - check.limit_c
        else:
            node, at_s = seen.ring[looked], seen.start_s[looked] - sooner
            limit_c = rings[check.name][node]
            over[row] = _worst_c(situation, seen, node, at_s) - limit_c
    causes[waits] = np.argmax(over, axis=0)[
        np.clip(np.searchsorted(looked, waits, side="right") - 1, 0, None)
    ]
    return causes


def seconds_by_cause(
    causes: IntArray, wait_s: FloatArray, checks: Sequence[LimitCheck]
) -> Mapping[str, float]:
    """Add up waits by what asks for them, the longest first. [s]."""
    sums: dict[str, float] = {}
    for number in np.unique(causes[causes >= 0]).tolist():
        words = say_cause(checks[number])
        sums[words] = sums.get(words, 0.0) + float(wait_s[causes == number].sum())
    return dict(sorted(sums.items(), key=lambda item: (-item[1], item[0])))


def _worst_c(situation: Situation, seen: Simulated, node: IntArray, at_s: FloatArray) -> FloatArray:
    """Temperature of nodes at some moments of a run, in the worst bad corner. [°C]."""
    heat = situation.heat
    warm: FloatArray = np.max(
        [
            heat.temperatures_c(corner, seen.ring, seen.start_s, node, at_s)
            for corner in heat.bad_corners
        ],
        axis=0,
    )
    return warm


def _warmest_after_c(
    situation: Situation, seen: Simulated, node: int, steps: IntArray
) -> FloatArray:
    """Warmest that a part gets in the time after each of some welds. [°C]."""
    lags = np.asarray(situation.tuning.clock.later_s)
    at_s = (seen.start_s[steps, None] + lags).ravel()
    nodes = np.full(at_s.shape[0], node, dtype=np.int32)
    warm = _worst_c(situation, seen, nodes, at_s).reshape(steps.shape[0], -1)
    highest: FloatArray = warm.max(axis=1)
    return highest


def _at_fingers_c(situation: Situation, seen: Simulated, steps: IntArray) -> FloatArray:
    """How warm the fingers would have it a second sooner; −inf where they are not seen. [°C]."""
    grips = seen.grips
    found = np.full(steps.shape[0], -np.inf)
    if grips is None:
        return found

    def sooner(node: IntArray, at_s: FloatArray) -> FloatArray:
        at_s = np.maximum(at_s - SOONER_S, 0.0)
        heat = situation.heat
        warm: FloatArray = np.max(
            [heat.touched_c(c, seen.ring, seen.start_s, node, at_s) for c in heat.bad_corners],
            axis=0,
        )
        return warm

    place = np.searchsorted(grips.steps, steps)
    place[place == grips.steps.shape[0]] = 0
    here = grips.steps[place] == steps
    found[here] = grips.at_fingers_c(sooner, situation.limits.kept_finger_c)[place[here]]
    return found
