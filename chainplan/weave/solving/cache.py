"""Solved repeats are kept: in memory for the process, and as starts in files of the package.

The folder ``solved`` holds one file for each weave of the library (made by
:mod:`chainplan.weave.solving.starts`): solved poses on a grid of aspect ratios, and the smallest
ratio. A wanted ratio between two of them starts from the blend of the two and is then solved
like any other: what is handed out is converged at exactly the wanted ratio, never interpolated.
A weave whose file was changed since its starts were solved has another fingerprint, and is
solved from its seed.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import CannotBeWoven, NotConverged, Refusal
from chainplan.store.packing import digest
from chainplan.weave.shape.poses import order_links, read_seed, smallest_gap
from chainplan.weave.solving.kept import recall, remember
from chainplan.weave.solving.solver import (
    build_repeat,
    find_smallest,
    pull_near,
    solve_poses,
)
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.piece.weave import Repeat, Weave
    from chainplan.weave.shape.poses import Poses

    RingSizes = Sequence[tuple[float, float]]

SOLVED_FOLDER = Path(__file__).parents[1] / "solved"
"""Where the solved starts of the library stand, a file a weave."""
PARTS = ("ratio", "centre", "normal", "vectors", "turn_rad")
_FIELDS = ("aspect_ratio", "centre", "normal", "vectors", "turn_rad")  # of poses, as PARTS


_solved: dict[tuple[object, ...], tuple[Poses, Repeat]] = {}


@dataclass(frozen=True, slots=True)
class Entry:
    """Solved poses of one weave and state on a rising grid of aspect ratios."""

    ratio: FloatArray  # (g,)
    centre: FloatArray  # (g, k, 3)
    normal: FloatArray  # (g, k, 3)
    vectors: FloatArray  # (g, 1 or 2, 3)
    turn_rad: FloatArray  # (g,)

    @classmethod
    def of(cls, states: Sequence[Poses]) -> Entry:
        """Make an entry of solved poses, by rising aspect ratio."""
        return cls(*(np.array([getattr(poses, name) for poses in states]) for name in _FIELDS))

    def poses(self, number: int, like: Poses) -> Poses:
        """Return the poses of one grid point; what does not change is taken from ``like``."""
        return replace(
            like,
            aspect_ratio=float(self.ratio[number]),
            centre=self.centre[number],
            normal=self.normal[number],
            vectors=self.vectors[number],
            turn_rad=float(self.turn_rad[number]),
        )

    def starts(self, aspect_ratio: float, state: str, like: Poses) -> list[Poses]:
        """Return good starts for a ratio, the best one first.

        A taut state starts from the blend of its neighbours, then from the nearest of them. A
        gathered one needs a start without overlap, so that every step on the way counts: rings
        that grow with all between them move apart, so the blend is taken at a ratio smaller by
        its own overlap, and then the neighbour below.
        """
        low, high = self._neighbours(aspect_ratio)
        blend = self._blend(aspect_ratio, like)
        if state == "gathered":
            if blend is not None and (gap := smallest_gap(blend)) < 0:
                blend = self._blend((aspect_ratio + 1) * (1 + tuning().blend_room * gap) - 1, like)
            rest = [low, high]
        else:
            rest = [low if aspect_ratio**2 < self.ratio[low] * self.ratio[high] else high]
            if blend is not None and smallest_gap(blend) < -tuning().bad_blend:
                blend = None
        return [*([] if blend is None else [blend]), *(self.poses(k, like) for k in rest)]

    def _neighbours(self, aspect_ratio: float) -> tuple[int, int]:
        above = int(np.searchsorted(self.ratio, aspect_ratio))
        return max(above - 1, 0), min(above, len(self.ratio) - 1)

    def _blend(self, aspect_ratio: float, like: Poses) -> Poses | None:
        """Mix the two neighbours of a ratio; None where they are no two states of one kind."""
        low, high = self._neighbours(aspect_ratio)
        # Two grid points on either side of a jump from one locked state to another blend badly.
        if (
            low == high
            or np.abs(self.centre[high] - self.centre[low]).max() >= tuning().same_branch
        ):
            return None
        share = (aspect_ratio - self.ratio[low]) / (self.ratio[high] - self.ratio[low])
        centre, normal, vectors, turn_rad = (
            (1 - share) * part[low] + share * part[high]
            for part in (self.centre, self.normal, self.vectors, self.turn_rad)
        )
        return replace(
            like,
            aspect_ratio=aspect_ratio,
            centre=centre,
            normal=normal / np.linalg.norm(normal, axis=1, keepdims=True),
            vectors=vectors,
            turn_rad=float(turn_rad),
        )


_marks: dict[int, tuple[Weave, str]] = {}
_MOST_MARKS = 64
"""Weaves whose fingerprints are kept: the library's and some of the user's."""


def fingerprint(weave: Weave) -> str:
    """Hash of all that the geometry of a weave depends on; a weave keeps the one it has."""
    known = _marks.get(id(weave))
    if known is not None and known[0] is weave:
        return known[1]
    if len(_marks) >= _MOST_MARKS:
        _marks.clear()
    _marks[id(weave)] = (weave, _fingerprint(weave))
    return _marks[id(weave)][1]


def _fingerprint(weave: Weave) -> str:
    parts = (
        str(weave.form),
        weave.classes,
        weave.ring_class,
        order_links(weave.links).tolist(),
        round(weave.turn_rad, 12),
        sorted((name, repr(value)) for name, value in weave.data.items()),
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]


@lru_cache(maxsize=64)
def read_starts(key: str, folder: Path = SOLVED_FOLDER) -> dict[str, FloatArray]:
    """Read what is stored of one weave, by name; empty if nothing is.

    ``fingerprint`` and ``smallest``, and for each state of the rings ``taut_ratio``,
    ``taut_centre`` … with the shapes of :class:`Entry`.
    """
    file = folder / f"{key}.npz"
    if not file.exists():
        return {}
    with np.load(file) as stored:
        return {name: stored[name] for name in stored.files}


def _starts_of(weave: Weave) -> dict[str, FloatArray]:
    """Return what is stored of a weave if it was solved from this very weave file, else nothing."""
    stored = read_starts(weave.key)
    return stored if str(stored.get("fingerprint", "")) == fingerprint(weave) else {}


def find_entry(weave: Weave, state: str) -> Entry | None:
    """Return the stored grid of a weave and state, if it was made from this very weave file."""
    stored = _starts_of(weave)
    parts = [stored.get(f"{state}_{name}") for name in PARTS]
    if any(part is None for part in parts):
        return None
    return Entry(*parts)  # type: ignore[arg-type]


def solve_cached(
    weave: Weave, aspect_ratio: float, state: str = "taut", *, ring_sizes: RingSizes | None = None
) -> Repeat:
    """Solve a repeat as ``solve_repeat`` does, from the nearest start that is known.

    Raises
    ------
    CannotBeWoven, NotConverged
        As :func:`chainplan.weave.solving.solver.solve_repeat`.
    """
    return _find(weave, aspect_ratio, state, ring_sizes)[1]


def solved_poses(weave: Weave, aspect_ratio: float, state: str = "taut") -> Poses:
    """Solve a repeat as :func:`solve_cached` does and return the bare poses."""
    return _find(weave, aspect_ratio, state, None)[0]


def _find(
    weave: Weave, aspect_ratio: float, state: str, ring_sizes: RingSizes | None
) -> tuple[Poses, Repeat]:
    sizes = _own_sizes(weave, ring_sizes)
    mark = fingerprint(weave)
    _named[mark] = weave
    key = (mark, state, sizes, float(aspect_ratio))
    found = _solved.get(key)
    if found is None:
        found = _recall_or_solve(weave, aspect_ratio, state, sizes, mark)
        if len(_solved) >= tuning().kept_repeats:
            _solved.pop(next(iter(_solved)))
        _solved[key] = found
    return found


def _recall_or_solve(
    weave: Weave,
    aspect_ratio: float,
    state: str,
    sizes: tuple[tuple[float, float], ...] | None,
    mark: str,
) -> tuple[Poses, Repeat]:
    """Take a repeat as it was kept, or solve it; what depends on others solved before is told so.

    Stored starts come first and nearly always do; without them the ones solved before do, which
    are then part of what the repeat is kept by.
    """
    entry = find_entry(weave, state) if sizes is None else None
    near = [
        poses
        for (other, kind, size, ratio), (poses, _) in _solved.items()
        if (other, kind, size) == (mark, state, sizes)
        and isinstance(ratio, float)
        and abs(np.log(ratio / aspect_ratio)) < 0.03
    ]
    came_from = [] if entry is not None else [digest(poses) for poses in near]
    known_by = (mark, state, sizes, float(aspect_ratio), came_from)
    found: tuple[Poses, Repeat] | None = recall(*known_by)
    if found is not None:
        return found
    poses, from_near = _solve(weave, aspect_ratio, state, sizes, entry, near)
    found = (poses, build_repeat(weave, poses, state))
    if entry is None or not from_near:
        remember(found, *known_by)
    return found


def _solve(
    weave: Weave,
    aspect_ratio: float,
    state: str,
    sizes: tuple[tuple[float, float], ...] | None,
    entry: Entry | None,
    near: list[Poses],
) -> tuple[Poses, bool]:
    """Solve the poses; say whether they came from a near state that was solved before."""
    starts: list[Poses] = []
    if entry is not None:
        smallest = find_smallest_aspect_ratio(weave)
        if aspect_ratio < smallest - 1e-4:
            raise CannotBeWoven(too_small(weave, aspect_ratio, smallest))
        starts += entry.starts(aspect_ratio, state, read_seed(weave, sizes))
    for number, start in enumerate([*starts, *near]):
        found = pull_near(weave, start, aspect_ratio, state)
        if found is not None:
            return found, number >= len(starts)
    try:
        return solve_poses(weave, aspect_ratio, state, ring_sizes=sizes), False
    except CannotBeWoven as error:
        smallest = find_smallest_aspect_ratio(weave, ring_sizes=sizes)
        if aspect_ratio < smallest - 1e-4:
            raise CannotBeWoven(too_small(weave, aspect_ratio, smallest)) from error
    return _solve_from_locked(weave, aspect_ratio, state, sizes), False


def _solve_from_locked(
    weave: Weave,
    aspect_ratio: float,
    state: str,
    sizes: tuple[tuple[float, float], ...] | None,
) -> Poses:
    """Solve by growing the rings out of the locked state, where shrinking them got stuck."""
    locked = _locked(fingerprint(weave), sizes)
    found = pull_near(weave, locked, aspect_ratio, state)
    if found is not None:
        return found
    try:
        return solve_poses(weave, aspect_ratio, state, start=locked)
    except CannotBeWoven as error:
        said = (
            f"{weave.title}: no overlap-free state was reached at aspect ratio {aspect_ratio:.3g}, "
            f"though the weave goes together at {locked.aspect_ratio:.3g}"
        )
        raise NotConverged(Refusal(said, "choose another ring")) from error


def _own_sizes(
    weave: Weave, ring_sizes: RingSizes | None
) -> tuple[tuple[float, float], ...] | None:
    """Sizes of the row, or None where they are those of the weave's file."""
    if ring_sizes is None:
        return None
    sizes = tuple((float(wire), float(inner)) for wire, inner in ring_sizes)
    filed = [(size.wire_ratio, size.inner_ratio or np.nan) for size in weave.classes]
    return None if np.allclose(sizes, filed, rtol=1e-9) else sizes


