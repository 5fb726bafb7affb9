"""Passes that can be said in one line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.pattern.pattern import (
    Pattern,
    PlannedPass,
    Taken,
    middle_jump,
    starts_of,
)
from chainplan.order.pattern.phrases import say_rings, say_taken
from chainplan.order.piece.grid import group_sequence

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from chainplan.arrays import IntArray
    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.piece.work import HandWork


_TINY = 2
"""Passes of so few joins that follow one another are said as lists: a list is then no longer."""
LISTED_TOGETHER = 6
"""Rings named one by one in one pass, at most: what is kept in mind at the bench (judgement)."""


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


def _line_passes(grid: JoinGrid, pattern: Pattern, joins: IntArray) -> list[Taken]:
    column, member = grid.column[joins], grid.member[joins]
    units = np.unique(column)
    rank = np.searchsorted(units, column).astype(np.int32)
    if pattern.run or (units.shape[0] > 2 and np.unique(np.diff(units)).shape[0] > 1):
        rank = column - units[0]  # gaps: count all units, so that strides stay true
    origin = np.full(grid.unit_mm.shape[0], units[0])
    if grid.unit_mm.shape[0] > 1:  # every stretch from its own first unit
        origin[:] = np.iinfo(np.int32).max
        every = joins if pattern.by_clip else slice(None)
        np.minimum.at(origin, grid.stretch[every], grid.column[every])
        rank = (column - origin[grid.stretch[joins]]).astype(np.int32)
    block = rank // (-(-(int(rank.max()) + 1) // pattern.blocks))
    part = member % pattern.classes
    start = rank % pattern.stride
    number, turn = _number_passes(pattern, start, rank, part)
    number = number + block * pattern.passes
    way = -1 if pattern.backward else 1
    # Pass by pass through the stretches, each of them a pass of its own.
    number = number * grid.unit_mm.shape[0] + way * grid.stretch[joins]
    passes, first = _cut(joins, number, (way * member, way * column))
    last = [int(column[block == k].max(initial=0)) + 1 for k in range(pattern.blocks)]
    begin = origin[grid.stretch[joins[first]]] + turn[first] * pattern.run + start[first]
    return [
        Taken(joins=taken, first=unit, part=ring, last=last[k])
        for taken, unit, ring, k in zip(
            passes, begin.tolist(), part[first].tolist(), block[first].tolist(), strict=True
        )
    ]


def _sheet_passes(grid: JoinGrid, pattern: Pattern, joins: IntArray) -> list[Taken]:
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
    grid: JoinGrid, pattern: Pattern, work: HandWork, alone: Sequence[int] = (), *, say: bool = True
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
    out: list[PlannedPass] = []
    for face, setting, joins in _stretches(work, pattern):
        passes = []
        for taken, way in _take(grid, pattern, joins):
            chosen, stem = taken.joins, say_taken(grid, way, taken) if say else ""
            out_of = [int(grid.ring[join]) for join in chosen[apart[chosen]]]
            kept = chosen[~apart[chosen]]
            said = f"{stem}, leaving out {say_rings(out_of, 9)}" if out_of else stem
            if kept.size:
                passes.append(PlannedPass(joins=kept, stem=said, face=face, setting=setting))
        out += _with_singles(grid, passes, joins[apart[joins]], face, setting)
    return out


def _stretches(work: HandWork, pattern: Pattern) -> Iterator[tuple[int, int, IntArray]]:
    """Give the joins that passes go through, group by group and, if so, clip by clip."""
    for face, setting in group_sequence(work)[0]:
        joins = np.flatnonzero((work.face == face) & (work.setting == setting)).astype(np.int32)
        if joins.size and pattern.by_clip:
            joins = joins[np.argsort(work.clip[joins], kind="stable")]
            ends = np.flatnonzero(np.diff(work.clip[joins])) + 1
            yield from ((face, setting, np.sort(some)) for some in np.split(joins, ends))
        elif joins.size:
            yield face, setting, joins


def _take(grid: JoinGrid, pattern: Pattern, joins: IntArray) -> list[tuple[Taken, Pattern]]:
    """Give what each pass takes of some joins, and the pattern that it then follows."""
    make = _line_passes if pattern.family == "line" else _sheet_passes
    if not pattern.home:
        return [(taken, pattern) for taken in make(grid, pattern, joins)]
    column = grid.column[joins]
    ahead = column < int(grid.column.min()) + pattern.home
    if not pattern.backward:
        ahead = column > int(grid.column.max()) - pattern.home
    other = replace(pattern, backward=not pattern.backward)
    first, then = [
        [(taken, way) for taken in make(grid, way, some)] if some.size else []
        for way, some in ((other, joins[ahead]), (pattern, joins[~ahead]))
    ]
    if not pattern.home_each or len(first) != len(then):
        return first + then
    return [item for both in zip(first, then, strict=True) for item in both]


def _with_singles(
    grid: JoinGrid, passes: list[PlannedPass], single: IntArray, face: int, setting: int
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


def list_rings(grid: JoinGrid, joins: IntArray, face: int, setting: int) -> list[PlannedPass]:
    """Say joins ring by ring, a few to a pass."""
    passes = []
    for first in range(0, joins.shape[0], LISTED_TOGETHER):
        some = joins[first : first + LISTED_TOGETHER]
        rings = say_rings(grid.ring[some].tolist(), LISTED_TOGETHER)
        stem = f"{rings} in this order" if some.shape[0] > 1 else rings
        passes.append(PlannedPass(joins=some, stem=stem, face=face, setting=setting))
    return passes


def join_tiny_passes(passes: Sequence[PlannedPass], grid: JoinGrid) -> list[PlannedPass]:
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
        alike = not row or _kind(row[0], grid) == _kind(item, grid)
        if item.joins.shape[0] > _TINY or not alike:
            flush()
        if item.joins.shape[0] > _TINY:
            out.append(item)
        else:
            row.append(item)
    flush()
    return out


def count_lines(passes: Sequence[PlannedPass]) -> int:
    """Count the lines in which passes are said, those of a join or two together."""
    sizes = np.array([item.joins.shape[0] for item in passes])
    tiny = sizes <= _TINY
    return int(np.count_nonzero(~tiny)) + -(-int(sizes[tiny].sum()) // LISTED_TOGETHER)


def _kind(item: PlannedPass, grid: JoinGrid) -> tuple[int, int, int]:
    """Face, setting and stretch of a pass: what differs in them is never said together."""
    return item.face, item.setting, int(grid.stretch[item.joins[0]])


def order_of(passes: Sequence[PlannedPass]) -> IntArray:
    """Join the passes into one order."""
    if not passes:
        return np.zeros(0, dtype=np.int32)
    return np.concatenate([planned.joins for planned in passes]).astype(np.int32)
