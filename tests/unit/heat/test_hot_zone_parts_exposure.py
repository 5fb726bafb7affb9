"""Hot zone of the welded ring, parts as nodes, exposure factors and their calibration."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.heat import build_heat_model, ranges_of
from chainplan.heat.conductance.air import convection_w_m2_k
from chainplan.heat.conductance.exposure import (
    build_of_section,
    envelope_share,
    exposure_of_section,
)
from chainplan.heat.conductance.spot import RADIUS_PER_WIRE, into_body_w_k
from chainplan.heat.hot_zone import diffusivity_m2_s, ring_source_rise_k
from chainplan.heat.network import _exposures
from chainplan.heat.placing import place_parts
from chainplan.heat.tuning import tuning
from chainplan.model.job import HeatSensitivePart
from chainplan.reference import find_metal


def part(**keywords):
    plain = {
        "piece": "invented",
        "name": "clasp",
        "kind": "spring",
        "limit_c": 60.0,
        "place_mm": 0.0,
    }
    return HeatSensitivePart(**(plain | keywords))


@pytest.fixture
def make_model(metals, settings):
    def make(layout, **keywords):
        return build_heat_model(
            layout, **({"metals": metals, "join_heat_set_j": 10.0, "settings": settings} | keywords)
        )

    return make


def test_silver_ring_is_even_at_once_and_thick_steel_is_not(chain, make_model):
    """τ = S²/(4π²α): 0.05 s for silver, about 2 s for steel 1.0/4.5 and 9.5 s for steel 2/10."""
    silver = make_model(chain(3))
    steel = make_model(chain(3, metal="stainless-304"))
    thick = make_model(chain(3, metal="stainless-304", wire_mm=2.0, inner_mm=10.0))
    assert silver.hot_zones[0].spread_time_s == pytest.approx(0.053, abs=0.003)
    assert steel.hot_zones[0].spread_time_s == pytest.approx(2.0, abs=0.2)
    assert thick.hot_zones[0].spread_time_s == pytest.approx(9.5, abs=0.7)
    assert silver.hot_zones[0].biot < 0.05 < steel.hot_zones[0].biot
    assert silver.hot_zones[0].spot_rise_1s_k < silver.hot_zones[0].mean_rise_k
    assert steel.hot_zones[0].spot_rise_1s_k > 2 * steel.hot_zones[0].mean_rise_k
    assert not silver.cautions
    assert "takes about 28 s to even out" in thick.cautions[0]


def test_waves_at_the_join_are_those_of_the_solution_along_the_ring(chain, make_model):
    """The same series, summed in another way; before heat has gone two wires far it stands still.

    Nothing before the weld, and nothing of silver; one wave with room for the others is above it.
    """
    steel = make_model(chain(3, metal="stainless-304", wire_mm=2.0, inner_mm=10.0))
    ring = steel.uneven
    assert ring.spread_s[0] == pytest.approx(steel.hot_zones[0].spread_time_s)
    lag = np.array([1.5, 2.0, 5.0, 9.0, 12.0, 30.0, 100.0])
    share = ring.share(np.zeros(7, dtype=int), lag)
    along = ring_source_rise_k(
        0.0, lag, mean_rise_k=1.0, circumference_mm=math.pi * 12,
        diffusivity_m2_s=diffusivity_m2_s(find_metal("stainless-304")),
    )  # fmt: skip
    assert share == pytest.approx(along - 1, abs=1e-9)
    early = ring.share(np.zeros(3, dtype=int), np.array([-1.0, 0.01, float(ring.soonest_s[0])]))
    assert early[0] == 0.0
    assert early[1] == early[2] > share[0]
    most = ring.most_share()[0] * np.exp(-lag / ring.spread_s[0])
    assert (most >= share).all()
    silver = make_model(chain(3))
    assert not silver.uneven.spread_s.any()
    start = np.array([0.0])
    node, at_s = np.array([1, 0, 1]), np.array([5.0, 5.0, -1.0])
    told = [
        getattr(heat, name)("usual", np.array([1]), start, node, at_s)
        for heat in (steel, silver)
        for name in ("touched_c", "temperatures_c")
    ]
    above = told[0] - told[1]
    assert above[0] == pytest.approx(share[2] * steel.networks["usual"].own_rise_k[1])
    assert above[1:].tolist() == [0.0, 0.0]
    assert (told[2] == told[3]).all()


def test_a_part_on_a_slow_ring_asks_for_its_join_on_the_other_side(chain, make_model):
    """A sentence of the plan; silver is even before a stone has noticed."""
    drop = part(name="drop", kind="amber")
    slow = make_model(chain(3, metal="stainless-304", wire_mm=2.0, inner_mm=10.0), parts=(drop,))
    assert any(text.startswith("drop: of each ring that touches it") for text in slow.cautions)
    assert not make_model(chain(3), parts=(drop,)).cautions


def test_mean_of_the_ring_solution_is_the_lumped_ring():
    """Averaged around the ring, the 1-D solution cools as one lump."""
    places = np.linspace(0, 17.28, 400, endpoint=False)
    for moment in (0.02, 0.3, 4.0):
        rise = ring_source_rise_k(
            places,
            moment,
            mean_rise_k=100.0,
            circumference_mm=17.28,
            diffusivity_m2_s=4e-6,
            decay_per_s=0.05,
        )
        assert rise.mean() == pytest.approx(100 * np.exp(-0.05 * moment), rel=1e-9)


def test_part_at_an_end_is_a_node_joined_to_the_end_ring(chain, make_model):
    """A clasp at the start and one at the end of a chain."""
    heat = make_model(chain(10), parts=(part(), part(name="charm", from_end=True, limit_c=90.0)))
    assert [node.name for node in heat.parts] == ["clasp", "charm"]
    assert heat.parts[0].near_rings == (0,)
    assert heat.parts[1].near_rings == (9,)
    assert heat.parts[1].limit_c == 90.0
    network = heat.networks["usual"]
    assert network.pairs[-2:].tolist() == [[0, 10], [9, 11]]
    assert network.capacity_j_k[10] == network.capacity_j_k[0]


def test_what_conducts_poorly_is_joined_through_the_spots_that_rings_touch(chain, make_model):
    """A drop of amber behind its ring: the spot takes the ring's heat, the body what goes in."""
    heat = make_model(chain(10), parts=(part(name="drop", kind="amber", limit_c=100.0),))
    body, spot = heat.parts
    assert (body.name, spot.name) == ("drop", "drop, where touched")
    assert (body.limit_c, body.near_rings) == (spot.limit_c, spot.near_rings) == (100.0, (0,))
    assert (body.body, spot.body) == (None, body.node)
    network = heat.networks["usual"]
    assert network.pairs[-2:].tolist() == [[0, 11], [10, 11]]
    into = into_body_w_k(0.2, RADIUS_PER_WIRE * 1.0)
    assert network.pair_w_k[-1] == pytest.approx(into)
    joint = network.pair_w_k[-2]
    run = heat.simulate("usual", np.array([0]), np.array([0.0]))
    rise = run.peak_c - network.ambient_c
    assert rise[spot.node] == pytest.approx(joint / (joint + into) * rise[0], rel=0.06)
    assert rise[spot.node] > 5 * rise[body.node]


