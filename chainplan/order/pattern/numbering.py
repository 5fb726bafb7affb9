"""Which pass of a pattern each join is welded in, and which way the hand goes through a pass."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.pattern.pattern import Pattern, middle_jump, starts_of
from chainplan.order.piece.grid import group_sequence

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import IntArray
    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.piece.work import HandWork


@frozen
class Ground:
    """Joins that a pattern goes through in one go, and how they are counted in it.

    They are those of one face and setting, or of them those of one place of the clip. Those that
    are ``listed`` hold a fitting to a sheet: every pattern takes them ring by ring.
    """

    joins: IntArray
    origin: IntArray  # (stretches,) unit or column from which each stretch is counted
    row: IntArray  # (k,) from 0, without gaps
    column: IntArray  # (k,) from 0: of a line from the origin of its stretch
    member: IntArray  # (k,)
    stretch: IntArray  # (k,)
    forth: npt.NDArray[np.int64]  # (k,) place of each join along a line, one way
    back: npt.NDArray[np.int64]  # (k,) … and the other
    listed: bool = False


@frozen
class Numbered:
    """What a pattern makes of the joins of a ground. Arrays have one entry a join."""

    number: npt.NDArray[np.int64]  # of its pass; passes are welded by rising number
    way: npt.NDArray[np.int64]  # the hand goes through a pass by rising way
    start: IntArray  # which start of the stride
    turn: IntArray  # which of the turns that share the runs
    part: npt.NDArray[np.signedinteger]  # which of the classes, or when it is welded
    block: IntArray  # which block

    def sequence(self) -> npt.NDArray[np.intp]:
        """Sort joins as they are welded; places in the ground."""
        wide = int(self.way.max(initial=0)) + 1
        return np.argsort(self.number * wide + self.way, kind="stable")


def ground_of(grid: JoinGrid, joins: IntArray, *, by_clip: bool, runs: bool) -> Ground:
    """Count joins as patterns do.

    ``by_clip``: from place to place of the clip. ``runs``: patterns that skip from run to run, in
    which gaps count too, so that what is skipped is always as long.
    """
    column, member = grid.column[joins], grid.member[joins]
    units = np.unique(column)
    origin = np.full(grid.unit_mm.shape[0], units[0])
    row = np.zeros_like(column)
    if grid.sheet:
        row = np.searchsorted(np.unique(grid.row[joins]), grid.row[joins]).astype(np.int32)
        rank = np.searchsorted(units, column).astype(np.int32)
        if runs:
            rank = column - units[0]
    else:
        rank = np.searchsorted(units, column).astype(np.int32)
        if runs or (units.shape[0] > 2 and np.unique(np.diff(units)).shape[0] > 1):
            rank = column - units[0]  # gaps: count all units, so that strides stay true
        if grid.unit_mm.shape[0] > 1:  # every stretch from its own first unit
            origin[:] = np.iinfo(np.int32).max
            every = joins if by_clip else slice(None)
            np.minimum.at(origin, grid.stretch[every], grid.column[every])
            rank = (column - origin[grid.stretch[joins]]).astype(np.int32)
    places = []
    for way in (1, -1):
        place = np.empty(joins.shape[0], dtype=np.int64)
        place[np.lexsort((way * member, way * column))] = np.arange(joins.shape[0])
        places.append(place)
    return Ground(
        joins=joins,
        origin=origin,
        row=row,
        column=rank,
        member=member,
        stretch=grid.stretch[joins],
        forth=places[0],
        back=places[1],
    )


def list_grounds(
    grid: JoinGrid, work: HandWork, *, by_clip: bool, runs: bool
) -> list[tuple[int, int, Ground]]:
    """List what patterns go through: face, setting and joins, group by group, clip by clip."""
    found = []
    for face, setting in group_sequence(work)[0]:
        joins = np.flatnonzero((work.face == face) & (work.setting == setting)).astype(np.int32)
        every = [joins] if joins.size else []
        if joins.size and by_clip:
            joins = joins[np.argsort(work.clip[joins], kind="stable")]
            ends = np.flatnonzero(np.diff(work.clip[joins])) + 1
            every = [np.sort(some) for some in np.split(joins, ends)]
        for some in every:
            found += [
                (
                    face,
                    setting,
                    replace(ground_of(grid, own, by_clip=by_clip, runs=runs), listed=on),
                )
                for own, on in _part(grid, some)
                if own.size
            ]
    return found


def _part(grid: JoinGrid, joins: IntArray) -> list[tuple[IntArray, bool]]:
    """Part the joins of a sheet from those that hold fittings to it, before it and after it."""
    beside = grid.beside[joins]
    if not beside.any():
        return [(joins, False)]
    own, held = joins[~beside], joins[beside]
    first = own[0] if own.size else np.iinfo(np.int32).max
    return [(held[held < first], True), (own, False), (held[held >= first], True)]


def number_joins(grid: JoinGrid, ground: Ground, pattern: Pattern) -> Numbered:
    """Give each join the number of its pass, and its place on the way through."""
    if ground.listed:
        none = np.zeros_like(ground.column)
        one = np.zeros(none.shape, dtype=np.int64)
        way = np.arange(none.shape[0], dtype=np.int64)
        return Numbered(number=one, way=way, start=none, turn=none, part=none, block=none)
    make = _number_line if pattern.family == "line" else _number_sheet
    if not pattern.home:
        return make(grid, ground, pattern)
    ahead = find_ahead(grid, ground, pattern)
    other = replace(pattern, backward=not pattern.backward)
    count, passes = ground.joins.shape[0], []
    number, way = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    start, turn, part = (np.zeros(count, dtype=np.int32) for _ in range(3))
    for some, follows in ((ahead, other), (~ahead, pattern)):
        if not some.any():
            passes.append(0)
            continue
        mine = ground_of(grid, ground.joins[some], by_clip=False, runs=bool(pattern.run))
        numbered = make(grid, mine, follows)
        which, number[some] = np.unique(numbered.number, return_inverse=True)
        passes.append(which.shape[0])
        way[some], turn[some], part[some] = numbered.way, numbered.turn, numbered.part
        from_here = mine.origin[mine.stretch] - ground.origin[mine.stretch]
        start[some] = numbered.start + from_here
    if pattern.home_each and passes[0] == passes[1]:
        number = 2 * number + (~ahead).astype(np.int64)
    else:
        number[~ahead] += passes[0]
    return Numbered(
        number=number, way=way, start=start, turn=turn, part=part, block=np.zeros_like(start)
    )


def find_ahead(grid: JoinGrid, ground: Ground, pattern: Pattern) -> npt.NDArray[np.bool_]:
    """Tell which joins are welded ahead of the others, at the end that passes run towards."""
    column = grid.column[ground.joins]
    if not pattern.home:
        return np.zeros(column.shape[0], dtype=bool)
    if pattern.backward:
        return np.asarray(column < int(grid.column.min()) + pattern.home)
    return np.asarray(column > int(grid.column.max()) - pattern.home)


def _number_line(grid: JoinGrid, ground: Ground, pattern: Pattern) -> Numbered:
    column, part = ground.column, ground.member % pattern.classes
    start = column % pattern.stride
    number, turn = _number_passes(pattern, start, column, part)
    block = np.zeros_like(column)
    if pattern.blocks > 1:
        block = column // (-(-(int(column.max()) + 1) // pattern.blocks))
        number = number + block * pattern.passes
    # Pass by pass through the stretches, each of them a pass of its own.
    stretches = grid.unit_mm.shape[0]
    if stretches > 1:
        along = stretches - 1 - ground.stretch if pattern.backward else ground.stretch
        number = number * stretches + along
    return Numbered(
        number=number,
        way=ground.back if pattern.backward else ground.forth,
        start=start,
        turn=turn,
        part=part,
        block=block,
    )


def _number_sheet(_grid: JoinGrid, ground: Ground, pattern: Pattern) -> Numbered:
    row, column = ground.row, ground.column
    start = column % pattern.stride
    part = places_of(pattern.classes, middle_jump(pattern.classes))[row % pattern.classes]
    outer, inner = row, column
    if pattern.family == "columns":
        outer, inner = column, row
    if pattern.family == "diagonals":
        start, part = (row + column) % pattern.stride, np.zeros_like(part)
        outer, inner = row + column, row
    number, turn = _number_passes(pattern, start, column, part)
    if pattern.snake:
        inner = np.where(_odd_lines(number, outer), -inner, inner)
    way = -1 if pattern.backward else 1
    place = np.empty(row.shape[0], dtype=np.int64)
    place[np.lexsort((way * inner, way * outer))] = np.arange(row.shape[0])
    return Numbered(
        number=number, way=place, start=start, turn=turn, part=part, block=np.zeros_like(row)
    )


@cache
def places_of(size: int, jump: int) -> npt.NDArray[np.int64]:
    """When each start of a stride is welded, shape (size,): the inverse of ``starts_of``."""
    place = np.empty(size, dtype=np.int64)
    place[starts_of(size, jump)] = np.arange(size)
    place.flags.writeable = False
    return place


def _number_passes(
    pattern: Pattern, start: IntArray, counted: IntArray, part: npt.NDArray[np.signedinteger]
) -> tuple[npt.NDArray[np.int64], IntArray]:
    """Pass of each join, and which of the turns that share the runs it belongs to.

    ``start``: which start of the stride a join belongs to; ``counted``: its unit or column from 0;
    ``part``: when its class is welded.
    """
    begun = places_of(pattern.stride, pattern.jump)[start]
    turn = np.zeros_like(start)
    if pattern.run:
        turn = (counted // pattern.run) % pattern.share
        turned = places_of(pattern.share, pattern.turn_jump or middle_jump(pattern.share))[turn]
        if pattern.turn_first:
            begun = turned * pattern.stride + begun
        else:
            begun = begun * pattern.share + turned
    return begun * pattern.classes + part, turn


def _odd_lines(number: npt.NDArray[np.int64], outer: IntArray) -> npt.NDArray[np.bool_]:
    """Whether a join's line is the 2nd, 4th … of its pass: those are gone through backwards."""
    order = np.lexsort((outer, number))
    fresh = np.diff(number[order], prepend=-1) != 0
    lines = np.cumsum(fresh | (np.diff(outer[order], prepend=-1) != 0))
    since = lines - np.maximum.accumulate(np.where(fresh, lines, 0))
    odd = np.empty(order.shape[0], dtype=bool)
    odd[order] = since % 2 == 1
    return odd
