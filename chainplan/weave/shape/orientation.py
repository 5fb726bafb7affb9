"""Which way up a solved chain lies: as its weave file's seed does, front face up (z).

A chain may be rolled about its own axis without changing a gap, and a search does roll it. The
seed is written with the front face up (Half Persian: its ridge), so a solved chain is rolled back
to where its rings lie most like the seed's, and a chain without a turn is put on its axis again.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from chainplan.model.kinds import Form
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.model.piece.weave import Repeat, Weave
    from chainplan.weave.shape.poses import Poses

    Placed = TypeVar("Placed", Poses, Repeat)


def find_roll(
    centre: FloatArray, normal: FloatArray, like_centre: FloatArray, like_normal: FloatArray
) -> float:
    """Find the roll about x that brings rings nearest to others, ring by ring.

    Parameters
    ----------
    centre, normal : array, shape (k, 3)
        The rings to roll; a normal may point either way.
    like_centre, like_normal : array, shape (k, 3)
        The rings to bring them to.

    Returns
    -------
    float
        Angle about the x axis. [rad]
    """
    scale = max(float(np.abs(like_centre[:, 1:]).max()), 1e-9)

    even = (like_centre[:, 1:] * centre[:, 1:]).sum() / scale**2
    odd = (like_centre[:, 2] * centre[:, 1] - like_centre[:, 1] * centre[:, 2]).sum() / scale**2
    fixed = like_normal[:, 0] * normal[:, 0]
    same = (like_normal[:, 1:] * normal[:, 1:]).sum(axis=1)
    crossed = like_normal[:, 2] * normal[:, 1] - like_normal[:, 1] * normal[:, 2]

    def find_likeness(roll: FloatArray) -> FloatArray:
        cos, sin = np.cos(roll), np.sin(roll)
        agree = fixed + cos[:, None] * same + sin[:, None] * crossed
        likeness: FloatArray = cos * even + sin * odd + (agree**2).sum(axis=1)
        return likeness - tuning().prefer_small_roll * np.abs(roll)

    tuned = tuning()
    rolls = np.linspace(-np.pi, np.pi, tuned.roll_points, endpoint=False, dtype=np.float64)
    step = float(rolls[1] - rolls[0])
    around = np.arange(-1.0, 1.0 + tuned.roll_spacing / 2, tuned.roll_spacing)
    best = float(rolls[find_likeness(rolls).argmax()])
    for _ in range(tuned.roll_refinements):
        rolls = best + step * around
        best = float(rolls[find_likeness(rolls).argmax()])
        step *= tuned.roll_spacing
    return best


def lay_as_seed(weave: Weave, placed: Placed) -> Placed:
    """Roll a solved chain about its axis to lie as its seed does; sheets lie flat already.

    Parameters
    ----------
    weave
        The weave, with its seed.
    placed
        Poses or a repeat of it.

    Returns
    -------
    Poses or Repeat
        The same rings, rolled; gaps, lengths and links are unchanged.
    """
    if weave.form == Form.SHEET:
        return placed
    seed: Any = weave.data["seed"]
    rings = np.asarray(seed["rings"], dtype=np.float64)
    like_centre, like_normal = rings[:, :3].copy(), rings[:, 3:6]
    like_normal = like_normal / np.linalg.norm(like_normal, axis=1, keepdims=True)
    centre = placed.centre.copy()
    if not weave.turn_rad and not seed.get("free_turn", False):
        like_centre[:, 1:] -= like_centre[:, 1:].mean(axis=0)
        centre[:, 1:] -= centre[:, 1:].mean(axis=0)
    roll = find_roll(centre, placed.normal, like_centre, like_normal)
    cos, sin = np.cos(roll), np.sin(roll)
    spin = np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
    return replace(placed, centre=centre @ spin.T, normal=placed.normal @ spin.T)
