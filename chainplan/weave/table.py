"""Makes the table of solved starts in the package: ``python -m chainplan.weave.table``.

Only weaves whose file has changed since the table was made (or those named on the command line)
are solved again. Each state is solved on a grid of aspect ratios that starts just above the
smallest one, from its neighbours in both directions; the better of the two states is kept. Then
the steps are halved: the states between start from the blend of their neighbours and from each.
"""

from __future__ import annotations

import sys
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import WeaveError
from chainplan.weave.cache import PARTS, TABLE_FILE, Entry, fingerprint, read_table
from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.solver import find_goal, find_smallest, pull_near, solve_poses

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from chainplan.model.weave import Weave
    from chainplan.weave.poses import Poses


STEP = {"taut": 0.04, "gathered": 0.12}
"""Step of the grid in the logarithm of the aspect ratio, before it is halved."""
HALVINGS = {"taut": 1, "gathered": 2}
"""How often the steps of the grid are halved."""
GATHER_STEPS = 30
"""Most linear programmes for a gathered state from a neighbour."""
BETTER = 1e-5
"""Share of its worth that a state must win to replace another: less is not resolved by a pull."""
REACH = 2.5
"""Largest ratio of the grid over the smallest one that can be woven."""
LARGE = 8
"""Repeats of more rings than this get half as many grid points."""
RESTARTS = {"taut": 2, "gathered": 1}


def find_locked(weave: Weave) -> Poses:
    """Find the smallest aspect ratio from the seed and from the taut state; the better counts."""
    best = find_smallest(weave, restarts=RESTARTS["taut"])
    try:
        taut = solve_poses(weave, best.aspect_ratio * 1.06, "taut", start=best)
        other = find_smallest(weave, start=taut)
    except WeaveError:
        return best
    return min(best, other, key=lambda poses: poses.aspect_ratio)


class _Grid:
    """The best poses found so far of one weave and state, by aspect ratio."""

    def __init__(self, weave: Weave, state: str, known: Sequence[Poses] = ()) -> None:
        self.weave, self.state = weave, state
        self.goal = find_goal(weave, state)
        self.found = {poses.aspect_ratio: poses for poses in known}

    def states(self) -> list[Poses]:
        """Return what was found, by rising aspect ratio."""
        return [self.found[ratio] for ratio in sorted(self.found)]

    def offer(self, ratio: float, poses: Poses | None) -> bool:
        """Keep poses where they are better than what is known; return whether they are."""
        known = self.found.get(ratio)
        if poses is None:
            return False
        if known is not None:
            worth = self.goal.value(known)
            if self.goal.value(poses) <= worth + BETTER * abs(worth):
                return False
        self.found[ratio] = poses
        return True

    def pull(self, ratio: float, start: Poses) -> bool:
        """Pull from a start that is near; return whether that is better than what is known."""
        near = pull_near(self.weave, start, ratio, self.state, gather_steps=GATHER_STEPS)
        return self.offer(ratio, near)

    def solve(self, ratio: float, start: Poses | None, restarts: int) -> bool:
        """Solve in full; return whether that is better than what is known."""
        try:
            poses = solve_poses(self.weave, ratio, self.state, start=start, restarts=restarts)
        except WeaveError:
            return False
        return self.offer(ratio, poses)

    def fill(self, ratios: Sequence[float], start: Poses) -> None:
        """Solve one ratio after the other, each from the one before."""
        for ratio in ratios:
            self.pull(ratio, start)
            if ratio not in self.found:
                self.solve(ratio, start, 0)
            start = self.found.get(ratio, start)

    def halve(self) -> None:
        """Solve halfway between each two states, from their blend and from each of them."""
        states = self.states()
        entry = Entry.of(states)
        for low, high in pairwise(states):
            ratio = float(np.sqrt(low.aspect_ratio * high.aspect_ratio))
            for start in (*entry.starts(ratio, self.state, low), high):
                self.pull(ratio, start)

    def spread(self, better: set[float]) -> None:
        """Offer states that became better to their neighbours, downwards and then upwards."""
        for backward in (True, False):
            for before, ratio in pairwise(sorted(self.found, reverse=backward)):
                if before in better and self.pull(ratio, self.found[before]):
                    better = better | {ratio}


def solve_grid(weave: Weave, state: str, locked: Poses) -> list[Poses]:
    """Solve a state on its grid of aspect ratios; points where nothing sound is found are left."""
    step = STEP[state] * (2 if locked.count > LARGE else 1)
    ratios = (locked.aspect_ratio * np.exp(np.arange(0.002, np.log(REACH), step))).tolist()
    grid = _Grid(weave, state)
    grid.fill(ratios, locked)
    for ratio in (ratios[len(ratios) // 3], ratios[-1]):
        grid.solve(ratio, None, RESTARTS[state])
    grid.spread(set(grid.found))
    return refine_grid(weave, state, grid.states())


def refine_grid(weave: Weave, state: str, states: Sequence[Poses]) -> list[Poses]:
    """Halve the steps of a solved grid, as often as ``HALVINGS`` says, and spread what is best."""
    grid = _Grid(weave, state, states)
    for _ in range(HALVINGS[state]):
        grid.halve()
    grid.spread(set(grid.found))
    return grid.states()


def build_weave(weave: Weave) -> dict[str, npt.NDArray[np.generic]]:
    """Solve all that the table holds of one weave."""
    locked = find_locked(weave)
    arrays: dict[str, npt.NDArray[np.generic]] = {
        f"{weave.key}|fingerprint": np.array(fingerprint(weave)),
        f"{weave.key}|smallest": np.array(locked.aspect_ratio),
    }
    for state in STEP:
        entry = Entry.of(solve_grid(weave, state, locked))
        for name in PARTS:
            arrays[f"{weave.key}|{state}|{name}"] = getattr(entry, name)
    return arrays


def build_table(
    keys: Sequence[str] = (), *, on_step: Callable[[str, int, int], None] | None = None
) -> None:
    """Bring the table of the package up to date and write it."""
    table = dict(read_table())
    shipped = weave_keys()
    table = {name: part for name, part in table.items() if name.split("|")[0] in shipped}
    # Small repeats first: they are quick, and the table is written after each weave.
    weaves = sorted((load_weave(key) for key in shipped), key=lambda weave: len(weave.ring_class))
    for number, weave in enumerate(weaves):
        key = weave.key
        if key in keys or str(table.get(f"{key}|fingerprint", "")) != fingerprint(weave):
            table = {name: part for name, part in table.items() if name.split("|")[0] != key}
            table.update(build_weave(weave))  # type: ignore[arg-type]
            part_file = TABLE_FILE.with_suffix(".part.npz")
            np.savez_compressed(part_file, allow_pickle=False, **table)
            part_file.replace(TABLE_FILE)
        if on_step is not None:
            on_step("weave", number + 1, len(shipped))


if __name__ == "__main__":
    build_table(sys.argv[1:])
