"""What is closed before weaving: three ways, and what lies near a heat-sensitive part."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.join import place_joins
from chainplan.join.beforehand import rings_near_parts
from chainplan.model.bench.groups import ElectrodeSettings
from chainplan.model.job import HeatSensitivePart
from chainplan.model.kinds import PreClosing


def part(**more):
    """An invented stone."""
    return HeatSensitivePart(piece="p", name="stone", kind="own", limit_c=50.0, **more)


def test_rings_near_a_part_are_found_from_either_end(builders):
    """Chain of 20 rings, ID 4, wire 1: outer edges from −3 to 79 mm, centres every 4 mm."""
    layout = builders.tile(builders.single_link(4.0), 10)
    first = rings_near_parts(layout, [part(place_mm=0.0)], distance_mm=5.0)
    assert np.flatnonzero(first).tolist() == [0, 1]
    last = rings_near_parts(layout, [part(place_mm=0.0, from_end=True)], distance_mm=5.0)
    assert np.flatnonzero(last).tolist() == [18, 19]
    middle = rings_near_parts(layout, [part(place_mm=39.0, length_mm=8.0)], distance_mm=0.5)
    assert np.flatnonzero(middle).tolist() == [9, 10, 11]


def test_distance_to_a_part_counts_from_the_outer_edge_of_the_wire(builders):
    """Rings about 0 and 20, 3 mm to their outer edge: a part from 5 to 6 is 2 mm from the first."""
    layout = builders.make_scene([[0, 0, 0], [20.0, 0, 0]], [0, 0, 1])
    stone = part(place_mm=8.0, length_mm=1.0)
    assert rings_near_parts(layout, [stone], distance_mm=2.01).tolist() == [True, False]
    assert rings_near_parts(layout, [stone], distance_mm=1.99).tolist() == [False, False]
    far = part(place_mm=15.0, length_mm=1.0, from_end=True)  # from 7 to 8, 4 mm from the first
    assert rings_near_parts(layout, [far], distance_mm=4.01).tolist() == [True, False]
    assert rings_near_parts(layout, [far], distance_mm=3.99).tolist() == [False, False]


def test_part_at_one_row_of_a_sheet_is_near_to_that_row_only(builders):
    """A stone at the third row leaves the others alone."""
    layout = builders.tile(builders.leaning_sheet(), 6, 5, form="sheet")
    near = rings_near_parts(layout, [part(place_mm=10.0, row=3)], distance_mm=0.1)
    assert near.any()
    assert np.unique(layout.row[near]).max() - np.unique(layout.row[near]).min() <= 4
    assert not near[layout.row == layout.row.max()].any()


def test_part_at_one_row_counts_from_the_middle_of_that_row(builders):
    """Rows 1.8 mm apart, 3.25 mm from a ring's centre to its edge: the next rows are near."""
    layout = builders.tile(builders.leaning_sheet(), 6, 5, form="sheet")
    near = rings_near_parts(layout, [part(place_mm=0.0, length_mm=99.0, row=3)], distance_mm=0.1)
    assert np.array_equal(near, np.isin(layout.row, [1, 2, 3]))


@pytest.mark.parametrize("way", list(PreClosing))
def test_three_ways_are_compared_whichever_is_taken(builders, way):
    """All in place closes none here; as many as possible, half; where needed, near the stone."""
    layout = builders.tile(builders.single_link(4.0), 10)
    joins = place_joins(
        layout,
        spot_mm=[0.8],
        electrode=ElectrodeSettings(),
        way=way,
        parts=[part(place_mm=40.0)],
    )
    found = {item.way: item for item in joins.ways}
    assert [found[name].pre_closed for name in list(PreClosing)[:2]] == [0, 10]
    needed = found[PreClosing.NEEDED]
    assert 0 < needed.pre_closed < 10
    assert "stay open" in needed.note
    assert all(item.largest_possible == 10 and item.exact for item in joins.ways)
    assert joins.way == way
    assert np.count_nonzero(joins.pre_closed) == found[way].pre_closed
    assert joins.in_place.size == found[way].in_place
    if way == PreClosing.NEEDED:
        near = rings_near_parts(layout, [part(place_mm=40.0)], distance_mm=10.0)
        assert near[joins.pre_closed].all()
