"""Orders that people weld in when nobody plans them, to compare with."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.pattern.passes import lay_out_passes, order_of
from chainplan.order.pattern.pattern import Pattern
from chainplan.order.piece.grid import group_sequence

if TYPE_CHECKING:
    from chainplan.arrays import IntArray
    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.piece.work import HandWork


def plainest(grid: JoinGrid, work: HandWork) -> Pattern:
    """Give the pattern that goes from end to end; of a sheet with a clip, place by place."""
    family = "rows" if grid.sheet else "line"
    by_clip = grid.sheet and work.clip_ring.shape[0] > 1
    return Pattern(family=family, snake=grid.sheet, by_clip=by_clip)


def end_to_end(grid: JoinGrid, work: HandWork) -> IntArray:
    """Order that people weld in when nobody tells them another: along the piece, row by row."""
    return order_of(lay_out_passes(grid, plainest(grid, work), work))


def alternating_ends(grid: JoinGrid, work: HandWork) -> IntArray:
    """One join from the start, one from the end, and so on, face by face."""
    out = []
    for face, setting in group_sequence(work)[0]:
        joins = np.flatnonzero((work.face == face) & (work.setting == setting))
        turn = np.empty(joins.shape[0], dtype=np.int32)
        half = (joins.shape[0] + 1) // 2
        turn[0::2] = joins[:half]
        turn[1::2] = joins[half:][::-1]
        out.append(turn)
    return np.concatenate(out).astype(np.int32) if out else np.zeros(0, dtype=np.int32)


def random_order(work: HandWork, seed: int) -> IntArray:
    """Random order within each face and setting."""
    rng = np.random.default_rng(seed)
    out = []
    for face, setting in group_sequence(work)[0]:
        joins = np.flatnonzero((work.face == face) & (work.setting == setting))
        out.append(rng.permutation(joins))
    return np.concatenate(out).astype(np.int32) if out else np.zeros(0, dtype=np.int32)
