"""Rings with identical surroundings, so that reach is computed once for each of them.

Two rings see the same where they have the same place in the repeat of the same section and stand
equally far from its start, end and edges; beyond a few repeats that no longer matters. A weave that
turns about its axis shows the same surroundings turned, so each class is worked out in one frame,
and :attr:`RingClasses.phase_rad` says by how much each ring is turned from it.

A ring that does not fit its class (it leans otherwise than its fellows) becomes a class of its own.
Rings of a class near a free end stand for themselves; the interior stands for all that is farther
in, as though the weave went on, which can only put more rings in the way than there are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.reaching.bodies import fitting_bodies
from chainplan.join.reaching.clearance import Circles
from chainplan.join.tuning import tuning
from chainplan.model.kinds import Form
from chainplan.model.piece.layout import ring_basis

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.model.piece.layout import Layout, SectionLayout

_POINT_MM = 1e-6
"""Mean radius of a ball, which is a circle too: next to none."""


@dataclass(frozen=True, slots=True)
class RingClasses:
    """Classes of rings with identical surroundings."""

    of_ring: IndexArray  # (n,) class of each ring; −1 for loose joins
    representative: IndexArray  # (c,) the ring each class is worked out for
    family: IndexArray  # (c,) classes of one place in one section and one spot share a number
    spot: IndexArray  # (c,) which molten spot they are welded with
    interior: npt.NDArray[np.bool_]  # (c,) the class that leads its family
    phase_rad: FloatArray  # (n,) turn about x from the class's frame to the ring's

    @property
    def count(self) -> int:
        """Number of classes."""
        return int(self.representative.shape[0])


@dataclass(frozen=True, slots=True)
class Surroundings:
    """One ring and all rings near it, in its class's frame, the ring's centre at the origin."""

    own: Circles  # one circle
    others: Circles  # rings, nearest first, then the balls of fittings: wire around a point

    def within(self, more: Surroundings) -> bool:
        """Whether all rings here stand in other surroundings too, at the same places."""
        if self.others.count > more.others.count:
            return False
        here, there = self.others, more.others
        apart = np.abs(here.centre_mm[:, None] - there.centre_mm).max(axis=2)
        apart += 1.0 - np.abs(here.normal @ there.normal.T)
        apart += np.abs(here.radius_mm[:, None] - there.radius_mm)
        apart += np.abs(here.wire_radius_mm[:, None] - there.wire_radius_mm)
        return bool((apart.min(axis=1, initial=np.inf) < tuning().same_place).all())


def turn_about_x(vectors: FloatArray, angle_rad: FloatArray | float) -> FloatArray:
    """Turn vectors, shape (…, 3), about the x axis by angles, shape (…)."""
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    turned: FloatArray = np.stack(
        np.broadcast_arrays(x, y * cos - z * sin, y * sin + z * cos), axis=-1
    )
    return turned


def section_turn_rad(section: SectionLayout) -> float:
    """Turn about the axis from repeat to repeat, in radians."""
    return float(section.repeat.turn_rad) if section.repeat is not None else 0.0


def classify_rings(
    layout: Layout, *, search_mm: float, spot: IndexArray | None = None
) -> RingClasses:
    """Sort rings into classes with identical surroundings.

    Parameters
    ----------
    layout : Layout
        The piece.
    search_mm : float
        How far off a ring can matter. [mm]
    spot : array, shape (n,), optional
        Number of the molten spot that each ring is welded with: that tells rings apart too.
    """
    n = layout.rings
    spot = np.zeros(n, dtype=np.intp) if spot is None else spot
    spots = int(spot.max(initial=0)) + 1
    turn = np.array([section_turn_rad(section) for section in layout.sections])
    phase: FloatArray = turn[layout.section] * layout.along.astype(np.float64)
    key = np.zeros(n, dtype=np.int64)
    family = np.zeros(n, dtype=np.int64)
    centrality = np.zeros(n)
    inner = np.zeros(n, dtype=bool)
    loose = np.zeros(n, dtype=bool)
    for number, section in enumerate(layout.sections):
        own = slice(section.first_ring, section.first_ring + section.rings)
        if section.form == Form.LOOSE:
            loose[own] = True
            continue
        ends = _end_codes(layout, number, own, search_mm)
        places = int(layout.place[own].max(initial=0)) + 1
        family[own] = (number * 100_000 + layout.place[own]) * spots + spot[own]
        key[own] = (ends.code * places + layout.place[own]) * len(layout.sections) + number
        key[own] = key[own] * spots + spot[own]
        centrality[own] = ends.off_centre
        inner[own] = ends.inner
    key[loose] = -1
    used, of_ring = np.unique(key, return_inverse=True)
    beside = _beside_fittings(layout, search_mm) & ~loose
    # A ring beside a fitting stands for its fellows only where they are all beside one.
    behind = np.where(beside, 1.0 + centrality.max(initial=0.0), 0.0)
    representative = _middle_members(of_ring, centrality + behind, used.size)
    of_ring, representative = _set_apart(
        layout, phase, family, of_ring, representative, loose, beside
    )
    if loose.any():
        of_ring = of_ring - 1
        representative = representative[1:]
    families = _part_families(layout, phase, family[representative], representative, inner)
    return RingClasses(
        of_ring, representative, families, spot[representative], inner[representative], phase
    )


@dataclass(frozen=True, slots=True)
class _Ends:
    """How far rings stand from the ends and edges of their section, as far as it matters."""

    code: npt.NDArray[np.int64]
    off_centre: FloatArray
    inner: npt.NDArray[np.bool_]


def _end_codes(layout: Layout, number: int, own: slice, search_mm: float) -> _Ends:
    section = layout.sections[number]
    last = len(layout.sections) - 1
    outer_mm = 2 * float(layout.mean_radius_mm[own].max()) + section.wire_mm
    along, across = layout.along[own], layout.across[own]
    repeats, rows = int(along.max(initial=0)) + 1, int(across.max(initial=0)) + 1
    if section.repeat is not None:
        pitch = np.linalg.norm(section.repeat.vectors, axis=1) * section.wire_mm
        step_mm, side_mm = float(pitch[0]), float(pitch[-1])
    else:
        step_mm, side_mm = section.length_mm / repeats, section.width_mm / rows
    endless = is_loop(layout)
    goes_on = layout.loop is not None
    is_end = number == last and not goes_on
    first_code, first_inner = _region(
        along,
        repeats,
        step_mm,
        search_mm,
        near=(
            0 if endless else math.ceil((search_mm if number or goes_on else outer_mm) / step_mm),
            0 if endless else math.ceil((outer_mm if is_end else search_mm) / step_mm),
        ),
        endless=endless,
    )
    slide = _slides(layout, own, step_mm)
    edge = math.ceil(outer_mm / max(side_mm, 1e-9))
    second_code, second_inner = _region(across, rows, side_mm, search_mm, near=(edge, edge))
    return _Ends(
        code=(first_code * (tuning().slides + 1) + np.where(first_inner, 0, slide)) * (rows + 1)
        + second_code,
        off_centre=np.abs(2 * along - repeats + 1) / repeats + np.abs(2 * across - rows + 1) / rows,
        inner=first_inner & second_inner,
    )


def _slides(layout: Layout, own: slice, step_mm: float) -> npt.NDArray[np.int64]:
    """Code by how much a ring's row group has slid along: at the ends that tells rings apart.

    A sheet whose second repeat vector leans slides by a part of a repeat from group to group. Up to
    ``tuning().slides`` different slides are told apart; more are grouped into as many parts of a
    repeat.
    """
    place = layout.place[own]
    start = layout.centre_mm[own, 0] - layout.along[own] * step_mm
    origin = np.full(int(place.max(initial=0)) + 1, np.inf)
    np.minimum.at(origin, place, start)
    slide = start - origin[place]
    steps = np.round(slide / (1e-3 * step_mm)).astype(np.int64)
    used, found = np.unique(steps, return_inverse=True)
    code: npt.NDArray[np.int64] = found.astype(np.int64)
    if used.size > tuning().slides:
        code = np.floor(slide / max(float(slide.max()), 1e-9) * (tuning().slides - 1e-6)).astype(
            np.int64
        )
    return code


def _region(
    place: npt.NDArray[np.int32],
    count: int,
    step_mm: float,
    search_mm: float,
    *,
    near: tuple[int, int],
    endless: bool = False,
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Code the places along one direction: each of its own near an end, one for the interior."""
    code = place.astype(np.int64)
    start, end = near
    if endless:
        middle = np.ones(place.shape, dtype=bool)
        code[:] = 0
    elif count * step_mm < 2 * search_mm or count <= start + end:
        middle = np.asarray(place == count // 2)
    else:
        middle = np.asarray((place >= start) & (place < count - end))
        code[middle] = start
    return code, middle


def is_loop(layout: Layout) -> bool:
    """Whether the piece is one closed section whose repeats go on past its last one."""
    return layout.closed and len(layout.sections) == 1 and layout.sections[0].repeat is not None


def _middle_members(of_ring: IndexArray, centrality: FloatArray, count: int) -> IndexArray:
    """Pick of each class the member that stands nearest the middle of its section."""
    least = np.full(count, np.inf)
    np.minimum.at(least, of_ring, centrality)
    candidates = np.flatnonzero(centrality <= least[of_ring])[::-1]
    representative = np.zeros(count, dtype=np.intp)
    representative[of_ring[candidates]] = candidates
    return representative


def _set_apart(
    layout: Layout,
    phase: FloatArray,
    family: npt.NDArray[np.int64],
    of_ring: IndexArray,
    representative: IndexArray,
    loose: npt.NDArray[np.bool_],
    beside: npt.NDArray[np.bool_],
) -> tuple[IndexArray, IndexArray]:
    """Give each ring that leans otherwise than its class's representative a class of its own.

    So gets each ``beside`` a fitting: it has more in its way than its fellows.
    """
    upright = turn_about_x(layout.normal, -phase)
    off = np.abs(upright - upright[representative[of_ring]]).max(axis=1) > tuning().same_lean
    same_ring = layout.mean_radius_mm == layout.mean_radius_mm[representative[of_ring]]
    odd = np.flatnonzero(((off | ~same_ring) & ~loose) | beside)
    if odd.size:
        family[odd] = -1 - odd
        of_ring = of_ring.copy()
        of_ring[odd] = len(representative) + np.arange(odd.size)
        representative = np.concatenate([representative, odd])
        used, of_ring = np.unique(of_ring, return_inverse=True)
        representative = representative[used]
    return of_ring, representative


def _beside_fittings(layout: Layout, search_mm: float) -> npt.NDArray[np.bool_]:
    """Mark the rings to which a fitting matters, (n,).

    Its body, if it is there while the piece is welded, and the connecting rings of a hanging one.
    """
    beside = np.zeros(layout.rings, dtype=bool)
    for centre, radius_mm in zip(*fitting_bodies(layout), strict=True):
        away = np.linalg.norm(layout.centre_mm - centre, axis=1)
        beside |= away <= search_mm + radius_mm
    for fitting in layout.fittings:
        number = layout.section[list(fitting.rings)[-1:]]
        if fitting.in_line or not number.size:
            continue
        if layout.sections[int(number[0])].form == Form.CONNECTING:
            own = np.flatnonzero(layout.section == number[0])
            for ring in own.tolist():
                away = np.linalg.norm(layout.centre_mm - layout.centre_mm[ring], axis=1)
                beside |= away <= search_mm
            beside[own] = False
    return beside


def _part_families(
    layout: Layout,
    phase: FloatArray,
    family: npt.NDArray[np.int64],
    representative: IndexArray,
    inner: npt.NDArray[np.bool_],
) -> IndexArray:
    """Give each class the number of its family: rings of one size that lean one way.

    A family shares the frame of its leading class. A connecting ring carries a place of the repeat
    without standing there, so rings of one place may lean otherwise: they make families of their
    own, else their joins would lie on the leading class's ring.
    """
    upright = turn_about_x(layout.normal[representative], -phase[representative])
    radius = layout.mean_radius_mm[representative]
    _, named = np.unique(family, return_inverse=True)
    found = np.full(len(representative), -1)
    left = np.lexsort((~inner[representative], named))
    while left.size:
        _, first = np.unique(named[left], return_index=True)
        leads = np.zeros(int(named.max()) + 1, dtype=np.intp)
        leads[named[left[first]]] = left[first]
        lead = leads[named[left]]
        like = np.abs(upright[left] - upright[lead]).max(axis=1) <= tuning().same_lean
        like &= radius[left] == radius[lead]
        found[left[like]] = lead[like]
        left = left[~like]
    families: IndexArray = np.unique(found, return_inverse=True)[1]
    return families


class Neighbourhood:
    """Finds the rings near a ring; sorts the piece along x once."""

    def __init__(self, layout: Layout, *, search_mm: float) -> None:
        self._layout = layout
        self._search_mm = search_mm
        forms = np.array([section.form == Form.LOOSE for section in layout.sections])
        woven = np.flatnonzero(~forms[layout.section])
        x = layout.centre_mm[woven, 0]
        order = np.argsort(x, kind="stable")
        self._ring = woven[order]
        self._x = x[order]
        self._bodies = fitting_bodies(layout)
        # Where the piece stands again beyond its ends: its turn about x and its shift.
        self._copies: list[tuple[float, FloatArray]] = [(0.0, np.zeros(3))]
        loop = layout.loop
        if loop is not None:
            before = -turn_about_x(loop.shift_mm, -loop.turn_rad)
            self._copies.insert(0, (-loop.turn_rad, before))
            self._copies.append((loop.turn_rad, loop.shift_mm))

    def around(self, ring: int, phase_rad: float) -> Surroundings:
        """Collect the rings near one ring, turned back by its phase, its centre at the origin."""
        layout = self._layout
        centre = layout.centre_mm[ring]
        found, places, normals = [], [], []
        for angle, shift in self._copies:
            middle = centre[0] - shift[0]
            low, high = np.searchsorted(
                self._x, [middle - self._search_mm, middle + self._search_mm]
            )
            rows = self._ring[low:high]
            at = turn_about_x(layout.centre_mm[rows], angle) + shift - centre
            near = np.einsum("ij,ij->i", at, at) <= self._search_mm**2
            if not shift.any():
                near &= rows != ring
            found.append(rows[near])
            places.append(at[near])
            normals.append(turn_about_x(layout.normal[rows[near]], angle))
        rows, at = np.concatenate(found), np.concatenate(places)
        order = np.lexsort((rows, np.round(np.einsum("ij,ij->i", at, at), 6)))
        rows = rows[order]
        ball, radius_mm = self._balls_around(centre)
        normal = np.concatenate([*normals, np.zeros((0, 3))])[order]
        upright = np.tile([0.0, 0.0, 1.0], (len(ball), 1))
        u, v = ring_basis(turn_about_x(np.concatenate([normal, upright]), -phase_rad))
        others = Circles(
            turn_about_x(np.concatenate([at[order], ball]), -phase_rad),
            u,
            v,
            np.concatenate([layout.mean_radius_mm[rows], np.full(len(ball), _POINT_MM)]),
            np.concatenate([layout.wire_mm[rows] / 2, radius_mm]),
        )
        return Surroundings(self._own(ring, phase_rad), others)

    def _balls_around(self, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Find the balls of fittings near a ring, from its centre, and their radii. [mm]."""
        ball, radius_mm = self._bodies
        off = ball - centre
        near = np.linalg.norm(off, axis=1) <= self._search_mm + radius_mm
        return off[near], radius_mm[near]

    def ring_at(self, ring: int, offset_mm: FloatArray, normal: FloatArray) -> int | None:
        """Find the ring that stands and leans so beside a ring, or None if there is none."""
        layout = self._layout
        for angle, shift in self._copies:
            wanted = layout.centre_mm[ring] + offset_mm - shift
            wanted = turn_about_x(wanted, -angle)
            same_mm = tuning().same_mm
            low, high = np.searchsorted(self._x, [wanted[0] - same_mm, wanted[0] + same_mm])
            rows = self._ring[low:high]
            lean = turn_about_x(normal, -angle)
            off = np.abs(layout.centre_mm[rows] - wanted).max(axis=1)
            off = off + (1.0 - np.abs(layout.normal[rows] @ lean))
            off[rows == ring] = np.inf
            if off.size and off.min() <= tuning().same_mm:
                return int(rows[off.argmin()])
        return None

    def _own(self, ring: int, phase_rad: float) -> Circles:
        layout = self._layout
        u, v = ring_basis(turn_about_x(layout.normal[ring : ring + 1], -phase_rad))
        return Circles(
            np.zeros((1, 3)),
            u,
            v,
            layout.mean_radius_mm[ring : ring + 1],
            layout.wire_mm[ring : ring + 1] / 2,
        )
