"""What the network of a piece is made of, and the corners of its uncertain numbers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.heat import build_heat_model
from chainplan.heat.following.modes import find_modes, simulate_modes
from chainplan.heat.network import (
    links_side_by_side,
    piece_heat,
    ring_capacity_j_k,
    ring_surface_mm2,
)
from chainplan.model.job import HeatSensitivePart


def test_ring_capacity_is_that_of_the_torus(chain, metals):
    """1.0/4.5 sterling: 34.6 mJ/K; 12 J at 0.6 warm it by about 208 K."""
    capacity = ring_capacity_j_k(chain(2), metals)
    metal = metals["sterling-silver"]
    volume = math.pi**2 * 1.0**2 * 5.5 / 4
    per_mm3 = metal.density_g_cm3.usual * metal.specific_heat_j_kg_k.usual * 1e-6
    assert capacity == pytest.approx([volume * per_mm3] * 2)
    assert capacity[0] == pytest.approx(0.0346, abs=1e-4)
    assert 12 * 0.6 / capacity[0] == pytest.approx(208, abs=1)


def test_lone_ring_loses_1_63_milliwatts_a_kelvin(rings, metals, settings):
    """30 W/(m² K) on π²·d·(ID + d) = 54.3 mm²."""
    lone = rings(np.zeros((1, 3)), np.zeros((0, 2)))
    assert ring_surface_mm2(lone)[0] == pytest.approx(54.28, abs=0.01)
    heat = build_heat_model(lone, metals=metals, join_heat_set_j=10.0, settings=settings)
    assert heat.networks["usual"].loss_w_k[0] == pytest.approx(1.63e-3, rel=0.02)


def test_usual_links_of_the_metals_are_as_conductive_as_expected(chain, metals, settings):
    """About 1.0 (to 5) for sterling and copper, 0.7 (to 2) brass, 0.5 (0.3 to 0.7) mW/K steel.

    The high ones at a pull of 100 mN, for which they were reckoned.
    """
    settings = replace(settings, link_load_high_mn=100.0)
    bands = {
        "sterling-silver": (0.3, 1.0, 5.0),
        "copper": (0.3, 1.0, 5.0),
        "brass": (0.3, 0.7, 2.0),
        "stainless-304": (0.3, 0.5, 0.7),
    }
    for key, (low, usual, high) in bands.items():
        value = piece_heat(chain(40, metal=key), metals=metals, settings=settings).link_w_k[0]
        assert 1000 * value.low == pytest.approx(low, rel=0.2), key
        assert 1000 * value.usual == pytest.approx(usual, rel=0.2), key
        assert 1000 * value.high == pytest.approx(high, rel=0.25), key


def test_wide_piece_shares_the_pull_among_its_links(chain, sheet, metals, settings):
    """Links side by side carry less each, so they conduct less at the high end."""
    assert links_side_by_side(chain(50))[0] == pytest.approx(1.0, abs=0.05)
    assert links_side_by_side(sheet(20, 10))[0] > 15
    narrow = piece_heat(chain(50), metals=metals, settings=settings).link_w_k[0]
    wide = piece_heat(sheet(20, 10), metals=metals, settings=settings).link_w_k[0]
    assert wide.usual == pytest.approx(narrow.usual)
    assert wide.high < narrow.high / 2


def test_contacts_that_are_no_links_conduct_too_and_are_counted_once(rings, metals, settings):
    """A pair listed as link and as contact is one pair."""
    centre = np.array([[0.0, 0, 0], [4.5, 0, 0], [4.5, 1.0, 0]])
    piece = rings(centre, [(0, 1), (0, 2)], contacts=[(0, 1), (1, 2)])
    heat = piece_heat(piece, metals=metals, settings=settings)
    assert sorted(map(tuple, heat.pairs.tolist())) == [(0, 1), (0, 2), (1, 2)]
    assert heat.pair_w_k[1][2] > 0


def test_corners_put_each_number_at_its_end(chain, metals, settings):
    """Hot: most heat, least loss, links at both ends and in the middle."""
    heat = build_heat_model(chain(8), metals=metals, join_heat_set_j=10.0, settings=settings)
    nets = heat.networks
    assert heat.corners[:2] == ("low", "usual")
    assert set(heat.bad_corners) == set(heat.corners[2:])
    for corner in heat.bad_corners:
        assert nets[corner].join_heat_j[0] == pytest.approx(10 * settings.arc_share_high)
        assert nets[corner].loss_w_k[0] < nets["usual"].loss_w_k[0]
    links = [nets[corner].pair_w_k[0] for corner in heat.bad_corners]
    assert links[0] < links[1] == nets["usual"].pair_w_k[0] < links[2]
    assert nets["low"].join_heat_j[0] == pytest.approx(10 * settings.arc_share_low)
    assert nets["low"].loss_w_k[0] > nets["usual"].loss_w_k[0]


def test_no_conductance_between_the_bad_corners_is_more_than_a_little_worse(
    chain, sheet, metals, settings
):
    """Interpass rises and a part's peak at six more conductances from poor to good.

    With the two ends alone a chain's every 11th join would be 7 K warmer in between; with the
    middle too, what is missed stays below a fourteenth of the rise.
    """
    clasp = HeatSensitivePart(
        piece="invented", name="clasp", kind="spring", limit_c=60.0, place_mm=0.0
    )
    excess = []
    for layout in (chain(60), sheet(24, 5), sheet(12, 12)):
        n = layout.rings
        heat = build_heat_model(
            layout, metals=metals, join_heat_set_j=10.0, settings=settings, parts=(clasp,)
        )
        poor, middle, good = (heat.networks[corner] for corner in heat.bad_corners)
        between = [
            poor.pair_w_k ** (1 - share) * good.pair_w_k**share
            for share in np.linspace(0, 1, 8)[1:-1]
        ]
        for step in (1, 5, 11):
            ring = np.concatenate([np.arange(first, n, step) for first in range(step)])
            start = np.arange(n) * 5.0
            rises = []
            for link in (poor.pair_w_k, middle.pair_w_k, good.pair_w_k, *between):
                one = replace(poor, pair_w_k=link)
                run = simulate_modes(one, find_modes(one), ring, start)
                rises.append([run.before_c.max(), run.peak_c[heat.parts[0].node]])
            over = np.array(rises) - settings.room_c
            excess.append(over[3:].max(axis=0) / over[:3].max(axis=0) - 1)
            if n == 60 and step == 11:
                assert over[1, 0] > over[[0, 2], 0].max() + 5
    assert np.max(excess) < 1 / 14


def test_every_setting_of_the_model_changes_a_network(chain, metals, settings):
    """A setting that changes nothing would be a trap."""

    def networks(changed):
        piece = build_heat_model(
            chain(6), metals=metals, join_heat_set_j=10.0, settings=changed, held_rings=(3,)
        )
        return [
            np.concatenate(
                [n.pair_w_k, n.loss_w_k, n.join_heat_j, n.base_c, [n.ambient_c], n.sink_c]
            )
            for n in piece.networks.values()
        ]

    plain = networks(settings)
    for name, value in {
        "room_c": 15.0,
        "arc_share_low": 0.3,
        "arc_share_usual": 0.5,
        "arc_share_high": 0.9,
        "finger_c": 35.0,
        "exposure": 0.5,
        "link_load_low_mn": 0.5,
        "link_load_usual_mn": 9.0,
        "link_load_high_mn": 200.0,
    }.items():
        other = networks(replace(settings, **{name: value}))
        assert any(not np.array_equal(a, b) for a, b in zip(plain, other, strict=True)), name


def test_fingers_held_still_warm_a_cold_piece(chain, metals, settings):
    """T0 of the ladder: s·(Ts − Troom)/(s + √(H² + 4gH)) at the held ring, r^k beside it."""
    heat = build_heat_model(
        chain(121), metals=metals, join_heat_set_j=10.0, settings=settings, held_rings=(60,)
    )
    network = heat.networks["usual"]
    link, loss = network.pair_w_k[0], network.loss_w_k[0]
    root = math.sqrt(loss**2 + 4 * link * loss)
    warm = 0.003 * (settings.finger_c - settings.room_c) / (0.003 + root)
    ratio = (2 * link + loss - root) / (2 * link)
    rise = network.base_c - settings.room_c
    assert rise[60] == pytest.approx(warm, rel=1e-9)
    assert rise[63] == pytest.approx(warm * ratio**3, rel=1e-9)
    run = heat.simulate("usual", np.array([0]), np.array([0.0]))
    assert run.before_c[0] == pytest.approx(network.base_c[0])


def test_ranges_the_wrong_way_round_are_all_named(chain, metals, settings):
    """Low above usual would turn a bad corner into a good one."""
    wrong = replace(settings, arc_share_low=0.9, link_load_usual_mn=400.0)
    with pytest.raises(InputError, match=r"arc_share_low 0\.9") as caught:
        build_heat_model(chain(3), metals=metals, join_heat_set_j=1.0, settings=wrong)
    assert len(caught.value.faults) == 2


def test_sections_of_two_metals_meet_in_a_link_of_both(chain, metals, settings):
    """Half a chain of sterling, half of stainless: two hot zones, a link between in between."""
    layout = chain(20)
    silver = layout.sections[0]
    steel = replace(silver, metal="stainless-304", first_ring=10, rings=10)
    both = replace(
        layout,
        sections=(replace(silver, rings=10), steel),
        section=np.repeat([0, 1], 10).astype(np.int32),
    )
    heat = build_heat_model(both, metals=metals, join_heat_set_j=10.0, settings=settings)
    network = heat.networks["hot, good links"]
    at = {
        tuple(pair): value
        for pair, value in zip(network.pairs.tolist(), network.pair_w_k, strict=True)
    }
    assert at[(15, 16)] < at[(9, 10)] < at[(3, 4)]
    assert network.capacity_j_k[12] > 1.4 * network.capacity_j_k[2]
    assert [zone.section for zone in heat.hot_zones] == [0, 1]
    assert heat.hot_zones[1].biot > 10 * heat.hot_zones[0].biot
    assert sum("section 2" in row[0] for row in heat.assumptions) == 3
    assert "section 2" in heat.cautions[0]


def test_copper_block_on_a_ring_keeps_the_piece_cooler(chain, metals, settings):
    """A sink at room temperature: nothing gets warmer, its own ring much less so."""
    plain = {"metals": metals, "join_heat_set_j": 10.0, "settings": settings}
    without = build_heat_model(chain(12), **plain)
    with_block = build_heat_model(chain(12), sinks={5: 0.02}, **plain)
    ring, start = np.arange(12), np.arange(12) * 5.0
    for corner in without.corners:
        bare = without.simulate(corner, ring, start)
        cooled = with_block.simulate(corner, ring, start)
        assert np.all(cooled.before_c <= bare.before_c + 1e-9)
        assert cooled.before_c[6] - 21 < 0.6 * (bare.before_c[6] - 21)
    with pytest.raises(InputError, match="ring 13"):
        build_heat_model(chain(12), sinks={12: 0.02}, **plain)
    with pytest.raises(InputError, match="negative"):
        build_heat_model(chain(12), sinks={1: -0.02}, **plain)


def test_missing_metal_is_named_with_those_known(chain, metals, settings):
    """A piece whose metal was not handed over cannot be computed."""
    del metals["copper"]
    with pytest.raises(InputError, match=r"'copper'.*sterling-silver"):
        build_heat_model(
            chain(3, metal="copper"), metals=metals, join_heat_set_j=1.0, settings=settings
        )


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_join_heat_that_is_no_heat_is_refused(bad, chain, metals, settings):
    """Negative or not finite."""
    with pytest.raises(InputError, match="join heat"):
        build_heat_model(chain(3), metals=metals, join_heat_set_j=bad, settings=settings)


def test_runs_that_cannot_be_are_refused_with_the_ring_as_people_count(chain, metals, settings):
    """Rings are numbered from 1 in messages."""
    heat = build_heat_model(chain(3), metals=metals, join_heat_set_j=1.0, settings=settings)
    with pytest.raises(InputError, match="ring 4 is not on this piece; rings 1 to 3"):
        heat.simulate("usual", np.array([3]), np.array([0.0]))
    with pytest.raises(InputError, match="2 rings but 1 start"):
        heat.simulate("usual", np.array([0, 1]), np.array([0.0]))
    with pytest.raises(InputError, match="finite"):
        heat.simulate("usual", np.array([0]), np.array([np.inf]))
    with pytest.raises(InputError, match="no corner 'hot'"):
        heat.simulate("hot", np.array([0]), np.array([0.0]))
    with pytest.raises(InputError, match="ring 4 is not on this piece; rings 1 to 3"):
        heat.temperatures_c("usual", np.array([3]), np.array([0.0]), np.array([0]), np.array([1.0]))


def test_single_ring_and_empty_run_are_defined(rings, metals, settings):
    """One ring, no link; and no weld at all."""
    lone = rings(np.zeros((1, 3)), np.zeros((0, 2)))
    heat = build_heat_model(lone, metals=metals, join_heat_set_j=10.0, settings=settings)
    run = heat.simulate("usual", np.array([0]), np.array([0.0]), np.array([0.0, 20.0]))
    network = heat.networks["usual"]
    jump = network.join_heat_j[0] / network.capacity_j_k[0]
    fade = math.exp(-network.loss_w_k[0] / network.capacity_j_k[0] * 20)
    assert run.before_c == pytest.approx([settings.room_c])
    assert run.peak_c == pytest.approx([settings.room_c + jump])
    assert run.at_c[:, 0] - settings.room_c == pytest.approx([jump, jump * fade])
    assert heat.kernels("usual").rise_at(heat.kernels("usual").near(0)[1], 20.0) == pytest.approx(
        jump * fade, rel=2e-3
    )
    idle = heat.simulate("usual", np.zeros(0, dtype=int), np.zeros(0), np.array([5.0]))
    assert idle.before_c.size == 0
    assert idle.at_c == pytest.approx(np.full((1, 1), settings.room_c))


def test_every_assumption_carries_a_range_and_a_source(chain, metals, settings):
    """Nothing uncertain is left unsaid."""
    heat = build_heat_model(chain(3), metals=metals, join_heat_set_j=1.0, settings=settings)
    names = [row[0] for row in heat.assumptions]
    for wanted in ("share of the set energy", "conductance of a link", "film", "exposure"):
        assert any(name.startswith(wanted) for name in names)
    for _, low, usual, high, _, source in heat.assumptions:
        assert low <= usual <= high
        assert source
