"""The spot where a ring touches a stone: its closed form, and what a plan says of it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipe

import chainplan
from chainplan.heat.conductance.spot import (
    UNKNOWN_W_MK,
    conductivity_of,
    into_body_w_k,
    touching_share,
)
from chainplan.heat.touching_words import say_numbers
from chainplan.reference import parts

JOB = """
[[piece]]
name = "Stone bracelet"
section = 1
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "sterling-silver"
rings = 14
{way}
[[piece]]
name = "Stone bracelet"
section = 2
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "sterling-silver"
rings = 14
[[fitting]]
piece = "Stone bracelet"
fitting = "oval stone"
kind = "{kind}"
where = "between 1 and 2"
length_mm = 14
heat_kind = "{heat}"
fitted = "{fitted}"
{limit}
"""


def plan_of(tmp_path, kind="centrepiece", heat="amber", fitted="before welding", way="", limit=""):
    """Plan a bracelet with a stone in its middle."""
    file = tmp_path / "stone.toml"
    words = {"kind": kind, "heat": heat, "fitted": fitted, "way": way, "limit": limit}
    file.write_text(JOB.format(**words), encoding="utf-8")
    (piece,) = chainplan.make_plan(chainplan.read_job(file)).pieces
    return piece


def test_the_middle_of_the_spot_is_as_warm_as_sources_on_a_half_space_add_up_to():
    """Each bit of the flow warms the middle by q″·dA/(2πk·r); as Hertz presses, and evenly.

    Even flow through a disc: T(r) = 2·q″a/(πk)·E(r/a), whose mean is q over (3π²/8)·k·a and whose
    middle q over π·k·a. A flow as dense as a Hertz contact presses makes the middle hotter yet.
    """
    k, radius, flow = 0.2, 0.2e-3, 1.0
    dense = flow / (math.pi * radius**2)

    def hertz(r):
        return 1.5 * dense * math.sqrt(1 - (r / radius) ** 2)

    through = quad(lambda r: hertz(r) * 2 * math.pi * r, 0, radius)[0]
    assert through == pytest.approx(flow, rel=1e-7)
    middle = quad(lambda r: hertz(r) / (2 * math.pi * k * r) * 2 * math.pi * r, 0, radius)[0]
    into = flow / middle
    assert into_body_w_k(k, radius * 1e3) == pytest.approx(into, rel=1e-7)

    def evenly(r):
        return 2 * dense * radius / (math.pi * k) * ellipe((r / radius) ** 2)

    mean = quad(lambda r: evenly(r) * 2 * math.pi * r, 0, radius)[0] / (math.pi * radius**2)
    assert flow / mean == pytest.approx(3 * math.pi**2 / 8 * k * radius, rel=1e-7)
    assert mean < evenly(0) < middle
    for contact in (1e-4, 1e-3, 1e-2):
        # Ring at 1, far body at 0, the two conductances in series: the spot between them.
        spot = 1 / (1 / contact + 1 / into) / into
        assert touching_share(contact, k, radius * 1e3) == pytest.approx(spot, rel=1e-7)


def test_poor_conductors_follow_the_ring_and_good_ones_do_not():
    """More conductance into the body cools the spot; more from the ring warms it."""
    kinds = ("amber", "opal", "emerald", "ruby", "diamond")
    share = [touching_share(1e-3, parts()[kind].conductivity_w_m_k, 0.2) for kind in kinds]
    assert share == sorted(share, reverse=True)
    assert share[0] > 0.85
    assert share[-1] < 0.01
    assert touching_share(2e-3, 0.2, 0.2) > touching_share(1e-3, 0.2, 0.2)
    assert conductivity_of("own") == UNKNOWN_W_MK
    assert conductivity_of("spring") is None


def test_a_stone_in_a_piece_too_large_for_exact_modes_warms_as_in_a_small_one(tmp_path):
    """More than 2000 nodes: heat is summed from kernels, of parts and of the spots of them too."""
    small = plan_of(tmp_path, heat="cubic-zirconia")
    file = tmp_path / "stone.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("rings = 14", "rings = 1010"), encoding="utf-8")
    (large,) = chainplan.make_plan(chainplan.read_job(file)).pieces
    assert large.layout.rings > 2000
    (here,), (there,) = small.stand_by, large.stand_by
    for name in ("body_usual_c", "body_high_c", "spot_usual_c", "spot_high_c", "ring_high_c"):
        alone = getattr(here.set_last, name)
        assert getattr(there.set_last, name) == pytest.approx(alone, abs=0.1), name
    assert there.largest_share == pytest.approx(here.largest_share)
    spots = [row for row in large.order.limits if row.name.endswith(", where touched")]
    assert [spot.ring for spot in spots] == [1010, 1011]
    assert not any(spot.holds for spot in spots)
    assert [item.name for item in large.order.set_aside] == ["oval stone, where touched"]
    assert all(row.holds for row in large.order.limits if row not in spots)


def test_what_is_of_nobodys_kind_takes_what_is_told_of_it(tmp_path):
    """Limit and conductivity as they are told; without the second as amber, and that is said."""
    own = plan_of(tmp_path, heat="own", limit="limit = 150")
    glass = plan_of(tmp_path, heat="own", limit="limit = 150\nconductivity = 1.0")
    amber = plan_of(tmp_path, limit="limit = 150")
    job = chainplan.read_job(tmp_path / "stone.toml")
    assert not any("conduct" in text for text in job.warnings)
    (poor,), (told,), (known,) = own.stand_by, glass.stand_by, amber.stand_by
    assert (poor.conductivity_w_m_k, told.conductivity_w_m_k) == (UNKNOWN_W_MK, 1.0)
    assert {poor.limit_c, told.limit_c, known.limit_c} == {150.0}
    assert poor.planned.spot_high_c == pytest.approx(known.planned.spot_high_c)
    assert told.planned.spot_high_c < poor.planned.spot_high_c
    radius_mm = 0.2 * 1.0
    contact = poor.largest_share / (1 - poor.largest_share) * into_body_w_k(UNKNOWN_W_MK, radius_mm)
    assert told.largest_share == pytest.approx(touching_share(contact, 1.0, radius_mm))
    plan_of(tmp_path, heat="own", limit="limit = 150")
    job = chainplan.read_job(tmp_path / "stone.toml")
    assert sum("as poorly as amber" in text for text in job.warnings) == 1
    plan_of(tmp_path, kind="stone setting", heat="own", limit="limit = 150")
    assert not any("amber" in t for t in chainplan.read_job(tmp_path / "stone.toml").warnings)
    with pytest.raises(chainplan.InputError, match="whose rings touch metal"):
        plan_of(tmp_path, kind="stone setting", limit="conductivity = 1.0")


def test_a_ring_that_touches_amber_is_judged_at_its_own_peak(tmp_path):
    """The whole stays below its limit; each spot has the limit too, and that is told as broken."""
    piece = plan_of(tmp_path)
    (item,) = piece.stand_by
    assert item.touching == (14, 15)
    whole, *spots = [limit for limit in piece.order.limits if limit.kind == "part"]
    assert (whole.name, whole.holds) == ("oval stone", True)
    assert [spot.ring for spot in spots] == [14, 15]
    assert {spot.name for spot in spots} == {"oval stone, where touched"}
    assert not any(spot.holds for spot in spots)
    assert piece.order.status == "infeasible"
    (aside,) = piece.order.set_aside
    assert (aside.kind, aside.name, aside.proved) == ("part", "oval stone, where touched", True)
    assert max(spot.high_c for spot in spots) == pytest.approx(item.planned.spot_high_c, abs=0.01)
    assert item.planned.body_high_c < 100 < item.planned.spot_high_c
    assert item.planned.body_usual_c < item.planned.spot_usual_c < item.planned.ring_usual_c
    assert item.set_last.body_high_c < item.planned.body_high_c
    said = " ".join(piece.order.advice)
    assert "rings 15 and 16 touch it" in said
    assert "above its limit of 100 °C" in said
    assert "Put it on after welding" in said


def test_waits_keep_the_spot_below_its_limit_where_single_welds_do(tmp_path):
    """Of a good conductor the spot bears one weld but not the next at once: the order spares it."""
    free = plan_of(tmp_path, heat="cubic-zirconia")
    spot = max(row.high_c for row in free.order.limits if row.name.endswith(", where touched"))
    alone = [
        free.heat.simulate(corner, np.array([ring]), np.array([0.0])).peak_c[node.node]
        for node in free.heat.parts
        if node.body is not None
        for corner in free.heat.bad_corners
        for ring in (14, 15)
    ]
    limit_c = (max(alone) + spot) / 2
    assert max(alone) + 2 < limit_c < spot - 2
    kept = plan_of(tmp_path, heat="cubic-zirconia", limit=f"limit = {limit_c}")
    checks = [row for row in kept.order.limits if row.name.endswith(", where touched")]
    assert len(checks) == 2
    assert all(row.holds and row.high_c <= limit_c + 0.05 for row in checks)
    assert kept.order.set_aside == ()


def test_distance_of_the_nearest_join_is_that_in_space(tmp_path):
    """Straight from the joins that are welded in place to the stone's line."""
    piece = plan_of(tmp_path)
    (item,), (laid,) = piece.stand_by, piece.layout.fittings
    start, end = np.array(laid.from_mm), np.array(laid.to_mm)
    ways = np.linspace(start, end, 2001)
    away = np.linalg.norm(piece.joins.point_mm[:, None] - ways[None], axis=2).min(axis=1)
    assert item.nearest_mm == pytest.approx(away.min(), abs=0.01)
    assert item.nearest_ring == int(away.argmin())
    assert item.joins_near == int((away < 10).sum())


