"""Where on the piece the pages place things: mm from the start, pairs and rings, axes of strips."""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.printed.pages import PAPER
from chainplan.examine.printed.wording import wording_of

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles


def begins_mm(piece: PieceFiles) -> float:
    """Where the piece begins along x: its first wire, or a fitting in line before it. [mm]."""
    lean = np.sqrt(np.maximum(1 - piece.normal[:, 0] ** 2, 0.0))
    begin = float((piece.centre_mm[:, 0] - piece.radius_mm * lean - piece.wire_mm / 2).min())
    for item in piece.record["fittings"]:
        if item["in_line"]:
            begin = min(begin, item["from_mm"][0], item["to_mm"][0])
    return begin


def places_mm(piece: PieceFiles) -> FloatArray:
    """How far each join is from where the piece begins, on the wire's surface. [mm]."""
    begin = begins_mm(piece)
    place: FloatArray = piece.join_mm[:, 0] + piece.approach[:, 0] * piece.wire_mm / 2 - begin
    return place


class Units:
    """Which rings a pair, three or four is: neighbours that go through just the same rings.

    ``at_mm``: how far each join is from where the piece begins, shape (n,). [mm]
    """

    def __init__(self, piece: PieceFiles) -> None:
        tied = piece.links["how"] != "touch"
        one, other = piece.links["ring"][tied] - 1, piece.links["other"][tied] - 1
        ends, through = np.concatenate([one, other]), np.concatenate([other, one]) + 1.0
        seen = np.stack([np.bincount(ends, through**k, piece.count) for k in range(3)])
        twin = (seen[:, 1:] == seen[:, :-1]).all(axis=0) & (seen[0, 1:] > 0)
        self.number = np.concatenate([[1], 1 + np.cumsum(~twin)])
        self.at_mm = places_mm(piece)

    def check(self, number: int, ring: int, place: str, teller: Teller) -> None:
        """See whether a ring, from 1, belongs to a unit of this number."""
        known = int(self.number[ring - 1]) if 1 <= ring <= len(self.number) else 0
        teller.same(PAPER, f"{place}, number of ring {ring}", number, known)

    def rings(self, word: str, number: int) -> list[int]:
        """Rings of a unit by its number, from 0."""
        if word == "ring":
            return [number - 1]
        first, end = np.searchsorted(self.number, [number, number + 1])
        return [*range(first, end)]


_ROUND_MM = tuple(digit * 10**power for power in range(5) for digit in (1, 2, 5))
_ENOUGH = 20
"""Numbers of an axis that tell its step: of few, four in five may be tens by chance."""


def check_axes(
    piece: PieceFiles, items: list[dict[str, Any]], part: list[str], units: Units, teller: Teller
) -> None:
    """Compare the axes under the strips: round mm that grow, and places where a pass goes on."""
    place = f"{piece.name}, pass {items[0]['number']}, axis" if items else piece.name
    w = wording_of(piece)
    axis = w.pattern["axis"].pattern
    at_mm = units.at_mm
    rows = [slice(item["first_step"], item["first_step"] + item["joins"]) for item in items]
    mine = set(itertools.chain.from_iterable(piece.welded[own].tolist() for own in rows))
    plain: list[int] = []
    for line in part:
        if "mm" not in line or not re.fullmatch(rf"{axis}(?: {axis})*", line):
            continue
        places: list[float] = []
        marks = re.findall(axis, line)
        word = next((w.units[mark[0]] for mark in marks if mark[0]), "ring")  # going back: last
        for named, number, form, measured in marks:
            word = w.units.get(named, word)
            if form == " mm":
                plain.append(int(number))
                places.append(float(number))
            elif measured:
                named_rings = mine if word == "column" else units.rings(word, int(number))
                rings = [ring for ring in named_rings if ring in mine]
                good = any(abs(int(measured) - at_mm[ring]) < 0.6 for ring in rings)
                found = f"{word} {number} at {measured} mm"
                teller.true(PAPER, place, good, found, "where it is, in this pass")
                places.append(float(measured))
        grows = all(a <= b + 1 for a, b in itertools.pairwise(places))
        teller.true(PAPER, place, grows, line, "mm that grow")
    # Numbers stand where there is room: only many of them tell how the axis is counted.
    steps = {2, 5}
    if len(plain) >= _ENOUGH:
        most = max(mm for mm in _ROUND_MM if sum(at % mm == 0 for at in plain) > 0.95 * len(plain))
        steps = {most}
    elif len(plain) > 1 and np.ptp(plain) + 1 == len(set(plain)):
        steps = {1}  # of a few mm each stands there
    odd = [at for at in plain if all(at % mm for mm in steps)]
    teller.true(PAPER, place, not odd, f"{odd[:3]} mm", f"steps of {max(steps)} mm")
