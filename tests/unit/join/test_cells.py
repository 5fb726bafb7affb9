"""Cells: rings of one class that stand turned alike share one; others do not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chainplan.join.cells import block_heights_mm, list_cells
from chainplan.join.reaching.surroundings import RingClasses
from chainplan.join.tuning import tuning


def classes(of_ring, phase_rad):
    """Ring classes with nothing but what cells are made from."""
    count = max(of_ring) + 1
    return RingClasses(
        of_ring=np.array(of_ring),
        representative=np.arange(count),
        family=np.zeros(count, dtype=np.intp),
        spot=np.zeros(count, dtype=np.intp),
        interior=np.ones(count, dtype=bool),
        phase_rad=np.array(phase_rad, dtype=float),
    )


def test_rings_share_a_cell_if_class_and_turn_are_the_same(builders):
    """A whole turn is none; a ring of a loose join has no cell."""
    layout = builders.make_scene(np.eye(3)[[0] * 6] * np.arange(6)[:, None] * 10, [0, 0, 1])
    turns = [0.0, 0.5, 2 * math.pi, 0.5, 0.0, 0.0]
    cells, of_ring = list_cells(layout, classes([0, 0, 0, 0, 1, -1], turns))
    assert of_ring.tolist() == [0, 1, 0, 1, 2, -1]
    assert cells.ring_class.tolist() == [0, 0, 1]
    assert cells.phase_rad.tolist() == pytest.approx([0.0, 0.5, 0.0])
    assert cells.rings.tolist() == [2, 2, 1]


def test_turns_beyond_the_most_are_put_to_the_nearest_step(builders):
    """A chain that turns by an odd angle would have as many cells as rings."""
    steps = tuning().phases
    count = 3 * steps
    layout = builders.make_scene(np.eye(3)[[0] * count] * np.arange(count)[:, None], [0, 0, 1])
    turns = np.arange(count) * (2 * math.pi / count)
    cells, of_ring = list_cells(layout, classes([0] * count, turns))
    assert len(cells.rings) == steps
    off = np.mod(turns - cells.phase_rad[of_ring] + math.pi, 2 * math.pi) - math.pi
    assert np.abs(off).max() <= math.pi / steps + 1e-9
    assert cells.rings.sum() == count


@pytest.mark.parametrize(("normal", "half_mm"), [([0, 0, 1], 0.5), ([0, 1, 0], 3.0)])
def test_a_block_reaches_from_the_lowest_wire_to_the_highest(builders, normal, half_mm):
    """Rings of 2.5 mm mean radius and 1 mm wire, lying flat or standing, at heights 4 and 7."""
    layout = builders.make_scene([[0, 0, 4.0], [20.0, 0, 7.0]], normal)
    lowest, highest = block_heights_mm(layout)
    assert lowest.tolist() == pytest.approx([4.0 - half_mm])
    assert highest.tolist() == pytest.approx([7.0 + half_mm])
