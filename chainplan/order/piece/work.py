"""The joins to weld and what the hand needs from one to the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.groups import PaceSettings
    from chainplan.model.order import WeldSetting
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout


@frozen
class HandWork:
    """The joins welded in place, numbered 0 … m−1 in ring order, and the pace of the hand.

    An order is a permutation of those numbers. Join k's first pulse falls ``handle_s`` after the
    hand has come to it; ``after_s`` more go into its extra hits; then the hand moves on.
    """

    ring: IntArray  # (m,) ring of each join
    place_mm: FloatArray  # (m, 2) where the hand goes
    face: IntArray  # (m,) index into model.piece.joins.FACES
    setting: IntArray  # (m,) index into settings
    after_s: FloatArray  # (m,) extra hits
    settings: tuple[WeldSetting, ...]
    handle_s: float
    move_mm_s: float
    turn_s: float
    change_s: float
    clip: IntArray  # (m,) place of the clip that each join is welded from; all 0 without a clip
    clip_ring: IntArray  # (places,) ring that the clip sits on there; empty without a clip
    clip_s: float = 0.0  # to move the clip
    least_places: int = 1  # no way of placing the clip needs fewer

    @property
    def joins(self) -> int:
        """Number of joins welded in place."""
        return int(self.ring.shape[0])

    @property
    def handling_s(self) -> float:
        """Seconds that aiming and welding take in any order."""
        return self.joins * self.handle_s + float(self.after_s.sum())

    def step_mm(self, first: IntArray, second: IntArray) -> FloatArray:
        """Distance that the hand moves from one join to another, in mm."""
        apart = self.place_mm[first] - self.place_mm[second]
        distance: FloatArray = np.hypot(apart[..., 0], apart[..., 1])
        return distance

    def step_s(self, first: IntArray, second: IntArray) -> FloatArray:
        """Seconds between two joins: moving hand and clip, turning the piece, another setting."""
        seconds: FloatArray = (
            self.step_mm(first, second) / self.move_mm_s
            + self.turn_s * (self.face[first] != self.face[second])
            + self.change_s * (self.setting[first] != self.setting[second])
            + self.clip_s * (self.clip[first] != self.clip[second])
        )
        return seconds

    def gaps_s(self, orders: IntArray) -> FloatArray:
        """Seconds from the pulse before to each pulse when nobody waits, shape of ``orders``."""
        orders = np.asarray(orders)
        gaps = np.full(orders.shape, self.handle_s)
        before, after = orders[..., :-1], orders[..., 1:]
        gaps[..., 1:] += self.after_s[before] + self.step_s(before, after)
        return gaps

    def clip_rings(self, order: IntArray) -> IntArray | None:
        """Ring that the clip sits on at each step of an order, (m,); None without a clip."""
        return self.clip_ring[self.clip[order]] if self.clip_ring.size else None

    def clip_moves(self, order: IntArray) -> int:
        """How often the clip is moved in an order."""
        return int(np.count_nonzero(np.diff(self.clip[order])))

    def travel_mm(self, order: IntArray) -> float:
        """Way of the hand over a whole order, in mm."""
        return float(self.step_mm(order[:-1], order[1:]).sum())

    def bench_s(self, order: IntArray, start_s: FloatArray) -> float:
        """Seconds from taking up the piece to the end of the last join."""
        if self.joins == 0:
            return 0.0
        return float(start_s[-1] + self.after_s[order[-1]])


def lay_out_work(
    layout: Layout, joins: Joins, settings: Sequence[WeldSetting], pace: PaceSettings
) -> HandWork:
    """Collect the joins welded in place with their faces, settings and the pace."""
    ring = joins.in_place
    distinct: list[WeldSetting] = []
    index_of: list[int] = []
    for setting in settings:
        same = [
            k
            for k, known in enumerate(distinct)
            if (known.power_j, known.hits, known.tip)
            == (setting.power_j, setting.hits, setting.tip)
        ]
        if not same:
            distinct.append(setting)
        index_of.append(same[0] if same else len(distinct) - 1)
    group = np.asarray(index_of, dtype=np.int32)[layout.material[ring]]
    hits = np.asarray([setting.hits for setting in distinct], dtype=float)
    return HandWork(
        ring=ring,
        place_mm=np.ascontiguousarray(joins.point_mm[ring, :2], dtype=float),
        face=joins.face[ring].astype(np.int32),
        setting=group,
        after_s=pace.extra_hit_s * (hits[group] - 1.0),
        settings=tuple(distinct),
        handle_s=pace.handle_s,
        move_mm_s=pace.move_mm_s,
        turn_s=pace.turn_s,
        change_s=pace.change_setting_s,
        clip=np.zeros(ring.shape[0], dtype=np.int32),
        clip_ring=np.zeros(0, dtype=np.int32),
    )
