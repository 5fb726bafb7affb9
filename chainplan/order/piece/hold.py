"""Where the fingers can hold the piece while a join is welded, and how warm it is there.

The fingers take the piece on both sides of the join, somewhere between two distances from it. The
piece is cut into patches as wide as a fingertip; on each side the coolest patch within reach is
taken, and its warmest ring counts, when the fingers close on it and when the pulse falls. A side
on which the piece has no patch within reach is not held. Loose joins (pendant rings, earring posts)
are not held this way at all: each belongs to something of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.layout import Layout
    from chainplan.order.piece.work import Work


@dataclass(frozen=True, kw_only=True)
class Hold:
    """Patches of the piece, and for every join which of them lie within reach on each side."""

    patch_ring: IntArray  # (p, r), −1 fills up
    reach: BoolArray  # (2, m, p) left and right


def lay_out_hold(
    layout: Layout,
    work: Work,
    limits: HeatSettings,
    fingertip_mm: float,
) -> Hold | None:
    """Cut the piece into patches; None if nothing is ever held bare between the fingers."""
    if not limits.held_bare or work.joins == 0 or limits.hold_to_mm <= 0:
        return None
    loose = np.asarray([section.form == "loose" for section in layout.sections])[layout.section]
    if loose.all():
        return None
    place = layout.centre_mm[:, :2]
    cell = np.floor((place - place.min(axis=0)) / fingertip_mm).astype(np.int64)
    key = cell[:, 0] * (int(cell[:, 1].max()) + 1) + cell[:, 1]
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    by_patch = np.argsort(key, kind="stable")
    whole = np.logical_or.reduceat(~loose[by_patch], np.concatenate([[0], np.cumsum(count)[:-1]]))
    begin = np.concatenate([[0], np.cumsum(count)[:-1]])
    pick = np.arange(int(count.max()))[None, :]
    inside = pick < count[:, None]
    ring = by_patch[begin[:, None] + np.minimum(pick, count[:, None] - 1)]
    patch_ring = np.where(inside, ring, -1).astype(np.int32)
    middle = (cell[first] + 0.5) * fingertip_mm + place.min(axis=0)
    here = work.place_mm
    away = middle[:, 0] - here[:, :1]
    near = (np.abs(away) >= limits.hold_from_mm) & (np.abs(away) <= limits.hold_to_mm)
    near &= np.abs(middle[:, 1] - here[:, 1:]) <= limits.hold_to_mm
    near &= whole & ~loose[work.ring][:, None]
    reach = np.stack([near & (away < 0), near & (away > 0)])
    return Hold(patch_ring=patch_ring, reach=reach) if reach.any() else None
