"""Kernel tables and sums against the exact solution."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.heat import build_heat_model
from chainplan.heat.following.kernels import build_kernels
from chainplan.heat.following.modes import find_modes
from chainplan.heat.following.spreading import chebyshev_terms
from chainplan.heat.following.sums import simulate_sums


@pytest.fixture
def make_model(metals, settings):
    def make(layout, **keywords):
        return build_heat_model(
            layout, metals=metals, join_heat_set_j=10.0, settings=settings, **keywords
        )

    return make


def orders(n):
    centre_out = np.argsort(np.abs(np.arange(n) - n // 2), kind="stable")
    return {
        "end to end": np.arange(n),
        "every seventh": np.concatenate([np.arange(first, n, 7) for first in range(7)]),
        "random": np.random.default_rng(5).permutation(n),
        "from the middle": centre_out,
    }


@pytest.mark.parametrize("corner", ["usual", "hot, poor links", "hot, good links"])
def test_kernel_sums_stay_within_the_stated_bound_of_the_exact_run(corner, sheet, make_model):
    """A 5-row strip of 400 rings, truncated; the bound is for any order, four are tried."""
    heat = make_model(sheet(80, 5))
    table = heat.kernels(corner)
    assert np.diff(table.class_start).max() < 400  # truncated indeed
    for ring in orders(400).values():
        start = np.arange(400) * 5.0
        exact = heat.simulate(corner, ring, start)
        near = simulate_sums(heat.networks[corner], table, ring, start)
        assert np.abs(near.before_c - exact.before_c).max() <= table.dropped_k
        assert table.dropped_k < 1.5


def test_stated_bound_holds_for_the_worst_order_there_can_be(sheet, make_model):
    """All sources at their worst moment at once: Σ_j max over time of what the table leaves out."""
    heat = make_model(sheet(26, 18))
    corner = "hot, good links"
    table, modes = heat.kernels(corner), heat.modes(corner)
    network = heat.networks[corner]
    times = np.linspace(0.0, 1500.0, 601)
    fade = np.exp(-np.outer(modes.rate_per_s, times))
    shape = modes.vectors / modes.root_capacity[:, None]
    seen = []
    for node in (0, 9, 13 * 18 + 9, 13 * 18):
        exact = (shape * shape[node]) @ fade * network.join_heat_j[:, None]
        source, curve = table.near(node)
        exact[source] -= table.rise_at(curve[:, None], times[None, :])
        seen.append(float(np.maximum(exact.max(axis=1), 0.0).sum()))
    assert max(seen) <= table.dropped_k
    assert table.dropped_k < 15.0  # and is not empty talk


def test_table_curves_agree_with_the_modes_in_a_small_piece(chain, make_model):
    """Small pieces are not truncated: every ring near every other, to the grain of the table."""
    heat = make_model(chain(20))
    for corner in heat.corners:
        table, modes = heat.kernels(corner), heat.modes(corner)
        network = heat.networks[corner]
        for node in (0, 9):
            source, curve = table.near(node)
            for ring, row in zip(source, curve, strict=True):
                exact = network.join_heat_j[ring] * modes.rise_per_joule(
                    node, ring, table.log_time_s
                )
                assert np.abs(table.log_rise_k[row] - exact).max() < 2e-3


def test_spread_out_form_says_the_same_as_the_compact_one(chain, make_model):
    """Rows of source and curve are those of the classes."""
    table = make_model(chain(300)).kernels("usual")
    for node in (0, 1, 150, 299):
        part = slice(table.start[node], table.start[node + 1])
        source, curve = table.near(node)
        assert np.array_equal(table.source[part], source)
        assert np.array_equal(table.curve[part], curve)
    assert table.rise_k.shape == (len(table.log_rise_k), len(table.time_s))
    row = table.near(150)[1]
    assert table.rise_k[row, 7] == pytest.approx(table.rise_at(row, table.time_s[7]), rel=1e-5)


def test_table_is_nothing_before_the_weld_and_after_its_last_time(chain, make_model):
    """Lags outside the table give no rise."""
    table = make_model(chain(30)).kernels("usual")
    assert table.rise_at(table.near(3)[1], -1.0).max() == 0.0
    assert table.rise_at(table.near(3)[1], table.log_time_s[-1] + 1).max() == 0.0


def test_number_of_surroundings_does_not_grow_with_the_piece(chain, sheet, make_model):
    """A long chain has one inner kind of ring and a few towards the ends."""
    short = make_model(chain(400)).kernels("usual")
    long = make_model(chain(4000)).kernels("usual")
    assert len(short.class_start) == len(long.class_start) < 60
    assert len(short.log_rise_k) == len(long.log_rise_k)


def test_part_and_odd_ring_have_surroundings_of_their_own(chain, make_model):
    """One ring that gets no heat is not a source; its neighbours differ from the others."""
    layout = chain(300)
    heat_j = np.full(300, 10.0)
    heat_j[150] = 0.0
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.reference import find_metal

    heat = build_heat_model(
        layout,
        metals={"sterling-silver": find_metal("sterling")},
        join_heat_set_j=heat_j,
        settings=HeatSettings(),
    )
    table = heat.kernels("usual")
    assert 150 not in table.near(150)[0]
    assert table.node_class[149] != table.node_class[100]
    assert table.node_class[80] == table.node_class[100]


def test_large_piece_simulated_by_sums_agrees_with_its_own_small_twin(chain, make_model):
    """2100 rings go by kernel sums; the first 300 steps do not know of the far end."""
    long, short = make_model(chain(2100)), make_model(chain(600))
    assert not long.exact
    assert short.exact
    ring, start = np.arange(300), np.arange(300) * 5.0
    for corner in ("usual", "hot, good links"):
        far = long.simulate(corner, ring, start, np.array([100.0, 700.0]))
        near = short.simulate(corner, ring, start, np.array([100.0, 700.0]))
        assert far.dropped_k > 0
        assert near.dropped_k == 0
        assert far.before_c == pytest.approx(near.before_c, abs=far.dropped_k)
        assert far.peak_c[:250] == pytest.approx(near.peak_c[:250], abs=far.dropped_k + 1.0)
        assert far.at_c[:, :350] == pytest.approx(near.at_c[:, :350], abs=far.dropped_k)


@pytest.mark.parametrize("rings", [60, 1500, 2100])
def test_single_places_and_moments_are_those_of_the_whole_field(chain, make_model, rings):
    """Exact and by sums, in any order of asking, before the first weld and at its very moment."""
    heat = make_model(chain(rings))
    ring = np.array([5, 20, 7, 5, 40])  # one ring twice
    start = np.array([10.0, 15.0, 22.0, 30.0, 31.0])
    at_s = np.array([700.0, 10.0, 3.0, 30.5, 31.0, 22.0, 90.0] * 200)
    node = np.random.default_rng(3).integers(0, 50, at_s.shape[0])
    field = heat.simulate("hot, good links", ring, start, at_s).at_c
    told = heat.temperatures_c("hot, good links", ring, start, node, at_s)
    assert told == pytest.approx(field[np.arange(at_s.shape[0]), node], abs=2e-4)
    cold = heat.temperatures_c("hot, good links", ring[:0], start[:0], node, at_s)
    assert cold == pytest.approx(heat.networks["hot, good links"].base_c[node])


def test_idle_ring_of_a_large_piece_shows_the_peak_that_its_neighbours_cause(chain, make_model):
    """A ring welded beforehand is a node without a weld."""
    heat = make_model(chain(2050))
    ring = np.array([10, 12])
    run = heat.simulate("usual", ring, np.array([0.0, 6.0]))
    twin = make_model(chain(40)).simulate("usual", ring, np.array([0.0, 6.0]))
    assert run.peak_c[11] == pytest.approx(twin.peak_c[11], abs=1.0)
    assert run.peak_c[11] > heat.networks["usual"].ambient_c + 10


def test_chebyshev_series_is_the_exponential_on_the_whole_interval():
    """For gentle and for very large steps alike."""
    x = np.linspace(-1, 1, 41)
    half_spans = np.array([0.0, 1e-3, 0.5, 8.0, 60.0, 900.0, 2e4])
    terms = chebyshev_terms(half_spans)
    for z, some in zip(half_spans, terms.T, strict=True):
        value = np.polynomial.chebyshev.chebval(x, some)
        assert np.abs(value - np.exp(-z * (1 + x))).max() < 3e-6
        alone = np.polynomial.chebyshev.chebval(x, chebyshev_terms(np.array([z]))[:, 0])
        assert np.abs(value - alone).max() < 3e-6


def test_same_network_gives_the_same_table_again(sheet, make_model):
    """No dict order, no hash seed, no clock."""
    network = make_model(sheet(12, 6)).networks["usual"]
    one, two = build_kernels(network), build_kernels(network)
    assert np.array_equal(one.node_class, two.node_class)
    assert np.array_equal(one.class_offset, two.class_offset)
    assert np.array_equal(one.log_rise_k, two.log_rise_k)


def test_modes_and_table_share_reciprocity(sheet, make_model):
    """C_i·T_ij/q_j = C_j·T_ji/q_i: the table's rise of i by j is that of j by i in equal rings."""
    heat = make_model(sheet(10, 4))
    table, modes = heat.kernels("usual"), find_modes(heat.networks["usual"])
    for i, j in ((3, 17), (0, 22), (20, 21)):
        one = modes.rise_per_joule(i, j, [3.0, 30.0])
        assert one == pytest.approx(modes.rise_per_joule(j, i, [3.0, 30.0]), rel=1e-9)
        to_i = dict(zip(*(part.tolist() for part in table.near(i)), strict=True))
        to_j = dict(zip(*(part.tolist() for part in table.near(j)), strict=True))
        assert table.rise_at(to_i[j], 10.0) == pytest.approx(table.rise_at(to_j[i], 10.0), abs=1e-3)
