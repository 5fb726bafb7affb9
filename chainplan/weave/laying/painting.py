"""Which ring is of which metal: a design's rules laid over the rings of a piece, in arrays.

A rule sees the rings of one section, or of all steps of a graduated stretch as though it were one.
A connecting ring between sections stands in no repeat and no row: only a list goes on over it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.kinds import DesignLaid, DesignRule, Form
from chainplan.model.piece.design import OWN
from chainplan.model.piece.layout import Alloy
from chainplan.weave.library import load_weave

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from chainplan.arrays import BoolArray, FloatArray, IndexArray, IntArray
    from chainplan.model.job import Piece
    from chainplan.model.piece.design import DesignLine, Span
    from chainplan.model.piece.layout import Layout, SectionLayout

Painted = tuple["BoolArray", "IndexArray"]
"""Which of the rings a rule means, and for each ring the number of its metal in the rule."""


@frozen
class _RingsSeen:
    """The rings that a rule sees."""

    layout: Layout
    ring: IndexArray  # (n,) their numbers in the piece, rising
    section: SectionLayout
    woven: BoolArray  # (n,) stands in the weave, not between two sections
    row: IndexArray  # (n,)
    column: IndexArray  # (n,)
    rows: int
    in_row: IndexArray  # (n,) how many rings its row has

    @classmethod
    def of(cls, layout: Layout, first: int, last: int) -> _RingsSeen:
        """Take the rings of the sections ``first`` to ``last``."""
        here = layout.sections[first : last + 1]
        ring = np.arange(here[0].first_ring, here[-1].first_ring + here[-1].rings)
        repeats = np.array([section.repeats for section in layout.sections])
        row = layout.row[ring].astype(np.intp)
        one = first == last
        column = layout.column[ring].astype(np.intp) if one else np.arange(len(ring))
        return cls(
            layout=layout,
            ring=ring,
            section=here[0],
            woven=layout.along[ring] < repeats[layout.section[ring]],
            row=row,
            column=column,
            rows=here[0].rows,
            in_row=np.bincount(row)[row],
        )


def paint_piece(layout: Layout, piece: Piece) -> Layout:
    """Give every ring the metal that the designs of a piece's sections say.

    A section that comes out all of one metal is as though it had been asked for in that metal.
    """
    if not any(section.design for section in piece.sections):
        return layout
    alloys: list[Alloy] = []
    alloy: IntArray = np.full(layout.rings, -1, dtype=np.int32)
    notes: list[str] = []
    for first, last in _stretches(piece):
        section = piece.sections[first]
        assert section.design is not None
        rings = _RingsSeen.of(layout, first, last)
        tempers = dict(section.design_tempers)
        for line in section.design.lines:
            number = []
            for _, metal in line.metals:
                wanted = Alloy(metal=metal, temper=tempers.get(metal, section.temper))
                if wanted not in alloys:
                    alloys.append(wanted)
                number.append(alloys.index(wanted))
            meant, metal_of = _PAINTERS[line.rule](line, rings)
            alloy[rings.ring[meant]] = np.array(number)[metal_of[meant]]
            notes += _notes_on(line, rings)
    return _with_alloys(layout, piece, alloy, tuple(alloys), tuple(notes))


def _with_alloys(
    layout: Layout,
    piece: Piece,
    alloy: IntArray,
    alloys: tuple[Alloy, ...],
    notes: tuple[str, ...],
) -> Layout:
    """Put the metals into a layout; sections of one metal become plain."""
    sections = list(layout.sections)
    for number, section in enumerate(sections):
        own = slice(section.first_ring, section.first_ring + section.rings)
        listed = Alloy(metal=section.metal, temper=section.temper)
        kinds = {listed if k < 0 else alloys[k] for k in np.unique(alloy[own]).tolist()}
        design = piece.sections[number].design
        if len(kinds) == 1:
            only = kinds.pop()
            sections[number] = replace(section, metal=only.metal, temper=only.temper)
            alloy[own] = -1
        elif design is not None:
            sections[number] = replace(section, design=design.name)
    painted = bool((alloy >= 0).any())
    return replace(
        layout,
        sections=tuple(sections),
        alloys=alloys if painted else (),
        alloy=alloy if painted else None,
        design_notes=notes,
    )


def _stretches(piece: Piece) -> Iterator[tuple[int, int]]:
    """Sections with a design, the steps of one graduated stretch together."""
    first = 0
    sections = piece.sections
    while first < len(sections):
        last = first
        step = sections[first].graded
        while step and last + 1 < len(sections) and sections[last + 1].graded == step:
            last += 1
        if sections[first].design is not None:
            yield first, last
        first = last + 1


def among(spans: tuple[Span, ...], number: IndexArray, count: IndexArray | int) -> BoolArray:
    """Say which numbers, counted from 1 among so many, are among the spans."""
    found = np.zeros(number.shape, dtype=bool)
    for span in spans:
        first = span.first if span.first > 0 else count + 1 + span.first
        last = span.last if span.last > 0 else count + 1 + span.last
        found |= (number >= first) & (number <= last) & ((number - first) % span.every == 0)
    return found


def _all_first(meant: BoolArray) -> Painted:
    return meant, np.zeros(meant.shape, dtype=np.intp)


def _places(line: DesignLine, rings: _RingsSeen) -> Painted:
    repeat = rings.section.repeat
    count = repeat.rings if repeat is not None else 1
    number = rings.layout.place[rings.ring].astype(np.intp) + 1
    return _all_first(rings.woven & among(line.spans, number, count))


def _parts(line: DesignLine, rings: _RingsSeen) -> Painted:
    weave = load_weave(rings.section.weave)
    named = np.array([any(word in line.parts for word in words) for words in weave.part_of])
    meant = named[rings.layout.place[rings.ring]]
    if "edge" in line.parts and weave.form != Form.CHAIN:
        meant = meant | _from_edge(rings, 1)
    return _all_first(rings.woven & meant)


def _rows(line: DesignLine, rings: _RingsSeen) -> Painted:
    return _all_first(rings.woven & among(line.spans, rings.row + 1, rings.rows))


def _columns(line: DesignLine, rings: _RingsSeen) -> Painted:
    return _all_first(rings.woven & among(line.spans, rings.column + 1, rings.in_row))


def _from_edge(rings: _RingsSeen, wide: int) -> BoolArray:
    row, column = rings.row, rings.column
    meant: BoolArray = (row < wide) | (row >= rings.rows - wide)
    meant |= (column < wide) | (column >= rings.in_row - wide)
    return meant


def _border(line: DesignLine, rings: _RingsSeen) -> Painted:
    return _all_first(rings.woven & _from_edge(rings, line.size[0]))


def _check(line: DesignLine, rings: _RingsSeen) -> Painted:
    """By turns; with one metal, by turns with what was there."""
    high, wide = line.size
    turn = rings.row // high + rings.column // wide
    if len(line.metals) == 1:
        return _all_first(rings.woven & (turn % 2 == 0))
    return rings.woven, turn % len(line.metals)


def _list(line: DesignLine, rings: _RingsSeen) -> Painted:
    letters = np.frombuffer(line.cells[0], dtype=np.uint8)
    chain = rings.section.form == Form.CHAIN
    place = np.arange(len(rings.ring)) if chain else rings.column
    cell = letters[place % len(letters)]
    meant = (cell != OWN) & (rings.woven | chain)
    return meant, cell.astype(np.intp)


def _cells(line: DesignLine) -> IndexArray:
    """Cells of a grid or picture, shape (high, wide), the top row first."""
    return np.stack([np.frombuffer(row, dtype=np.uint8) for row in line.cells]).astype(np.intp)


def _grid(line: DesignLine, rings: _RingsSeen) -> Painted:
    """Lay a letter on a ring: the top line on the highest row, letters from the start."""
    cells = _cells(line)
    high, wide = cells.shape
    down = rings.rows - 1 - rings.row
    column = rings.column
    if line.laid == DesignLaid.ONCE:
        down = down - (rings.rows - high) // 2
        column = column - (rings.in_row - wide) // 2
        inside = (down >= 0) & (down < high) & (column >= 0) & (column < wide)
    else:
        inside = np.ones(down.shape, dtype=bool)
    cell = cells[down % high, column % wide]
    return rings.woven & inside & (cell != OWN), cell


@dataclass(frozen=True, slots=True)
class _Bed:
    """Where a picture lies: its middle, the size of a dot, and the room of one ring. [mm]."""

    middle: tuple[float, float]
    dot_mm: float
    room_mm: tuple[float, float]  # along and across

    @classmethod
    def of(cls, line: DesignLine, rings: _RingsSeen) -> _Bed:
        """Lay a picture in the middle of the rings, as large as fits if it has no width."""
        place = rings.layout.centre_mm[rings.ring[rings.woven], :2]
        low, high = place.min(axis=0), place.max(axis=0)
        row = rings.row[rings.woven]
        across = float(high[1] - low[1]) / max(int(row.max()), 1)
        most = float(np.bincount(row).max())
        first = place[row == int(np.bincount(row).argmax()), 0]
        along = float(first.max() - first.min()) / max(most - 1, 1)
        size = high - low + (along, across or along)
        dots_high, dots_wide = len(line.cells), len(line.cells[0])
        dot = min(float(size[0]) / dots_wide, float(size[1]) / dots_high)
        if line.wide_mm is not None:
            dot = line.wide_mm / dots_wide
        middle = (low + high) / 2
        return cls((float(middle[0]), float(middle[1])), dot, (along, across or along))


def _picture(line: DesignLine, rings: _RingsSeen) -> Painted:
    """Give each ring the metal that most of the picture under it has.

    The picture lies in mm on the rings where they are, so rows that stand off by half a ring and
    rows closer than rings are wide leave it as it is. What lies under a ring is the field of the
    lattice that is its own; beyond the picture nothing changes.
    """
    cells, bed = _cells(line), _Bed.of(line, rings)
    high, wide = cells.shape
    place = rings.layout.centre_mm[rings.ring, :2]
    u = (place[:, 0] - bed.middle[0]) / bed.dot_mm + wide / 2
    v = (bed.middle[1] - place[:, 1]) / bed.dot_mm + high / 2
    half = (bed.room_mm[0] / bed.dot_mm / 2, bed.room_mm[1] / bed.dot_mm / 2)
    if line.laid == DesignLaid.AGAIN:  # what lies over an edge lies on the next picture
        beyond = (int(half[1]) + 1, int(half[0]) + 1)
        u, v = u % wide + beyond[1], v % high + beyond[0]
        cells = np.pad(cells, ((beyond[0],) * 2, (beyond[1],) * 2), mode="wrap")
    share = np.stack(
        [_under(cells == k, u, v, half) for k in range(len(line.metals))], axis=1
    ) / (4 * half[0] * half[1])  # fmt: skip
    own = 1 - share.sum(axis=1, keepdims=True)
    share = np.concatenate([share, own], axis=1).round(9)
    best = share.argmax(axis=1)
    return rings.woven & (best < len(line.metals)), best


def _under(cells: BoolArray, u: FloatArray, v: FloatArray, half: tuple[float, float]) -> FloatArray:
    """How much of some cells lies in a field about each place, in cells: sums, not loops."""
    high, wide = cells.shape
    sums = np.zeros((high + 1, wide + 1))
    sums[1:, 1:] = cells.cumsum(axis=0, dtype=np.float64).cumsum(axis=1)

    def to(across: FloatArray, down: FloatArray) -> FloatArray:
        x, y = np.clip(across, 0, wide), np.clip(down, 0, high)
        i, j = np.minimum(x.astype(np.intp), wide - 1), np.minimum(y.astype(np.intp), high - 1)
        p, q = x - i, y - j
        upper = sums[j, i] * (1 - p) + sums[j, i + 1] * p
        lower = sums[j + 1, i] * (1 - p) + sums[j + 1, i + 1] * p
        found: FloatArray = upper * (1 - q) + lower * q
        return found

    left, right, top, bottom = u - half[0], u + half[0], v - half[1], v + half[1]
    area: FloatArray = to(right, bottom) - to(left, bottom) - to(right, top) + to(left, top)
    return area


_PAINTERS: dict[DesignRule, Callable[[DesignLine, _RingsSeen], Painted]] = {
    DesignRule.PLACES: _places,
    DesignRule.LIST: _list,
    DesignRule.PARTS: _parts,
    DesignRule.ROWS: _rows,
    DesignRule.COLUMNS: _columns,
    DesignRule.BORDER: _border,
    DesignRule.CHECK: _check,
    DesignRule.GRID: _grid,
    DesignRule.PICTURE: _picture,
}


def _notes_on(line: DesignLine, rings: _RingsSeen) -> Iterator[str]:
    """Say what somebody who draws should know: how fine a picture can be, where a list breaks."""
    if line.rule == DesignRule.PICTURE:
        bed = _Bed.of(line, rings)
        high, wide = len(line.cells) * bed.dot_mm, len(line.cells[0]) * bed.dot_mm
        across, down = wide / bed.room_mm[0], high / bed.room_mm[1]
        yield (
            f"the picture {line.which} is laid {wide:.0f} × {high:.0f} mm, on about "
            f"{max(across, 1):.0f} × {max(down, 1):.0f} rings: what is smaller than "
            f"{2 * max(bed.room_mm):.1f} mm, two rings, is lost"
        )
    closed = rings.layout.closed and len(rings.ring) == rings.layout.rings
    if line.rule == DesignRule.LIST and closed and rings.section.form == Form.CHAIN:
        rest = len(rings.ring) % len(line.cells[0])
        if rest:
            yield (
                f"the list {line.which} of {len(line.cells[0])} does not close: {rest} of its "
                "rings are over at the join of the loop"
            )
