"""From which side every cell is welded, second pulses on heavy wire included."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.faces import choose_face_set, choose_faces, count_turns

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, IndexArray
    from chainplan.join.cells import Cells

    SideArray = npt.NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class ChosenSides:
    """Side of every cell for its first pulses and, on heavy wire, for those from opposite."""

    first: SideArray  # (k,) −1 where nothing reaches
    second: SideArray  # (k,) −1 where there is none or none is wanted
    turns: int  # how often the piece is turned


def choose_sides(
    cells: Cells, cell: IndexArray, pre_closed: BoolArray, wanted: BoolArray
) -> ChosenSides:
    """Choose sides so that the piece is turned as seldom as possible.

    Parameters
    ----------
    cells : Cells
        What was found.
    cell : array of int, shape (n,)
        Cell of each ring, −1 for loose joins.
    pre_closed, wanted : array of bool, shape (n,)
        Rings closed beforehand; rings whose wire wants pulses from two sides.
    """
    count = cells.rings.size
    open_rings = (cell >= 0) & ~pre_closed
    weight = np.bincount(cell[open_rings], minlength=count)
    used = choose_face_set(cells.score, weight)
    first = choose_faces(cells.score, used)
    heavy = np.bincount(cell[open_rings & wanted], minlength=count)
    other = cells.other_score[np.arange(count), np.maximum(first, 0)]
    other[first < 0] = -np.inf
    second = choose_faces(other, choose_face_set(other, heavy, used=used))
    return ChosenSides(
        first, second, count_turns(np.concatenate([first[weight > 0], second[heavy > 0]]))
    )