def test_part_warms_when_its_ring_is_welded_and_less_with_a_clip(chain, make_model, settings):
    """A clip between part and joins takes most of the heat: 5, 20, 50 mW/K help ever more.

    At links of 5 mW/K: better ones bring heat to the part as fast as the small clip takes it.
    """
    rises = []
    for clip in (0.0, 0.005, 0.02, 0.05):
        own = replace(settings, link_load_high_mn=100.0)
        heat = make_model(chain(20), parts=(part(sink_w_k=clip),), settings=own)
        run = heat.simulate("hot, good links", np.array([1]), np.array([0.0]))
        rises.append(run.peak_c[heat.parts[0].node] - 21.0)
    assert rises[0] > 10
    assert rises[0] > 1.4 * rises[1] > 1.4**2 * rises[2] > 1.4**3 * rises[3]


def test_long_part_is_split_into_stretches_with_one_name(chain, make_model):
    """A glue line over 40 mm is not one lump."""
    heat = make_model(chain(40), parts=(part(place_mm=45.0, length_mm=40.0),))
    assert len(heat.parts) > 2
    covered = sorted({ring for node in heat.parts for ring in node.near_rings})
    assert covered == list(range(10, 19)) or covered == list(range(10, 20))


@pytest.mark.parametrize(("length_mm", "stretches"), [(0.0, 1), (11.0, 1), (11.1, 2), (44.1, 5)])
def test_a_stretch_is_four_radii_of_a_ring_long_at_most(chain, length_mm, stretches):
    """Rings of 2.75 mm mean radius: stretches of 11 mm."""
    assert len(place_parts(chain(40), [part(place_mm=45.0, length_mm=length_mm)])) == stretches


