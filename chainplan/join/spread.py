"""From cells to rings: every ring gets its cell's join, turned as the ring is turned."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.join.reaching.directions import FACE_OF_SIDE
from chainplan.join.reaching.surroundings import turn_about_x
from chainplan.model.piece.layout import ring_basis

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.join.cells import Cells, Workplace
    from chainplan.join.sides import ChosenSides
    from chainplan.model.piece.layout import Layout

    FaceArray = npt.NDArray[np.int8]


@frozen
class RingJoins:
    """The join of every ring; fields as in ``model.piece.joins.Joins``, but for the spot."""

    angle_rad: FloatArray
    point_mm: FloatArray
    approach: FloatArray
    face: FaceArray
    faces_reachable: npt.NDArray[np.uint8]
    clearance_mm: FloatArray
    spot_gap_mm: FloatArray  # from the spot's middle to the next wire
    air_mm: FloatArray  # from the wire's surface at the join to the next wire
    free_arc_rad: FloatArray
    both_sides: BoolArray
    second_approach: FloatArray
    second_face: FaceArray


def spread_cells(
    layout: Layout,
    cells: Cells,
    cell: IndexArray,
    phase_rad: FloatArray,
    sides: ChosenSides,
    workplace: Workplace,
) -> RingJoins:
    """Give every ring its cell's join on the face chosen for the cell.

    Parameters
    ----------
    layout : Layout
        The piece.
    cells : Cells
        What was found.
    cell : array of int, shape (n,)
        Cell of each ring; −1 for loose joins, which are reached all round.
    phase_rad : array, shape (n,)
        Turn of each ring from its class's frame. [rad]
    sides : ChosenSides
        Side chosen for each cell; −1 where nothing reaches.
    workplace : Workplace
        Electrode and search distance.
    """
    woven = cell >= 0
    of_ring, phase = cell[woven], phase_rad[woven]
    row, column = np.arange(sides.first.size), np.maximum(sides.first, 0)
    reached, again = sides.first >= 0, sides.second >= 0

    def pick(of_face: FloatArray, instead: FloatArray | float) -> FloatArray:
        keep = reached if of_face.ndim == 2 else reached[:, None]
        return np.where(keep, of_face[row, column], instead)

    def level(values: FloatArray, loose: float) -> FloatArray:
        result = np.full(layout.rings, loose)
        result[woven] = values[of_ring]
        return result

    def turned(vectors: FloatArray, loose: FloatArray) -> FloatArray:
        loose[woven] = turn_about_x(vectors[of_ring], phase)
        return loose

    u, v = ring_basis(layout.normal)
    flat = np.abs(layout.normal[:, 2:]) > math.sqrt(0.5)
    offset = turned(pick(cells.join_mm, cells.quiet_join_mm), layout.mean_radius_mm[:, None] * u)
    approach = turned(
        pick(cells.axis, cells.quiet_axis), np.where(flat, np.array([0.0, 0.0, 1.0]), u)
    )
    other_axis = cells.other_axis[row, column, np.maximum(sides.second, 0)]
    second = turned(np.where(again[:, None], other_axis, 0.0), np.zeros((layout.rings, 3)))
    angle = np.arctan2(np.einsum("ij,ij->i", offset, v), np.einsum("ij,ij->i", offset, u))
    face = np.zeros(layout.rings, dtype=np.int8)
    face[woven] = FACE_OF_SIDE[sides.first][of_ring]
    second_face = np.full(layout.rings, -1, dtype=np.int8)
    second_face[woven] = FACE_OF_SIDE[sides.second][of_ring]
    both = np.ones(layout.rings, dtype=bool)
    both[woven] = (reached & cells.both_sides[row, column])[of_ring]
    second[~woven], second_face[~woven] = -approach[~woven], 1
    bits = np.full(layout.rings, 7 if workplace.held_in_air else 3, dtype=np.uint8)
    bits[woven] = cells.bits[of_ring]
    search = workplace.search_mm
    return RingJoins(
        angle_rad=np.where(np.abs(angle) < 1e-9, 0.0, angle),
        point_mm=layout.centre_mm + offset,
        approach=approach,
        face=face,
        faces_reachable=bits,
        clearance_mm=level(pick(cells.clearance_mm, 0.0), search),
        spot_gap_mm=level(pick(cells.spot_gap_mm, cells.quiet_gap_mm), search),
        air_mm=level(pick(cells.air_mm, cells.quiet_air_mm), search),
        free_arc_rad=level(pick(cells.free_arc_rad, 0.0), 2 * math.pi),
        both_sides=both,
        second_approach=second,
        second_face=second_face,
    )
