"""A piece's network laid out for following: its modes, what welds add, what to watch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.follower import Fingers, Follower
from chainplan.order.clock.waits import WAIT_STEP_S
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.model.thermal.uneven import Uneven
    from chainplan.order.clock.field import Caps
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import ClockTuning


def solve_modes(
    work: HandWork,
    caps: Sequence[Caps],
    hold: Hold | None,
    hold_limit_c: float,
    tuning: ClockTuning = USUAL.clock,
    uneven: Uneven | None = None,
) -> Follower:
    """Lay the solved network of a piece out in the corners that the caps belong to.

    ``uneven``: what fingers feel at joins of rings that take seconds to even out, as one more
    fading mode for each of them, which nothing but its own weld adds to and nobody but the fingers
    reads.
    """
    fields = [cap.field for cap in caps]
    nodes = fields[0].base_c.shape[0]
    fine = nodes <= tuning.fine_nodes
    kind: type = np.float64 if fine else np.float32
    rate: FloatArray = np.asarray([field.rate for field in fields], dtype=kind)
    shape: FloatArray = np.empty((nodes, len(fields), rate.shape[1]), dtype=kind)
    for corner, field in enumerate(fields):
        shape[:, corner] = field.vectors / field.root_capacity[:, None]
    heat_j: FloatArray = np.stack([field.heat_j for field in fields], axis=1).astype(kind)
    window = max(cap.field.window_s for cap in caps)
    late = np.geomspace(tuning.ahead_s, max(window, 2.0 * tuning.ahead_s), tuning.ahead_samples)
    ahead_s = np.concatenate([np.arange(tuning.ahead_s), tuning.soon_s, late])
    wait_s = list_waits_s(window + WAIT_STEP_S, tuning, fine=fine)
    touching = np.zeros(work.joins, dtype=bool)
    ahead, part_k = [], []
    for corner, cap in enumerate(caps):
        fading = np.exp(-np.outer(rate[corner], ahead_s))
        parts = [shape[node, corner, :, None] * fading for node in cap.part_node.tolist()]
        ahead.append(np.concatenate([np.zeros((rate.shape[1], 0)), *parts], axis=1))
        cap_k = _follow_nearest(cap, touching, tuning.neglected)
        part_k.append(np.repeat(cap_k, ahead_s.shape[0]))
    base_c = np.asarray([field.base_c for field in fields])
    modes = _Laid(rate, shape, shape, shape[work.ring] * heat_j[:, :, None])
    more = 0
    if hold is not None and uneven is not None:
        modes, more = _at_joins(modes, work, uneven, fields[0].root_capacity, heat_j)
    rate = modes.rate
    return Follower(
        rate=rate,
        shape=modes.shape,
        touch=modes.touch,
        weld=modes.weld,
        base_c=base_c,
        join_k=np.asarray([cap.join_k for cap in caps]),
        ahead=np.pad(np.asarray(ahead, dtype=kind), ((0, 0), (0, more), (0, 0))),
        part_k=np.asarray(part_k),
        touching=touching,
        fingers=None if hold is None else _fingers(hold, hold_limit_c, modes.touch, base_c),
        handle_s=work.handle_s,
        ring=work.ring,
        wait_s=wait_s,
        wait_fading=np.exp(-rate[:, :, None] * wait_s.astype(kind)),
        tuning=tuning,
    )


@dataclass(frozen=True)
class _Laid:
    """Modes, and what they are at nodes, where fingers touch, and of welds."""

    rate: FloatArray  # (c, n)
    shape: FloatArray  # (nodes, c, n)
    touch: FloatArray  # (nodes, c, n)
    weld: FloatArray  # (m, c, n)


def _at_joins(
    modes: _Laid, work: HandWork, uneven: Uneven, root_capacity: FloatArray, heat_j: FloatArray
) -> tuple[_Laid, int]:
    """Add a fading mode for each join of a ring that takes seconds to even out; and how many."""
    slow = np.flatnonzero(uneven.spread_s[work.ring] > 0)
    if not slow.size:
        return modes, 0
    ring = work.ring[slow]
    most_k = (uneven.most_share()[ring] / root_capacity[ring] ** 2)[:, None] * heat_j[slow]
    fades = np.tile(1 / uneven.spread_s[ring], (modes.rate.shape[0], 1)).astype(modes.rate.dtype)
    own = modes.rate.shape[1] + np.arange(slow.size)
    wide = ((0, 0), (0, 0), (0, slow.size))
    shape, weld = np.pad(modes.shape, wide), np.pad(modes.weld, wide)
    touch = shape.copy()
    weld[slow, :, own] = most_k
    touch[ring, :, own] = 1.0
    return _Laid(np.concatenate([modes.rate, fades], axis=1), shape, touch, weld), slow.size


def list_waits_s(longest_s: float, tuning: ClockTuning, *, fine: bool) -> FloatArray:
    """Whole waits to try: every one, or above some seconds a quarter longer each time."""
    waits: FloatArray = np.arange(1.0, int(longest_s / WAIT_STEP_S) + 1) * WAIT_STEP_S
    if fine and waits.size <= tuning.most_waits:
        return waits
    count = int(np.log(max(longest_s, 2.0)) / np.log(tuning.longer)) + 2
    longer: FloatArray = np.ceil(tuning.longer ** np.arange(count) / WAIT_STEP_S) * WAIT_STEP_S
    return np.unique(longer)


def _follow_nearest(cap: Caps, touching: BoolArray, neglected: float) -> FloatArray:
    """Mark the joins that count for a part; caps less what all the others could bring. [K]."""
    cap_k = cap.part_k.astype(float)
    for index, node in enumerate(cap.part_node.tolist()):
        peak = cap.field.peaks_k(node)
        rank = np.argsort(peak, kind="stable")
        small = np.cumsum(peak[rank]) <= neglected * cap_k[index]
        touching[rank[~small]] = True
        cap_k[index] -= float(peak[rank[small]].sum())
    return cap_k


def _fingers(hold: Hold, limit_c: float, touch: FloatArray, base_c: FloatArray) -> Fingers:
    used = hold.patch_ring >= 0
    count = used.sum(axis=1)
    ring = hold.patch_ring[used].astype(np.int32)
    return Fingers(
        ring=ring,
        begin=np.concatenate([[0], np.cumsum(count)[:-1]]).astype(np.int32),
        patch_ring=np.where(used, hold.patch_ring, hold.patch_ring[:, :1]),
        shape=np.ascontiguousarray(touch[hold.patch_ring[:, 0]].transpose(1, 0, 2)),
        every=np.ascontiguousarray(touch[ring].transpose(1, 0, 2)),
        base_c=base_c[:, ring, None].astype(touch.dtype),
        reach=np.ascontiguousarray(hold.reach.transpose(0, 2, 1)),
        limit_c=limit_c,
    )
