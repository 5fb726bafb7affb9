"""The return lead of an order, looked at from outside: how far the clip reaches, when it must move.

Nothing here comes from the planner: distances are measured join by join, and the moves that an
order forces are counted without asking where its clip sits.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import ReturnLead
from chainplan.model.order import Violation, ViolationKind

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.bench.groups import LeadSettings, PaceSettings
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout

_AT_ONCE = 256
"""Joins first looked at for the next move; twice as many each time that none is forced."""


def earthed_pace(pace: PaceSettings, lead: LeadSettings | None, way: ReturnLead) -> PaceSettings:
    """Give the hand's pace with the grip of earthed tweezers at every join."""
    if lead is None or way is not ReturnLead.TWEEZERS:
        return pace
    return replace(pace, handle_s=pace.handle_s + lead.tweezers_s)


def clip_moves(
    layout: Layout, joins: Joins, ring: IntArray, lead: LeadSettings, clip_ring: IntArray | None
) -> BoolArray:
    """Tell before which steps the clip is moved, (k,): as said, or where it must have been.

    Without ``clip_ring`` a move is forced where two joins welded from one place would lie farther
    apart, along either axis, than twice the reach; and on rings that hang in no weave, each of
    which needs the clip on itself.
    """
    if clip_ring is not None:
        return np.asarray(np.diff(clip_ring, prepend=clip_ring[:1]) != 0)
    moved = np.zeros(ring.shape[0], dtype=bool)
    forms = np.asarray([section.form == "loose" for section in layout.sections])
    loose = forms[layout.section[ring]]
    place = joins.point_mm[ring, :2]
    own_mm = float((layout.mean_radius_mm + layout.wire_mm).max())
    reach_mm = lead.clip_reach_mm
    if lead.clip_reach_contacts:  # no further than so many links, each as long as the longest
        apart = layout.centre_mm[layout.links[:, 0], :2] - layout.centre_mm[layout.links[:, 1], :2]
        longest_mm = float(np.linalg.norm(apart, axis=1).max(initial=0.0))
        reach_mm = min(reach_mm, lead.clip_reach_contacts * longest_mm + own_mm)
    wide_mm = 2 * max(reach_mm, own_mm)
    first = 0
    while first < ring.shape[0]:
        first = _first_beyond(place, loose, first, wide_mm)
        moved[first : first + 1] = True
    return moved


def _first_beyond(place_mm: FloatArray, loose: BoolArray, first: int, wide_mm: float) -> int:
    """First step after some other that cannot be welded from the same place of the clip."""
    count, alone = len(place_mm), bool(loose[first])
    size = _AT_ONCE
    while True:
        part = place_mm[first : first + size]
        low, high = np.minimum.accumulate(part), np.maximum.accumulate(part)
        beyond = (high - low > wide_mm).any(axis=1) | loose[first : first + size] | alone
        beyond[0] = False
        if beyond.any():
            return first + int(np.argmax(beyond))
        if first + size >= count:
            return count
        size *= 2


def out_of_reach(
    layout: Layout,
    joins: Joins,
    ring: IntArray,
    start_s: FloatArray,
    clip_ring: IntArray,
    lead: LeadSettings,
) -> list[Violation]:
    """List the steps whose join lies beyond the clip's reach, unless the clip is on its ring.

    By distance, and by the links between them where those are limited.
    """
    away = joins.point_mm[ring, :2] - layout.centre_mm[clip_ring, :2]
    far_mm = np.hypot(away[:, 0], away[:, 1])
    forms = np.asarray([section.form == "loose" for section in layout.sections])
    apart = forms[layout.section[ring]] | forms[layout.section[clip_ring]]
    wrong = ((far_mm > lead.clip_reach_mm + 1e-6) | apart) & (clip_ring != ring)
    many = _many_contacts(layout, ring, clip_ring, lead.clip_reach_contacts)
    return [
        Violation(
            step=int(k),
            ring=int(ring[k]),
            time_s=float(start_s[k]),
            temperature_c=float("nan"),
            limit_c=float("nan"),
            what=f"lies {far_mm[k]:.0f} mm from the clip on ring {int(clip_ring[k]) + 1}"
            + (f", more than {lead.clip_reach_contacts} contacts" if many[k] else ""),
            kind=ViolationKind.OUT_OF_REACH,
        )
        for k in np.flatnonzero(wrong | many)
    ]


def _many_contacts(layout: Layout, ring: IntArray, clip_ring: IntArray, most: int) -> BoolArray:
    """Tell at which steps the current crosses more links than allowed; none if any number is."""
    from scipy.sparse import csr_array

    if most == 0:
        return np.zeros(ring.shape[0], dtype=bool)
    ends = np.concatenate([layout.links, layout.links[:, ::-1]])
    beside = csr_array(
        (np.ones(ends.shape[0], dtype=np.int32), (ends[:, 0], ends[:, 1])),
        shape=(layout.rings, layout.rings),
    )
    clips, place = np.unique(clip_ring, return_inverse=True)
    near = csr_array(
        (np.ones(clips.shape[0], dtype=np.int32), (np.arange(clips.shape[0]), clips)),
        shape=(clips.shape[0], layout.rings),
    )
    for _ in range(most):
        near = near + near @ beside
        near.data[:] = 1
    crossed: BoolArray = np.asarray(near[place.ravel(), ring]).ravel() == 0
    return crossed
