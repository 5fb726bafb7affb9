"""Circle pairs: linking numbers against the Gauss integral, closest approaches against search."""

from __future__ import annotations

import numpy as np

from chainplan.weave.shape.circles import (
    CentreLines,
    closest_approach,
    linking_number,
    list_approaches,
    plane_basis,
)


def random_pairs(count, seed, spread=1.5):
    """CentreLines of radius 0.5 to 1.5 with random poses; both circles of each pair."""
    rng = np.random.default_rng(seed)

    def circle():
        normal = rng.normal(size=(count, 3))
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        return rng.uniform(-spread, spread, (count, 3)), normal, rng.uniform(0.5, 1.5, count)

    return (*circle(), *circle())


def points_on(centre, normal, radius, angle):
    """Points of each circle at the given angles, shape (pairs, angles, 3)."""
    u, v = plane_basis(normal)
    wave = np.cos(angle)[:, None] * u[:, None, :] + np.sin(angle)[:, None] * v[:, None, :]
    return centre[:, None, :] + radius[:, None, None] * wave


def gauss_integral(pairs, steps=200):
    """Linking number by quadrature of Gauss's double integral (periodic trapezium rule)."""
    c1, n1, r1, c2, n2, r2 = pairs
    angle = np.arange(steps) * 2 * np.pi / steps
    result = np.empty(len(r1))
    for k in range(len(r1)):
        one = [points_on(c1[[k]], n1[[k]], r1[[k]], angle + s)[0] for s in (0.0, np.pi / 2)]
        two = [points_on(c2[[k]], n2[[k]], r2[[k]], angle + s)[0] for s in (0.0, np.pi / 2)]
        tangent_1, tangent_2 = one[1] - c1[k], two[1] - c2[k]
        offset = one[0][:, None, :] - two[0][None, :, :]
        normal = np.cross(tangent_1[:, None, :], tangent_2[None, :, :])
        kernel = np.einsum("ijk,ijk->ij", offset, normal) / np.linalg.norm(offset, axis=2) ** 3
        result[k] = kernel.sum() * (2 * np.pi / steps) ** 2 / (4 * np.pi)
    return result


def both(arrays):
    """The circles of each pair from their six arrays."""
    return CentreLines(*arrays[:3]), CentreLines(*arrays[3:])


def test_linking_number_equals_the_gauss_integral_by_quadrature():
    """Two independent definitions of one number, sign included (Gauss 1833)."""
    pairs = random_pairs(300, seed=1, spread=0.9)
    apart = closest_approach(*both(pairs))[0] > 0.15
    pairs = [array[apart] for array in pairs]
    got = linking_number(*both(pairs))
    wanted = gauss_integral(pairs)
    assert set(got.tolist()) == {-1, 0, 1}
    assert np.abs(wanted - got).max() < 0.01


def test_linking_number_is_symmetric_and_changes_sign_with_a_reversed_normal():
    """Lk(a, b) = Lk(b, a); reversing one circle changes the sign."""
    one, other = both(random_pairs(2000, seed=2))
    got = linking_number(one, other)
    assert np.array_equal(got, linking_number(other, one))
    assert np.array_equal(got, -linking_number(one._replace(normal=-one.normal), other))
    assert np.abs(got).sum() > 100


def test_closest_approach_is_not_beaten_by_a_dense_search():
    """A grid of 720 points on one circle, exact distance to the other, finds nothing nearer."""
    c1, n1, r1, c2, n2, r2 = random_pairs(3000, seed=3)
    distance, point_1, point_2 = closest_approach(CentreLines(c1, n1, r1), CentreLines(c2, n2, r2))
    angle = np.arange(720) * 2 * np.pi / 720
    offset = points_on(c2, n2, r2, angle) - c1[:, None, :]
    height = np.einsum("ijk,ik->ij", offset, n1)
    level = np.linalg.norm(offset - height[..., None] * n1[:, None, :], axis=2)
    grid = np.sqrt(height**2 + (level - r1[:, None]) ** 2).min(axis=1)
    assert (distance <= grid + 1e-12).all()
    assert (grid - distance).max() < 2e-2
    assert np.allclose(np.linalg.norm(point_1 - point_2, axis=1), distance, atol=1e-14)
    for centre, normal, radius, point in ((c1, n1, r1, point_1), (c2, n2, r2, point_2)):
        assert np.allclose(np.linalg.norm(point - centre, axis=1), radius, rtol=1e-12)
        assert np.abs(np.einsum("ij,ij->i", point - centre, normal)).max() < 1e-12


def test_closest_approach_is_the_same_whichever_ring_comes_first():
    """The one-angle search on ring 2 must find what the search on ring 1 finds."""
    one, other = both(random_pairs(3000, seed=4))
    ahead, back = closest_approach(one, other)[0], closest_approach(other, one)[0]
    assert np.abs(ahead - back).max() < 1e-9


def test_coaxial_rings_touch_along_an_arc_and_are_sampled_there():
    """Two equal rings stacked on one axis: distance is the shift, every sample is as near."""
    z = np.array([[0.0, 0.0, 1.0]])
    here = CentreLines(np.zeros((1, 3)), z, np.ones(1))
    there = here._replace(centre=np.array([[0.0, 0.0, 0.4]]))
    places = list_approaches(here, there, reach=0.5, samples=True)
    assert np.allclose(places.distance, 0.4)
    assert len(places.pair) > 20
    assert closest_approach(here, there)[0][0] == np.float64(0.4)


def test_rings_crossing_at_two_places_list_both_minima():
    """A ring through another at right angles comes near it on both sides of the hole."""
    places = list_approaches(
        CentreLines(np.zeros((1, 3)), np.array([[0.0, 0.0, 1.0]]), np.ones(1)),
        CentreLines(np.array([[1.0, 0.0, 0.0]]), np.array([[0.0, 1.0, 0.0]]), np.ones(1)),
    )
    assert len(places.pair) >= 2
    assert places.is_minimum.all()
