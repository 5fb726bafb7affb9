"""What a piece is made of from its start to its end: woven sections, rings in a row, fittings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.model.job import LOOSE_JOINS
from chainplan.model.piece.fittings import CONNECTING, Spot

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.job import Piece, Section
    from chainplan.weave.laying.section import LaidSection


@dataclass(frozen=True, slots=True)
class Woven:
    """A woven section."""

    number: int  # among the sections of the piece
    laid: LaidSection


@dataclass(frozen=True, slots=True)
class RingRow:
    """Rings in a row, one in the other: connecting rings of a fitting, or loose joins."""

    number: int  # among the sections of the piece
    wire_mm: float
    inner_mm: float
    rings: int

    @property
    def radius_mm(self) -> float:
        """Mean radius."""
        return (self.inner_mm + self.wire_mm) / 2


@dataclass(frozen=True, slots=True)
class Body:
    """A fitting itself."""

    index: int  # among the fittings of the piece
    length_mm: float


Element = Woven | RingRow | Body


def is_row(section: Section) -> bool:
    """Whether a section is rings in a row, of no weave."""
    return section.weave in {LOOSE_JOINS, CONNECTING}


def row_of_section(section: Section, number: int, rings: int | None = None) -> RingRow:
    """Take a section of no weave as a row, or so many rings of it."""
    count = (section.rings or 1) if rings is None else rings
    return RingRow(number, section.wire_mm, section.inner_mm, count)


def line_up(piece: Piece, laid: Mapping[int, LaidSection]) -> list[Element]:
    """List what lies in line from start to end.

    ``laid``: the woven sections by their number among the sections of the piece.
    """
    rows = {
        section.fitting: (number, section)
        for number, section in enumerate(piece.sections)
        if section.fitting is not None
    }

    def around(spot: Spot, after: int = 0) -> list[Element]:
        """Give the fitting at a place, with its connecting rings towards the chain."""
        for index, fitting in enumerate(piece.fittings):
            place = fitting.spot
            if place is None or place.spot != spot or (after and place.number != after):
                continue
            body = Body(index, fitting.length_mm)
            if index not in rows:
                return [body]
            number, section = rows[index]
            row = row_of_section(section, number, fitting.rings)
            if spot == Spot.BETWEEN:
                return [row, body, row]
            return [body, row] if spot == Spot.START else [row, body]
        return []

    own = [(n, section) for n, section in enumerate(piece.sections) if section.fitting is None]
    elements = around(Spot.START)
    for count, (number, section) in enumerate(own, 1):
        if number in laid:
            elements.append(Woven(number, laid[number]))
        else:
            elements.append(row_of_section(section, number))
        elements += around(Spot.BETWEEN, count)
    return elements + around(Spot.END)
