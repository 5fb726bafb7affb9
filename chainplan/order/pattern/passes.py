"""Passes that can be said in one line."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.pattern.phrases import say_rings, say_taken
from chainplan.order.piece.grid import group_sequence

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import IntArray
    from chainplan.order.piece.grid import Grid
    from chainplan.order.piece.work import Work


_TINY = 2
LISTED_TOGETHER = 6
"""Rings named one by one in one pass, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One regular way through a piece.

    ``stride`` counts units of a line, rings of a row, columns or diagonals; ``classes`` deals the
    rows (or the rings of a pair) out to passes of their own; ``jump`` is how far the next pass
    starts from the last one's start; all passes run the same way, from the end if ``backward``.
    ``blocks`` finishes one stretch of the piece before the next. With a ``run`` the hand works
    through so many units (or columns) and then skips to the next run of its pass, one in ``share``:
    what it has just warmed then lies beyond the fingers, and the way there is spread over several
    joins. All starts of the stride are welded before the next share of the runs, or the other way
    round if ``turn_first``; ``turn_jump`` is to the shares what ``jump`` is to the starts.
    """

    family: str = "line"  # line, rows, columns, diagonals
    stride: int = 1
    classes: int = 1
    jump: int = 1
    backward: bool = False
    snake: bool = False
    blocks: int = 1
    run: int = 0  # 0: nothing is skipped
    share: int = 1
    turn_jump: int = 0  # 0: the next pass of a run's share lies far from the last
    turn_first: bool = False

    @property
    def passes(self) -> int:
        """Times that the hand goes along the piece, for one face and setting."""
        return self.stride * self.classes * self.share


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """Joins that a pattern takes in one go along the piece, and what is needed to say so."""

    joins: IntArray
    first: int  # unit or column to begin with, were there joins in all
    part: int = 0  # which of the pattern's classes
    last: int = 0  # last unit of the block


@dataclass(frozen=True, kw_only=True)
class PlannedPass:
    """Joins of one pass in order, with what to say about it but for count and time."""

    joins: IntArray
    stem: str
    face: int
    setting: int


def middle_jump(stride: int) -> int:
    """Find a step through the residues of a stride that keeps successive starts far apart.

    Examples
    --------
    >>> [middle_jump(s) for s in (1, 2, 3, 4, 5, 7, 12)]
    [1, 1, 1, 1, 2, 3, 5]
    """
    for jump in range(stride // 2, 1, -1):
        if gcd(jump, stride) == 1:
            return jump
    return 1


def starts_of(stride: int, jump: int) -> list[int]:
    """Start places of a stride's passes, in the order in which they are welded.

    Examples
    --------
    >>> starts_of(5, 2)
    [0, 2, 4, 1, 3]
    """
    return [(k * jump) % stride for k in range(stride)]


def _places(size: int, jump: int) -> IntArray:
    """When each start of a stride is welded, shape (size,): the inverse of ``starts_of``."""
    place = np.empty(size, dtype=np.int32)
    place[starts_of(size, jump)] = np.arange(size, dtype=np.int32)
    return place


def _number_passes(
    pattern: Pattern, start: IntArray, counted: IntArray, part: IntArray
) -> tuple[IntArray, IntArray]:
    """Pass of each join, and which of the turns that share the runs it belongs to.

    ``start``: which start of the stride a join belongs to; ``counted``: its unit or column from 0;
    ``part``: when its class is welded.
    """
    begun = _places(pattern.stride, pattern.jump)[start]
    turn = np.zeros_like(start)
    if pattern.run:
        turn = (counted // pattern.run) % pattern.share
    turned = _places(pattern.share, pattern.turn_jump or middle_jump(pattern.share))[turn]
    outer, inner, inside = begun, turned, pattern.share
    if pattern.turn_first:
        outer, inner, inside = turned, begun, pattern.stride
    return (outer * inside + inner) * pattern.classes + part, turn


def _cut(
    joins: IntArray, number: IntArray, by: Sequence[IntArray]
) -> tuple[list[IntArray], IntArray]:
    """Sort joins by pass and then by the way through it; the joins of each pass, and its first."""
    order = np.lexsort((*by, number))
    ends = np.flatnonzero(np.diff(number[order])) + 1
    return np.split(joins[order], ends), order[np.concatenate([[0], ends])]


def _line_passes(grid: Grid, pattern: Pattern, joins: IntArray) -> list[Taken]:
    column, member = grid.column[joins], grid.member[joins]
    units = np.unique(column)
    rank = np.searchsorted(units, column).astype(np.int32)
    if pattern.run or (units.shape[0] > 2 and np.unique(np.diff(units)).shape[0] > 1):
        rank = column - units[0]  # gaps: count all units, so that strides stay true
    if grid.mixed:  # every section from its own first unit
        origin = np.full(int(grid.section.max()) + 1, np.iinfo(np.int32).max)
        np.minimum.at(origin, grid.section, grid.column)
        rank = (column - origin[grid.section[joins]]).astype(np.int32)
    block = rank // (-(-(int(rank.max()) + 1) // pattern.blocks))
    part = member % pattern.classes
    start = rank % pattern.stride
    number, turn = _number_passes(pattern, start, rank, part)
    number = number + block * pattern.passes
    way = -1 if pattern.backward else 1
    passes, first = _cut(joins, number, (way * member, way * column))
    last = [int(column[block == k].max(initial=0)) + 1 for k in range(pattern.blocks)]
    begin = int(units[0]) + turn[first] * pattern.run + start[first]
    return [
        Taken(joins=taken, first=unit, part=ring, last=last[k])
        for taken, unit, ring, k in zip(
            passes, begin.tolist(), part[first].tolist(), block[first].tolist(), strict=True
        )
    ]


def _sheet_passes(grid: Grid, pattern: Pattern, joins: IntArray) -> list[Taken]:
    rows, columns = np.unique(grid.row[joins]), np.unique(grid.column[joins])
    row = np.searchsorted(rows, grid.row[joins]).astype(np.int32)
    column = np.searchsorted(columns, grid.column[joins]).astype(np.int32)
    if pattern.run:
        column = grid.column[joins] - columns[0]  # so that what is skipped is always as long
    start = column % pattern.stride
    part = _places(pattern.classes, middle_jump(pattern.classes))[row % pattern.classes]
    outer, inner = row, column
    if pattern.family == "columns":
        outer, inner = column, row
    if pattern.family == "diagonals":
        start, part = (row + column) % pattern.stride, np.zeros_like(row)
        outer, inner = row + column, row
    number, turn = _number_passes(pattern, start, column, part)
    if pattern.snake:
        inner = np.where(_odd_lines(number, outer), -inner, inner)
    way = -1 if pattern.backward else 1
    passes, first = _cut(joins, number, (way * inner, way * outer))
    begin = int(columns[0]) + turn[first] * pattern.run + start[first]
    return [
        Taken(joins=taken, first=unit) for taken, unit in zip(passes, begin.tolist(), strict=True)
    ]


def _odd_lines(number: IntArray, outer: IntArray) -> npt.NDArray[np.bool_]:
    """Whether a join's line is the 2nd, 4th … of its pass: those are gone through backwards."""
    order = np.lexsort((outer, number))
    fresh = np.diff(number[order], prepend=-1) != 0
    lines = np.cumsum(fresh | (np.diff(outer[order], prepend=-1) != 0))
    since = lines - np.maximum.accumulate(np.where(fresh, lines, 0))
    odd = np.empty(order.shape[0], dtype=bool)
    odd[order] = since % 2 == 1
    return odd


