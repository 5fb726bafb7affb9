"""Makes the solved starts of the package, one file a weave.

Only weaves whose file has changed since their starts were solved (or those asked for) are solved
again. Each state is solved on a grid of aspect ratios that starts just above the smallest one,
from its neighbours in both directions; the better of the two states is kept. Then the steps are
halved: the states between start from the blend of their neighbours and from each.
"""

from __future__ import annotations

from itertools import count, pairwise
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import WeaveError
from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.solving.cache import PARTS, SOLVED_FOLDER, Entry, fingerprint, read_starts
from chainplan.weave.solving.solver import (
    CHAIN_STATES,
    find_goal,
    find_smallest,
    pull_near,
    solve_poses,
)
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    import numpy.typing as npt

    from chainplan.model.piece.weave import Weave
    from chainplan.weave.shape.poses import Poses


def find_locked(weave: Weave) -> Poses:
    """Find the smallest aspect ratio from the seed and from the taut state; the better counts."""
    best = find_smallest(weave, restarts=tuning().taut_restarts)
    try:
        taut = solve_poses(weave, best.aspect_ratio * 1.06, "taut", start=best)
        other = find_smallest(weave, start=taut)
    except WeaveError:
        return best
    return min(best, other, key=lambda poses: poses.aspect_ratio)


class _SolvedGrid:
    """The best poses found so far of one weave and state, by aspect ratio."""

    def __init__(self, weave: Weave, state: str, on_point: Callable[[], None]) -> None:
        self.weave, self.state = weave, state
        self.goal = find_goal(weave, state)
        self.found: dict[float, Poses] = {}
        self.on_point = on_point

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
            if self.goal.value(poses) <= worth + tuning().grid_better * abs(worth):
                return False
        self.found[ratio] = poses
        return True

    def pull(self, ratio: float, start: Poses) -> bool:
        """Pull from a start that is near; return whether that is better than what is known."""
        near = pull_near(
            self.weave, start, ratio, self.state, gather_steps=tuning().grid_gather_steps
        )
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
            self.on_point()

    def halve(self) -> None:
        """Solve halfway between each two states, from their blend and from each of them."""
        states = self.states()
        entry = Entry.of(states)
        for low, high in pairwise(states):
            ratio = float(np.sqrt(low.aspect_ratio * high.aspect_ratio))
            for start in (*entry.starts(ratio, self.state, low), high):
                self.pull(ratio, start)
            self.on_point()

    def spread(self, better: set[float]) -> None:
        """Offer states that became better to their neighbours, downwards and then upwards."""
        for backward in (True, False):
            for before, ratio in pairwise(sorted(self.found, reverse=backward)):
                if before in better and self.pull(ratio, self.found[before]):
                    better = better | {ratio}


def _grid_of(state: str) -> tuple[float, int, int]:
    """Return the step of a state's grid, how often it is halved, and the restarts on it."""
    tuned = tuning()
    if state == "taut":
        return tuned.taut_step, tuned.taut_halvings, tuned.taut_restarts
    return tuned.gathered_step, tuned.gathered_halvings, tuned.gathered_restarts


def solve_grid(
    weave: Weave, state: str, locked: Poses, on_step: Callable[[str, int, int], None]
) -> list[Poses]:
    """Solve a state on its grid of aspect ratios; points where nothing sound is found are left."""
    step, halvings, restarts = _grid_of(state)
    if locked.count > tuning().grid_large:
        step *= 2
    ratios = (
        locked.aspect_ratio * np.exp(np.arange(0.002, np.log(tuning().grid_reach), step))
    ).tolist()
    total = (len(ratios) - 1) * 2**halvings + 1
    points = count(1)
    grid = _SolvedGrid(weave, state, lambda: on_step(f"{weave.key} {state}", next(points), total))
    grid.fill(ratios, locked)
    for ratio in (ratios[len(ratios) // 3], ratios[-1]):
        grid.solve(ratio, None, restarts)
    grid.spread(set(grid.found))
    for _ in range(halvings):
        grid.halve()
    grid.spread(set(grid.found))
    return grid.states()


def solve_starts(
    weave: Weave, on_step: Callable[[str, int, int], None]
) -> dict[str, npt.NDArray[np.generic]]:
    """Solve all that is stored of one weave."""
    on_step(f"{weave.key} smallest", 0, 1)
    locked = find_locked(weave)
    arrays: dict[str, npt.NDArray[np.generic]] = {
        "fingerprint": np.array(fingerprint(weave)),
        "smallest": np.array(locked.aspect_ratio),
    }
    for state in CHAIN_STATES:
        entry = Entry.of(solve_grid(weave, state, locked, on_step))
        for name in PARTS:
            arrays[f"{state}_{name}"] = getattr(entry, name)
    return arrays


def _silent(_stage: str, _done: int, _total: int) -> None:
    """Take no notice of how far the work is."""


def make_starts(
    keys: Sequence[str] = (),
    *,
    folder: Path = SOLVED_FOLDER,
    on_step: Callable[[str, int, int], None] = _silent,
) -> tuple[Path, ...]:
    """Bring the solved starts of the package up to date.

    Parameters
    ----------
    keys : sequence of str
        Weaves to solve even if their file has not changed.
    folder : Path
        Where the files stand, one a weave.
    on_step : callable
        Told the weave with the state that is being solved, grid points done, and grid points in
        all.

    Returns
    -------
    tuple of Path
        The files written or, where their weave is gone, removed.
    """
    shipped = weave_keys()
    changed = [file for file in sorted(folder.glob("*.npz")) if file.stem not in shipped]
    for file in changed:
        file.unlink()
    # Small repeats first: they are quick, and each weave is written when it is done.
    for weave in sorted(map(load_weave, shipped), key=lambda weave: len(weave.ring_class)):
        stored = read_starts(weave.key, folder)
        if weave.key in keys or str(stored.get("fingerprint", "")) != fingerprint(weave):
            arrays = solve_starts(weave, on_step)
            file, part = folder / f"{weave.key}.npz", folder / f"{weave.key}.part.npz"
            np.savez_compressed(part, allow_pickle=False, **arrays)
            part.replace(file)
            changed.append(file)
    read_starts.cache_clear()
    return tuple(changed)
