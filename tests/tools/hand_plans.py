"""Plans of a chain made by hand, of which only what the estimates read means anything."""

import numpy as np
from plain_section import plain_section

from chainplan.model.job import Piece, Section
from chainplan.model.order import WeldOrder
from chainplan.model.piece.joins import Joins
from chainplan.model.piece.layout import Layout
from chainplan.model.plan import PiecePlan

RINGS = 30


def a_layout(name="chain", second_wire_mm=1.0):
    """Lay a single-link chain of sterling rings, 4.0 mm inside; every third may differ."""
    k = np.arange(RINGS)
    turn = np.where(k % 2, 1.0, -1.0) * np.pi / 4
    wire = np.where(k % 3 == 2, second_wire_mm, 1.0)
    links = np.stack([k[:-1], k[1:]], axis=1).astype(np.int32)
    whole = np.zeros(RINGS, dtype=np.int32)
    section = plain_section(
        RINGS, RINGS - 1, weave="single-link", inner_mm=4.0, repeats=RINGS // 2,
        length_mm=4.0 * RINGS + 2, width_mm=6.0, thickness_mm=6.0, rings_per_cm=2.5,
        computed_rings_per_cm=2.5,
    )  # fmt: skip
    return Layout(
        piece=name,
        centre_mm=np.stack([4.0 * k, 0.0 * k, 0.0 * k], axis=1),
        normal=np.stack([0.0 * k, -np.sin(turn), np.cos(turn)], axis=1),
        mean_radius_mm=(4.0 + wire) / 2,
        wire_mm=wire,
        section=whole,
        place=(k % 2).astype(np.int32),
        along=(k // 2).astype(np.int32),
        across=whole,
        row=whole,
        column=k.astype(np.int32),
        links=links,
        contacts=links,
        sections=(section,),
        length_mm=4.0 * RINGS + 2,
    )


def some_joins(name="chain", beforehand=5):
    """Place all joins on the front; the first few are closed beforehand."""
    ones, vectors = np.ones(RINGS), np.zeros((RINGS, 3))
    return Joins(
        piece=name,
        angle_rad=ones,
        point_mm=vectors,
        approach=vectors,
        face=np.zeros(RINGS, dtype=np.int8),
        faces_reachable=np.ones(RINGS, dtype=np.uint8),
        clearance_mm=ones,
        spot_gap_mm=ones,
        free_arc_rad=ones,
        both_sides=ones > 0,
        two_sides_wanted=ones < 0,
        pre_closed=np.arange(RINGS) < beforehand,
    )


def an_order(name="chain", seconds=300.0):
    """Make an order of which only the bench time matters here."""
    none = np.zeros(0)
    return WeldOrder(
        piece=name,
        status="complete",
        ring=none.astype(np.int32),
        pass_number=none.astype(np.int32),
        start_s=none,
        wait_s=none,
        interpass_low_c=none,
        interpass_usual_c=none,
        interpass_high_c=none,
        passes=(),
        bench_time_s=seconds,
        lower_bound_s=seconds,
        bound_parts={},
        free_time_s=seconds,
        comparisons=(),
        limits=(),
        gained=(),
    )


def a_plan(name="chain", quantity=2, due=None):
    """Plan a chain by hand; the heat model plays no part in the estimates."""
    section = Section(
        weave="single-link",
        metal="sterling-silver",
        wire_mm=1.0,
        inner_mm=4.0,
        rings=RINGS,
        mandrel_mm=3.9,
    )
    piece = Piece(name=name, quantity=quantity, sections=(section,), clasp_length_mm=9.0, due=due)
    return PiecePlan(
        piece=piece,
        layout=a_layout(name),
        joins=some_joins(name),
        heat=None,
        order=an_order(name),
    )
