"""The solved repeat of a weave at an aspect ratio: taut, gathered, or a sheet stretched one way.

:func:`solve_repeat` is the door: from a :class:`~chainplan.model.piece.weave.Weave` with a seed
(its form is told in ``poses.py``) to a :class:`~chainplan.model.piece.weave.Repeat` that is
converged at exactly the wanted aspect ratio: no overlap beyond 1e-6 wire diameters, links as
declared. Anything else is an error that says so.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import CannotBeWoven, NotConverged, Refusal, WeaveError, unknown
from chainplan.model.kinds import Form, Lying
from chainplan.model.piece.weave import Repeat
from chainplan.weave.shape.orientation import lay_as_seed
from chainplan.weave.shape.poses import (
    find_contacts,
    find_links,
    measure_extents,
    order_links,
    read_seed,
    smallest_gap,
)
from chainplan.weave.solving.continuation import (
    OVERLAP_ALLOWED,
    change_ratio,
    disturb,
    make_room,
    shrink_rings,
)
from chainplan.weave.solving.programme import Goal, pursue, restore
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IndexArray
    from chainplan.model.piece.weave import Weave
    from chainplan.weave.shape.poses import Poses
    from chainplan.weave.solving.continuation import Accept


SHEET_STATES = ("along", "across", "area")
CHAIN_STATES = ("taut", "gathered")


STATE_OF = {Lying.ALONG: "along", Lying.ACROSS: "across", Lying.FLAT: "area"}
"""How a sheet lies → what is pulled for it."""


def resting_state(weave: Weave) -> str:
    """Return the state of a sheet that "taut" means: what its file names, else along its rows."""
    seed = weave.data.get("seed")
    return str(seed.get("stretch", "along")) if isinstance(seed, dict) else "along"


def lying_of(weave: Weave, lies: Lying | None) -> tuple[str, str]:
    """Say how a section lies and the state to solve for it; nothing and "taut" for a chain."""
    if weave.form == Form.CHAIN:
        return "", "taut"
    usual = resting_state(weave)
    if lies is None:
        lies = next(word for word, state in STATE_OF.items() if state == usual)
    # The taut states are those that starts are stored of.
    return str(lies), "taut" if STATE_OF[lies] == usual else STATE_OF[lies]


def find_goal(weave: Weave, state: str) -> Goal:
    """Return what a state of a weave maximises.

    A chain is "taut" or "gathered". A sheet is stretched "along" its rows, "across" them, or laid
    to its largest "area"; "taut" means the way that its file names as ``seed.stretch`` (along where
    it names none), and "gathered" is the shortest length along.
    """
    two = weave.form != Form.CHAIN
    known = (*SHEET_STATES, *CHAIN_STATES) if two else CHAIN_STATES
    if state not in known:
        raise WeaveError(unknown(state, known, what=f"state of weave {weave.key!r}"))
    if two and state == "taut":
        state = resting_state(weave)
    if state == "gathered":
        return Goal(along=-1.0, across=-tuning().second_weight if two else 0.0)
    if state == "across":
        return Goal(along=tuning().second_weight, across=1.0)
    if state == "area":
        return Goal(area=1.0)
    return Goal(along=1.0, across=tuning().second_weight if two else 0.0)


def solve_repeat(
    weave: Weave,
    aspect_ratio: float,
    state: str = "taut",
    *,
    accept: Accept | None = None,
    restarts: int = 0,
) -> Repeat:
    """Solve the geometry of one repeat from its seed, as :func:`solve_poses` does."""
    poses = solve_poses(weave, aspect_ratio, state, accept=accept, restarts=restarts)
    return build_repeat(weave, poses, state)


def solve_poses(
    weave: Weave,
    aspect_ratio: float,
    state: str = "taut",
    *,
    ring_sizes: Sequence[tuple[float, float]] | None = None,
    accept: Accept | None = None,
    start: Poses | None = None,
    restarts: int = 0,
) -> Poses:
    """Solve the poses of one repeat from its seed, or from a nearer start.

    Parameters
    ----------
    weave : Weave
        With seed and declared links.
    aspect_ratio : float
        Inner over wire diameter of ring class 0 (no unit).
    state : str
        See :func:`find_goal`.
    ring_sizes : sequence of (float, float), optional
        Wire and inner diameter of each ring class over those of class 0, instead of the file's.
    accept : callable, optional
        A test of the poses that every step must pass, instead of the weave's own invariants.
    start : Poses, optional
        A solved state at another aspect ratio, instead of the seed.
    restarts : int
        Further tries from shaken starts; the best one counts.

    Raises
    ------
    CannotBeWoven
        If the rings do not go together at this ratio.
    NotConverged
        If a start does not have the declared links, or no overlap-free state was reached.
    """
    if not (np.isfinite(aspect_ratio) and aspect_ratio > 0):
        found = f"aspect ratio is {aspect_ratio!r}"
        raise WeaveError(Refusal(found, "expected a positive number"))
    goal = find_goal(weave, state)
    links = order_links(weave.links)
    accept = accept or find_test(weave)
    begin = check_start(weave, start or read_seed(weave, ring_sizes), accept)
    # A solved start is near already: it need not be loosened first.
    loose = change_ratio(begin, aspect_ratio, links, accept)
    if loose is None:
        found = f"weave {weave.key!r}: rings of aspect ratio {aspect_ratio:.3g} do not go together"
        raise CannotBeWoven(Refusal(found, "use a larger ring or thinner wire"))
    best: Poses | None = None
    for attempt in range(restarts + 1):
        trial = loose if attempt == 0 else disturb(best or loose, 0.15, seed=attempt)
        if attempt:
            trial = make_room(trial, links, accept, steps=60)
            if not is_sound(trial, links, accept):
                continue
        pulled = _pull(trial, goal, links, accept, trust=0.15, gather_steps=80)
        if is_sound(pulled, links, accept) and (
            best is None or goal.value(pulled) > goal.value(best) + 1e-9
        ):
            best = pulled
    if best is None:
        message = (
            f"weave {weave.key!r}: no overlap-free state with the declared links was reached at "
            f"aspect ratio {aspect_ratio:.3g}"
        )
        raise NotConverged(message)
    return best


def _pull(
    poses: Poses,
    goal: Goal,
    links: IndexArray,
    accept: Accept | None,
    *,
    trust: float,
    gather_steps: int,
) -> Poses:
    """Pull poses towards a goal and clear what overlap is left.

    How short a weave can be gathered is no sharp number, and finding the very shortest state is
    slow; how long it hangs is what makers count by. So gathering ends sooner, and where an overlap
    will not go away it is content with the last state before.
    """
    gathers = goal.along < 0
    stall, steps = (2e-3, gather_steps) if gathers else (1e-5, 200)
    found = pursue(poses, goal, links, accept=accept, trust=trust, steps=steps, stall=stall)
    if not gathers or found.clean is None:
        return restore(found.poses, times=25)
    pulled = restore(found.poses)
    return pulled if smallest_gap(pulled) >= -OVERLAP_ALLOWED else found.clean


def pull_near(
    weave: Weave, start: Poses, aspect_ratio: float, state: str, *, gather_steps: int = 4
) -> Poses | None:
    """Solve from a start that is nearly there; None where that does not lead to a sound state.

    The start is brought to the ratio at once, cleared of overlaps and pulled in small steps. A
    gathered start that is near counts as gathered after a few steps: every sound state is a bound.
    """
    goal, links, accept = find_goal(weave, state), order_links(weave.links), find_test(weave)
    poses = start if start.aspect_ratio == aspect_ratio else start.resized(aspect_ratio)
    if not np.array_equal(find_links(poses), links) or (accept and not accept(poses)):
        return None
    if smallest_gap(poses) < -OVERLAP_ALLOWED:
        poses = restore(poses, times=10)
    found = _pull(poses, goal, links, accept, trust=0.05, gather_steps=gather_steps)
    return found if is_sound(found, links, accept) else None


def find_smallest(
    weave: Weave,
    *,
    ring_sizes: Sequence[tuple[float, float]] | None = None,
    accept: Accept | None = None,
    start: Poses | None = None,
    restarts: int = 0,
) -> Poses:
    """Find the locked state: the poses at the smallest aspect ratio that still goes together."""
    links = order_links(weave.links)
    accept = accept or find_test(weave)
    begin = check_start(weave, start or read_seed(weave, ring_sizes), accept)
    best = shrink_rings(begin, links, accept)
    for attempt in range(1, restarts + 1):
        loose = change_ratio(best, best.aspect_ratio * 1.1, links, accept)
        if loose is None:
            continue
        shaken = make_room(disturb(loose, 0.15, seed=attempt), links, accept)
        if not is_sound(shaken, links, accept):
            continue
        trial = shrink_rings(shaken, links, accept)
        if trial.aspect_ratio < best.aspect_ratio:
            best = trial
    return best


def find_test(weave: Weave) -> Accept | None:
    """Return the test that a weave's own invariants make, or None where its file has none."""
    if not weave.data.get("invariants"):
        return None
    from chainplan.weave.shape.invariants import holds

    return partial(holds, weave)


