"""Every weave that is shipped: its joins can be welded, and what is closed first is independent."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.join import place_joins
from chainplan.model.bench.groups import ElectrodeSettings
from chainplan.model.kinds import PreClosing
from chainplan.weave import find_smallest_aspect_ratio, load_weave, solve_cached, weave_keys


def lay(key, builders, above=0.6):
    """A short piece with rings a little above the smallest that can be woven."""
    weave = load_weave(key)
    repeat = solve_cached(weave, round(find_smallest_aspect_ratio(weave) + above, 1))
    along = -(-30 // repeat.rings)
    if weave.form == "chain":
        return builders.tile(repeat, along)
    return builders.tile(repeat, 5, 4, form="sheet")


@pytest.mark.parametrize("key", weave_keys())
def test_no_two_linked_rings_are_both_closed_beforehand_in_a_shipped_weave(key, builders):
    """Two linked rings cannot both be closed; every other join has a face that reaches it."""
    layout = lay(key, builders)
    for way in list(PreClosing):
        spot_mm = [0.7] * len(layout.materials)
        joins = place_joins(layout, spot_mm=spot_mm, electrode=ElectrodeSettings(), way=way)
        assert not joins.pre_closed[layout.links].all(axis=1).any()
        assert (joins.face[joins.in_place] >= 0).all()
        assert (joins.clearance_mm[joins.in_place] >= ElectrodeSettings().clearance_mm).all()
        here = next(item for item in joins.ways if item.way == way)
        assert here.pre_closed == np.count_nonzero(joins.pre_closed)
        assert here.pre_closed <= here.largest_possible
    many = joins.ways[1]
    assert many.pre_closed == many.largest_possible
    assert many.exact
