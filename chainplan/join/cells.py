"""Cells: rings that get the same join, and what has been found for them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.join.reaching.directions import BACK, FRONT, LOWER, UPPER
from chainplan.join.reaching.reach import ReachRules
from chainplan.join.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.join.reaching.electrode import Electrode
    from chainplan.join.reaching.surroundings import RingClasses
    from chainplan.model.piece.layout import Layout


@frozen
class Workplace:
    """What all cells share."""

    electrode: Electrode
    rules: tuple[ReachRules, ...]  # per molten spot
    lowest_mm: FloatArray  # (sections,) z of the block under each section, front up
    highest_mm: FloatArray  # (sections,) the same, back up
    two_sides_from_mm: float
    held_in_air: bool
    search_mm: float


@dataclass(slots=True)
class Cells:
    """Cells and their best tries; a row a cell, a column a side where there are two axes."""

    ring_class: IndexArray  # (k,)
    phase_rad: FloatArray  # (k,)
    rings: IndexArray  # (k,) how many rings
    height_mm: FloatArray  # (k,) mean z of their centres
    score: FloatArray  # (k, 4), −inf where the face does not reach
    join_mm: FloatArray  # (k, 4, 3) join on the centre line, from the ring's centre, in the frame
    axis: FloatArray  # (k, 4, 3)
    clearance_mm: FloatArray  # (k, 4)
    spot_gap_mm: FloatArray  # (k, 4) from the spot's middle, on the wire or in it, to the next wire
    air_mm: FloatArray  # (k, 4) from the wire's surface at the join to the next wire's
    free_arc_rad: FloatArray  # (k, 4)
    both_sides: BoolArray  # (k, 4) whether the join is reached from the wire's other side too
    other_score: FloatArray  # (k, 4, 4) heavy wire: best second approach from each side, or −inf
    other_axis: FloatArray  # (k, 4, 4, 3)
    quiet_join_mm: FloatArray  # (k, 3) the join farthest from other wires, for rings closed first
    quiet_axis: FloatArray  # (k, 3)
    quiet_gap_mm: FloatArray  # (k,)
    quiet_air_mm: FloatArray  # (k,)
    blockers: dict[int, tuple[FloatArray, FloatArray]]  # class → places and normals of them

    @property
    def bits(self) -> npt.NDArray[np.uint8]:
        """Faces that reach: 1 front, 2 back, 4 edge; shape (k,)."""
        reached = np.isfinite(self.score)
        edge = reached[:, UPPER] | reached[:, LOWER]
        bits: npt.NDArray[np.uint8] = (reached[:, FRONT] + 2 * reached[:, BACK] + 4 * edge).astype(
            np.uint8
        )
        return bits

    @property
    def reached(self) -> BoolArray:
        """Whether any face reaches, shape (k,)."""
        return np.asarray(np.isfinite(self.score).any(axis=1))


def list_cells(layout: Layout, classes: RingClasses) -> tuple[Cells, IndexArray]:
    """Group rings by class and turn about the axis; return empty cells and each ring's cell."""
    turn = np.mod(classes.phase_rad, 2 * math.pi)
    fine = np.round(turn / 1e-6).astype(np.int64) % round(2 * math.pi / 1e-6)
    used, step = np.unique(fine, return_inverse=True)
    if used.size > tuning().phases:
        step = np.round(turn * tuning().phases / (2 * math.pi)).astype(np.int64) % tuning().phases
        phases = np.arange(tuning().phases) * (2 * math.pi / tuning().phases)
    else:
        phases = used * 1e-6
    key = classes.of_ring * phases.size + step
    woven = classes.of_ring >= 0
    keys, of_woven, rings = np.unique(key[woven], return_inverse=True, return_counts=True)
    of_ring = np.full(classes.of_ring.size, -1)
    of_ring[woven] = of_woven
    k = keys.size
    cells = Cells(
        ring_class=keys // phases.size,
        phase_rad=phases[keys % phases.size],
        rings=rings,
        height_mm=np.bincount(of_woven, layout.centre_mm[woven, 2], minlength=k) / rings,
        score=np.full((k, 4), -np.inf),
        join_mm=np.zeros((k, 4, 3)),
        axis=np.zeros((k, 4, 3)),
        clearance_mm=np.zeros((k, 4)),
        spot_gap_mm=np.zeros((k, 4)),
        air_mm=np.zeros((k, 4)),
        free_arc_rad=np.zeros((k, 4)),
        both_sides=np.zeros((k, 4), dtype=bool),
        other_score=np.full((k, 4, 4), -np.inf),
        other_axis=np.zeros((k, 4, 4, 3)),
        quiet_join_mm=np.zeros((k, 3)),
        quiet_axis=np.zeros((k, 3)),
        quiet_gap_mm=np.zeros(k),
        quiet_air_mm=np.zeros(k),
        blockers={},
    )
    return cells, of_ring


def block_heights_mm(layout: Layout) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest z of the wire of every section: where a block's top would be, in mm."""
    reach = layout.mean_radius_mm * np.sqrt(np.maximum(1 - layout.normal[:, 2] ** 2, 0.0))
    low = layout.centre_mm[:, 2] - reach - layout.wire_mm / 2
    high = layout.centre_mm[:, 2] + reach + layout.wire_mm / 2
    count = len(layout.sections)
    lowest, highest = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(lowest, layout.section, low)
    np.maximum.at(highest, layout.section, high)
    return lowest, highest


def make_rules(
    spot_mm: Sequence[float], *, margin_mm: float, clearance_mm: float
) -> tuple[ReachRules, ...]:
    """Make the rules of every molten spot."""
    return tuple(
        ReachRules(spot_mm=float(spot), margin_mm=margin_mm, clearance_mm=clearance_mm)
        for spot in spot_mm
    )
