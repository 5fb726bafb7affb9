"""Can a folded weave lose its fold: a search for a way over into another state, without overlap.

From a solved state the rings are moved in small steps, each a linear programme in a trust box as in
``programme.py``, with no wire overlapping and every link as declared, but without the weave's own
checks. What a step aims at is the fold: the measure of one check is driven down, with chance mixed
in and changed every few steps, so that the walk gets round corners in which the plain descent is
stuck. A walk that ends with a check broken is a way over that real rings could take; one that does
not proves nothing, but says how far the fold was got.

All repeats do the same at once, as everywhere in this stage.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.weave.shape.invariants import list_rules, measure_depth_between
from chainplan.weave.shape.poses import find_links, order_links, smallest_gap
from chainplan.weave.solving.linearised import EXTRA, linearise, move
from chainplan.weave.solving.programme import restore, solve_towards

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import FloatArray
    from chainplan.model.piece.weave import Weave
    from chainplan.weave.shape.poses import Poses

TRUST = 0.15
"""Most that any ring moves in a step, in wire diameters: no wire is stepped across."""
OVERLAP = 2e-3
"""Overlap allowed on the way, in wire diameters: wire gives way that much at a touch."""
_CHANGED = 8
"""Steps after which another check and other chance are aimed at (judgement)."""
_CHANCE = (0.0, 0.3, 1.0, 3.0)
"""Shares of chance in the aim (judgement)."""
_DIFFERENCE = 1e-4
"""Step of the differences that slopes are taken from, in wire diameters."""


@frozen
class EscapeWalk:
    """How far one walk got."""

    least: float  # smallest measure of any check on the way; below 0 it is broken
    swing_deg: float  # most that a ring turned out of its first plane while all checks held
    steps: int
    poses: Poses  # where it ended

    @property
    def went_over(self) -> bool:
        """Whether the rings are in another state now, with the same links."""
        return self.least < 0


def measure_hold(rule: Mapping[str, object], poses: Poses) -> float:
    """How well one check holds: wire diameters of a fold, thirds of a turn's range; below 0: not.

    Handedness cannot be lost while the links stay, so it is without limit.
    """
    check = rule["check"]
    if check in ("between", "outside"):
        depth = measure_depth_between(poses, rule["ring"], rule["pair"])  # type: ignore[arg-type]
        return depth if check == "between" else -depth
    if check == "turn":
        turn_deg = math.degrees(poses.turn_rad)
        low, high = float(rule["min_deg"]), float(rule["max_deg"])  # type: ignore[arg-type]
        return min(turn_deg - low, high - turn_deg) / (high - low)
    return math.inf


def walk_loose(weave: Weave, poses: Poses, *, seed: int, steps: int) -> EscapeWalk:
    """Walk from a solved state towards the loss of its fold.

    Parameters
    ----------
    weave, poses
        The weave and one of its sound states.
    seed : int
        Same seed, same walk.
    steps : int
        Most steps.

    Returns
    -------
    Walk
        Ends as soon as a check is broken.
    """
    rules = [rule for rule in list_rules(weave) if rule["check"] != "handed"]
    links, rng = order_links(weave.links), np.random.default_rng(seed)
    first, radius, swing = poses.normal, TRUST, 0.0
    least = min(measure_hold(rule, poses) for rule in rules)
    noise, rule, share = np.zeros(5 * poses.count + EXTRA), rules[0], 0.0
    for step in range(steps):
        if step % _CHANGED == 0:
            noise = rng.normal(size=noise.shape)
            rule, share = rules[rng.integers(len(rules))], float(rng.choice(_CHANCE))
        slope = -_slopes(rule, poses)
        slope += share * noise * np.linalg.norm(slope) / math.sqrt(noise.size)
        lines = linearise(poses, max(3 * radius, 0.05))
        trial = restore(move(poses, solve_towards(poses, slope, lines, radius)), times=4)
        if smallest_gap(trial) < -OVERLAP or not np.array_equal(find_links(trial), links):
            radius = max(radius / 2, 0.01)
            continue
        poses, radius = trial, min(1.5 * radius, TRUST)
        least = min(least, *(measure_hold(each, poses) for each in rules))
        if least < 0:
            return EscapeWalk(least=least, swing_deg=swing, steps=step + 1, poses=poses)
        across = np.clip(np.abs((poses.normal * first).sum(axis=1)), 0.0, 1.0)
        swing = max(swing, float(np.degrees(np.arccos(across.min()))))
    return EscapeWalk(least=least, swing_deg=swing, steps=steps, poses=poses)


def _slopes(rule: Mapping[str, object], poses: Poses) -> FloatArray:
    """How a check's measure changes with every unknown that a step may move, by differences."""
    size = 5 * poses.count + EXTRA
    slope = np.zeros(size)
    for unknown in range(size):
        moved = np.zeros(size)
        moved[unknown] = _DIFFERENCE
        ahead, behind = (measure_hold(rule, move(poses, way)) for way in (moved, -moved))
        slope[unknown] = (ahead - behind) / (2 * _DIFFERENCE)
    return slope
