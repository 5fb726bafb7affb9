"""Makes the table of solved starts in the package: ``python -m chainplan.weave.table``.

Only weaves whose file has changed since the table was made (or those named on the command line)
are solved again. Each state is solved on a grid of aspect ratios that starts just above the
smallest one, from its neighbours in both directions; the better of the two states is kept.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import WeaveError
from chainplan.weave.cache import TABLE_FILE, fingerprint, open_table
from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.solver import find_goal, find_smallest, pull_near, solve_poses

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from chainplan.model.weave import Weave
    from chainplan.weave.poses import Poses

    FloatArray = npt.NDArray[np.float64]

STEP = {"taut": 0.04, "gathered": 0.12}
"""Step of the grid in the logarithm of the aspect ratio."""
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


def solve_grid(weave: Weave, state: str, locked: Poses) -> list[Poses]:
    """Solve a state on its grid of aspect ratios; points where nothing sound is found are left."""
    step = STEP[state] * (2 if locked.count > LARGE else 1)
    ratios = locked.aspect_ratio * np.exp(np.arange(0.002, np.log(REACH), step))
    goal = find_goal(weave, state)
    found: dict[int, Poses] = {}

    def offer(number: int, poses: Poses | None) -> bool:
        known = found.get(number)
        if poses is not None and (known is None or goal.value(poses) > goal.value(known) + 1e-7):
            found[number] = poses
            return True
        return False

    def tell(number: int, start: Poses) -> bool:
        ratio = float(ratios[number])
        better = offer(number, pull_near(weave, start, ratio, state, gather_steps=30))
        if number not in found:
            try:
                better = offer(number, solve_poses(weave, ratio, state, start=start, restarts=0))
            except WeaveError:
                return False
        return better

    tell(0, locked)
    for number in range(1, len(ratios)):
        tell(number, found.get(number - 1, locked))
    middle = len(ratios) // 3
    for number in (middle, len(ratios) - 1):
        try:
            offer(
                number, solve_poses(weave, float(ratios[number]), state, restarts=RESTARTS[state])
            )
        except WeaveError:
            continue
    better = set(found)
    for numbers, before in (
        (range(len(ratios) - 2, -1, -1), 1),
        (range(1, len(ratios)), -1),
    ):
        improved: set[int] = set()
        for number in numbers:
            # Only a neighbour that has just become better can help.
            if number + before in better | improved and tell(number, found[number + before]):
                improved.add(number)
        better = improved
    return [found[number] for number in sorted(found)]


def build_weave(weave: Weave) -> dict[str, npt.NDArray[np.generic]]:
    """Solve all that the table holds of one weave."""
    locked = find_locked(weave)
    arrays: dict[str, npt.NDArray[np.generic]] = {
        f"{weave.key}|fingerprint": np.array(fingerprint(weave)),
        f"{weave.key}|smallest": np.array(locked.aspect_ratio),
    }
    for state in STEP:
        grid = solve_grid(weave, state, locked)
        parts = {
            "ratio": [poses.aspect_ratio for poses in grid],
            "centre": [poses.centre for poses in grid],
            "normal": [poses.normal for poses in grid],
            "vectors": [poses.vectors for poses in grid],
            "turn_rad": [poses.turn_rad for poses in grid],
        }
        for name, values in parts.items():
            arrays[f"{weave.key}|{state}|{name}"] = np.array(values)
    return arrays


def build_table(
    keys: Sequence[str] = (), *, on_step: Callable[[str, int, int], None] | None = None
) -> None:
    """Bring the table of the package up to date and write it."""
    table = dict(open_table() or {})
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
