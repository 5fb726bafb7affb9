"""From one repeat to a whole chain, strip or sheet: poses, numbering, links and contacts.

All arrays are filled a ring of the repeat at a time, over every cell at once, so that the work per
ring is a few additions. A cell is one repeat along (a) and one group of rows across (b). A sheet
whose second vector leans is cut at right angles: row group b starts as many repeats earlier as it
has slid along.

Rings are numbered row by row: ring r of cell (a, b) lies in row ``b·(rows per repeat) + row of r``
and is the ``a·(rings of that row in a repeat) + rank of r``-th of it. A chain is one row.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import Form
from chainplan.weave.shape.poses import read_seed
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.piece.weave import Repeat, Weave

    LongArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class RowPlan:
    """How the rings of a repeat fall into rows, and their order within a row."""

    row: tuple[int, ...]  # (k,) row within the repeat
    rank: tuple[int, ...]  # (k,) order along x within that row
    per_row: tuple[int, ...]  # rings of one repeat in each of its rows

    @property
    def rows(self) -> int:
        """Rows in one repeat."""
        return len(self.per_row)


def find_row_plan(weave: Weave) -> RowPlan:
    """Group the rings of a weave's repeat into rows by where its seed puts them.

    A chain is one row in the order of its file. In a sheet, rings with the same y lie in one row;
    rows count along +y, rings along +x.
    """
    count = len(weave.ring_class)
    if weave.form == Form.CHAIN:
        return RowPlan((0,) * count, tuple(range(count)), (count,))
    rings = read_seed(weave, ((1.0, 1.0),) * len(weave.classes)).centre
    y = rings[:, 1]
    order = np.argsort(y, kind="stable")
    row = np.zeros(count, dtype=int)
    row[order[1:]] = np.cumsum(np.diff(y[order]) > tuning().same_row)
    rank = np.zeros(count, dtype=int)
    per_row = []
    for number in range(row.max() + 1):
        own = np.nonzero(row == number)[0]
        rank[own[np.argsort(rings[own, 0], kind="stable")]] = np.arange(len(own))
        per_row.append(len(own))
    return RowPlan(tuple(row.tolist()), tuple(rank.tolist()), tuple(per_row))


@dataclass(frozen=True, slots=True)
class Extent:
    """How far a section of N repeats reaches: N·``pitch`` + ``ends`` outer edge to outer edge."""

    pitch: float  # length of one repeat
    ends: float
    start: float  # x of its lowest outer edge, the first centre's cell at 0
    width: float
    thickness: float
    middle: tuple[float, float]  # y and z of its middle

    def length(self, repeats: int, *, closed: bool) -> float:
        """Length of a number of repeats; of a closed loop, the way round."""
        return repeats * self.pitch + (0.0 if closed else self.ends)


@dataclass(frozen=True, slots=True)
class Tiling:
    """Rings of a section in wire diameters of class 0, named as a layout names them."""

    centre: FloatArray
    normal: FloatArray
    place: IntArray
    along: IntArray
    across: IntArray
    row: IntArray
    column: IntArray
    links: IntArray
    contacts: IntArray

    @property
    def rings(self) -> int:
        """Number of rings."""
        return len(self.place)


class Tiler:
    """Numbers the rings of N repeats along and R rows across, and fills arrays for them."""

    def __init__(self, repeat: Repeat, grid: RowPlan, rows: int) -> None:
        self.repeat, self.grid, self.rows = repeat, grid, rows
        self.groups = -(-rows // grid.rows)
        group = np.arange(self.groups)
        pitch = float(repeat.vectors[0, 0])
        slide = float(repeat.vectors[1, 0]) if len(repeat.vectors) > 1 else 0.0
        self.first_cell: LongArray = -np.rint(group * slide / pitch).astype(np.int64)
        per_row = np.array([grid.per_row[r % grid.rows] for r in range(rows)], dtype=np.int64)
        self.per_row = per_row
        self.rings_per_cell = int(per_row.sum())
        self.row_start: LongArray = np.concatenate([[0], np.cumsum(per_row)[:-1]])

    def _blocks(self, repeats: int) -> Iterator[tuple[LongArray, LongArray]]:
        """Row groups and cells along, in blocks that stay within the processor's cache."""
        wide = max(1, tuning().cells_at_once // repeats)
        group, cell = np.arange(self.groups, dtype=np.int64), np.arange(repeats, dtype=np.int64)
        for start in range(0, self.groups, wide):
            for first in range(0, repeats, tuning().cells_at_once):
                yield group[start : start + wide], cell[first : first + tuning().cells_at_once]

    def groups_of(self, ring: int) -> LongArray:
        """Row groups in which a ring of the repeat is still within the rows."""
        group = np.arange(self.groups, dtype=np.int64)
        return group[group * self.grid.rows + self.grid.row[ring] < self.rows]

    def number(self, ring: int, along: LongArray, group: LongArray, repeats: int) -> LongArray:
        """Ring numbers, counted row by row; ``along`` counts from the start of its row group."""
        row = group * self.grid.rows + self.grid.row[ring]
        return (
            self.row_start[row] * repeats + along * self.per_row[row] + self.grid.rank[ring]
        ).astype(np.int64)

    def measure(self) -> Extent:
        """Measure the ends, width and thickness of the rows, wire included."""
        repeat = self.repeat
        half = repeat.mean_radius[:, None] * np.sqrt(np.maximum(1 - repeat.normal**2, 0))
        half = half + repeat.wire[:, None] / 2
        pitch = float(repeat.vectors[0, 0])
        low, high = [], []
        for ring in range(repeat.rings):
            group = self.groups_of(ring)
            if not group.size:
                continue
            centre = np.repeat(repeat.centre[ring][None], len(group), axis=0)
            if len(repeat.vectors) > 1:
                centre = centre + group[:, None] * repeat.vectors[1]
                centre[:, 0] += self.first_cell[group] * pitch
            low.append((centre - half[ring]).min(axis=0))
            high.append((centre + half[ring]).max(axis=0))
        least, most = np.min(low, axis=0), np.max(high, axis=0)
        span = most - least
        width, thickness = float(span[1]), float(span[2])
        middle = (float(least[1] + most[1]) / 2, float(least[2] + most[2]) / 2)
        if repeat.turn_rad:
            width, thickness, middle = repeat.width, repeat.thickness, (0.0, 0.0)
        return Extent(pitch, float(span[0]) - pitch, float(least[0]), width, thickness, middle)

    def tile(self, repeats: int, *, closed: bool = False) -> Tiling:
        """Fill the arrays for a number of repeats along."""
        repeat, total = self.repeat, self.rings_per_cell * repeats
        centre, normal = np.empty((total, 3)), np.empty((total, 3))
        counts = np.empty((5, total), dtype=np.int32)
        for groups, cells in self._blocks(repeats):
            for ring in range(repeat.rings):
                group = groups[groups * self.grid.rows + self.grid.row[ring] < self.rows]
                along = np.tile(cells, len(group))
                across = np.repeat(group, len(cells))
                number = self.number(ring, along, across, repeats)
                step = along + self.first_cell[across]
                centre[number], normal[number] = self._place(ring, step, across)
                row = across * self.grid.rows + self.grid.row[ring]
                counts[0, number] = ring
                counts[1, number] = along
                counts[2, number] = across
                counts[3, number] = row
                counts[4, number] = along * self.per_row[row] + self.grid.rank[ring]
        return Tiling(
            centre,
            normal,
            counts[0],
            counts[1],
            counts[2],
            counts[3],
            counts[4],
            self.join_pairs(repeat.links, repeats, closed=closed),
            self.join_pairs(repeat.contacts, repeats, closed=closed),
        )

    def _place(self, ring: int, step: LongArray, group: LongArray) -> tuple[FloatArray, FloatArray]:
        """Centres and normals of one ring of the repeat in many cells."""
        repeat = self.repeat
        centre = np.tile(repeat.centre[ring], (len(step), 1))
        normal = np.tile(repeat.normal[ring], (len(step), 1))
        if repeat.turn_rad:
            cos, sin = np.cos(step * repeat.turn_rad), np.sin(step * repeat.turn_rad)
            for vector in (centre, normal):
                y, z = vector[:, 1].copy(), vector[:, 2].copy()
                vector[:, 1], vector[:, 2] = cos * y - sin * z, sin * y + cos * z
        centre += step[:, None] * repeat.vectors[0]
        if len(repeat.vectors) > 1:
            centre += group[:, None] * repeat.vectors[1]
        return centre, normal

    def join_pairs(self, pairs: IntArray, repeats: int, *, closed: bool) -> IntArray:
        """Repeat the pairs (i, j, a, b) in every cell, as ring numbers; drop those that leave."""
        total = max(self.rings_per_cell * repeats, 1)
        found = [np.zeros(0, dtype=np.int64)]
        for groups, cells in self._blocks(repeats):
            block = [
                self._join_block(pair, groups, cells, repeats, closed=closed)
                for pair in pairs.tolist()
            ]
            # Blocks follow one another along the numbers: what is sorted here is nearly sorted.
            found.append(np.sort(np.concatenate(block)) if block else found[0])
        code = np.sort(np.concatenate(found), kind="stable")
        if closed:
            code = np.unique(code)
        result = np.empty((len(code), 2), dtype=np.int32)
        np.floor_divide(code, total, out=result[:, 0], casting="unsafe")
        np.remainder(code, total, out=result[:, 1], casting="unsafe")
        return result

    def _join_block(
        self, pair: list[int], group: LongArray, cells: LongArray, repeats: int, *, closed: bool
    ) -> LongArray:
        """Code one pair in a block of cells: lower ring × rings in all + higher ring."""
        i, j, a, b = pair
        total = self.rings_per_cell * repeats
        other = group + b
        inside = (group * self.grid.rows + self.grid.row[i] < self.rows) & (other >= 0)
        inside &= other * self.grid.rows + self.grid.row[j] < self.rows
        group, other = group[inside], other[inside]
        slide = self.first_cell[group] - self.first_cell[other] + a
        first = np.tile(cells, len(group))
        second = first + np.repeat(slide, len(cells))
        across, across_other = np.repeat(group, len(cells)), np.repeat(other, len(cells))
        if closed:
            second %= repeats
        else:
            inside = (second >= 0) & (second < repeats)
            first, second = first[inside], second[inside]
            across, across_other = across[inside], across_other[inside]
        one = self.number(i, first, across, repeats)
        two = self.number(j, second, across_other, repeats)
        result: LongArray = np.minimum(one, two) * total + np.maximum(one, two)
        return result
