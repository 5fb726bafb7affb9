"""Where each join lies, from where the electrode comes, and which rings are closed beforehand."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.model.kinds import PreClosing, Tip

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    import numpy.typing as npt

    from chainplan.arrays import FloatArray


FACES = ("front", "back", "edge")
"""Face codes 0, 1, 2 in ``Joins.face``; −1 is a join that nothing reaches."""


@frozen
class ClosingWay:
    """One way to plan a piece: which rings are welded shut before weaving, and what that brings."""

    way: PreClosing
    pre_closed: int
    in_place: int
    largest_possible: int  # size of the largest independent set, or its upper bound
    exact: bool  # whether largest_possible is proved
    turns: int  # how often the piece is turned over
    note: str = ""


@frozen
class Joins:
    """One join a ring. Arrays are in the layout's ring order."""

    piece: str
    angle_rad: FloatArray  # (n,) place on the ring, counted as ring_basis of layout says
    point_mm: FloatArray  # (n, 3)
    approach: FloatArray  # (n, 3) unit vector from the join towards the electrode's holder
    face: npt.NDArray[np.int8]  # (n,) index into FACES, −1 unreachable
    faces_reachable: npt.NDArray[np.uint8]  # (n,) bits 1 front, 2 back, 4 edge
    clearance_mm: FloatArray  # (n,) smallest gap between electrode and any other ring
    spot_gap_mm: FloatArray  # (n,) air from the wire at the join to the next wire; 0: they touch
    free_arc_rad: FloatArray  # (n,) length of the arc of angles that would do
    both_sides: npt.NDArray[np.bool_]  # (n,) reachable from two opposite sides as well
    two_sides_wanted: npt.NDArray[np.bool_]  # (n,) the wire is heavy enough to want that
    pre_closed: npt.NDArray[np.bool_]  # (n,) welded shut before weaving
    welded: npt.NDArray[np.bool_] | None = None  # (n,) welded in place already; None: none yet
    second_approach: FloatArray | None = None  # (n, 3) from the other side; 0: none
    second_face: npt.NDArray[np.int8] | None = None  # (n,) its face; −1: none
    blocked_by: Mapping[int, tuple[int, ...]] = field(
        default_factory=dict
    )  # ring → rings in the way
    way: PreClosing = PreClosing.IN_PLACE
    ways: tuple[ClosingWay, ...] = ()
    electrode: Tip = Tip.SHARP
    warnings: tuple[str, ...] = ()

    @property
    def closed(self) -> npt.NDArray[np.bool_]:
        """Rings, shape (n,), that are shut: before weaving, or because they are welded already."""
        return self.pre_closed if self.welded is None else self.pre_closed | self.welded

    @property
    def in_place(self) -> npt.NDArray[np.int32]:
        """Ring indices to weld in place, ascending."""
        import numpy as np

        return np.flatnonzero(~self.closed).astype(np.int32)

    def joins_per_face(self) -> dict[str, int]:
        """Count of joins welded in place from each face."""
        import numpy as np

        faces = self.face[~self.pre_closed]
        return {name: int(np.count_nonzero(faces == code)) for code, name in enumerate(FACES)}
