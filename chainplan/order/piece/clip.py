"""Where the clip of the return lead sits, and which joins are welded from each of its places.

From each place the clip reaches the joins within a distance of it, and within so many contacts from
ring to ring if that is asked for; farther on the current would cross too many of them. Joins are
shared out to places so that they stay together as a person counts them: stretches of a line, cells
of rows and columns. Rings that hang in no weave have no ring beside them to clip on: the clip goes
onto the ring itself.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from chainplan.order.piece.contacts import Contacts

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.bench.groups import LeadSettings
    from chainplan.model.piece.layout import Layout
    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.piece.work import HandWork


_EVENED = 12
"""Halvings after which stretches of a line are even to within a unit or so (judgement)."""


_TRIED_FIRST = 2
"""Bands of columns whose cells are looked at before all others: what is too large for the clip
anywhere in a sheet is nearly always so in the first of them too (judgement)."""
_MOST_PRICED = 1000
"""Joins up to which prices are looked for: a fifth of a second there (judgement)."""
_ROUNDING_MM = 1e-6
"""A clip at just its reach still reaches; and far above rounding in sums of prices."""


class ClipPlaces(NamedTuple):
    """Rings that the clip may sit on, where they lie, and what it reaches from each."""

    ring: IntArray
    tree: cKDTree
    near: Contacts

    def nearest(self, place_mm: FloatArray) -> IntArray:
        """Return the ring nearest to each of some places."""
        return np.asarray(self.ring[self.tree.query(place_mm)[1]], dtype=np.int32)

    def clip_for(self, place_mm: FloatArray) -> tuple[int, FloatArray]:
        """Ring nearest to the middle of some joins, and how far each of them lies off. [mm]."""
        middle = (place_mm.min(axis=0) + place_mm.max(axis=0)) / 2
        near = int(self.tree.query(middle)[1])
        away = place_mm - self.tree.data[near]
        return int(self.ring[near]), np.hypot(away[:, 0], away[:, 1])

    def clips_of(self, cell: IntArray, place_mm: FloatArray, mine: IntArray) -> IntArray | None:
        """Clip of each cell, the ring nearest to its middle; None if one reaches not all joins."""
        order = np.argsort(cell, kind="stable")
        first = np.flatnonzero(np.diff(cell[order], prepend=-1))
        low = np.minimum.reduceat(place_mm[order], first, axis=0)
        high = np.maximum.reduceat(place_mm[order], first, axis=0)
        middle = self.tree.query((low + high) / 2)[1]
        away = place_mm - self.tree.data[middle[cell]]
        if (np.hypot(away[:, 0], away[:, 1]) > self.near.mm).any():
            return None
        clips = np.asarray(self.ring[middle], dtype=np.int32)
        if self.near.most:
            ends = np.append(first[1:], order.shape[0])
            for clip, begin, end in zip(clips.tolist(), first.tolist(), ends.tolist(), strict=True):
                if not self.near.few(clip, mine[order[begin:end]]).all():
                    return None
        return clips


def place_clip(layout: Layout, grid: JoinGrid, work: HandWork, lead: LeadSettings) -> HandWork:
    """Share the joins out to places of the clip, as few as such stretches allow.

    Parameters
    ----------
    layout, grid, work
        The piece, and how a person counts along it.
    lead : LeadSettings
        How far the clip reaches, and what moving it takes.

    Returns
    -------
    HandWork
        The same joins, each with its place.
    """
    from scipy.spatial import cKDTree

    near = Contacts.of(layout, lead)
    loose = loose_joins(layout, work)
    woven = np.flatnonzero(~loose).astype(np.int32)
    clip = np.zeros(work.joins, dtype=np.int32)
    rings = [work.ring[loose]]
    clip[loose] = np.arange(int(loose.sum()))
    if woven.size:
        hangs = np.flatnonzero(~_loose_rings(layout)).astype(np.int32)
        tree = cKDTree(layout.centre_mm[hangs, :2])
        share = _share_sheet if grid.sheet else _share_line
        number, ring = share(grid, work, woven, ClipPlaces(hangs, tree, near))
        number, ring = _own_where_out(work, woven, number, ring, near)
        clip[woven] = number + rings[0].shape[0]
        rings.append(ring)
    least, used = least_places(layout, work, near.furthest_mm), sum(map(len, rings))
    if least < used and work.joins <= _MOST_PRICED:
        least = max(least, least_by_prices(layout, work, near))
    return replace(
        work,
        clip=clip,
        clip_ring=np.concatenate(rings).astype(np.int32),
        clip_s=lead.clip_move_s,
        least_places=least,
    )


def _own_where_out(
    work: HandWork, woven: IntArray, number: IntArray, ring: IntArray, near: Contacts
) -> tuple[IntArray, IntArray]:
    """Put the clip onto a join's own ring where that of its place is too many contacts off."""
    if near.most == 0:
        return number, ring
    mine = work.ring[woven]
    out = np.zeros(mine.shape[0], dtype=bool)
    for place in range(ring.shape[0]):
        at = np.flatnonzero(number == place)
        out[at] = ~near.few(int(ring[place]), mine[at])
    if not out.any():
        return number, ring
    number = number.copy()
    number[out] = ring.shape[0] + np.arange(int(out.sum()))
    used, again = np.unique(number, return_inverse=True)
    clips = np.concatenate([ring, mine[out]])[used]
    return again.ravel().astype(np.int32), clips.astype(np.int32)