def test_a_measured_exposure_goes_for_every_section_with_its_spread(chain, settings):
    """15 % to either side."""
    (own,) = _exposures(chain(5), replace(settings, exposure=0.5))
    assert (own.low, own.usual, own.high) == pytest.approx((0.425, 0.5, 0.575))


def test_part_in_a_row_of_a_sheet_stays_in_its_row(sheet, make_model):
    """Row 3 as people count."""
    layout = sheet(12, 6)
    heat = make_model(layout, parts=(part(place_mm=16.0, row=3),))
    assert {int(layout.row[ring]) for ring in heat.parts[0].near_rings} == {2}


def test_part_off_the_piece_is_refused_with_the_length(chain, make_model):
    """Where, what was found, what is allowed."""
    with pytest.raises(InputError, match="300 mm is off the piece, which is 47 mm long"):
        make_model(chain(10), parts=(part(place_mm=300.0),))
    with pytest.raises(InputError, match="row 7 is not there"):
        make_model(chain(10), parts=(part(row=7),))


def test_exposure_falls_with_density_and_keeps_its_range():
    """Chain 1.0, pairs or Byzantine 0.5, strip 0.6, sheet 0.4: judgement, said so."""
    usual = [
        exposure_of_section(*build).usual
        for build in (("chain", 1, 2.0), ("chain", 1, 4.0), ("sheet", 5, 3.6), ("sheet", 30, 3.9))
    ]
    assert usual == [1.0, 0.5, 0.6, 0.4]
    assert build_of_section("loose", 1, 0.0) == "chain"
    value = exposure_of_section("sheet", 30, 3.9)
    assert (value.low, value.high) == (0.15, 0.8)
    assert "judgement" in value.source


@pytest.mark.parametrize("kind", ["spring", "amber"])
@pytest.mark.parametrize("largest_modal", [2000, 0])
def test_a_parts_peak_is_found_between_the_moments_looked_at(
    chain, make_model, largest_modal, kind
):
    """Against readings each hundredth of a second, at uneven times and in any order."""
    layout = chain(24)
    rng = np.random.default_rng(5)
    with tuning.using(replace(tuning(), largest_modal=largest_modal)):
        heat = make_model(layout, parts=(part(place_mm=40.0, kind=kind),))
        node = heat.parts[-1].node
        for corner in heat.bad_corners:
            ring = rng.permutation(24).astype(np.int32)
            start = np.cumsum(rng.uniform(2.0, 40.0, 24))
            run = heat.simulate(corner, ring, start)
            times = np.arange(0.0, start[-1] + 120.0, 0.01)
            nodes = np.full(len(times), node, dtype=np.int32)
            fine_c = heat.temperatures_c(corner, ring, start, nodes, times)
            near = times[np.argmax(fine_c)] + np.arange(-0.01, 0.01, 1e-4)  # a spot is quick
            nodes = np.full(len(near), node, dtype=np.int32)
            fine = max(fine_c.max(), heat.temperatures_c(corner, ring, start, nodes, near).max())
            assert run.peak_c[node] >= fine - 1e-3
            assert run.peak_c[node] <= fine + 5e-3


def test_the_lower_end_is_the_piece_s_own_envelope_where_its_size_is_known(chain, settings, metals):
    """A rod as thick as the chain: by hand for 5.6 mm round, 450 mm, 456 rings of 1.0 / 3.5."""
    bare = chain(456, inner_mm=3.5)
    wide = replace(bare.sections[0], width_mm=5.6, thickness_mm=5.6, length_mm=450.0)
    layout = replace(bare, sections=(wide,))
    film = [sum(convection_w_m2_k(d, 60, 21)[k] for k in (0, 2)) / 2 for d in (5.6, 1.0)]
    byhand = film[0] * np.pi * 5.6 * 450 / (film[1] * 456 * np.pi**2 * 1.0 * 4.5)
    assert envelope_share(layout, 0) == pytest.approx(byhand)
    assert byhand == pytest.approx(0.16, abs=0.01)
    assert envelope_share(bare, 0) == 0.0
    assert ranges_of(layout, metals, settings, 0).exposure.low == 0.6  # a chain's: the higher one
    roomy = replace(layout, sections=(replace(wide, width_mm=40.0, thickness_mm=40.0),))
    low = ranges_of(roomy, metals, settings, 0).exposure.low
    assert low == pytest.approx(envelope_share(roomy, 0))
    assert 0.6 < low < 1.0