def lay_out_passes(
    grid: Grid, pattern: Pattern, work: Work, alone: Sequence[int] = (), *, say: bool = True
) -> list[PlannedPass]:
    """Turn a pattern into passes, one group of face and setting after another.

    Parameters
    ----------
    grid, pattern, work
        How a person counts, the pattern, the joins.
    alone : sequence of int, optional
        Joins taken out of the passes and welded one at a time between them (near a
        heat-sensitive part).
    say : bool, optional
        Whether the passes are put into words; not needed while patterns are only compared.

    Returns
    -------
    list of PlannedPass
        Every join exactly once.
    """
    apart = np.zeros(work.joins, dtype=bool)
    apart[list(alone)] = True
    make = _line_passes if pattern.family == "line" else _sheet_passes
    out: list[PlannedPass] = []
    for face, setting in group_sequence(work)[0]:
        inside = (work.face == face) & (work.setting == setting)
        joins = np.flatnonzero(inside).astype(np.int32)
        found = make(grid, pattern, joins) if joins.size else []
        passes = []
        for taken in found:
            chosen, stem = taken.joins, say_taken(grid, pattern, taken) if say else ""
            out_of = [int(grid.ring[join]) for join in chosen[apart[chosen]]]
            kept = chosen[~apart[chosen]]
            said = f"{stem}, leaving out {say_rings(out_of, 9)}" if out_of else stem
            if kept.size:
                passes.append(PlannedPass(joins=kept, stem=said, face=face, setting=setting))
        single = np.flatnonzero(inside & apart).astype(np.int32)
        out += _with_singles(grid, passes, single, face, setting)
    return out


