"""Every shipped weave has a verified embedding at three ring sizes or more.

What is verified is computed here again in another way than in the solver: gaps by dense sampling
of both circles, linking numbers by quadrature of the Gauss integral.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from chainplan.errors import CannotBeWoven
from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.shape.comparison import is_same_shape
from chainplan.weave.shape.invariants import holds
from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solve_cached
from chainplan.weave.solving.solver import solve_repeat

FACTORS = (1.05, 1.2, 1.5)  # aspect ratios over the smallest: tight, usual, loose
SAMPLES = 360
NODES = 96


def image_pairs(repeat):
    """All pairs (i, j, a, b) of a ring and another's image that come within reach, each once."""
    reach = 2 * repeat.mean_radius.max() + repeat.wire.max()
    spread = np.ptp(repeat.centre, axis=0)
    along = int(np.ceil((reach + spread[0]) / repeat.vectors[0, 0])) + 1
    across = 0
    if len(repeat.vectors) > 1:
        across = int(np.ceil((reach + spread[1]) / repeat.vectors[1, 1])) + 1
    rings = range(repeat.rings)
    pairs = [
        (i, j, a, b)
        for i in rings
        for j in rings
        for a in range(-along, along + 1)
        for b in range(-across, across + 1)
        if (a, b, j - i) > (0, 0, 0)
    ]
    kept = []
    for i, j, a, b in pairs:
        centre, _ = image(repeat, j, a, b)
        apart = np.linalg.norm(centre - repeat.centre[i])
        if apart < repeat.mean_radius[i] + repeat.mean_radius[j] + 1.0:
            kept.append((i, j, a, b))
    return kept


def image(repeat, ring, along, across):
    """Centre and normal of an image, written out again here."""
    turn = along * repeat.turn_rad
    cos, sin = np.cos(turn), np.sin(turn)
    spin = np.array([[1, 0, 0], [0, cos, -sin], [0, sin, cos]])
    centre = spin @ repeat.centre[ring] + along * repeat.vectors[0]
    if across:
        centre = centre + across * repeat.vectors[1]
    return centre, spin @ repeat.normal[ring]


def circle(centre, normal, radius, count):
    """Points on a circle and their tangents, from a basis made by QR."""
    basis, _ = np.linalg.qr(np.column_stack([normal, np.eye(3)]))
    u = basis[:, 1]
    v = np.cross(normal, u)
    angle = 2 * np.pi * np.arange(count)[:, None] / count
    points = centre + radius * (np.cos(angle) * u + np.sin(angle) * v)
    return points, radius * (np.cos(angle) * v - np.sin(angle) * u)


def gauss_linking(one, other):
    """Gauss linking number of two closed curves by the trapezoidal rule."""
    (p, dp), (q, dq) = one, other
    away = p[:, None] - q[None]
    cross = np.cross(dp[:, None], dq[None])
    integrand = np.einsum("abk,abk->ab", away, cross) / np.linalg.norm(away, axis=2) ** 3
    return integrand.sum() * (2 * np.pi / len(p)) * (2 * np.pi / len(q)) / (4 * np.pi)


def smallest_sampled_gap(repeat, pairs):
    """Smallest gap of sampled points of one circle to the other circle (closed form)."""
    least = np.inf
    for i, j, a, b in pairs:
        centre, normal = image(repeat, j, a, b)
        points, _ = circle(repeat.centre[i], repeat.normal[i], repeat.mean_radius[i], SAMPLES)
        offset = points - centre
        height = offset @ normal
        out = np.linalg.norm(offset - height[:, None] * normal, axis=1)
        distance = np.hypot(height, out - repeat.mean_radius[j]).min()
        least = min(least, distance - (repeat.wire[i] + repeat.wire[j]) / 2)
    return least


def solved(key):
    """The taut repeats of a weave at the three ratios."""
    weave = load_weave(key)
    smallest = find_smallest_aspect_ratio(weave)
    return [solve_cached(weave, smallest * factor) for factor in FACTORS]


@pytest.mark.parametrize("key", weave_keys())
def test_embedding_is_verified_at_three_ring_sizes(key):
    """No overlap, links exactly as declared, and the weave's own checks hold."""
    weave = load_weave(key)
    declared = {tuple(row) for row in weave.links.tolist()}
    for repeat in solved(key):
        pairs = image_pairs(repeat)
        assert repeat.residual_gap >= -1e-6
        assert smallest_sampled_gap(repeat, pairs) >= -1e-6
        linked = set()
        for i, j, a, b in pairs:
            one = circle(repeat.centre[i], repeat.normal[i], repeat.mean_radius[i], NODES)
            other = circle(*image(repeat, j, a, b), repeat.mean_radius[j], NODES)
            number = gauss_linking(one, other)
            assert abs(number - round(number)) < 0.02
            if round(number):
                linked.add((i, j, a, b))
        assert linked == declared
        assert holds(weave, repeat)


@pytest.mark.parametrize("key", weave_keys())
def test_rings_below_the_smallest_aspect_ratio_are_refused(key):
    """Never a number for rings that do not go together."""
    weave = load_weave(key)
    with pytest.raises(CannotBeWoven):
        solve_cached(weave, 0.97 * find_smallest_aspect_ratio(weave))


def test_no_two_shipped_weaves_have_the_same_geometry():
    """Compared taut at one aspect ratio at which all of them go together."""
    repeats = {key: solve_cached(load_weave(key), 6.0) for key in weave_keys()}
    for one, other in combinations(repeats, 2):
        assert not is_same_shape(repeats[one], repeats[other]), f"{one} is {other}"


def test_a_byzantine_that_slipped_is_told_from_the_shipped_one():
    """The comparison would notice: a plain double link is much longer for its rings."""
    byzantine = solve_cached(load_weave("byzantine"), 6.0)
    plain = solve_cached(load_weave("double-link"), 6.0)
    lengths = [repeat.vectors[0, 0] / repeat.rings for repeat in (byzantine, plain)]
    assert lengths[1] > 1.4 * lengths[0]


@pytest.mark.parametrize("key", ["byzantine", "half-persian-3-in-1"])
def test_gathered_state_is_still_the_weave(key):
    """Pushed together, a weave may not turn into another one of the same links either."""
    weave = load_weave(key)
    ratio = 1.2 * find_smallest_aspect_ratio(weave)
    gathered = solve_cached(weave, ratio, "gathered")
    assert holds(weave, gathered)
    assert gathered.vectors[0, 0] < solve_cached(weave, ratio).vectors[0, 0]


def test_four_wires_in_one_opening_limit_japanese_4_in_1_exactly():
    """Four touching wires in a round opening: its diameter is (1 + √2) wires."""
    weave = load_weave("japanese-4-in-1")
    assert find_smallest_aspect_ratio(weave) == pytest.approx(1 + np.sqrt(2), abs=1e-5)


def test_japanese_4_in_1_has_a_pitch_of_two_inner_diameters():
    """Flat ring, upright ring, flat ring: one inner diameter each, as in a single link."""
    repeat = solve_repeat(load_weave("japanese-4-in-1"), 4.0, "area")
    np.testing.assert_allclose(np.diagonal(repeat.vectors), 8.0, atol=1e-4)


def test_spiral_has_two_rings_to_an_inner_diameter():
    """Ring n pulls straight on ring n + 2, as in a single link; ring n + 1 only rides along."""
    repeat = solve_cached(load_weave("spiral-4-in-1"), 5.0)
    assert repeat.vectors[0, 0] == pytest.approx(2.5, abs=1e-4)
