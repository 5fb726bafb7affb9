"""Of joins that are equally good always the same is taken: the one further to one side."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.join.placement import _view_score
from chainplan.join.reaching.reach import Tries
from chainplan.join.reaching.surroundings import Neighbourhood
from chainplan.join.tuning import tuning

LEFT, RIGHT, AHEAD = [0.0, 0.6, 0.8], [0.0, -0.6, 0.8], [0.6, 0.0, 0.8]


@pytest.fixture
def score(builders):
    """Score of tries on one join of a flat ring, as upright as one another, at a turn."""
    layout = builders.tile(builders.single_link(), 12)
    scene = Neighbourhood(layout, search_mm=13.0).around(10, 0.0)

    def score(axes, phase_rad=0.0):
        axis = np.array(axes)
        nothing = np.zeros_like(axis)
        at = np.zeros(len(axis), dtype=np.intp)
        tries = Tries(angle=at, direction=at, tip_mm=nothing, axis=axis, side=nothing)
        phase = np.array([phase_rad])
        upright = np.sin(phase)[:, None] * axis[:, 1] + np.cos(phase)[:, None] * axis[:, 2]
        faces = np.zeros((1, len(axis)), dtype=np.int8)
        return _view_score(tries, faces, upright, phase, scene)[0]

    return score


def test_the_electrode_that_leans_to_one_side_is_taken_of_two_alike(score):
    """By the weight told for it and how far it leans; from below it is the other one."""
    weight = tuning().tie_weight
    left, right = score([LEFT, RIGHT])
    assert left - right == pytest.approx(2 * 0.6 * weight)
    left, right = score([LEFT, RIGHT], np.pi)
    assert left - right == pytest.approx(-2 * 0.6 * weight)
    # turned a quarter, the piece's side is where up was: the one that leans to it from below
    above, below = score([[0.0, 0.8, 0.6], [0.0, 0.8, -0.6]], np.pi / 2)
    assert below - above == pytest.approx(2 * 0.6 * weight)


def test_a_lean_along_the_piece_counts_half_as_much_as_one_across(score):
    """So no two of those that lean equally far are equal."""
    weight = tuning().tie_weight
    left, ahead, back = score([LEFT, AHEAD, [-0.6, 0.0, 0.8]])
    assert ahead - back == pytest.approx(0.6 * weight)
    assert left - ahead == pytest.approx(0.3 * weight)


def test_what_decides_between_equals_decides_nothing_else(score):
    """A lean of five degrees more costs more than any side is worth."""
    more = np.deg2rad(5.0)
    lean = np.arctan2(0.6, 0.8) + more
    farther, upright = score([[0.0, np.sin(lean), np.cos(lean)], [0.0, -0.6, 0.8]])
    assert upright > farther
