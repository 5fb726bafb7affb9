"""Dots of joins: apart from each other, near their joins, the first of a pair always above."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.report.diagram.drawn.dots import APART_MM, MOST_MOVE_MM, pairs_of, spread_dots
from chainplan.report.diagram.drawn.strips import place_numbers

coordinates = st.floats(0.0, 60.0)


@pytest.mark.parametrize("below", [0.0, 0.5, 1.5, 4.0, -0.5, -1.5, -4.0])
def test_dots_of_a_pair_stand_apart_whichever_lies_above(below: float) -> None:
    """One behind the other, one above the other, either way round: two dots, two leaders."""
    joins = np.array([(20.0, 10.0), (20.3, 10.0 + below)])
    first, second = spread_dots(joins, np.array([7, 8]), paired=True)
    assert np.hypot(*(second - first)) >= APART_MM - 0.05
    if below < 1.0:
        assert second[0] - first[0] >= APART_MM - 1e-9  # so that leaders pass each other's dots
    else:
        assert second[1] - first[1] >= APART_MM - 1e-9
        assert abs(second[0] - first[0]) < 0.31


def test_dots_with_room_are_not_moved() -> None:
    """A dot is the join, wherever that can be seen."""
    joins = np.array([(0.0, 0.0), (5.0, 1.0), (10.0, -1.0), (10.0, 3.0)])
    for paired in (False, True):
        assert np.array_equal(spread_dots(joins, np.arange(4), paired=paired), joins)


@given(places=st.lists(st.tuples(coordinates, coordinates), min_size=1, max_size=30))
def test_no_dot_leaves_its_join(places: list[tuple[float, float]]) -> None:
    """Crowded or not: each stays within what its ring shows."""
    joins = np.array(places)
    for paired in (False, True):
        moved = spread_dots(joins, np.arange(len(joins)), paired=paired) - joins
        assert np.hypot(moved[:, 0], moved[:, 1]).max() <= MOST_MOVE_MM + 1e-9


@pytest.mark.parametrize("count", [2, 3, 4])
def test_joins_in_one_place_come_apart(count: int) -> None:
    """Two, three or four dots that fall on one another are seen as so many."""
    joins = np.tile([(30.0, 10.0)], (count, 1))
    places = spread_dots(joins, np.arange(count) * 2, paired=False)
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    assert apart[~np.eye(count, dtype=bool)].min() > 1.0


def test_a_pair_is_two_joins_at_one_place_welded_one_after_the_other() -> None:
    """Neither a later pass at the same place nor a third join makes one."""
    assert pairs_of(np.array([0.0, 1.0, 30.0]), np.array([4, 5, 6])).tolist() == [0]
    assert pairs_of(np.array([0.0, 1.0]), np.array([4, 9])).tolist() == []
    apart, steps = np.array([0.0, 3.5, 30.0]), np.array([4, 5, 6])
    assert pairs_of(apart, steps).tolist() == []
    assert pairs_of(apart, steps, np.array([2, 2, 7])).tolist() == [0]
    assert pairs_of(np.zeros(0), np.zeros(0, dtype=int)).tolist() == []


@given(
    middles=st.lists(st.integers(1, 16), min_size=1, max_size=10, unique=True),
    turned=st.lists(st.booleans(), min_size=10, max_size=10),
)
def test_the_first_number_of_a_pair_stands_above(middles: list[int], turned: list[bool]) -> None:
    """In the order of welding, whether its join is seen above the other or below."""
    x = np.repeat(np.sort(middles) * 16.0, 2)
    rise = np.ravel([(-1.0, 1.0) if turn else (1.0, -1.0) for turn in turned[: len(middles)]])
    first = pairs_of(x, np.arange(x.size))
    found = place_numbers(x, rise, 8.0, 0.0, 273.0, first=first)
    assert found.upper.tolist() == [True, False] * len(middles)
