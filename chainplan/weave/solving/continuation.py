"""From the seed to the wanted aspect ratio, and down to the smallest one that still goes together.

Rings shrink (or grow) in steps of a few per cent. At each step the whole repeat is scaled, which
leaves overlaps of a few per cent of the wire, and the rings are moved apart again until no wire
overlaps, with every link kept. Nothing is pulled tight on the way: tension is put on only at the
wanted ratio, so that a folded weave does not slip out of its fold while the rings are thin.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import NotConverged
from chainplan.weave.shape.poses import find_links, smallest_gap
from chainplan.weave.solving.programme import Goal, pursue, restore
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.arrays import IndexArray
    from chainplan.weave.shape.poses import Poses

    Accept = Callable[[Poses], bool]

OVERLAP_ALLOWED = 1e-6
"""Largest overlap of a converged repeat. [wire diameters]"""


def make_room(poses: Poses, links: IndexArray, accept: Accept | None, *, steps: int = 25) -> Poses:
    """Move rings apart until the least gap is the wanted clearance or grows no more."""
    return pursue(
        poses,
        Goal(clearance=tuning().clearance),
        links,
        accept=accept,
        trust=0.2,
        steps=steps,
        tolerance=1e-3,
    ).poses


def change_ratio(
    poses: Poses, aspect_ratio: float, links: IndexArray, accept: Accept | None = None
) -> Poses | None:
    """Bring poses to another aspect ratio without overlaps, or return None where that fails.

    Parameters
    ----------
    poses : Poses
        A start without overlap, or nearly so.
    aspect_ratio : float
        The wanted ratio of ring class 0 (no unit).
    links : array, shape (m, 4)
        Links to keep, as ``order_links`` orders them.
    accept : callable, optional
        A further test that every step must pass.
    """
    step = tuning().ratio_step
    if smallest_gap(poses) < 0:
        poses = make_room(poses, links, accept, steps=80)
    while poses.aspect_ratio != aspect_ratio:
        ratio = aspect_ratio / poses.aspect_ratio
        if abs(np.log(ratio)) <= step:
            following = aspect_ratio
        else:
            following = poses.aspect_ratio * float(np.exp(np.copysign(step, np.log(ratio))))
        trial = poses.resized(following)
        if smallest_gap(trial) < 0.5 * tuning().clearance:
            trial = make_room(trial, links, accept)
            if -1e-3 < smallest_gap(trial) < 0:
                trial = restore(trial, times=12)
        if smallest_gap(trial) < -OVERLAP_ALLOWED or not np.array_equal(find_links(trial), links):
            step /= 3
            if step < tuning().least_ratio_step:
                return None
            continue
        poses = trial
        step = min(tuning().ratio_step, 1.5 * step)
    return poses


def shrink_rings(poses: Poses, links: IndexArray, accept: Accept | None = None) -> Poses:
    """Shrink the rings at fixed wire until the weave locks: a local smallest aspect ratio.

    The aspect ratio is an unknown of the linear programmes and is minimised, repeat lengths free.
    """
    start = poses if smallest_gap(poses) >= 0 else make_room(poses, links, accept, steps=80)
    found = pursue(start, Goal(ratio=-1.0), links, accept=accept, trust=0.2, steps=400)
    result = restore(found.poses, times=25, keep_ratio=False)
    if smallest_gap(result) < -OVERLAP_ALLOWED or not np.array_equal(find_links(result), links):
        message = "the search for the smallest aspect ratio did not reach an overlap-free state"
        raise NotConverged(message)
    return result


def disturb(poses: Poses, size: float, seed: int) -> Poses:
    """Shake every ring a little (size in wire diameters), from an explicit random seed."""
    rng = np.random.default_rng(seed)
    normal = (
        poses.normal
        + rng.normal(scale=size, size=poses.normal.shape) / (poses.mean_radius[:, None])
    )
    return replace(
        poses,
        centre=poses.centre + rng.normal(scale=size, size=poses.centre.shape),
        normal=normal / np.linalg.norm(normal, axis=1, keepdims=True),
    )
