"""Numbers in lanes above and below a strip: in order, apart, and near their joins."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from chainplan.report.diagram.drawn.strips import place_numbers, spread_lane

lanes = st.lists(st.floats(0, 250), min_size=1, max_size=25)


@given(wanted=lanes, width=st.floats(1.0, 9.0))
def test_numbers_of_a_lane_keep_their_order_and_distance(wanted: list[float], width: float) -> None:
    """Where the lane is long enough, all numbers fit in it, in order, none over another."""
    places = spread_lane(np.sort(wanted), width, 0.0, 273.0)
    assert np.all(np.diff(places) >= width - 1e-9)
    assert places[0] >= width / 2 - 1e-9
    assert places[-1] <= 273.0 - width / 2 + 1e-9


@given(wanted=lanes, width=st.floats(1.0, 9.0))
def test_number_stays_at_its_join_where_there_is_room(wanted: list[float], width: float) -> None:
    """A number with free neighbours is not moved."""
    x = np.sort(wanted)
    places = spread_lane(x, width, -500.0, 800.0)
    gaps = np.diff(x, prepend=-1e9, append=1e9)
    alone = (gaps[:-1] > 26 * width) & (gaps[1:] > 26 * width)
    assert np.allclose(places[alone], x[alone])


@given(x=lanes, box=st.floats(4.0, 9.0))
def test_placed_numbers_never_overlap(x: list[float], box: float) -> None:
    """Numbers of one side and lane are at least a box apart."""
    rise = np.where(np.arange(len(x)) % 3, 1.0, -1.0)
    found = place_numbers(np.array(x), rise, box, 0.0, 273.0)
    for side in (True, False):
        for lane in set(found.lane[found.upper == side].tolist()):
            places = np.sort(found.x_mm[(found.upper == side) & (found.lane == lane)])
            assert np.all(np.diff(places) >= box - 1e-9)
