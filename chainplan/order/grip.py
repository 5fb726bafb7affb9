"""Places the fingers can take at each step, from a simulated run: the verifier's own reckoning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]

_MOST_STEPS = 1000
_MOST_STEPS_LARGE = 40
_SMALL = 2000
_JUST_BEFORE_S = 1e-6


@dataclass(frozen=True, kw_only=True)
class Grips:
    """Which patches are within reach at some steps of an order, and when to look at them."""

    steps: IntArray  # (k,) all steps, or evenly spread ones of a long order
    moment_s: FloatArray  # (2k,) ascending: when the fingers close and just before each pulse
    place: IntArray  # (2, k) where the two moments of each step stand in moment_s
    order: IntArray  # ring numbers sorted by patch
    begin: IntArray  # (p,) first of each patch in ``order``
    reach: tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]  # left, right: (k, p)

    def temperatures_c(self, at_c: FloatArray) -> FloatArray:
        """Coolest patch of the worse side at each step, −inf where nothing is held. [°C].

        Parameters
        ----------
        at_c : array, shape (2k, N)
            Temperatures of all nodes at ``moment_s``.
        """
        patch = np.maximum.reduceat(at_c[:, self.order], self.begin, axis=1)
        return self.worse_side_c(np.maximum(patch[self.place[0]], patch[self.place[1]]))

    def worse_side_c(self, both: FloatArray) -> FloatArray:
        """Judge by the temperature of every patch at every step, shape (k, p). [°C]."""
        worst = np.full(self.steps.shape[0], -np.inf)
        for reach in self.reach:
            coolest = np.where(reach, both, np.inf).min(axis=1)
            worst = np.maximum(worst, np.where(reach.any(axis=1), coolest, -np.inf))
        return worst


def lay_out_grips(
    layout: Layout,
    joins: Joins,
    ring: IntArray,
    start_s: FloatArray,
    *,
    pace: PaceSettings,
    limits: HeatSettings,
    most_steps: int = _MOST_STEPS,
) -> Grips | None:
    """Cut the piece into fingertip-wide patches; None if it is not held bare."""
    loose = np.asarray([section.form == "loose" for section in layout.sections])[layout.section]
    if not limits.held_bare or ring.shape[0] == 0 or loose.all():
        return None
    place = layout.centre_mm[:, :2]
    corner = place.min(axis=0)
    cell = np.floor((place - corner) / pace.fingertip_mm).astype(np.int64)
    key = cell[:, 0] * (int(cell[:, 1].max()) + 1) + cell[:, 1]
    order = np.argsort(key, kind="stable").astype(np.int32)
    begin = np.flatnonzero(np.diff(key[order], prepend=-1)).astype(np.int32)
    middle = (cell[order[begin]] + 0.5) * pace.fingertip_mm + corner
    most = most_steps if layout.rings <= _SMALL else min(most_steps, _MOST_STEPS_LARGE)
    steps = np.unique(np.linspace(0, ring.shape[0] - 1, min(most, ring.shape[0])).astype(np.int32))
    whole = np.logical_or.reduceat(~loose[order], begin)
    here = joins.point_mm[ring[steps], :2]
    away = middle[None, :, 0] - here[:, None, 0]
    level = np.abs(middle[None, :, 1] - here[:, None, 1]) <= limits.hold_to_mm
    level &= whole[None, :] & ~loose[ring[steps]][:, None]
    near = level & (np.abs(away) >= limits.hold_from_mm) & (np.abs(away) <= limits.hold_to_mm)
    pulse = start_s[steps] - _JUST_BEFORE_S
    both = np.concatenate([np.maximum(pulse - pace.handle_s, 0.0), np.maximum(pulse, 0.0)])
    rank = np.argsort(both, kind="stable")
    back = np.empty(rank.shape[0], dtype=np.int32)
    back[rank] = np.arange(rank.shape[0])
    return Grips(
        steps=steps,
        moment_s=both[rank],
        place=back.reshape(2, -1),
        order=order,
        begin=begin,
        reach=(near & (away < 0), near & (away > 0)),
    )