def too_small(weave: Weave, aspect_ratio: float, smallest: float) -> Refusal:
    """Say that a ring does not go into a weave, and what the smallest one is."""
    found = (
        f"{weave.title} cannot be woven with rings of aspect ratio {aspect_ratio:.3g}: the "
        f"smallest computed one is {smallest:.3g}"
    )
    return Refusal(found, "use a larger ring or thinner wire")


@lru_cache(maxsize=256)
def _smallest(mark: str, sizes: tuple[tuple[float, float], ...] | None) -> float:
    weave = _named[mark]
    if sizes is None:
        stored = _starts_of(weave).get("smallest")
        if stored is not None:
            return float(stored)
    return _locked(mark, sizes).aspect_ratio


@lru_cache(maxsize=64)
def _locked(mark: str, sizes: tuple[tuple[float, float], ...] | None) -> Poses:
    """Find the locked state, for own ring sizes from the stored one of the file's sizes."""
    found: Poses | None = recall("locked", mark, sizes)
    if found is None:
        found = _find_locked(_named[mark], sizes)
        remember(found, "locked", mark, sizes)
    return found


def _find_locked(weave: Weave, sizes: tuple[tuple[float, float], ...] | None) -> Poses:
    entry = find_entry(weave, "taut") if sizes is not None else None
    if entry is not None:
        try:
            return find_smallest(weave, start=entry.poses(0, read_seed(weave, sizes)))
        except NotConverged:
            pass  # sizes so different that the stored state does not carry over
    return find_smallest(weave, ring_sizes=sizes)


_named: dict[str, Weave] = {}


def find_smallest_aspect_ratio(weave: Weave, *, ring_sizes: RingSizes | None = None) -> float:
    """Smallest aspect ratio of ring class 0 at which a weave goes together (no unit)."""
    mark = fingerprint(weave)
    _named[mark] = weave
    sizes = _own_sizes(weave, ring_sizes)
    return _smallest(mark, sizes)