def _loose_rings(layout: Layout) -> BoolArray:
    forms = np.asarray([section.form == "loose" for section in layout.sections])
    return np.asarray(forms[layout.section])


def loose_joins(layout: Layout, work: HandWork) -> BoolArray:
    """Tell which joins are of rings that hang in no weave, (m,)."""
    return np.asarray(_loose_rings(layout)[work.ring])


def least_places(layout: Layout, work: HandWork, reach_mm: float) -> int:
    """Places that the clip needs however they are chosen.

    From one place it reaches no farther than ``reach_mm`` to either side along each axis, or a ring
    of its own. So few stretches of twice that cover all joins no more cheaply than from left to
    right, each begun at the first join not yet covered. Loose rings need a place each.
    """
    loose = loose_joins(layout, work)
    count = int(loose.sum())
    wide_mm = 2 * max(reach_mm, float((layout.mean_radius_mm + layout.wire_mm).max()))
    if not loose.all():
        place = work.place_mm[~loose]
        count += max(_cover(np.sort(place[:, axis]), wide_mm) for axis in (0, 1))
    return max(count, 1)


def least_by_prices(layout: Layout, work: HandWork, near: Contacts) -> int:
    """Places that the clip needs, from prices of the joins that no place of it can exceed.

    Let joins have prices so that those within reach of one ring never cost more than 1 together.
    Then a place of the clip covers joins worth 1 at most, so as many places are needed as all cost
    together. The best prices solve a linear programme; whatever the solver returns is scaled so
    that the dearest place costs 1, so the answer does not rest on it.
    """
    from scipy.optimize import linprog
    from scipy.sparse import csr_array

    rings = np.flatnonzero(~_loose_rings(layout)).astype(np.int32)
    loose = loose_joins(layout, work)
    rows = [(work.ring == ring) for ring in work.ring[loose]]
    for ring in rings.tolist():
        away = work.place_mm - layout.centre_mm[ring, :2]
        within = (np.hypot(away[:, 0], away[:, 1]) <= near.mm + _ROUNDING_MM) & ~loose
        within &= near.few(ring, work.ring)
        rows.append(within | (work.ring == ring))
    reached = csr_array(np.unique(np.asarray(rows), axis=0).astype(float))
    ones = np.ones(reached.shape[0])
    found = linprog(-np.ones(work.joins), A_ub=reached, b_ub=ones, method="highs")
    if found.x is None:
        return 1
    price = np.maximum(found.x, 0.0)
    dearest = max(float((reached @ price).max()), 1.0)
    return max(1, int(np.ceil(float(price.sum()) / dearest - _ROUNDING_MM)))


def _cover(ordered_mm: FloatArray, wide_mm: float) -> int:
    """Fewest stretches so wide that cover all of some ordered places."""
    count, first = 0, 0
    while first < ordered_mm.shape[0]:
        first = int(np.searchsorted(ordered_mm, ordered_mm[first] + wide_mm, side="right"))
        count += 1
    return count