def is_sound(poses: Poses, links: IndexArray, accept: Accept | None) -> bool:
    """Whether no wire overlaps, the links are the declared ones, and the caller's test holds."""
    return (
        smallest_gap(poses) >= -OVERLAP_ALLOWED
        and np.array_equal(find_links(poses), links)
        and (accept is None or accept(poses))
    )


def check_start(weave: Weave, poses: Poses, accept: Accept | None) -> Poses:
    """Refuse a start whose links are not the declared ones, and say which differ."""
    declared = {tuple(row) for row in order_links(weave.links).tolist()}
    found = {tuple(row) for row in find_links(poses).tolist()}
    if declared != found:
        missing, extra = sorted(declared - found), sorted(found - declared)
        message = (
            f"weave {weave.key!r}: the seed does not link as declared: "
            f"not linked: {missing or 'none'}, linked but not declared: {extra or 'none'} "
            "(rows are ring, ring, offset along, offset across)"
        )
        raise NotConverged(message)
    if accept is not None and not accept(poses):
        message = f"weave {weave.key!r}: the seed does not pass the weave's own invariants"
        raise NotConverged(message)
    return poses


def build_repeat(weave: Weave, poses: Poses, state: str) -> Repeat:
    """Turn solved poses into the frozen result, lying as the seed does."""
    poses = lay_as_seed(weave, poses)
    width, thickness = measure_extents(poses)
    links = find_links(poses)
    return Repeat(
        weave=weave.key,
        aspect_ratio=poses.aspect_ratio,
        state=state,
        centre=poses.centre,
        normal=poses.normal,
        mean_radius=poses.mean_radius,
        wire=poses.wire,
        ring_class=np.asarray(weave.ring_class, dtype=np.int32),
        vectors=poses.vectors,
        turn_rad=poses.turn_rad,
        links=links.astype(np.int32),
        contacts=find_contacts(poses).astype(np.int32),
        residual_gap=smallest_gap(poses),
        width=width,
        thickness=thickness,
    )