def test_stone_in_a_setting_is_touched_on_metal(tmp_path):
    """Metal spreads what the rings give: the node of the whole is right for it."""
    (item,) = plan_of(tmp_path, kind="stone setting").stand_by
    assert item.conductivity_w_m_k is None
    assert item.planned.spot_high_c == item.planned.body_high_c


def test_what_is_fitted_after_welding_is_judged_by_nothing(tmp_path):
    """It is not there."""
    piece = plan_of(tmp_path, fitted="after welding")
    assert piece.stand_by == ()
    assert piece.piece.parts == ()


def test_only_where_needed_closes_all_near_rings_that_can_be(tmp_path):
    """Rings within the distance alternate with open ones; those in the stone's eyes stay open."""
    piece = plan_of(tmp_path, way='closing_way = "only where needed beforehand"')
    shut = piece.joins.pre_closed
    links = piece.layout.links
    assert not shut[links].all(axis=1).any()
    assert not shut[[14, 15]].any()
    near = np.flatnonzero(shut)
    assert near.size >= 2
    chosen = next(way for way in piece.joins.ways if way.way == "only where needed beforehand")
    assert "going through a fitting: rings 15, 16" in chosen.note


def test_part_on_the_chain_is_judged_by_the_rings_that_it_sits_on(tmp_path):
    """A bead of amber is warned of, a spring is not: it conducts like the rings."""
    more = """[[part]]
piece = "Stone bracelet"
part = "{kind} thing"
kind = "{kind}"
place_mm = 20
"""
    spots = {}
    for kind in ("amber", "spring"):
        text = JOB.format(
            kind="centrepiece", heat="diamond", fitted="after welding", way="", limit=""
        )
        file = tmp_path / f"{kind}.toml"
        file.write_text(text + more.format(kind=kind), encoding="utf-8")
        plan = chainplan.make_plan(chainplan.read_job(file))
        (item,) = plan.pieces[0].stand_by
        spots[kind] = item.planned
        assert not item.fitting
        warned = [text for text in plan.warnings if "the very spot warms" in text]
        assert len(warned) == (kind == "amber")
    assert spots["amber"].spot_high_c > spots["amber"].body_high_c
    assert spots["spring"].spot_high_c == spots["spring"].body_high_c


@pytest.mark.parametrize(
    ("rings", "text"),
    [
        ([0], "ring 1"),
        ([0, 1], "rings 1 and 2"),
        (range(12), "rings 1 to 12"),
        (range(0, 24, 2), "rings 1, 3, 5, 7, 9, 11, 13, 15 and 4 more"),
    ],
)
def test_ring_numbers_are_cut_where_nobody_reads_on(rings, text):
    """Runs by their ends; of others eight are taken in at a glance."""
    assert say_numbers(list(rings)) == text
