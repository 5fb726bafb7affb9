"""Classes of rings with identical surroundings: few, right, and never too hopeful."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chainplan.join.place import place_joins
from chainplan.join.reaching.electrode import shape_electrode
from chainplan.join.reaching.reach import ReachRules, find_reach, list_own_tries
from chainplan.join.reaching.surroundings import Neighbourhood, classify_rings, turn_about_x
from chainplan.model.bench.groups import ElectrodeSettings
from chainplan.model.job import Piece, Section
from chainplan.weave.laying.piece import lay_piece

SEARCH_MM = 13.0
RULES = ReachRules(spot_mm=0.8, margin_mm=0.1, clearance_mm=0.1)


def reach_of(neighbourhood, ring, phase_rad):
    scene = neighbourhood.around(ring, phase_rad)
    electrode = shape_electrode(ElectrodeSettings())
    own_tries = list_own_tries(scene.own, electrode, clearance_mm=0.1)
    found = find_reach(scene, own_tries, electrode, RULES)
    return set(zip(found.tries.angle.tolist(), found.tries.direction.tolist(), strict=True))


@pytest.mark.parametrize("weave", ["single_link", "screw_chain"])
def test_number_of_classes_does_not_grow_with_the_chain(builders, weave):
    """A longer chain has more rings, not more kinds of rings."""
    repeat = getattr(builders, weave)()
    counts = {
        classify_rings(builders.tile(repeat, n), search_mm=SEARCH_MM).count for n in (40, 60, 90)
    }
    assert len(counts) == 1
    assert counts.pop() < 12


def test_number_of_classes_does_not_grow_with_the_sheet(builders):
    """The same for both directions of a sheet."""
    repeat = builders.leaning_sheet()
    counts = {
        classify_rings(
            builders.tile(repeat, along, across, form="sheet"), search_mm=SEARCH_MM
        ).count
        for along, across in ((8, 12), (11, 16), (20, 12))
    }
    assert len(counts) == 1


def test_class_is_never_more_hopeful_than_its_member(builders):
    """What will do for the class will do for each of its rings among its true neighbours."""
    layout = builders.tile(builders.screw_chain(4.0, 70.0), 26)
    classes = classify_rings(layout, search_mm=SEARCH_MM)
    neighbourhood = Neighbourhood(layout, search_mm=SEARCH_MM)
    tables = {
        number: reach_of(neighbourhood, ring, float(classes.phase_rad[ring]))
        for number, ring in enumerate(classes.representative.tolist())
    }
    for ring in range(0, 26, 2):
        own = reach_of(neighbourhood, ring, float(classes.phase_rad[ring]))
        assert tables[int(classes.of_ring[ring])] <= own
    middle = {int(classes.of_ring[ring]) for ring in range(8, 18)}
    assert len(middle) == 1
    assert tables[middle.pop()] == reach_of(neighbourhood, 13, float(classes.phase_rad[13]))


def test_what_is_known_of_the_interior_is_taken_over_at_an_end_without_change(builders):
    """The short cut and the full search must find the same tries."""
    layout = builders.tile(builders.leaning_sheet(), 9, 9, form="sheet")
    neighbourhood = Neighbourhood(layout, search_mm=SEARCH_MM)
    electrode = shape_electrode(ElectrodeSettings())
    middle, corner = neighbourhood.around(80, 0.0), neighbourhood.around(0, 0.0)
    assert corner.within(middle)
    assert not middle.within(corner)
    own_tries = list_own_tries(middle.own, electrode, clearance_mm=0.1)
    known = find_reach(middle, own_tries, electrode, RULES)
    short = find_reach(corner, own_tries, electrode, RULES, known)
    full = find_reach(corner, own_tries, electrode, RULES)
    assert short.row.tolist() == full.row.tolist()
    assert (short.clearance_mm <= full.clearance_mm + 1e-3).all()
    assert full.row.size > known.row.size


def test_a_class_of_the_interior_is_stood_for_by_a_ring_in_the_middle(builders):
    """Fewest of what lies about it is missing there, along and across."""
    layout = builders.tile(builders.leaning_sheet(), 21, 15, form="sheet")
    classes = classify_rings(layout, search_mm=SEARCH_MM)
    middle = classes.representative[classes.interior]
    assert middle.size == 2
    assert layout.along[middle].tolist() == [10, 10]
    assert layout.across[middle].tolist() == [7, 7]
    assert classes.spot.dtype.kind == "i"


def test_a_ring_stands_alone_at_the_origin_of_its_surroundings(builders):
    """One circle of its own radius and wire; others are told of from its centre."""
    layout = builders.tile(builders.single_link(), 12)
    scene = Neighbourhood(layout, search_mm=SEARCH_MM).around(10, 0.0)
    assert scene.own.centre_mm.tolist() == [[0.0, 0.0, 0.0]]
    assert scene.own.normal.tolist() == [pytest.approx(layout.normal[10].tolist())]
    assert scene.own.count == 1
    beside = layout.centre_mm[11] - layout.centre_mm[10]
    assert np.abs(scene.others.centre_mm - beside).max(axis=1).min() < 1e-9


def test_ring_that_leans_otherwise_is_a_class_of_its_own(builders):
    """A connecting ring turned by hand must not get its neighbours' join."""
    layout = builders.tile(builders.single_link(), 30)
    layout.normal[25] = [0.0, 0.0, 1.0]
    classes = classify_rings(layout, search_mm=SEARCH_MM)
    assert np.count_nonzero(classes.of_ring == classes.of_ring[25]) == 1


