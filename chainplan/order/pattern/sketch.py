"""Many patterns as bare orders, to be compared; the one that is chosen is laid out in passes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.pattern.numbering import list_grounds, number_joins
from chainplan.order.pattern.passes import LISTED_TOGETHER, TINY

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import IntArray
    from chainplan.order.pattern.numbering import Ground
    from chainplan.order.pattern.pattern import Pattern
    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.piece.work import HandWork


@frozen
class Sketches:
    """Patterns as orders, one row a pattern; the same orders that their passes make."""

    orders: IntArray  # (p, m)
    lines: npt.NDArray[np.int64]  # (p,) in which passes are said, those of a join or two together


def sketch_patterns(
    grid: JoinGrid, work: HandWork, listed: Sequence[tuple[Pattern, Sequence[int]]]
) -> Sketches:
    """Lay patterns out as orders.

    Parameters
    ----------
    grid, work
        How a person counts, and the joins.
    listed : sequence of (Pattern, sequence of int)
        Patterns, each with the joins that are welded one at a time between its passes.
    """
    orders = np.empty((len(listed), work.joins), dtype=np.int32)
    lines = np.empty(len(listed), dtype=np.int64)
    grounds: dict[tuple[bool, bool], list[tuple[int, int, Ground]]] = {}
    for index, (pattern, alone) in enumerate(listed):
        kind = (pattern.by_clip, bool(pattern.run))
        if kind not in grounds:
            grounds[kind] = list_grounds(grid, work, by_clip=kind[0], runs=kind[1])
        begin, sizes = 0, []
        apart = np.zeros(work.joins if alone else 0, dtype=bool)
        apart[list(alone)] = True
        for _, _, ground in grounds[kind]:
            numbered = number_joins(grid, ground, pattern)
            sequence = numbered.sequence()
            joins, number = ground.joins[sequence], numbered.number[sequence]
            place = np.zeros(joins.shape[0], dtype=np.int64)  # which pass, from 0
            np.cumsum(number[1:] != number[:-1], out=place[1:])
            if alone:
                joins, place = _with_singles(ground.joins, joins, place, apart)
            sizes.append(np.bincount(place))
            orders[index, begin : begin + joins.shape[0]] = joins
            begin += joins.shape[0]
        lines[index] = count_lines(np.concatenate(sizes))
    return Sketches(orders=orders, lines=lines)


def count_lines(sizes: npt.NDArray[np.intp]) -> int:
    """Count the lines in which passes of so many joins are said; passes of none are not said."""
    tiny = sizes <= TINY
    return int(np.count_nonzero(~tiny)) + -(-int(sizes[tiny].sum()) // LISTED_TOGETHER)


def _with_singles(
    ground: IntArray, joins: IntArray, place: npt.NDArray[np.int64], apart: npt.NDArray[np.bool_]
) -> tuple[IntArray, npt.NDArray[np.int64]]:
    """Spread single joins evenly between the passes, each a pass of its own."""
    kept = ~apart[joins]
    single = ground[apart[ground]]
    joins = joins[kept]
    place = np.unique(place[kept], return_inverse=True)[1] + 1
    passes = int(place.max(initial=0))
    until = -(-single.shape[0] * np.arange(1, passes + 1) // max(passes, 1))
    after = np.searchsorted(until, np.arange(single.shape[0]), side="right") + 1
    order = np.argsort(np.concatenate([2 * place, 2 * after + 1]), kind="stable")
    number = np.concatenate([place, passes + 1 + np.arange(single.shape[0])])[order]
    return np.concatenate([joins, single])[order], number
