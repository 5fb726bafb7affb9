"""Passes that can be said in one line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.said import said
from chainplan.order.pattern.numbering import Ground, find_ahead, list_grounds, number_joins
from chainplan.order.pattern.pattern import Pattern, PlannedPass, Taken
from chainplan.order.pattern.phrases import say_rings, say_taken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IntArray
    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.piece.work import HandWork


TINY = 2
"""Passes of so few joins that follow one another are said as lists: a list is then no longer."""
LISTED_TOGETHER = 6
"""Rings named one by one in one pass, at most: what is kept in mind at the bench (judgement)."""


def _take(grid: JoinGrid, ground: Ground, pattern: Pattern) -> list[tuple[Taken, Pattern]]:
    """Go through the joins of a ground, pass by pass; with what each pass follows."""
    numbered = number_joins(grid, ground, pattern)
    order = numbered.sequence()
    ends = np.flatnonzero(np.diff(numbered.number[order])) + 1
    passes, first = np.split(ground.joins[order], ends), order[np.concatenate([[0], ends])]
    begin = ground.origin[ground.stretch[first]] + numbered.turn[first] * pattern.run
    begin = (begin + numbered.start[first]).tolist()
    other = replace(pattern, backward=not pattern.backward)
    ahead = find_ahead(grid, ground, pattern)[first].tolist()
    ways = [other if early else pattern for early in ahead]
    if pattern.family != "line":
        found = [Taken(joins=joins, first=unit) for joins, unit in zip(passes, begin, strict=True)]
        return list(zip(found, ways, strict=True))
    column, block = grid.column[ground.joins], numbered.block
    last = [int(column[block == k].max(initial=0)) + 1 for k in range(pattern.blocks)]
    part, inside = numbered.part[first].tolist(), block[first].tolist()
    return [
        (Taken(joins=joins, first=unit, part=ring, last=last[k]), way)
        for joins, unit, ring, k, way in zip(passes, begin, part, inside, ways, strict=True)
    ]


def lay_out_passes(
    grid: JoinGrid, pattern: Pattern, work: HandWork, alone: Sequence[int] = ()
) -> list[PlannedPass]:
    """Turn a pattern into passes, one group of face and setting after another.

    Parameters
    ----------
    grid, pattern, work
        How a person counts, the pattern, the joins.
    alone : sequence of int, optional
        Joins taken out of the passes and welded one at a time between them (near a
        heat-sensitive part).

    Returns
    -------
    list of PlannedPass
        Every join exactly once.
    """
    apart = np.zeros(work.joins, dtype=bool)
    apart[list(alone)] = True
    out: list[PlannedPass] = []
    for face, setting, ground in list_grounds(
        grid, work, by_clip=pattern.by_clip, runs=bool(pattern.run)
    ):
        passes: list[PlannedPass] = []
        if ground.listed:
            kept = ground.joins[~apart[ground.joins]]
            passes = list_rings(grid, kept, face, setting)
        for taken, way in () if ground.listed else _take(grid, ground, pattern):
            chosen, stem = taken.joins, say_taken(grid, way, taken)
            out_of = [int(grid.ring[join]) for join in chosen[apart[chosen]]]
            kept = chosen[~apart[chosen]]
            if out_of:
                stem = said("line.without", stem=stem, rings=say_rings(out_of, 9))
            if kept.size:
                passes.append(PlannedPass(joins=kept, stem=stem, face=face, setting=setting))
        out += _with_singles(grid, passes, ground.joins[apart[ground.joins]], face, setting)
    return out


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
            stem = said("line.alone", ring=grid.ring[join] + 1)
            alone = np.asarray([join], dtype=np.int32)
            out.append(PlannedPass(joins=alone, stem=stem, face=face, setting=setting))
        done = max(done, until)
    for join in single[done:]:
        stem = said("line.alone", ring=grid.ring[join] + 1)
        alone = np.asarray([join], dtype=np.int32)
        out.append(PlannedPass(joins=alone, stem=stem, face=face, setting=setting))
    return out


def list_rings(grid: JoinGrid, joins: IntArray, face: int, setting: int) -> list[PlannedPass]:
    """Say joins ring by ring, a few to a pass."""
    passes = []
    for first in range(0, joins.shape[0], LISTED_TOGETHER):
        some = joins[first : first + LISTED_TOGETHER]
        rings = say_rings(grid.ring[some].tolist(), LISTED_TOGETHER)
        stem = said("line.in_order", rings=rings) if some.shape[0] > 1 else rings
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
        if item.joins.shape[0] > TINY or not alike:
            flush()
        if item.joins.shape[0] > TINY:
            out.append(item)
        else:
            row.append(item)
    flush()
    return out


def _kind(item: PlannedPass, grid: JoinGrid) -> tuple[int, int, int]:
    """Face, setting and stretch of a pass: what differs in them is never said together."""
    return item.face, item.setting, int(grid.stretch[item.joins[0]])


def order_of(passes: Sequence[PlannedPass]) -> IntArray:
    """Join the passes into one order."""
    if not passes:
        return np.zeros(0, dtype=np.int32)
    return np.concatenate([planned.joins for planned in passes]).astype(np.int32)
