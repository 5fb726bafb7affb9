"""Where connecting rings hang, worked out by hand: in one ring, between two ends, below a chain."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.errors import WeaveError
from chainplan.model.job import Piece, Section
from chainplan.model.piece.fittings import CONNECTING, Fitting, FittingKind
from chainplan.weave import lay_piece
from chainplan.weave.laying.together.connection import (
    End,
    Hang,
    connect_ends,
    hang_ring,
    list_angles,
)
from chainplan.weave.shape.circles import CentreLines, linking_number

OFF_MM = 0.01
"""Places are searched for: to some thousandths of a millimetre."""


def one_ring(normal=(0.0, 0.0, 1.0), radius=2.5, wire=1.0):
    """An end of one ring about the origin, to be linked."""
    return End(
        np.zeros((1, 3)), np.array([normal]), np.array([radius]), np.array([wire]), np.array([True])
    )


def hangs(worth, *, gap=None, seed=1):
    """Places of a ring at each angle, drawn by chance, worth what is said at some of them."""
    count = len(list_angles())
    values = np.zeros(count)
    for number, value in worth.items():
        values[number] = value
    gaps = np.linspace(0.0, 0.5, count) if gap is None else np.full(count, gap)
    return Hang(np.random.default_rng(seed).normal(size=(count, 3)), gaps, values)


def turned(roll):
    """Turn about x."""
    cos, sin = np.cos(roll), np.sin(roll)
    return np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])


@pytest.mark.parametrize(("radius", "wire"), [(2.5, 1.0), (3.5, 1.2), (1.9, 0.8)])
def test_a_ring_hangs_where_both_wires_lie_against_each_others_inside(radius, wire):
    """Across a flat ring of 2.5 mm and wire 1: inside of one to inside of the other."""
    hang = hang_ring(one_ring(), radius, wire)
    best = int(np.argmax(hang.worth))
    assert hang.is_clean
    out = (2.5 + radius) - (1.0 + wire) / 2
    x, *beside = hang.centre[best]
    assert x == pytest.approx(out, abs=0.002)
    assert beside == pytest.approx([0.0, 0.0], abs=0.1)  # to the side it costs next to nothing
    assert hang.worth[best] == pytest.approx(hang.centre[best, 0])
    assert abs(hang.gap[best]) < 1e-3
    angle = list_angles()[best]
    here = CentreLines(hang.centre[best], np.array([0.0, -np.sin(angle), np.cos(angle)]), radius)
    assert linking_number(CentreLines(np.zeros(3), np.array([0, 0, 1.0]), 2.5), here)[0] != 0


def test_a_ring_that_is_full_leaves_no_clean_place():
    """1.4 mm wire does not go through a hole of 1.2 mm."""
    assert not hang_ring(one_ring(radius=1.1, wire=1.0), 2.5, 1.4).is_clean


def test_a_sheet_takes_the_angle_that_is_best_for_both_ends():
    """Neither end's own best, 0 and 5, but the one whose sum is: no roll."""
    one, two = hangs({0: 9.0, 3: 6.0}), hangs({5: 9.0, 3: 7.0}, seed=2)
    found = connect_ends(one, two, may_roll=False)
    angle = list_angles()[3]
    assert found.roll_rad == 0.0
    assert found.centre.tolist() == one.centre[3].tolist()
    assert found.normal.tolist() == pytest.approx([0.0, -np.sin(angle), np.cos(angle)])
    mirrored = two.centre[3] * [-1.0, 1.0, 1.0]
    assert (mirrored + found.shift).tolist() == pytest.approx(found.centre.tolist())


def test_a_chain_is_rolled_until_both_ends_have_their_best_angle():
    """The second section's place, rolled and moved, is the first one's; so is the ring's plane."""
    one, two = hangs({2: 9.0}), hangs({7: 4.0}, seed=2)
    found = connect_ends(one, two, may_roll=True)
    angles = list_angles()
    assert found.roll_rad == pytest.approx(angles[2] - angles[7])
    turn = turned(found.roll_rad)
    mirrored = two.centre[7] * [-1.0, 1.0, 1.0]
    assert (turn @ mirrored + found.shift).tolist() == pytest.approx(one.centre[2].tolist())
    theirs = np.array([0.0, -np.sin(angles[7]), np.cos(angles[7])])
    assert (turn @ theirs).tolist() == pytest.approx(found.normal.tolist())


def test_a_connection_is_as_tight_as_the_tighter_of_its_ends():
    one, two = hangs({2: 9.0}, gap=0.3), hangs({7: 4.0}, gap=-0.1)
    assert connect_ends(one, two, may_roll=True).gap == -0.1
    assert connect_ends(two, one, may_roll=True).gap == -0.1


