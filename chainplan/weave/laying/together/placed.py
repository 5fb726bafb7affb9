"""A woven section in the piece's frame, and the rings of its ends that others go through."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.laying.together.connection import End, hang_ring
from chainplan.weave.shape.poses import turn_about_x
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray
    from chainplan.weave.laying.section import LaidSection
    from chainplan.weave.laying.together.connection import Hang


class PlacedSection:
    """The rings of a section in the piece's frame, in mm; its own lowest edge starts at x = 0."""

    def __init__(self, laid: LaidSection) -> None:
        wire_mm = laid.section.wire_mm
        origin = np.array([laid.extent.start, *laid.extent.middle])
        self.laid = laid
        self.centre: FloatArray = (laid.tiling.centre - origin) * wire_mm
        self.normal: FloatArray = laid.tiling.normal

    def move(self, roll_rad: float, shift_mm: FloatArray) -> None:
        """Roll about x and then shift."""
        turn = turn_about_x(roll_rad)[0]
        self.centre = self.centre @ turn.T + shift_mm
        self.normal = self.normal @ turn.T

    def reach_mm(self, rings: IntArray | slice = slice(None)) -> FloatArray:
        """How far rings reach along x from their centres, to the outer edge of the wire. [mm]."""
        place, wire_mm = self.laid.tiling.place[rings], self.laid.section.wire_mm
        half = self.laid.repeat.mean_radius[place] * np.sqrt(
            np.maximum(1 - self.normal[rings, 0] ** 2, 0)
        )
        reach: FloatArray = (half + self.laid.repeat.wire[place] / 2) * wire_mm
        return reach

    def edges_mm(self) -> tuple[float, float]:
        """Lowest and highest x of the outer edges."""
        half = self.reach_mm()
        x = self.centre[:, 0]
        return float((x - half).min()), float((x + half).max())

    def end(self, rings: IntArray) -> End:
        """Rings near the given ones, as an end in which those are to be linked."""
        repeat, tiling = self.laid.repeat, self.laid.tiling
        wire_mm = self.laid.section.wire_mm
        radius = repeat.mean_radius[tiling.place] * wire_mm
        middle = self.centre[rings].mean(axis=0)
        away = np.linalg.norm(self.centre - middle, axis=1)
        near = np.nonzero(away < 2 * tuning().end_reach * radius[rings].max())[0]
        linked = np.isin(near, rings)
        wire = repeat.wire[tiling.place[near]] * wire_mm
        return End(self.centre[near], self.normal[near], radius[near], wire, linked)


def find_end_rings(laid: LaidSection, *, last: bool) -> IntArray:
    """Rings at one end of a section that miss the most links; of a sheet, the one that stands out.

    In a sheet that is the outermost ring of the three rows about the middle one.

    Returns
    -------
    array of int
        Ring numbers within the section.
    """
    tiling = laid.tiling
    if laid.rows > 1:
        away = np.abs(tiling.row - laid.rows // 2)
        x = tiling.centre[:, 0] * (-1.0 if last else 1.0)
        worth = np.where(away <= 1, np.round(x, 3), np.inf)
        return np.lexsort((tiling.row, away, worth))[:1].astype(np.int32)
    degree = np.bincount(tiling.links.ravel(), minlength=tiling.rings)
    full = np.bincount(laid.repeat.links[:, :2].ravel(), minlength=laid.repeat.rings)
    end = laid.repeats - 1 if last else 0
    reach = max(int(np.abs(laid.repeat.links[:, 2]).max(initial=1)), 1)
    near = np.abs(tiling.along - end) < reach
    missing = np.where(near, full[tiling.place] - degree, -1)
    return np.nonzero(missing == missing.max())[0].astype(np.int32)


def choose_end(
    placed: PlacedSection, *, last: bool, radius: float, wire: float
) -> tuple[Hang, IntArray]:
    """Choose the rings of an end that a connecting ring goes through, and where it hangs there.

    All rings that miss most links, where a ring of this size hangs in all of them without overlap;
    otherwise the one of them in which it hangs farthest out.
    """
    rings = find_end_rings(placed.laid, last=last)
    choices = [rings, *(rings[k : k + 1] for k in range(len(rings)) if len(rings) > 1)]
    found: list[tuple[Hang, IntArray]] = []
    for choice in choices:
        end = placed.end(choice)
        hang = hang_ring(end if last else end.mirrored(), radius, wire)
        found.append((hang, choice))
        if hang.is_clean:
            break
    return max(found, key=lambda pair: float(pair[0].worth.max()))
