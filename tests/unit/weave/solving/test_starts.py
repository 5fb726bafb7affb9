"""How the grid of solved starts is filled, refined and kept: with poses that cost nothing."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from chainplan.model.piece.weave import RingClass, Weave
from chainplan.weave.shape.poses import read_seed
from chainplan.weave.solving import starts
from chainplan.weave.solving.solver import find_smallest, solve_poses
from chainplan.weave.solving.starts import _SolvedGrid, find_locked, make_starts, solve_grid
from chainplan.weave.tuning import tuning


@pytest.fixture(name="single")
def fixture_single():
    """Single link: one ring a repeat, each turned by a right angle from the one before."""
    return Weave(
        key="invented", title="Invented", trade_names=(), family="test", form="chain",
        classes=(RingClass(name="ring"),), ring_class=(0,),
        links=np.array([[0, 0, 1, 0]], dtype=np.int32), turn_rad=np.pi / 2,
        data={
            "seed": {"aspect_ratio": 8.0, "rings": [[0, 0, 0, 0, 1, 0]], "vectors": [[6.0, 0, 0]]}
        },
    )  # fmt: skip


class Recorded(_SolvedGrid):
    """A grid that notes what it is asked for; what a pull finds is laid down beforehand."""

    def __init__(self, weave, finds):
        self.points = 0
        super().__init__(weave, "taut", self._count)
        self.finds, self.asked = finds, []

    def _count(self):
        self.points += 1

    def pull(self, ratio, start):
        self.asked.append(("pull", ratio, start.length))
        return self.offer(ratio, self.finds.get(("pull", ratio)))

    def solve(self, ratio, start, restarts):
        self.asked.append(("solve", ratio, start.length, restarts))
        return self.offer(ratio, self.finds.get(("solve", ratio)))


def poses(length, ratio=3.0):
    """Something with a length, which is what the goal of a taut state counts."""
    return SimpleNamespace(length=length, aspect_ratio=ratio)


@pytest.fixture(autouse=True)
def _goal_is_length(monkeypatch):
    """The longer the better, where poses are stand-ins."""
    real = starts.find_goal

    def goal(weave, state):
        found = real(weave, state)
        return SimpleNamespace(
            value=lambda one: one.length if isinstance(one, SimpleNamespace) else found.value(one)
        )

    monkeypatch.setattr(starts, "find_goal", goal)


def test_each_point_is_filled_from_the_one_before_and_solved_in_full_where_pulling_fails(single):
    """Found, found by solving, not found, found: the last start that there is goes on."""
    grid = Recorded(
        single,
        {("pull", 3.0): poses(1), ("solve", 3.1): poses(2), ("pull", 3.3): poses(4)},
    )
    grid.fill([3.0, 3.1, 3.2, 3.3], poses(0))
    assert grid.asked == [
        ("pull", 3.0, 0),
        ("pull", 3.1, 1),
        ("solve", 3.1, 1, 0),
        ("pull", 3.2, 2),
        ("solve", 3.2, 2, 0),
        ("pull", 3.3, 2),
    ]
    assert {ratio: one.length for ratio, one in grid.found.items()} == {3.0: 1, 3.1: 2, 3.3: 4}
    assert grid.points == 4


def test_what_is_offered_is_kept_only_where_it_is_better_by_more_than_chance(single):
    grid = Recorded(single, {})
    better = tuning().grid_better
    assert not grid.offer(3.0, None)
    assert grid.offer(3.0, poses(10.0))
    assert not grid.offer(3.0, poses(10.0))
    assert not grid.offer(3.0, poses(10.0 * (1 + 0.5 * better)))
    assert not grid.offer(3.0, poses(9.0))
    assert grid.found[3.0].length == 10.0
    assert grid.offer(3.0, poses(10.0 * (1 + 2 * better)))
    assert grid.found[3.0].length > 10.0


def test_what_became_better_is_handed_on_downwards_and_upwards_as_long_as_it_helps(single):
    """From 3.2 down to 3.0, where it does not help; and up to 3.3."""
    grid = Recorded(
        single, {("pull", 3.1): poses(9), ("pull", 3.0): poses(1), ("pull", 3.3): poses(9)}
    )
    grid.found = {ratio: poses(5, ratio) for ratio in (3.0, 3.1, 3.2, 3.3, 3.4)}
    grid.spread({3.2})
    ratios = [ratio for _, ratio, _ in grid.asked]
    assert ratios[:2] == [3.1, 3.0]
    assert ratios[2:] == [3.2, 3.3, 3.4]
    lengths = {ratio: one.length for ratio, one in grid.found.items()}
    assert lengths == {3.0: 5, 3.1: 9, 3.2: 5, 3.3: 9, 3.4: 5}


def test_halving_solves_between_each_two_states_from_their_blend_and_from_both(single):
    """Between 4 and 4.84 stands 4.4: the geometric mean."""
    grid = _SolvedGrid(single, "taut", lambda: None)
    for ratio in (4.0, 4.84):
        grid.found[ratio] = solve_poses(single, ratio)
    grid.halve()
    assert sorted(grid.found) == pytest.approx([4.0, 4.4, 4.84])
    (middle,) = (one for ratio, one in grid.found.items() if 4.0 < ratio < 4.84)
    assert middle.aspect_ratio == pytest.approx(4.4)
    assert middle.vectors[0, 0] == pytest.approx(4.4, abs=1e-5)  # a pitch of the inner diameter


def test_the_locked_state_of_single_link_is_a_ring_that_two_wires_fill(single):
    """Inner diameter of two wires."""
    assert find_locked(single).aspect_ratio == pytest.approx(2.0, abs=1e-4)


def test_the_smaller_of_two_locked_states_counts(single, monkeypatch):
    """Whichever way it was found; a way that fails leaves the other."""
    near, far = replace(read_seed(single)), find_smallest(single)
    monkeypatch.setattr(starts, "solve_poses", lambda *_, **__: near)
    monkeypatch.setattr(starts, "find_smallest", lambda _, **how: near if "start" in how else far)
    assert find_locked(single) is min(near, far, key=lambda one: one.aspect_ratio)
    monkeypatch.setattr(starts, "find_smallest", lambda _, **how: far if "start" in how else near)
    assert find_locked(single) is min(near, far, key=lambda one: one.aspect_ratio)


def test_a_grid_tells_every_point_and_goes_up_from_just_above_the_smallest(single):
    """Points told run from 1 to their number, once each, and all of the grid are solved."""
    told = []
    locked = find_smallest(single)
    found = solve_grid(single, "taut", locked, lambda *step: told.append(step))
    assert [step[1] for step in told] == list(range(1, len(told) + 1))
    assert {step[2] for step in told} == {len(told)}
    assert {step[0] for step in told} == {"invented taut"}
    ratios = [one.aspect_ratio for one in found]
    assert len(ratios) == len(told)
    assert ratios == sorted(ratios)
    assert ratios[0] == pytest.approx(locked.aspect_ratio * np.exp(0.002))
    assert ratios[-1] <= locked.aspect_ratio * tuning().grid_reach
    for one in found:
        assert one.vectors[0, 0] == pytest.approx(one.aspect_ratio, rel=1e-4)


def test_only_weaves_that_changed_or_are_asked_for_are_solved(single, tmp_path, monkeypatch):
    """One whose file is gone goes too; what is up to date stays as it is."""
    other = replace(single, key="other")
    shipped = {"invented": single, "other": other}
    solved = []

    def solve(weave, on_step):
        solved.append(weave.key)
        return {"fingerprint": np.array(starts.fingerprint(weave))}

    monkeypatch.setattr(starts, "weave_keys", lambda: tuple(shipped))
    monkeypatch.setattr(starts, "load_weave", shipped.__getitem__)
    monkeypatch.setattr(starts, "solve_starts", solve)
    (tmp_path / "gone.npz").write_bytes(b"")
    written = make_starts(folder=tmp_path)
    assert {file.name for file in written} == {"gone.npz", "invented.npz", "other.npz"}
    assert sorted(file.name for file in tmp_path.iterdir()) == ["invented.npz", "other.npz"]
    assert solved == ["invented", "other"]
    assert make_starts(folder=tmp_path) == ()
    assert [file.name for file in make_starts(["other"], folder=tmp_path)] == ["other.npz"]
    assert solved == ["invented", "other", "other"]
