"""What the electrode reaches: rings alone, in cages, between plates, in chains and sheets."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chainplan.errors import InputError, JoinError
from chainplan.join import place_joins
from chainplan.join.reaching.clearance import make_circles
from chainplan.join.reaching.electrode import shape_electrode
from chainplan.join.reaching.reach import (
    ReachRules,
    find_blockers,
    find_reach,
    list_own_tries,
    room_beside_mm,
)
from chainplan.join.reaching.surroundings import Surroundings
from chainplan.join.tuning import tuning
from chainplan.model.bench.groups import ElectrodeSettings

SETTINGS = ElectrodeSettings()
RULES = ReachRules(spot_mm=0.8, margin_mm=0.1, clearance_mm=0.1)


def place(layout, *, spot_mm=0.8, way="all in place", settings=SETTINGS, **more):
    spots_mm = [spot_mm] * len(layout.materials)
    return place_joins(layout, spot_mm=spots_mm, electrode=settings, way=way, **more)


def surround(centre, normal, *, radius_mm, wire_mm):
    """One ring of mean radius 2.5 and wire 1 lying flat, and others around it."""
    centre = np.asarray(centre, dtype=float).reshape(-1, 3)
    n = len(centre)
    own = make_circles(
        np.zeros((1, 3)), np.array([[0.0, 0.0, 1.0]]), np.array([2.5]), np.array([1.0])
    )
    others = make_circles(
        centre,
        np.broadcast_to(np.asarray(normal, dtype=float), (n, 3)),
        np.full(n, radius_mm),
        np.full(n, wire_mm),
    )
    return Surroundings(own, others)


def plates(apart_mm):
    """Two plates of rings so fat that nothing gets through, with a flat ring half-way."""
    at = np.arange(-9.0, 9.1, 1.2)
    x, y = (grid.ravel() for grid in np.meshgrid(at, at))
    z = np.full(x.size, apart_mm / 2 + 0.5)  # the plates' wire is 1.0
    return surround(
        np.concatenate([np.column_stack([x, y, z]), np.column_stack([x, y, -z])]),
        (0, 0, 1),
        radius_mm=0.55,
        wire_mm=1.0,
    )


def reach_between(apart_mm):
    scene = plates(apart_mm)
    electrode = shape_electrode(SETTINGS)
    tries = list_own_tries(scene.own, electrode, clearance_mm=0.1)
    return scene, electrode, tries, find_reach(scene, tries, electrode, RULES)


def test_ring_alone_is_reachable_all_round(builders):
    """No other ring: every angle will do, from every face and from both sides."""
    joins = place(builders.make_scene([[0, 0, 0]], [0, 0, 1]))
    assert joins.faces_reachable.tolist() == [7]
    assert joins.free_arc_rad[0] == pytest.approx(2 * math.pi)
    assert joins.both_sides.all()
    assert joins.clearance_mm[0] > SETTINGS.stick_out_mm
    assert joins.blocked_by == {}


def test_ring_between_close_plates_is_not_reachable():
    """Plates 1.2 mm apart leave no room for a shank of 1.0 mm with 0.1 mm of air on each side."""
    scene, electrode, tries, found = reach_between(1.19)
    assert found.tries.count == 0
    blockers = find_blockers(scene, tries, electrode, RULES)
    sides = np.sign(scene.others.centre_mm[list(blockers), 2])
    assert {-1.0, 1.0} <= set(sides.tolist())


def test_ring_between_wide_plates_is_reachable_from_the_side_only():
    """Plates that leave room for the holder let the electrode in between them."""
    _, _, _, found = reach_between(6.6)
    assert found.tries.count > 0
    assert np.unique(found.tries.angle).size == tuning().angles
    assert np.abs(found.tries.axis[:, 2]).max() < 0.5


def test_two_linked_rings_out_of_reach_are_refused_by_name(builders):
    """Asked to keep 4 mm of air, the electrode reaches nothing in a chain."""
    settings = ElectrodeSettings(clearance_mm=4.0)
    layout = builders.tile(builders.single_link(), 4)
    with pytest.raises(JoinError, match=r"rings 1 and 2 \(in the way: .*rings 2 and 3"):
        place(layout, settings=settings)


def cage(builders, *, linked=False):
    """A small ring in the middle of five great ones that leave no hole for the needle."""
    turn = np.radians([0, 36, 72, 108, 144])
    normal = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(5)])
    belt = [[0, 0, 1], [0.5, 0.3, 1], [-0.5, 0.3, 1], [0.0, -0.6, 1]]
    normal = np.concatenate([[[0, 0, 1]], normal, belt])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    layout = builders.make_scene(
        np.zeros((10, 3)), normal, radius_mm=3.0, wire_mm=1.4, links=[(0, 1)] if linked else []
    )
    radius = layout.mean_radius_mm.copy()
    radius[0] = 0.9
    wire = layout.wire_mm.copy()
    wire[0] = 0.6
    return type(layout)(
        **{
            name: getattr(layout, name)
            for name in layout.__dataclass_fields__
            if name not in {"mean_radius_mm", "wire_mm"}
        },
        mean_radius_mm=radius,
        wire_mm=wire,
    )


def test_unreachable_ring_is_closed_beforehand_and_its_blockers_named(builders):
    """A small ring in a cage of great ones cannot be welded in place."""
    layout = cage(builders, linked=True)
    joins = place(layout)
    assert joins.face[0] == -1
    assert joins.pre_closed[0]
    assert joins.pre_closed.tolist() == (joins.face < 0).tolist()
    assert joins.faces_reachable[0] == 0
    assert list(joins.blocked_by) == np.flatnonzero(joins.face < 0).tolist()
    assert set(joins.blocked_by[0]) <= set(range(1, 10))
    assert len(joins.blocked_by[0]) >= 2
    assert any("does not reach" in text and "rings 1" in text for text in joins.warnings)


def test_blockers_between_them_block_every_try(builders):
    """Taking away all named rings must free the join."""
    layout = cage(builders)
    blockers = place(layout).blocked_by[0]
    keep = [ring for ring in range(10) if ring not in blockers]
    scene = builders.make_scene(
        layout.centre_mm[keep], layout.normal[keep], radius_mm=3.0, wire_mm=1.4
    )
    freed = type(layout)(
        **{
            name: getattr(scene, name)
            for name in scene.__dataclass_fields__
            if name not in {"mean_radius_mm", "wire_mm"}
        },
        mean_radius_mm=layout.mean_radius_mm[keep],
        wire_mm=layout.wire_mm[keep],
    )
    assert place(freed).face[0] >= 0


def test_chain_is_welded_from_one_face_far_from_its_contacts(builders):
    """In a single-link chain both sides of a ring are free; its two links are at the ends."""
    layout = builders.tile(builders.single_link(4.0), 12)
    joins = place(layout)
    assert joins.joins_per_face() == {"front": 24, "back": 0, "edge": 0}
    away = np.abs(joins.point_mm[:, 0] - layout.centre_mm[:, 0])
    assert away.max() < 0.5  # the links lie 2.0 mm off, along x
    assert joins.ways[0].turns == 0


def test_join_lies_on_its_ring_and_its_angle_says_where(builders):
    """Angle, point and ring must tell the same story in every picture and list."""
    layout = builders.tile(builders.screw_chain(turn_deg=77.0), 30)
    joins = place(layout)
    assert np.allclose(layout.point_mm(joins.angle_rad), joins.point_mm)
    assert np.allclose(np.linalg.norm(joins.approach, axis=1), 1)


def test_turning_chain_gets_the_joins_of_the_same_chain_laid_out_ring_by_ring(builders):
    """One ring under a screw of 90° and the two-ring repeat are the same chain."""
    one = place(builders.tile(builders.screw_chain(4.0, 90.0), 24))
    two = place(builders.tile(builders.single_link(4.0), 12))
    assert one.face.tolist() == two.face.tolist()
    assert one.faces_reachable.tolist() == two.faces_reachable.tolist()
    assert one.free_arc_rad == pytest.approx(two.free_arc_rad)
    assert one.spot_gap_mm == pytest.approx(two.spot_gap_mm, abs=1e-6)


def test_same_place_in_the_repeat_gets_the_same_join(builders):
    """So that an assistant can follow the sheet: one rule a place, ends included."""
    layout = builders.tile(builders.leaning_sheet(), 12, 8, form="sheet")
    joins = place(layout)
    for place_number in range(2):
        own = layout.place == place_number
        assert np.ptp(joins.angle_rad[own]) < 1e-9
        assert np.unique(joins.face[own]).size == 1


def test_ring_at_the_end_of_a_sheet_is_reached_from_the_edge_too(builders):
    """Inside a sheet the neighbours are in the way of an edge approach; at its rim they are not."""
    layout = builders.tile(builders.leaning_sheet(), 14, 9, form="sheet")
    joins = place(layout)
    edge = (joins.faces_reachable & 4) > 0
    middle = (layout.across == 4) & (layout.along == 7)
    assert edge[(layout.across == 0) & (layout.place == 0)].all()
    assert not edge[middle].any()


def test_piece_that_is_never_held_in_the_air_has_no_edge_joins(builders):
    """The bench setting decides whether an edge may face the electrode."""
    layout = builders.tile(builders.single_link(), 6)
    joins = place(layout, settings=ElectrodeSettings(held_in_air=False))
    assert not (joins.faces_reachable & 4).any()


def test_heavy_wire_is_reached_from_two_opposite_sides_or_said_not_to_be(builders):
    """From 1.3 mm of wire on pulses come from both sides; the second approach is given."""
    layout = builders.tile(builders.single_link(5.0), 6, wire_mm=1.6)
    joins = place(layout, spot_mm=1.2)
    assert joins.two_sides_wanted.all()
    assert joins.both_sides.all()
    tangent = np.cross(layout.normal, joins.point_mm - layout.centre_mm)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)

    def side(axis):
        across = axis - tangent * np.einsum("ij,ij->i", axis, tangent)[:, None]
        return across / np.linalg.norm(across, axis=1, keepdims=True)

    opposite = np.einsum("ij,ij->i", side(joins.approach), side(joins.second_approach))
    assert opposite.max() <= -0.5 + 1e-6
    assert (joins.second_face >= 0).all()
    light = place(builders.tile(builders.single_link(5.0), 6, wire_mm=1.0))
    assert not light.two_sides_wanted.any()


def test_bead_near_another_wire_is_warned_of(builders):
    """Two rings that lie on each other touch wherever the join is."""
    layout = builders.make_scene([[0, 0, 0], [0, 0, 1.0]], [0, 0, 1])
    joins = place(layout, spot_mm=1.2)
    assert joins.spot_gap_mm.max() == pytest.approx(0.0, abs=1e-6)
    assert any("may fuse two rings" in text for text in joins.warnings)
    assert any("radius (0.60 mm)" in text for text in joins.warnings)
    assert not any("fuse" in text for text in place(layout, spot_mm=0.5).warnings)


def test_air_beside_a_join_is_from_wire_to_wire(builders):
    """Two rings of 1 mm wire, 1.3 mm apart from middle to middle: 0.3 mm of air."""
    joins = place(builders.make_scene([[0, 0, 0], [0, 0, 1.3]], [0, 0, 1]), spot_mm=0.5)
    assert joins.spot_gap_mm.tolist() == pytest.approx([0.3, 0.3])


def test_room_beside_a_join_is_that_of_the_two_wires_beside_it():
    """Wires through the ring on both sides of angle 0: gaps worked by hand."""
    scene = surround([[2.5, 2.0, 0], [2.5, -2.5, 0]], (1, 0, 0), radius_mm=1e-3, wire_mm=1.0)
    room, wires = room_beside_mm(scene.own, scene.others)
    assert room[0] == pytest.approx((2.0 - 0.5) + (2.5 - 0.5), abs=0.01)
    assert set(wires[0].tolist()) == {0, 1}
    assert np.isinf(room[tuning().angles // 4])


def test_spot_wider_than_the_room_beside_it_rules_a_join_out():
    """The spot must fit between the two wires beside it."""
    scene = surround([[2.5, 1.2, 0], [2.5, -1.2, 0]], (1, 0, 0), radius_mm=1e-3, wire_mm=1.0)
    electrode = shape_electrode(SETTINGS)
    tries = list_own_tries(scene.own, electrode, clearance_mm=0.0)
    fits = ReachRules(spot_mm=1.0, margin_mm=0.1, clearance_mm=0.0)
    wide = ReachRules(spot_mm=1.8, margin_mm=0.1, clearance_mm=0.0)
    assert 0 in find_reach(scene, tries, electrode, fits).tries.angle
    assert 0 not in find_reach(scene, tries, electrode, wide).tries.angle


def test_loose_joins_are_reachable_all_round_and_never_closed_beforehand(builders):
    """They belong to no weave and hang something onto a finished piece."""
    layout = builders.make_scene([[0, 0, 0], [0.5, 0, 0]], [0, 0, 1], form="loose")
    joins = place(layout, way="as many as possible beforehand")
    assert joins.faces_reachable.tolist() == [7, 7]
    assert not joins.pre_closed.any()
    assert joins.face.tolist() == [0, 0]
    laid_down = place(layout, settings=ElectrodeSettings(held_in_air=False))
    assert laid_down.faces_reachable.tolist() == [3, 3]


def test_unknown_way_and_missing_spot_are_refused(builders):
    """Where, what was found, what is allowed."""
    layout = builders.make_scene([[0, 0, 0]], [0, 0, 1])
    with pytest.raises(InputError, match="did you mean 'all in place'"):
        place(layout, way="all in plac")
    with pytest.raises(InputError, match="spot_mm has 0 values"):
        place_joins(layout, spot_mm=[], electrode=SETTINGS, way="all in place")


def test_placing_is_repeatable_and_its_arrays_cannot_be_written(builders):
    """The same piece gives the same joins, and nobody changes them afterwards."""
    layout = builders.tile(builders.screw_chain(turn_deg=63.0), 20)
    first, second = place(layout), place(layout)
    assert np.array_equal(first.angle_rad, second.angle_rad)
    assert np.array_equal(first.face, second.face)
    with pytest.raises(ValueError, match="read-only"):
        first.face[0] = 1