# ---- What hangs on a piece ---------------------------------------------------------------------


def hung(place, rings, *, section=None, inner_mm=5.0, length_mm=9.0):
    """A chain of fifteen rings, ID 4 and wire 1, with a charm at a place."""
    charm = Fitting(
        piece="invented", name="charm", kind=FittingKind.OTHER, place=place, length_mm=length_mm,
        rings=rings,
    )  # fmt: skip
    body = section or Section(
        weave="single-link", metal="copper", wire_mm=1.0, inner_mm=4.0, rings=15
    )
    row = Section(
        weave=CONNECTING, metal="copper", wire_mm=1.0, inner_mm=inner_mm, rings=rings, fitting=0
    )
    sections = (body, row) if rings else (body,)
    return lay_piece(Piece(name="invented", quantity=1, sections=sections, fittings=(charm,)))


def test_rings_of_a_hanging_row_stand_across_each_other_an_inner_diameter_apart():
    """Three rings of 5 mm below the fifth ring, then the charm: straight down."""
    layout = hung("ring 5", 3)
    tied = [pair for pair in layout.links.tolist() if pair[1] >= 15]
    assert tied == [[4, 15], [15, 16], [16, 17]]
    row = layout.centre_mm[15:]
    assert np.diff(row, axis=0) == pytest.approx(np.array([[0, -5.0, 0], [0, -5.0, 0]]))
    across = [abs(float(layout.normal[k] @ layout.normal[k + 1])) for k in (15, 16)]
    assert across == pytest.approx([0.0, 0.0], abs=1e-9)
    # the first hangs in its ring: at most both radii less both half wires below it
    down = layout.centre_mm[4, 1] - row[0, 1]
    assert down <= 2.5 + 3.0 - 1.0 + OFF_MM
    (laid,) = layout.fittings
    assert laid.from_mm == pytest.approx((row[2] - [0.0, 2.5, 0.0]).tolist())
    assert laid.to_mm == pytest.approx((row[2] - [0.0, 2.5 + 9.0, 0.0]).tolist())
    assert laid.rings == (17,)


def test_a_bail_hangs_from_the_lower_edge_of_its_ring():
    """Inside the wire, on which it pulls, at the lowest place of the ring's own plane."""
    layout = hung("ring 8", 0)
    (laid,) = layout.fittings
    inside_mm = layout.mean_radius_mm[7] - layout.wire_mm[7] / 2
    away = np.array(laid.from_mm) - layout.centre_mm[7]
    normal = layout.normal[7]
    assert away @ normal == pytest.approx(0.0, abs=1e-9)
    assert np.linalg.norm(away) == pytest.approx(inside_mm)
    assert away[1] == pytest.approx(-inside_mm * np.sqrt(1 - normal[1] ** 2))
    assert laid.to_mm == pytest.approx((np.array(laid.from_mm) - [0.0, 9.0, 0.0]).tolist())


@pytest.mark.parametrize(
    ("place", "ring"),
    [("15 mm from start", 3), ("15 mm from end", 11), ("middle", 7), ("ring 15", 14)],
)
def test_a_charm_hangs_on_the_ring_whose_middle_is_nearest_to_its_place(place, ring):
    """Centres stand 3, 7, 11, 15 … mm from the outer edge of the chain of 62 mm."""
    assert hung(place, 0).fittings[0].rings == (ring,)


def test_a_ring_that_there_is_not_is_refused_by_its_number():
    with pytest.raises(WeaveError, match="'charm' hangs on ring 16, and there are 15"):
        hung("ring 16", 1)


def test_on_a_sheet_a_charm_hangs_on_the_lowest_row():
    """Rows above it have no open lower edge."""
    sheet = Section(
        weave="european-4-in-1", metal="copper", wire_mm=1.0, inner_mm=5.0, rows=5, length_mm=60.0
    )
    layout = hung("middle", 1, section=sheet, inner_mm=6.0)
    (link,) = [pair for pair in layout.links.tolist() if layout.rings - 1 in pair]
    lower = layout.centre_mm[:-1, 1] - layout.mean_radius_mm[:-1]
    assert lower[link[0]] == pytest.approx(lower.min(), abs=1.0)
    assert lower[link[0]] < np.median(lower)
    middle = (layout.centre_mm[:-1, 0].min() + layout.centre_mm[:-1, 0].max()) / 2
    assert abs(layout.centre_mm[link[0], 0] - middle) < 8.0
