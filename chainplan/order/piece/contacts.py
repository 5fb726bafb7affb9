"""How many contacts from ring to ring the current crosses between the clip and a join.

The current goes through linked rings: a ring hangs in those that pass through it. Rings that only
lie against one another may touch or not, so such ways are not counted on.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.bench.groups import LeadSettings
    from chainplan.model.piece.layout import Layout


@frozen
class Contacts:
    """How far a clip reaches: by distance, and by contacts if that is asked for."""

    mm: float  # farthest join from the ring that the clip sits on
    most: int  # most contacts between them; 0: any number
    furthest_mm: float  # no join within both is farther away
    first: IntArray  # (n + 1,) where each ring's linked rings begin
    linked: IntArray  # rings, ring after ring
    known: dict[int, IntArray] = field(default_factory=dict)

    @classmethod
    def of(cls, layout: Layout, lead: LeadSettings) -> Contacts:
        """Sort the links of a piece by ring."""
        both = np.concatenate([layout.links, layout.links[:, ::-1]])
        order = np.argsort(both[:, 0], kind="stable")
        first = np.searchsorted(both[order, 0], np.arange(layout.rings + 1))
        return cls(
            mm=lead.clip_reach_mm,
            most=lead.clip_reach_contacts,
            furthest_mm=furthest_mm(layout, lead),
            first=first.astype(np.int32),
            linked=both[order, 1].astype(np.int32),
        )

    def few(self, clip: int, ring: IntArray) -> BoolArray:
        """Tell which rings are no more contacts from the clip's than are asked for."""
        if self.most == 0:
            return np.ones(ring.shape[0], dtype=bool)
        if clip not in self.known:
            self.known[clip] = self._around(clip)
        return np.isin(ring, self.known[clip])

    def reaches(self, clip: int, ring: IntArray, away_mm: FloatArray) -> bool:
        """Whether a clip reaches all of some joins."""
        return bool(away_mm.max() <= self.mm) and bool(self.few(clip, ring).all())

    def _around(self, clip: int) -> IntArray:
        """Rings so few contacts from the clip's, itself among them."""
        found = edge = np.asarray([clip], dtype=np.int32)
        for _ in range(self.most):
            size = self.first[edge + 1] - self.first[edge]
            inner = np.arange(int(size.sum())) - np.repeat(np.cumsum(size) - size, size)
            beside = self.linked[np.repeat(self.first[edge], size) + inner]
            edge = np.setdiff1d(beside, found)
            if edge.size == 0:
                break
            found = np.concatenate([found, edge])
        return found


def furthest_mm(layout: Layout, lead: LeadSettings) -> float:
    """Farthest that a join can lie from the clip: as set, or as so many links can stretch. [mm]."""
    if lead.clip_reach_contacts == 0:
        return lead.clip_reach_mm
    apart = layout.centre_mm[layout.links[:, 0], :2] - layout.centre_mm[layout.links[:, 1], :2]
    longest = float(np.hypot(apart[:, 0], apart[:, 1]).max(initial=0.0))
    own = float((layout.mean_radius_mm + layout.wire_mm).max())
    return min(lead.clip_reach_mm, lead.clip_reach_contacts * longest + own)
