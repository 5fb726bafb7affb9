"""Rings welded shut before weaving: the three ways to plan a piece, compared.

Two linked rings cannot both be closed beforehand, so whatever is closed is an independent set of
the link graph. Joins that nothing reaches are always closed beforehand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError, JoinError, Refusal, unknown
from chainplan.frozen import frozen
from chainplan.join.independent import find_largest_set
from chainplan.model.kinds import Form, PreClosing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.model.job import FittingStand, HeatSensitivePart
    from chainplan.model.piece.layout import Layout


IN_PLACE, MANY, NEEDED = PreClosing
_MOST_NAMES = 5  # ring numbers in a message: what is taken in at a glance
_MOST_LISTED = 12  # in a list of single rings: what a line holds


@frozen
class Closing:
    """One way: which rings are closed beforehand."""

    way: str
    pre_closed: BoolArray  # (n,)
    largest_possible: int
    exact: bool
    note: str


def check_way(way: str) -> None:
    """Refuse a way that does not exist.

    Raises
    ------
    InputError
        With the nearest way there is.
    """
    if way not in list(PreClosing):
        raise InputError(unknown(way, PreClosing, what="closing way"))


def refuse_linked(
    layout: Layout, unreached: BoolArray, blocked_by: Mapping[int, tuple[int, ...]]
) -> None:
    """Refuse a piece in which two linked rings are both out of reach.

    Raises
    ------
    JoinError
        With the rings' numbers and what is in the way.
    """
    both = layout.links[unreached[layout.links].all(axis=1)]
    if not both.shape[0]:
        return
    names = []
    for first, second in both[:_MOST_NAMES].tolist():
        ways = dict.fromkeys((*blocked_by.get(first, ()), *blocked_by.get(second, ())))
        others = [str(ring + 1) for ring in ways if ring not in (first, second)]
        text = f"rings {first + 1} and {second + 1}"
        if others:
            text += f" (in the way: {', '.join(others[:_MOST_NAMES])})"
        names.append(text)
    more = both.shape[0] - len(names)
    listed = "; ".join(names) + (f"; and {more} more pairs" if more > 0 else "")
    found = (
        f"piece {layout.piece!r}: the electrode reaches the joins of neither of two linked rings, "
        f"and linked rings cannot both be closed beforehand: {listed}"
    )
    allowed = (
        "a slimmer or longer electrode, a smaller spot, less clearance or a larger ring may help"
    )
    raise JoinError(Refusal(found, allowed))


def rings_near_parts(
    layout: Layout, parts: Sequence[HeatSensitivePart], *, distance_mm: float
) -> BoolArray:
    """Mark the rings nearer than a distance to any heat-sensitive part, shape (n,).

    A part covers its length along the piece from its near end, over the whole width, or at one row
    if it names one; a fitting stands where the layout has put it. The distance counts from the
    wire's nearest edge.
    """
    near = np.zeros(layout.rings, dtype=bool)
    woven = np.array([section.form != Form.LOOSE for section in layout.sections])[layout.section]
    if not parts or not woven.any():
        return near
    reach = layout.mean_radius_mm + layout.wire_mm / 2
    x, y = layout.centre_mm[:, 0], layout.centre_mm[:, 1]
    start = float((x - reach)[woven].min())
    end = float((x + reach)[woven].max())
    for part in parts:
        if part.stand is not None:
            near |= woven & (distances_to_stand_mm(layout, part.stand) < distance_mm)
            continue
        first = end - part.place_mm - part.length_mm if part.from_end else start + part.place_mm
        last = first + part.length_mm
        gap = np.maximum(np.maximum(first - x, x - last), 0.0)
        if part.row is not None:
            in_row = woven & (layout.row == part.row - 1)
            if in_row.any():
                gap = np.hypot(gap, y - float(y[in_row].mean()))
        near |= woven & (gap - reach < distance_mm)
    return near


def distances_to_stand_mm(layout: Layout, stand: FittingStand) -> FloatArray:
    """Distance of every ring's wire from the line along which a fitting stands, shape (n,). [mm].

    Taken from the ring's centre less its outer radius: never more than the truth.
    """
    start = np.array(stand.from_mm)
    way = np.array(stand.to_mm) - start
    long = float(way @ way)
    share = np.clip((layout.centre_mm - start) @ way / long, 0.0, 1.0) if long > 0 else 0.0
    nearest = start + np.multiply.outer(share, way)
    away: FloatArray = np.linalg.norm(layout.centre_mm - nearest, axis=1)
    away -= layout.mean_radius_mm + layout.wire_mm / 2
    return np.maximum(away, 0.0)


def rings_in_fittings(layout: Layout) -> BoolArray:
    """Mark the rings that go through a fitting which is there while the piece is welded, (n,).

    Such a ring has to be open when the fitting is put in, so it is closed in place.
    """
    through = np.zeros(layout.rings, dtype=bool)
    for fitting in layout.fittings:
        if fitting.before:
            through[list(fitting.rings)] = True
    return through


def refuse_in_fittings(layout: Layout, unreached: BoolArray) -> None:
    """Refuse a piece in which nothing reaches a join that only can be welded in place.

    Raises
    ------
    JoinError
        With the numbers of the rings.
    """
    both = np.flatnonzero(unreached & rings_in_fittings(layout))
    if both.size:
        found = (
            f"piece {layout.piece!r}: the electrode does not reach the joins of rings that go "
            f"through a fitting, and these cannot be closed beforehand: {_list_rings(both)}"
        )
        allowed = "larger connecting rings, or a fitting that is put on after welding, may help"
        raise JoinError(Refusal(found, allowed))


def _list_rings(rings: IndexArray) -> str:
    """Write the numbers of some rings, as many as are taken in at a glance."""
    numbers = ", ".join(str(ring + 1) for ring in rings[:_MOST_LISTED].tolist())
    return f"{'ring' if len(rings) == 1 else 'rings'} {numbers}" + (
        " …" if len(rings) > _MOST_LISTED else ""
    )


def compare_ways(
    layout: Layout, unreached: BoolArray, near_parts: BoolArray, *, distance_mm: float
) -> dict[str, Closing]:
    """Work out which rings each of the three ways closes beforehand.

    Loose joins are never closed beforehand: they hang something onto a finished piece. Nor are
    rings that go through a fitting.
    """
    woven = np.array([section.form != Form.LOOSE for section in layout.sections])[layout.section]
    through = rings_in_fittings(layout)
    woven &= ~through
    count = layout.rings
    most = find_largest_set(count, layout.links, forced=unreached, allowed=woven)
    needed = find_largest_set(count, layout.links, forced=unreached, allowed=near_parts & woven)
    forced = int(np.count_nonzero(unreached))
    why = f"{forced} joins that nothing reaches" if forced else "nothing has to be"
    left = near_parts & ~needed.chosen
    near_note = f"rings that nothing reaches or nearer than {distance_mm:g} mm to a part"
    for which, why_open in (
        (left & ~through, "being linked to a closed one"),
        (left & through, "going through a fitting"),
    ):
        count_open = int(np.count_nonzero(which))
        if count_open:
            listed = _list_rings(np.flatnonzero(which))
            stays = "one stays" if count_open == 1 else "ones stay"
            near_note += f"; {count_open} near {stays} open, {why_open}: {listed}"
    proof = "proved largest" if most.exact else f"best found; at most {most.bound} are possible"
    return {
        way: Closing(
            way=way,
            pre_closed=chosen,
            largest_possible=most.bound,
            exact=most.exact,
            note=note,
        )
        for way, chosen, note in (
            (IN_PLACE, unreached, why),
            (MANY, most.chosen, proof),
            (NEEDED, needed.chosen, near_note),
        )
    }
