"""Places the fingers can take at each step, from a simulated run: the verifier's own reckoning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout


_MOST_LOOKED_AT = 150_000  # rings within reach, over all steps looked at, of large pieces
_FEWEST_STEPS = 40
_CELLS_AT_ONCE = 4_000_000
_SMALL = 2000
_JUST_BEFORE_S = 1e-6


@dataclass(frozen=True, kw_only=True)
class Grips:
    """Patches within reach at some steps of an order, one entry a patch and side."""

    steps: IntArray  # (k,) all steps, or evenly spread ones of a long order
    moment_s: FloatArray  # (2, k) when the fingers close and just before the pulse
    row: IntArray  # (e,) which of ``steps``
    side: IntArray  # (e,) 0: left, 1: right
    node: IntArray  # rings of the patches, entry after entry
    first: IntArray  # (e,) where each entry's rings begin

    def warmest_c(
        self, heat: HeatModel, corner: str, ring: IntArray, start_s: FloatArray
    ) -> FloatArray:
        """Coolest patch of the worse side at each step, −inf where nothing is held, (k,). [°C].

        Parameters
        ----------
        heat, corner
            Where the temperatures come from.
        ring, start_s : array
            The run of welds that these grips belong to.
        """
        sides = np.full((self.steps.shape[0], 2), np.inf)
        if self.row.size:
            size = np.diff(np.append(self.first, self.node.shape[0]))
            at_s = self.moment_s[:, np.repeat(self.row, size)].ravel()
            warm = heat.temperatures_c(corner, ring, start_s, np.tile(self.node, 2), at_s)
            patch = np.maximum.reduceat(warm.reshape(2, -1).max(axis=0), self.first)
            np.minimum.at(sides, (self.row, self.side), patch)
        worst: FloatArray = np.where(np.isfinite(sides), sides, -np.inf).max(axis=1)
        return worst


def warm_at_fingers_c(
    grips: Grips | None,
    heat: HeatModel,
    corners: Iterable[str],
    ring: IntArray,
    start_s: FloatArray,
) -> dict[str, FloatArray]:
    """How warm it is at the fingers in each corner; nothing if nobody holds the piece. [°C]."""
    if grips is None:
        return {}
    return {corner: grips.warmest_c(heat, corner, ring, start_s) for corner in corners}


@dataclass(frozen=True, kw_only=True)
class _Patches:
    """The piece cut into patches as wide as a fingertip, in cells of a grid."""

    corner: FloatArray  # (2,) [mm]
    width_mm: float
    across: int  # cells in a column
    key: npt.NDArray[np.int64]  # (p,) cell of each patch, ascending
    ring: IntArray  # rings, patch after patch
    first: IntArray  # (p,)
    size: IntArray  # (p,)
    whole: npt.NDArray[np.bool_]  # (p,) with a ring that hangs in the weave


def lay_out_grips(
    layout: Layout,
    joins: Joins,
    ring: IntArray,
    start_s: FloatArray,
    *,
    pace: PaceSettings,
    limits: HeatSettings,
    most_steps: int | None = None,
) -> Grips | None:
    """Cut the piece into fingertip-wide patches; None if it is not held bare.

    Every step is looked at; of pieces with more than 2000 rings as many, evenly spread, as come
    to some hundred thousand rings within reach, or ``most_steps`` if that is fewer.
    """
    loose = np.asarray([section.form == "loose" for section in layout.sections])[layout.section]
    if not limits.held_bare or ring.shape[0] == 0 or loose.all():
        return None
    patches = _cut_patches(layout, loose, pace.fingertip_mm)
    steps = np.arange(ring.shape[0], dtype=np.int32)
    if layout.rings > _SMALL:
        few = spread(steps, _FEWEST_STEPS)
        row, _, patch = _within_reach(patches, joins, ring[few], loose, limits)
        reach = max(1.0, float(patches.size[patch].sum()) / few.shape[0])
        steps = spread(steps, max(_FEWEST_STEPS, int(_MOST_LOOKED_AT / reach)))
    if most_steps is not None:
        steps = spread(steps, most_steps)
    row, side, patch = _within_reach(patches, joins, ring[steps], loose, limits)
    size = patches.size[patch]
    first = np.cumsum(size) - size
    inner = np.arange(int(size.sum())) - np.repeat(first, size)
    pulse = np.maximum(start_s[steps] - _JUST_BEFORE_S, 0.0)
    return Grips(
        steps=steps,
        moment_s=np.stack([np.maximum(pulse - pace.handle_s, 0.0), pulse]),
        row=row,
        side=side,
        node=patches.ring[np.repeat(patches.first[patch], size) + inner],
        first=first.astype(np.int32),
    )


def spread(steps: IntArray, most: int) -> IntArray:
    """Keep so many steps at most, evenly spread, the first and the last among them."""
    if steps.shape[0] <= most:
        return steps
    return steps[np.linspace(0, steps.shape[0] - 1, most).astype(np.int32)]


def _cut_patches(layout: Layout, loose: npt.NDArray[np.bool_], fingertip_mm: float) -> _Patches:
    place = layout.centre_mm[:, :2]
    corner = place.min(axis=0)
    cell = np.floor((place - corner) / fingertip_mm).astype(np.int64)
    across = int(cell[:, 1].max()) + 1
    key = cell[:, 0] * across + cell[:, 1]
    ring = np.argsort(key, kind="stable").astype(np.int32)
    first = np.flatnonzero(np.diff(key[ring], prepend=-1)).astype(np.int32)
    return _Patches(
        corner=corner,
        width_mm=fingertip_mm,
        across=across,
        key=key[ring[first]],
        ring=ring,
        first=first,
        size=np.diff(np.append(first, ring.shape[0])).astype(np.int32),
        whole=np.logical_or.reduceat(~loose[ring], first),
    )


def _within_reach(
    patches: _Patches,
    joins: Joins,
    ring: IntArray,
    loose: npt.NDArray[np.bool_],
    limits: HeatSettings,
) -> tuple[IntArray, IntArray, IntArray]:
    """Row, side and patch of every patch within reach of a join on some row."""
    far = limits.hold_to_mm // patches.width_mm
    around = np.arange(-int(far) - 1, int(far) + 2)
    chunk = max(1, _CELLS_AT_ONCE // around.shape[0] ** 2)
    found: list[tuple[IntArray, IntArray, IntArray]] = []
    for begin in range(0, ring.shape[0], chunk):
        some = ring[begin : begin + chunk]
        row, side, patch = _near(patches, joins.point_mm[some, :2], around, limits)
        held = ~loose[some[row]]
        found.append((row[held] + np.int32(begin), side[held], patch[held]))
    rows, sides, near = zip(*found, strict=True)
    return np.concatenate(rows), np.concatenate(sides), np.concatenate(near)


def _near(
    patches: _Patches, place_mm: FloatArray, around: npt.NDArray[np.int64], limits: HeatSettings
) -> tuple[IntArray, IntArray, IntArray]:
    """Find the patches within reach of some places, among so many cells around each."""
    width, far = patches.width_mm, limits.hold_to_mm
    here = place_mm - patches.corner
    column = np.floor(here[:, 0] / width).astype(np.int64)[:, None, None] + around[:, None]
    line = np.floor(here[:, 1] / width).astype(np.int64)[:, None, None] + around[None, :]
    away = (column + 0.5) * width - here[:, 0, None, None]
    level = np.abs((line + 0.5) * width - here[:, 1, None, None]) <= far
    near = (np.abs(away) >= limits.hold_from_mm) & (np.abs(away) <= far)
    near = near & level & (line >= 0) & (line < patches.across)
    row, first, second = np.nonzero(near)
    wanted = column[row, first, 0] * patches.across + line[row, 0, second]
    patch = np.searchsorted(patches.key, wanted)
    patch[patch == patches.key.shape[0]] = 0
    there = (patches.key[patch] == wanted) & patches.whole[patch]
    row, first, patch = row[there], first[there], patch[there]
    side = away[row, first, 0] > 0
    return row.astype(np.int32), side.astype(np.int32), patch.astype(np.int32)