def _share_line(
    grid: JoinGrid,
    work: HandWork,
    woven: IntArray,
    places: ClipPlaces,
) -> tuple[IntArray, IntArray]:
    """Cut a line into stretches of units, evened out as far as that needs no more of them."""
    order = np.lexsort((grid.member[woven], grid.column[woven]))
    place, unit = work.place_mm[woven[order]], grid.column[woven[order]]
    near = places.near
    mine, reach_mm = work.ring[woven[order]], near.furthest_mm
    bounds = np.append(np.flatnonzero(np.diff(unit, prepend=-1)), unit.shape[0])
    furthest = np.maximum.accumulate(np.maximum.reduceat(place[:, 0], bounds[:-1]))

    def cut(wide_mm: float) -> tuple[list[int], list[int]]:
        ends, rings, first = [], [], 0
        while first < bounds.shape[0] - 1:
            start = place[bounds[first] : bounds[first + 1], 0].min()
            last = int(np.searchsorted(furthest, start + wide_mm, side="right"))
            last = max(last, first + 1)
            while True:
                inside = place[bounds[first] : bounds[last]]
                ring, away = places.clip_for(inside)
                here = mine[bounds[first] : bounds[last]]
                if last == first + 1 or near.reaches(ring, here, away):
                    break
                last = max(first + 1, last - max(1, (last - first) // 16))
            ends.append(int(bounds[last]))
            rings.append(ring)
            first = last
        return ends, rings

    ends, rings = cut(2 * reach_mm)
    low, high = float(np.ptp(place[:, 0])) / (len(ends) + 1), 2 * reach_mm
    for _ in range(_EVENED if len(ends) > 1 else 0):
        middle = (low + high) / 2
        tried = cut(middle)
        if len(tried[0]) <= len(ends):
            (ends, rings), high = tried, middle
        else:
            low = middle
    number = np.empty(order.shape[0], dtype=np.int32)
    number[order] = np.searchsorted(np.asarray(ends), np.arange(order.shape[0]), side="right")
    return number, np.asarray(rings, dtype=np.int32)


def _share_sheet(
    grid: JoinGrid,
    work: HandWork,
    woven: IntArray,
    places: ClipPlaces,
) -> tuple[IntArray, IntArray]:
    """Cut a sheet into cells of rows and columns, as few as reach allows, numbered in a snake."""
    place, mine, reach_mm = work.place_mm[woven], work.ring[woven], places.near.furthest_mm
    row = grid.row[woven] - grid.row[woven].min()
    column = grid.column[woven] * grid.spans[woven]  # so that a column lies in one place
    column = column - column.min()
    rows, columns = int(row.max()) + 1, int(column.max()) + 1
    wide_mm, high_mm = float(np.ptp(place[:, 0])), float(np.ptp(place[:, 1]))
    there = np.zeros((rows, columns), dtype=bool)
    there[row, column] = True
    found: list[tuple[IntArray, IntArray]] = []
    fewest = woven.shape[0] + 1
    least = max(1, int(high_mm / (2 * reach_mm)))
    for across in range(min(least, rows), min(2 * least + 1, rows) + 1):
        half_mm = min(high_mm / across / 2, reach_mm)
        along = int(wide_mm / (2 * np.sqrt(max(reach_mm**2 - half_mm**2, 1e-9))))
        high = -(-rows // across)
        for more in range(min(max(along, 1), columns), columns + 1):
            wide = -(-columns // more)
            if _count_cells(there, high, wide) >= fewest:
                break  # more columns of cells are no fewer
            some = np.flatnonzero(column < _TRIED_FIRST * wide)
            cell = _number_cells(row[some], column[some], high, wide, across)
            if places.clips_of(cell, place[some], mine[some]) is None:
                continue
            cell = _number_cells(row, column, high, wide, across)
            clips = places.clips_of(cell, place, mine)
            if clips is not None:
                found.append((cell, clips))
                fewest = clips.shape[0]
                break
    if not found:  # even neighbours are out of reach: every ring under its own clip
        every = np.arange(woven.shape[0], dtype=np.int32)
        nearest = mine if places.near.most else places.nearest(place)
        return every, np.asarray(nearest, dtype=np.int32)
    return found[-1]


def _count_cells(there: BoolArray, high: int, wide: int) -> int:
    """Count the cells of so many rows and columns that hold a join, of (rows, columns)."""
    rows, columns = (
        np.arange(0, size, step) for size, step in zip(there.shape, (high, wide), strict=True)
    )
    bands = np.logical_or.reduceat(np.logical_or.reduceat(there, rows, axis=0), columns, axis=1)
    return int(np.count_nonzero(bands))


def _number_cells(row: IntArray, column: IntArray, high: int, wide: int, across: int) -> IntArray:
    """Give each join the number of its cell, up one band of columns and down the next."""
    band, level = column // wide, row // high
    level = np.where(band % 2 == 1, across - 1 - level, level)
    cell: IntArray = np.unique(band * across + level, return_inverse=True)[1].astype(np.int32)
    return cell.ravel()
