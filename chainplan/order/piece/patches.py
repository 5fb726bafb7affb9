"""The piece cut into patches as wide as a fingertip, and which of them lie within reach of a join.

The fingers take the piece somewhere between two distances from the join: on its cooler side, or on
both. A side on which the piece has no patch within reach is not held; where one side is held and
the piece ends on the other before fingers find a patch, tweezers hold that end. Loose joins
(pendant rings, earring posts) are not held this way at all: each belongs to something of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings, PaceSettings
    from chainplan.model.piece.layout import Layout
    from chainplan.order.tuning import ProofTuning


@frozen
class Patches:
    """The piece cut into patches as wide as a fingertip, in cells of a lattice."""

    corner: FloatArray  # (2,) [mm]
    width_mm: float
    across: int  # cells in a column
    key: npt.NDArray[np.int64]  # (p,) cell of each patch, ascending
    ring: IntArray  # rings, patch after patch
    first: IntArray  # (p,) where each patch's rings begin
    size: IntArray  # (p,)
    whole: BoolArray  # (p,) with a ring that hangs in the weave
    loose: BoolArray  # (n,) rings that hang in no weave
    of_ring: IntArray  # (n,) patch of each ring


@frozen
class Reach:
    """Patches within reach of some places, one entry a patch and side."""

    row: IntArray  # (e,) which of the places
    side: IntArray  # (e,) 0: left, 1: right; all 0 if the cooler side alone is held
    patch: IntArray  # (e,)


def cut_patches(layout: Layout, limits: HeatSettings, pace: PaceSettings) -> Patches | None:
    """Cut the piece into patches; None if nothing is ever held bare between the fingers."""
    loose = np.asarray([section.form == "loose" for section in layout.sections])[layout.section]
    if not limits.held_bare or limits.hold_to_mm <= 0 or loose.all():
        return None
    place = layout.centre_mm[:, :2]
    corner = place.min(axis=0)
    cell = np.floor((place - corner) / pace.fingertip_mm).astype(np.int64)
    across = int(cell[:, 1].max()) + 1
    key = cell[:, 0] * across + cell[:, 1]
    ring = np.argsort(key, kind="stable").astype(np.int32)
    first = np.flatnonzero(np.diff(key[ring], prepend=-1)).astype(np.int32)
    size = np.diff(np.append(first, ring.shape[0])).astype(np.int32)
    of_ring = np.empty_like(ring)
    of_ring[ring] = np.repeat(np.arange(first.shape[0], dtype=np.int32), size)
    return Patches(
        corner=corner,
        width_mm=pace.fingertip_mm,
        across=across,
        key=key[ring[first]],
        ring=ring,
        first=first,
        size=size,
        whole=np.logical_or.reduceat(~loose[ring], first),
        loose=loose,
        of_ring=of_ring,
    )


def find_reach(
    patches: Patches,
    place_mm: FloatArray,
    ring: IntArray,
    limits: HeatSettings,
    tuning: ProofTuning = USUAL.proof,
    clip_ring: IntArray | None = None,
) -> Reach:
    """Every patch within reach of every join.

    Parameters
    ----------
    patches, limits
        The cut piece, and between which distances it is held.
    place_mm : array, shape (k, 2)
        Where the joins are.
    ring : array, shape (k,)
        Their rings.
    tuning : ProofTuning, optional
        How many cells are looked up at once.
    clip_ring : array, shape (k,), optional
        Ring that the return lead's clip sits on meanwhile: its patch is not free for fingers.
    """
    around, chunk = _around(patches, limits, tuning)
    found = []
    for begin in range(0, ring.shape[0], chunk):
        some = slice(begin, begin + chunk)
        row, side, patch = _near(patches, place_mm[some], around, limits)
        held = ~patches.loose[ring[some][row]] & _by_fingers(row, side, limits)
        if clip_ring is not None:
            held &= patch != patches.of_ring[clip_ring[some][row]]
        found.append((row[held] + np.int32(begin), side[held], patch[held]))
    if not found:
        none = np.zeros(0, dtype=np.int32)
        return Reach(row=none, side=none, patch=none)
    rows, sides, near = zip(*found, strict=True)
    side = np.concatenate(sides)
    if limits.sides_held == 1:
        side = np.zeros_like(side)  # one hand holds, on whichever side has the coolest patch
    return Reach(row=np.concatenate(rows), side=side, patch=np.concatenate(near))


def holds_anywhere(
    patches: Patches | None, place_mm: FloatArray, ring: IntArray, limits: HeatSettings
) -> bool:
    """Whether the fingers can take the piece on some side of some join."""
    if patches is None:
        return False
    around, chunk = _around(patches, limits, USUAL.proof)
    for begin in range(0, ring.shape[0], chunk):
        some = slice(begin, begin + chunk)
        row, side, _ = _near(patches, place_mm[some], around, limits)
        if (_by_fingers(row, side, limits) & ~patches.loose[ring[some][row]]).any():
            return True
    return False


def _by_fingers(row: IntArray, side: IntArray, limits: HeatSettings) -> BoolArray:
    """Tell which patches in reach fingers take: none near an end that tweezers hold. (e,)."""
    if limits.sides_held > 1 or not limits.end_tweezers or row.size == 0:
        return np.ones(row.shape[0], dtype=bool)
    there = np.zeros((2, int(row.max()) + 1), dtype=bool)
    there[side, row] = True
    both: BoolArray = there[0] & there[1]
    return both[row]


def _around(
    patches: Patches, limits: HeatSettings, tuning: ProofTuning
) -> tuple[npt.NDArray[np.int64], int]:
    """Cells on either side that may lie within reach, and joins to be looked up at once."""
    far = int(limits.hold_to_mm // patches.width_mm)
    around = np.arange(-far - 1, far + 2)
    return around, max(1, tuning.cells_at_once // around.shape[0] ** 2)


def _near(
    patches: Patches, place_mm: FloatArray, around: npt.NDArray[np.int64], limits: HeatSettings
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
