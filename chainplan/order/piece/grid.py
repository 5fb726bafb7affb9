"""How a person counts along a piece: rows and columns, or rings, pairs and threes in a line."""

from __future__ import annotations

from itertools import pairwise, permutations
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.piece.line import count_units, sheet_section

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.piece.layout import Layout
    from chainplan.order.piece.work import HandWork


@frozen
class JoinGrid:
    """Where each join is, in the words in which passes are said."""

    sheet: bool  # rows and columns; otherwise one line of units
    unit: str  # "ring", "pair", "three"; what a line counts
    row: IntArray  # (m,)
    column: IntArray  # (m,) in a line: number of the unit; in a sheet: number in its row
    spans: IntArray  # (m,) columns of the fullest row that a ring of the join's row takes up
    member: IntArray  # (m,) which ring of its unit, from 0
    ring: IntArray  # (m,)
    pitch_mm: float  # from one unit of a line, or one column, to the next
    stretch: IntArray  # (m,) sections of one weave, ring and metal that follow one another
    unit_mm: FloatArray  # (s,) from one unit or column of each stretch to the next
    mixed: bool  # stretches with units of different sizes: units then have no numbers of their own
    single: npt.NDArray[np.bool_]  # (m,) whether the join's unit is one ring
    beside: npt.NDArray[np.bool_]  # (m,) of the rings that hold a fitting to a sheet: no row of it
    metals: tuple[str, ...]  # of each setting, in words; empty if one setting welds all
    setting: IntArray  # (m,) index into them


def lay_out_grid(layout: Layout, work: HandWork) -> JoinGrid:
    """Find rows and columns of a strip or sheet, or the units of a chain."""
    ring = work.ring
    beside = np.zeros(ring.shape[0], dtype=bool)
    spans = np.ones(ring.shape[0], dtype=np.int32)
    if (own := sheet_section(layout)) is not None:
        beside = layout.section[ring] != own
        near = _nearest(layout, own, ring, beside)
        row, column = layout.row[near], layout.column[near]
        spans = _spans(layout, own)[row]
        unit, member, sheet = "ring", np.zeros_like(row), True
        single = np.ones(row.shape[0], dtype=bool)
    else:
        unit, number = count_units(layout)
        sheet = False
        column = number[ring]
        first = np.searchsorted(number, np.arange(int(number.max(initial=0)) + 1))
        member = (ring - first[column]).astype(np.int32)
        single = np.bincount(number)[column] == 1
        row = np.zeros_like(column)
    columns = int(column.max(initial=0)) - int(column.min(initial=0))
    extent = float(np.ptp(work.place_mm[:, 0])) if work.joins else 0.0
    stretch = _stretches(layout)[layout.section[ring]]
    return JoinGrid(
        sheet=sheet,
        unit=unit,
        row=row.astype(np.int32),
        column=column.astype(np.int32),
        spans=spans,
        member=member.astype(np.int32),
        ring=ring,
        pitch_mm=extent / max(columns, 1),
        stretch=stretch,
        unit_mm=_unit_mm(stretch, column, work.place_mm[:, 0]),
        mixed=len(layout.sections) > 1 and unit != "ring" and bool(single.any()),
        single=single,
        beside=beside,
        metals=_metals(layout, work),
        setting=work.setting,
    )


def _spans(layout: Layout, sheet: int) -> IntArray:
    """Columns of the fullest row that a ring of each row takes up, shape (rows,).

    Rows of connecting rings may have twice as many as the rows that they connect.
    """
    own = layout.section == sheet
    row, column = layout.row[own], layout.column[own]
    count = np.zeros(int(row.max()) + 1)
    np.maximum.at(count, row, column + 1.0)
    spans: IntArray = np.round(count.max() / np.maximum(count, 1.0)).astype(np.int32)
    return spans


def _nearest(layout: Layout, sheet: int, ring: IntArray, beside: npt.NDArray[np.bool_]) -> IntArray:
    """Replace rings beside a sheet by the nearest of its own, so that they have a row there."""
    if not beside.any():
        return ring
    own = np.flatnonzero(layout.section == sheet).astype(np.int32)
    away = layout.centre_mm[ring[beside], None, :2] - layout.centre_mm[None, own, :2]
    near = ring.copy()
    near[beside] = own[np.argmin(np.hypot(away[..., 0], away[..., 1]), axis=1)]
    return near


def _metals(layout: Layout, work: HandWork) -> tuple[str, ...]:
    """Name the metals that each setting welds, for passes that take one metal out of several."""
    if len(work.settings) < 2:
        return ()
    made_of = layout.material[work.ring]
    words = []
    for setting in range(len(work.settings)):
        used = np.unique(made_of[work.setting == setting]).tolist()
        names = dict.fromkeys(layout.materials[k].metal.replace("-", " ") for k in used)
        words.append(" and ".join(names))
    return tuple(words) if len(set(words)) > 1 else ()


def _stretches(layout: Layout) -> IntArray:
    """Find the stretch of equal sections that each section belongs to, shape (sections,).

    The steps of a graduated stretch are counted through: their rings grow by little from each to
    the next.
    """
    kinds = [
        (s.weave, s.graded) if s.graded else (s.weave, s.metal, s.temper, s.wire_mm, s.inner_mm)
        for s in layout.sections
    ]
    changes = [kind != before for before, kind in pairwise(kinds)]
    return np.cumsum([0, *changes]).astype(np.int32)


def _unit_mm(stretch: IntArray, column: IntArray, x_mm: FloatArray) -> FloatArray:
    """Find how far apart the units or columns of each stretch lie. [mm]."""
    found = np.zeros(int(stretch.max(initial=0)) + 1)
    for number in range(found.shape[0]):
        mine = stretch == number
        if mine.any():
            found[number] = np.ptp(x_mm[mine]) / max(int(np.ptp(column[mine])), 1)
    return found


def group_sequence(work: HandWork) -> tuple[list[tuple[int, int]], float]:
    """Order of the (face, setting) groups with the fewest seconds of turning and changing.

    Returns
    -------
    list of (face, setting), float
        The sequence, and its seconds. Every order needs at least these seconds: it visits every
        group, and going from group to group costs the same metric. With more than seven groups
        the sequence goes setting by setting within each face, back and forth.
    """
    groups = sorted(set(zip(work.face.tolist(), work.setting.tolist(), strict=True)))

    def cost(sequence: tuple[tuple[int, int], ...]) -> float:
        return sum(
            work.turn_s * (a[0] != b[0]) + work.change_s * (a[1] != b[1])
            for a, b in pairwise(sequence)
        )

    if len(groups) <= 7:
        best = min(permutations(groups), key=lambda sequence: (cost(sequence), sequence))
        return list(best), cost(best)
    faces = sorted({face for face, _ in groups})
    snake: list[tuple[int, int]] = []
    for turn, face in enumerate(faces):
        row = [group for group in groups if group[0] == face]
        snake += row if turn % 2 == 0 else row[::-1]
    return snake, cost(tuple(snake))