def _with_singles(
    grid: Grid, passes: list[PlannedPass], single: IntArray, face: int, setting: int
) -> list[PlannedPass]:
    """Spread single joins evenly between the passes of their group."""
    out: list[PlannedPass] = []
    done = 0
    for index, planned in enumerate(passes, 1):
        out.append(planned)
        until = -(-single.shape[0] * index // len(passes))
        for join in single[done:until]:
            stem = f"ring {int(grid.ring[join]) + 1} on its own"
            alone = np.asarray([join], dtype=np.int32)
            out.append(PlannedPass(joins=alone, stem=stem, face=face, setting=setting))
        done = max(done, until)
    for join in single[done:]:
        stem = f"ring {int(grid.ring[join]) + 1} on its own"
        alone = np.asarray([join], dtype=np.int32)
        out.append(PlannedPass(joins=alone, stem=stem, face=face, setting=setting))
    return out


def list_rings(grid: Grid, joins: IntArray, face: int, setting: int) -> list[PlannedPass]:
    """Say joins ring by ring, a few to a pass."""
    passes = []
    for first in range(0, joins.shape[0], LISTED_TOGETHER):
        some = joins[first : first + LISTED_TOGETHER]
        rings = say_rings(grid.ring[some].tolist(), LISTED_TOGETHER)
        stem = f"{rings} in this order" if some.shape[0] > 1 else rings
        passes.append(PlannedPass(joins=some, stem=stem, face=face, setting=setting))
    return passes


def join_tiny_passes(passes: Sequence[PlannedPass], grid: Grid) -> list[PlannedPass]:
    """Say passes of a join or two that follow one another as lists of rings; the order stays."""
    out: list[PlannedPass] = []
    row: list[PlannedPass] = []

    def flush() -> None:
        while row:
            some: list[PlannedPass] = []
            while row and sum(p.joins.shape[0] for p in [*some, row[0]]) <= LISTED_TOGETHER:
                some.append(row.pop(0))
            joins = np.concatenate([item.joins for item in some])
            listed = list_rings(grid, joins, some[0].face, some[0].setting)
            out.extend(some if len(some) == 1 else listed)

    for item in passes:
        alike = not row or (row[0].face, row[0].setting) == (item.face, item.setting)
        if item.joins.shape[0] > _TINY or not alike:
            flush()
        if item.joins.shape[0] > _TINY:
            out.append(item)
        else:
            row.append(item)
    flush()
    return out


def order_of(passes: Sequence[PlannedPass]) -> IntArray:
    """Join the passes into one order."""
    if not passes:
        return np.zeros(0, dtype=np.int32)
    return np.concatenate([planned.joins for planned in passes]).astype(np.int32)
