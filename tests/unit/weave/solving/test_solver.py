"""Solved repeats against what is known exactly and against a solver of another kind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from chainplan.errors import CannotBeWoven, NotConverged, WeaveError
from chainplan.model.piece.weave import RingClass, Weave
from chainplan.weave.shape.circles import closest_approach
from chainplan.weave.shape.poses import (
    find_links,
    list_pairs,
    order_links,
    pair_wire,
    place_centres,
    place_circles,
    place_normals,
    read_seed,
    smallest_gap,
)
from chainplan.weave.solving.continuation import change_ratio
from chainplan.weave.solving.linearised import differentiate_parts, linearise, move, move_each
from chainplan.weave.solving.solver import find_smallest, pull_near, solve_poses, solve_repeat

S = 2**-0.5


def a_weave(rings, vectors, links, *, form="chain", turn_deg=0.0, ratio=8.0, **data):
    """A weave of one ring size from a seed."""
    return Weave(
        key="invented",
        title="Invented",
        trade_names=(),
        family="test",
        form=form,
        classes=(RingClass(name="ring"),),
        ring_class=(0,) * len(rings),
        links=np.array(links, dtype=np.int32),
        turn_rad=np.radians(turn_deg),
        data={"seed": {"aspect_ratio": ratio, "rings": rings, "vectors": vectors, **data}},
    )


@pytest.fixture(scope="module")
def single():
    """Single link: one ring a repeat, each turned by a right angle from the one before."""
    return a_weave([[0, 0, 0, 0, 1, 0]], [[6.0, 0, 0]], [[0, 0, 1, 0]], turn_deg=90)


@pytest.fixture(scope="module")
def sheet():
    """European 4-in-1: two rows that lean opposite ways, each ring through four others."""
    lean = np.radians(35)
    one = [0, 0, 0, 0, -np.sin(lean), np.cos(lean)]
    other = [4.95, 4.5, 0, 0, np.sin(lean), np.cos(lean)]
    links = [[0, 1, 0, 0], [0, 1, -1, 0], [0, 1, 0, -1], [0, 1, -1, -1]]
    return a_weave([one, other], [[9.9, 0, 0], [0, 9.0, 0]], links, form="sheet")


@pytest.fixture(scope="module")
def spiral():
    """Three-link spiral: each ring through the next and the next but one."""
    ring = [0.0, -0.1205, -0.15753, 0.2392, 0.7712, -0.58994]
    links = [[0, 0, 1, 0], [0, 0, 2, 0]]
    return a_weave([ring], [[2.47981, 0, 0]], links, turn_deg=120.2682, ratio=6.0)


@pytest.fixture(scope="module")
def states(sheet):
    """The sheet solved every way at one ratio."""
    ways = ("along", "across", "area", "gathered")
    return {way: solve_repeat(sheet, 4.5, way) for way in ways}


@pytest.mark.parametrize("ratio", [2.2, 3.5, 5.0, 9.0])
def test_single_link_repeats_every_inner_diameter_when_taut(single, ratio):
    """Exact: two wires lie in one opening, so the pitch is the inner diameter."""
    repeat = solve_repeat(single, ratio)
    assert repeat.vectors[0, 0] == pytest.approx(ratio, abs=1e-6)
    assert repeat.residual_gap >= -1e-6
    assert repeat.aspect_ratio == ratio


def test_single_link_goes_together_down_to_an_aspect_ratio_of_two(single):
    """Exact: the opening must hold the wires of both neighbours."""
    assert find_smallest(single).aspect_ratio == pytest.approx(2.0, abs=1e-5)


def test_smallest_ratio_is_where_bisection_on_feasibility_puts_it(sheet):
    """The direct minimum of the ratio against another way to it: does it still go together."""
    direct = find_smallest(sheet).aspect_ratio
    links = order_links(sheet.links)
    low, high = 2.5, 3.5
    woven = change_ratio(read_seed(sheet), high, links)
    while high - low > 0.01:
        middle = (low + high) / 2
        trial = change_ratio(woven, middle, links)
        if trial is None:
            low = middle
        else:
            high, woven = middle, trial
    assert low - 0.01 < direct < high + 0.01


@pytest.mark.parametrize("ratio", [3.5, 6.0])
def test_european_sheet_pulled_across_spaces_its_rings_by_the_outer_diameter(sheet, ratio):
    """Exact: neighbours in a row then lie side by side, touching."""
    repeat = solve_repeat(sheet, ratio, "across")
    assert repeat.vectors[0, 0] == pytest.approx(ratio + 2, abs=1e-5)
    assert repeat.residual_gap >= -1e-6


def test_gathered_is_shorter_than_taut_with_the_same_links(states):
    """The shortest repeat cannot exceed the longest one."""
    taut, gathered = states["along"], states["gathered"]
    assert gathered.vectors[0, 0] < 0.8 * taut.vectors[0, 0]
    assert np.array_equal(gathered.links, taut.links)
    assert gathered.residual_gap >= -1e-6


@pytest.mark.parametrize(("state", "best"), [("along", 0), ("across", 1)])
def test_a_stretched_sheet_is_longest_in_the_way_it_is_stretched(states, state, best):
    """No other state of the sheet is longer in that direction."""
    size = {kind: repeat.vectors[[0, 1], [0, 1]] for kind, repeat in states.items()}
    assert all(size[state][best] >= other[best] - 1e-5 for other in size.values())
    assert np.prod(size["area"]) >= max(np.prod(other) for other in size.values()) - 1e-4


def test_every_reported_gap_is_confirmed_by_an_independent_look_at_all_pairs(sheet):
    """No overlap beyond 1e-6 wire diameters, by the plain closest approach of every pair."""
    poses = solve_poses(sheet, 4.0)
    pairs = list_pairs(poses, 1.0)
    distance, _, _ = closest_approach(*place_circles(poses, pairs))
    assert (distance - pair_wire(poses, pairs)).min() >= -1e-6
    assert np.array_equal(find_links(poses), order_links(sheet.links))


def test_first_order_change_of_gaps_agrees_with_differences(spiral):
    """The derivative by every unknown against a finite difference of the true distance."""
    poses = replace(read_seed(spiral), free_turn=True)
    lines = linearise(poses, 3.0, samples=False)
    rng = np.random.default_rng(5)
    for _ in range(10):
        step = rng.normal(size=lines.change.shape[1]) * 1e-6
        step[-4] = step[-3] = 0.0
        after = linearise(move(poses, step), 3.0, samples=False)
        assert len(after.gap) == len(lines.gap)
        expected = lines.change @ step
        assert np.abs(after.gap - lines.gap - expected).max() < 2e-9


def test_several_steps_at_once_move_the_rings_as_each_alone_does(sheet, spiral):
    """Bends are measured on a stack of poses: places and first derivatives, pose by pose."""
    rng = np.random.default_rng(6)
    for weave in (sheet, spiral):
        poses = read_seed(weave)
        pairs = list_pairs(poses, 1.0)
        steps = rng.normal(size=(4, 5 * poses.count + 5)) * 0.05
        steps[:, -2] *= 0 if weave is sheet else 1
        stack = move_each(poses, steps)
        placed, turned = place_centres(stack, pairs), place_normals(stack, pairs)
        p, q, unit = rng.normal(size=(3, 4, len(pairs), 3))
        together = differentiate_parts(stack, pairs, p, q, unit)
        for number, step in enumerate(steps):
            alone = move(poses, step)
            assert np.allclose(placed[number], place_centres(alone, pairs), atol=1e-13)
            assert np.allclose(turned[number], place_normals(alone, pairs), atol=1e-13)
            assert np.allclose(stack.mean_radius[number], alone.mean_radius)
            parts = differentiate_parts(alone, pairs, p[number], q[number], unit[number])
            for one, other in zip(together, parts, strict=True):
                assert np.allclose(one[number], other, atol=1e-12)


def pitch_by_slsqp(poses, links):
    """Longest pitch of a one-ring screw by sequential least squares on all pairs at once."""
    reach = 8

    def unpack(x):
        normal = np.array([[x[2], x[3], x[4]]])
        return replace(
            poses,
            centre=np.array([[0.0, x[0], x[1]]]),
            normal=normal / np.linalg.norm(normal),
            vectors=np.array([[x[5], 0.0, 0.0]]),
        )

    pairs = np.array([[0, 0, step, 0] for step in range(1, reach + 1)])

    def gaps(x):
        now = unpack(x)
        return closest_approach(*place_circles(now, pairs))[0] - 1.0

    start = np.concatenate([poses.centre[0, 1:], poses.normal[0], poses.vectors[0, :1]])
    found = minimize(
        lambda x: -x[5],
        start,
        jac=lambda x: np.array([0, 0, 0, 0, 0, -1.0]),
        method="SLSQP",
        bounds=[(value - 0.5, value + 0.5) for value in start],
        constraints=[{"type": "ineq", "fun": gaps}],
        options={"maxiter": 500, "ftol": 1e-9},
    )
    end = unpack(found.x)
    assert gaps(found.x).min() > -1e-6
    assert np.array_equal(find_links(end), links)
    return float(found.x[5])


@pytest.mark.parametrize("ratio", [3.1, 3.5])
def test_taut_spiral_is_the_optimum_that_a_different_solver_finds(spiral, ratio):
    """Independent method (SLSQP on true distances) from a slack start: the same pitch."""
    links = order_links(spiral.links)
    slack = change_ratio(read_seed(spiral), ratio, links)
    other = pitch_by_slsqp(slack, links)
    assert solve_repeat(spiral, ratio).vectors[0, 0] == pytest.approx(other, abs=2e-4)


def test_warm_start_from_a_neighbour_reaches_the_optimum_from_the_seed(sheet):
    """A start near by saves time, not accuracy."""
    near = solve_poses(sheet, 4.1)
    warm = pull_near(sheet, near, 4.0, "taut")
    assert warm is not None
    assert warm.aspect_ratio == 4.0
    cold = solve_poses(sheet, 4.0)
    assert warm.vectors[0, 0] == pytest.approx(cold.vectors[0, 0], rel=2e-4)


def test_solving_twice_gives_the_same_bits(sheet):
    """Determinism: no clock, no unseeded randomness, no order of a set."""
    one, other = (solve_repeat(sheet, 3.7, restarts=1) for _ in range(2))
    assert np.array_equal(one.centre, other.centre)
    assert np.array_equal(one.vectors, other.vectors)


def test_ring_below_the_smallest_ratio_is_refused(sheet):
    """A wrong number is worse than none."""
    with pytest.raises(CannotBeWoven, match="do not go together"):
        solve_repeat(sheet, 2.8)


def test_seed_that_does_not_link_as_declared_is_refused_and_says_which():
    """A seed of two rings side by side declared as linked."""
    weave = a_weave([[0, 0, 0, 0, 1, 0]], [[30.0, 0, 0]], [[0, 0, 1, 0]], turn_deg=90)
    with pytest.raises(NotConverged, match=r"not linked: \[\(0, 0, 1, 0\)\]"):
        solve_repeat(weave, 5.0)


def test_solution_that_fails_the_callers_own_test_is_never_handed_out(single):
    """An acceptance test that nothing passes: an error, not a number."""
    with pytest.raises(NotConverged, match="invariants"):
        solve_repeat(single, 5.0, accept=lambda poses: False)


@pytest.mark.parametrize("ratio", [0.0, -3.0, float("nan"), float("inf")])
def test_impossible_aspect_ratio_is_refused(single, ratio):
    """Input that is no ring."""
    with pytest.raises(WeaveError, match="aspect ratio"):
        solve_repeat(single, ratio)


def test_unknown_state_is_refused_with_the_nearest_name(single):
    """A mistyped state must not fall back to another."""
    with pytest.raises(WeaveError, match="did you mean 'taut'"):
        solve_repeat(single, 5.0, "tuat")


def test_links_are_brought_to_one_form_whichever_way_they_are_written():
    """(i, j, a, b) and (j, i, −a, −b) are one link."""
    rows = [[1, 0, 1, 0], [0, 1, -1, 0], [2, 1, 0, 0], [0, 0, 0, -1]]
    assert order_links(rows).tolist() == [[0, 0, 0, 1], [1, 0, 1, 0], [1, 2, 0, 0]]


def test_seed_of_two_wires_takes_sizes_from_the_row():
    """Ring sizes given by the user stand in for the file's."""
    weave = a_weave([[0, 0, 0, 0, 1, 0]], [[6.0, 0, 0]], [[0, 0, 1, 0]], turn_deg=90)
    poses = read_seed(weave, ((1.0, 0.5),))
    assert poses.mean_radius[0] == pytest.approx((8.0 * 0.5 + 1) / 2)
    assert smallest_gap(read_seed(weave)) > 0