def test_closed_loop_has_no_ends(builders):
    """The last repeat of a loop goes on with the first: two rings of a repeat, two classes."""
    layout = builders.tile(builders.single_link(), 20, closed=True)
    classes = classify_rings(layout, search_mm=SEARCH_MM)
    assert classes.count == 2
    neighbourhood = Neighbourhood(layout, search_mm=SEARCH_MM)
    first = neighbourhood.around(0, 0.0)
    middle = neighbourhood.around(20, 0.0)
    assert first.others.count == middle.others.count
    places = [
        sorted(map(tuple, np.round(scene.others.centre_mm, 6).tolist()))
        for scene in (first, middle)
    ]
    assert places[0] == places[1]
    beside = zip(first.others.centre_mm, first.others.normal, strict=True)
    assert 39 in {neighbourhood.ring_at(0, *place) for place in beside}


def test_neighbours_are_those_within_reach(builders):
    """Against a plain search over all rings."""
    layout = builders.tile(builders.leaning_sheet(), 9, 7, form="sheet")
    neighbourhood = Neighbourhood(layout, search_mm=9.0)
    scene = neighbourhood.around(60, 0.0)
    distance = np.linalg.norm(layout.centre_mm - layout.centre_mm[60], axis=1)
    expected = np.flatnonzero((distance <= 9.0) & (np.arange(layout.rings) != 60))
    beside = zip(scene.others.centre_mm, scene.others.normal, strict=True)
    ring = np.array([neighbourhood.ring_at(60, *place) for place in beside])
    assert sorted(ring.tolist()) == expected.tolist()
    assert np.allclose(np.linalg.norm(scene.others.centre_mm, axis=1), distance[ring], atol=1e-9)


def test_turning_about_x_is_right_handed():
    """A quarter turn brings y to z and leaves x."""
    turned = turn_about_x(np.array([[3.0, 1.0, 0.0]]), np.array([math.pi / 2]))
    assert turned[0] == pytest.approx([3, 0, 1], abs=1e-12)


@pytest.mark.parametrize(
    "weaves", [("byzantine", "jens-pind-3", "full-persian-6-in-1"), ("single-link", "box-chain")]
)
def test_every_join_lies_on_its_own_ring_in_a_piece_of_sections(weaves):
    """A connecting ring leans otherwise than the place of the repeat whose number it carries."""
    sections = [
        Section(weave=weave, wire_mm=1.0, inner_mm=inner_mm, metal="copper", rings=40)
        for weave, inner_mm in zip(weaves, (4.0, 4.5, 6.5), strict=False)
    ]
    layout = lay_piece(Piece(name="two", quantity=1, sections=tuple(sections)))
    joins = place_joins(
        layout, spot_mm=[0.8] * len(weaves), electrode=ElectrodeSettings(), way="all in place"
    )
    offset = joins.point_mm - layout.centre_mm
    height = np.einsum("ij,ij->i", offset, layout.normal)
    across = np.linalg.norm(offset - height[:, None] * layout.normal, axis=1)
    assert np.hypot(height, across - layout.mean_radius_mm).max() < 1e-6
    assert np.abs(layout.point_mm(joins.angle_rad) - joins.point_mm).max() < 1e-6


def test_a_lone_ring_is_told_to_be_free_as_far_as_is_looked():
    """As far as the holder's farthest edge is from the tip, and a ring's outer diameter beyond."""
    section = Section(weave="loose-joins", wire_mm=1.0, inner_mm=5.0, metal="copper", rings=2)
    layout = lay_piece(Piece(name="hoops", quantity=1, sections=(section,)))
    settings = ElectrodeSettings()
    joins = place_joins(layout, spot_mm=[0.8], electrode=settings, way="all in place")
    holder_mm = math.hypot(settings.stick_out_mm, settings.holder_mm / 2)
    looked_mm = holder_mm + 2 * layout.mean_radius_mm[0] + 1.0
    assert joins.spot_gap_mm == pytest.approx(looked_mm)
    assert joins.clearance_mm == pytest.approx(looked_mm)
