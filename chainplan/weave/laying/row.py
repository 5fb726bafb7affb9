"""How a section of no weave is described: rings in a row, or joins side by side on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from chainplan.model.job import LOOSE_JOINS
from chainplan.model.kinds import Form
from chainplan.model.piece.fittings import CONNECTING
from chainplan.model.piece.layout import SectionLayout
from chainplan.weave.laying.elements import RingRow

if TYPE_CHECKING:
    from chainplan.model.job import Section


def describe_row(row: RingRow, section: Section, first: int, links: int) -> SectionLayout:
    """Describe rings in a row: each is as long as it is inside, and the ends add two wires.

    ``links``: those between rings of the row.
    """
    own = _Unwoven(weave=CONNECTING, form=Form.CONNECTING, links=links, wanted_rings=row.rings)

    def length_mm(rings: int) -> float:
        return rings * row.inner_mm + 2 * row.wire_mm if rings > 0 else 0.0

    lengths_mm = (length_mm(row.rings - 1), length_mm(row.rings), length_mm(row.rings + 1))
    return _describe(own, row, section, first, step_mm=row.inner_mm, lengths_mm=lengths_mm)


def describe_loose(section: Section, first: int, rings: int) -> SectionLayout:
    """Describe single rings side by side, a wire apart: no weave, no limits."""
    own = _Unwoven(weave=LOOSE_JOINS, form=Form.LOOSE, links=0, wanted_rings=section.rings)
    row = RingRow(number=0, wire_mm=section.wire_mm, inner_mm=section.inner_mm, rings=rings)
    step_mm = row.inner_mm + 2 * row.wire_mm + row.wire_mm
    length_mm = rings * step_mm - row.wire_mm
    lengths_mm = (max(length_mm - step_mm, 0.0), length_mm, length_mm + step_mm)
    return _describe(own, row, section, first, step_mm=step_mm, lengths_mm=lengths_mm)


class _Unwoven(NamedTuple):
    """What tells one kind of rings of no weave from the other."""

    weave: str
    form: Form
    links: int
    wanted_rings: int | None


def _describe(
    own: _Unwoven,
    row: RingRow,
    section: Section,
    first: int,
    *,
    step_mm: float,
    lengths_mm: tuple[float, float, float],
) -> SectionLayout:
    """Describe rings of no weave; lengths with a ring less, as they are, with one more."""
    outer_mm = row.inner_mm + 2 * row.wire_mm
    linked = own.form is Form.CONNECTING and row.rings > 1
    return SectionLayout(
        **own._asdict(),
        metal=section.metal,
        temper=section.temper,
        wire_mm=row.wire_mm,
        inner_mm=row.inner_mm,
        first_ring=first,
        rings=row.rings,
        joins=row.rings,
        repeats=row.rings,
        rows=1,
        shorter_mm=lengths_mm[0],
        length_mm=lengths_mm[1],
        longer_mm=lengths_mm[2],
        wanted_mm=None,
        width_mm=outer_mm,
        thickness_mm=outer_mm if linked else row.wire_mm,
        rings_per_cm=10 / step_mm,
        computed_rings_per_cm=10 / step_mm,
    )
