"""From where the electrode may come: a fixed set of directions, and the face each one stands for.

Directions stand on circles about the x axis, the chain's axis, so that a weave that turns about it
by a quarter or a third from repeat to repeat finds the same directions again. A face is *front* or
*back* where the electrode leans at most :data:`LARGEST_LEAN_DEG` from upright while the piece lies
on a block and the electrode clears the block's top; every other direction is *edge*, for a piece
held in the air.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.tuning import tuning

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.join.reaching.electrode import Electrode


LARGEST_LEAN_DEG = 75.0
"""How far from upright an electrode may lean over a block; common practice, no source."""
FRONT, BACK, UPPER, LOWER = range(4)
"""Sides: the two faces, and the two edges a piece may be held by (y > 0 and y < 0)."""
FACE_OF_SIDE = np.array([0, 1, 2, 2, -1], dtype=np.int8)
"""Code in ``model.piece.joins.FACES`` of each side; the last entry stands for none, −1."""


def list_directions() -> FloatArray:
    """List unit vectors from the join towards the holder, 15° to 30° apart, shape (98, 3)."""
    rows = []
    for tilt_deg, count in tuning().directions:
        turn = np.arange(count) * (2 * np.pi / count) + np.pi / 2
        for sign in (1.0, -1.0)[: 1 if tilt_deg == 0.0 else 2]:
            x = sign * math.sin(math.radians(tilt_deg))
            level = math.cos(math.radians(tilt_deg))
            rows.append(
                np.column_stack([np.full(count, x), level * np.cos(turn), level * np.sin(turn)])
            )
    rows.append(np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]]))
    directions: FloatArray = np.concatenate(rows)
    directions[np.abs(directions) < 1e-12] = 0.0
    return directions


def dip_mm(electrode: Electrode, upright: FloatArray) -> FloatArray:
    """How far below its tip a leaning electrode reaches: 0 or negative, in mm.

    Parameters
    ----------
    electrode : Electrode
        Its shape.
    upright : array
        Cosine of the lean from upright.
    """
    rise = np.clip(np.asarray(upright, dtype=float), -1.0, 1.0)
    lean = np.sqrt(1.0 - rise * rise)
    shank = electrode.cone_mm * rise - electrode.shank_radius_mm * lean
    holder = electrode.stick_out_mm * rise - electrode.holder_radius_mm * lean
    lowest: FloatArray = np.minimum(0.0, np.minimum(shank, holder))
    return lowest


def classify_sides(
    electrode: Electrode,
    upright: FloatArray,
    sideways: FloatArray,
    height_mm: FloatArray,
    *,
    lowest_mm: float,
    highest_mm: float,
    held_in_air: bool,
) -> npt.NDArray[np.int8]:
    """Say from which side each approach comes; −1 where it is not possible.

    Parameters
    ----------
    electrode : Electrode
        Its shape.
    upright, sideways : array
        z and y component of the approach.
    height_mm : array
        z of the tip. [mm]
    lowest_mm, highest_mm : float
        z of the block's top when the piece shows its front, or its back. [mm]
    held_in_air : bool
        Whether the piece may be held in the air.
    """
    least = math.cos(math.radians(LARGEST_LEAN_DEG)) - 1e-9
    dip = dip_mm(electrode, np.abs(upright))
    front = (upright >= least) & (height_mm + dip >= lowest_mm)
    back = (upright <= -least) & (height_mm - dip <= highest_mm)
    edge = np.where(sideways < -1e-9, LOWER, UPPER) if held_in_air else np.int64(-1)
    sides: npt.NDArray[np.int8] = np.where(front, FRONT, np.where(back, BACK, edge)).astype(np.int8)
    return sides
