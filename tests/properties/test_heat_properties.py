"""What must be true of any thermal network, whatever its numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.heat.following.kernels import build_kernels
from chainplan.heat.following.modes import find_modes, simulate_modes
from chainplan.heat.following.spreading import escape_share
from chainplan.heat.following.sums import simulate_sums
from chainplan.heat.following.surroundings import gather_patches, patch_matrix
from chainplan.heat.matrix import conductance_matrix
from chainplan.model.thermal.heat import HeatNetwork


@st.composite
def networks(draw: st.DrawFn) -> HeatNetwork:
    """Connected networks of 2 to 12 unequal rings with a few extra contacts and sinks."""
    nodes = draw(st.integers(2, 12))
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    pairs = {(int(rng.integers(0, k)), k) for k in range(1, nodes)}
    for _ in range(draw(st.integers(0, nodes))):
        one, other = sorted(int(v) for v in rng.choice(nodes, 2, replace=False))
        pairs.add((one, other))
    held = rng.random(nodes) < 0.2
    return HeatNetwork(
        corner="drawn",
        capacity_j_k=10 ** rng.uniform(-2, -0.5, nodes),
        pairs=np.array(sorted(pairs), dtype=np.int32),
        pair_w_k=10 ** rng.uniform(-4, -2, len(pairs)),
        loss_w_k=10 ** rng.uniform(-4, -2.5, nodes),
        sink_w_k=np.where(held, 0.003, 0.0),
        sink_c=np.full(nodes, 20.0),
        ambient_c=20.0,
        base_c=np.full(nodes, 20.0),
        join_heat_j=rng.uniform(0.5, 20.0, nodes),
    )


def any_run(network: HeatNetwork, seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    nodes = len(network.capacity_j_k)
    return rng.permutation(nodes), np.cumsum(rng.exponential(4.0, nodes))


MOMENTS = np.array([0.0, 3.0, 17.0, 60.0, 240.0])


@given(networks(), st.integers(0, 1000), st.floats(0.1, 10))
def test_temperatures_are_linear_in_the_heat(network, seed, factor):
    """Twice the heat, twice every rise."""
    ring, start = any_run(network, seed)
    modes = find_modes(network)
    one = simulate_modes(network, modes, ring, start, MOMENTS)
    more = replace(network, join_heat_j=network.join_heat_j * factor)
    other = simulate_modes(more, modes, ring, start, MOMENTS)
    assert other.at_c - 20 == pytest.approx((one.at_c - 20) * factor, rel=1e-9, abs=1e-9)
    assert other.before_c - 20 == pytest.approx((one.before_c - 20) * factor, rel=1e-9, abs=1e-9)


@given(networks(), st.integers(0, 11), st.integers(0, 11), st.floats(0, 500))
def test_warming_is_mutual(network, i, j, lag):
    """Reciprocity: a joule in j warms i as much as a joule in i warms j."""
    nodes = len(network.capacity_j_k)
    modes = find_modes(network)
    there = modes.rise_per_joule(i % nodes, j % nodes, lag)
    back = modes.rise_per_joule(j % nodes, i % nodes, lag)
    assert there == pytest.approx(back, rel=1e-9, abs=1e-12)


@given(networks(), st.integers(0, 1000))
def test_nothing_is_colder_than_the_room_nor_hotter_than_all_heat_in_it(network, seed):
    """Maximum principle, with sinks at room temperature."""
    ring, start = any_run(network, seed)
    run = simulate_modes(network, find_modes(network), ring, start, MOMENTS)
    jumps = network.join_heat_j / network.capacity_j_k
    assert run.at_c.min() >= 20 - 1e-9
    assert run.before_c.min() >= 20 - 1e-9
    assert run.peak_c.max() <= 20 + network.join_heat_j.sum() / network.capacity_j_k.min()
    assert np.all(run.peak_c >= 20 + jumps - 1e-6)


@given(networks(), st.integers(0, 1000), st.integers(0, 11))
def test_more_heat_or_less_loss_never_cools_anything(network, seed, where):
    """Why the arc's share stands high and the loss low in every bad corner."""
    ring, start = any_run(network, seed)
    plain = simulate_modes(network, find_modes(network), ring, start, MOMENTS).at_c
    place = where % len(network.capacity_j_k)
    more = network.join_heat_j.copy()
    more[place] *= 1.5
    hotter = replace(network, join_heat_j=more)
    less = network.loss_w_k.copy()
    less[place] *= 0.5
    snug = replace(network, loss_w_k=less)
    for other in (hotter, snug):
        rises = simulate_modes(other, find_modes(other), ring, start, MOMENTS).at_c
        assert np.all(rises >= plain - 1e-9)


@given(networks(), st.integers(0, 1000))
def test_renumbering_the_rings_changes_nothing(network, seed):
    """Temperatures belong to rings, not to their numbers."""
    ring, start = any_run(network, seed)
    order = np.random.default_rng(seed).permutation(len(network.capacity_j_k))
    new = np.argsort(order)  # ring k is now called new[k]
    twin = replace(
        network,
        capacity_j_k=network.capacity_j_k[order],
        pairs=new[network.pairs].astype(np.int32),
        loss_w_k=network.loss_w_k[order],
        sink_w_k=network.sink_w_k[order],
        join_heat_j=network.join_heat_j[order],
    )
    one = simulate_modes(network, find_modes(network), ring, start, MOMENTS)
    other = simulate_modes(twin, find_modes(twin), new[ring], start, MOMENTS)
    assert other.before_c == pytest.approx(one.before_c, rel=1e-9)
    assert other.at_c[:, new] == pytest.approx(one.at_c, rel=1e-9)


@settings(max_examples=25)
@given(networks(), st.integers(0, 1000))
def test_kernel_sums_agree_with_the_modes(network, seed):
    """Two methods without a line in common: polynomials in the matrix, and its eigenvectors."""
    ring, start = any_run(network, seed)
    exact = simulate_modes(network, find_modes(network), ring, start, MOMENTS)
    table = build_kernels(network)
    summed = simulate_sums(network, table, ring, start, MOMENTS)
    assert summed.before_c == pytest.approx(exact.before_c, abs=table.dropped_k)
    assert summed.at_c == pytest.approx(exact.at_c, abs=table.dropped_k * 1.05 + 0.3)


@given(networks(), st.integers(1, 4))
def test_weight_of_a_rim_is_the_absorbing_networks_own(network, rounds):
    """``(A + cut)·w = cut`` solved densely; it lies between 0 and 1."""
    matrix = conductance_matrix(network)
    centres = np.arange(len(network.capacity_j_k), dtype=np.int32)
    patches = gather_patches(matrix, centres, rounds)
    block, cut = patch_matrix(matrix, patches)
    got = escape_share(block, cut, patches.centre)
    dense = block.toarray() + np.diag(cut)
    exact = np.linalg.solve(dense, cut)[patches.centre]
    assert got == pytest.approx(exact, abs=1e-7)
    assert np.all((got >= 0) & (got <= 1))
