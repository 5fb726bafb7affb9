"""In which state every join is: what was told last about it counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.record import JOIN_STATE_KINDS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IndexArray
    from chainplan.model.workshop.record import KnownPiece, KnownPlan
    from chainplan.record.kept.store import Record

NOTHING, LATER, NOT_GOOD, DONE = 0, 1, 2, 3
"""States of a join: nothing told, left for later, to be welded again, done."""

STATE_OF_KIND = {
    "done": DONE, "later": LATER, "again": NOT_GOOD, "broken": NOT_GOOD, "opened": NOT_GOOD,
    "bad": NOT_GOOD,
}  # fmt: skip
if set(STATE_OF_KIND) != set(JOIN_STATE_KINDS):  # one list in the model, one meaning here
    raise RuntimeError(STATE_OF_KIND)


@dataclass(frozen=True)
class Places:
    """Numbers for all joins of all copies: copy by copy, ring by ring."""

    first: dict[str, int]
    pieces: dict[str, KnownPiece]
    total: int

    @classmethod
    def of(cls, pieces: Sequence[KnownPiece]) -> Places:
        """Give a number to every ring of every copy of some pieces."""
        first, total = {}, 0
        for piece in pieces:
            first[piece.name] = total
            total += piece.copies * piece.rings
        return cls(first, {piece.name: piece for piece in pieces}, total)

    def number(self, piece: str, copy: int, ring: int) -> int:
        """Give the number of one ring of one copy; -1 if there is no such ring."""
        known = self.pieces.get(piece)
        if known is None or not (1 <= copy <= known.copies and 1 <= ring <= known.rings):
            return -1
        return self.first[piece] + (copy - 1) * known.rings + ring - 1

    def rings(self, piece: KnownPiece, copy: int) -> slice:
        """Where the rings of one copy stand."""
        start = self.first[piece.name] + (copy - 1) * piece.rings
        return slice(start, start + piece.rings)


def last_of_each(place: IndexArray, at_s: np.ndarray) -> IndexArray:
    """Index of the last row of each place, by time and then by order."""
    order = np.lexsort((np.arange(len(place)), at_s, place))
    ends = np.ones(len(order), dtype=bool)
    ends[:-1] = place[order][1:] != place[order][:-1]
    last: IndexArray = order[ends]
    return last


def join_states(record: Record, plan: KnownPlan) -> tuple[Places, np.ndarray]:
    """State of every ring of every copy of a plan, from all events of the same work.

    Returns
    -------
    tuple of Places and array of shape (total,)
        Numbers for the rings, and the state of each: :data:`NOTHING` and so on.
    """
    places = Places.of(plan.pieces)
    state = np.zeros(places.total, dtype=np.int8)
    kinds = ", ".join("?" * len(STATE_OF_KIND))
    rows = record.rows(
        "SELECT e.piece, e.copy, e.ring, e.kind, e.at_s FROM event_now AS e JOIN plan AS p "
        f"ON p.key = e.plan WHERE p.root = ? AND e.kind IN ({kinds}) ORDER BY e.seq",
        (plan.root or plan.key, *STATE_OF_KIND),
    )
    if not rows:
        return places, state
    names, copies, rings, told, at_s = zip(*rows, strict=True)
    place = place_numbers(places, names, copies, rings)
    kind = np.array([STATE_OF_KIND[name] for name in told], dtype=np.int8)
    there = place >= 0
    place, kind, times = place[there], kind[there], np.array(at_s)[there]
    last = last_of_each(place, times)
    state[place[last]] = kind[last]
    return places, state


def place_numbers(
    places: Places, names: Sequence[str], copies: Sequence[int], rings: Sequence[int]
) -> IndexArray:
    """Numbers of many rings at once; -1 where the plan has no such ring."""
    known = {name: k for k, name in enumerate(places.pieces)}
    which = np.array([known.get(name, -1) for name in names], dtype=np.intp)
    first = np.array([*places.first.values(), 0], dtype=np.intp)
    of_piece = np.array([p.rings for p in places.pieces.values()] + [0], dtype=np.intp)
    most = np.array([p.copies for p in places.pieces.values()] + [0], dtype=np.intp)
    copy, ring = np.array(copies, dtype=np.intp), np.array(rings, dtype=np.intp)
    good = (which >= 0) & (copy <= most[which]) & (ring <= of_piece[which])
    number: IndexArray = np.where(
        good, first[which] + (copy - 1) * of_piece[which] + ring - 1, -1
    ).astype(np.intp)
    return number
