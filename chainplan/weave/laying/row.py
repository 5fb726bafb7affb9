"""How a section of no weave is described: rings in a row, or joins side by side on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.model.kinds import Form
from chainplan.model.piece.fittings import CONNECTING
from chainplan.model.piece.layout import SectionLayout

if TYPE_CHECKING:
    from chainplan.model.job import Section
    from chainplan.weave.laying.elements import RingRow


def describe_row(row: RingRow, section: Section, first: int, links: int) -> SectionLayout:
    """Describe rings in a row: each is as long as it is inside, and the ends add two wires.

    ``links``: those between rings of the row.
    """

    def length_mm(rings: int) -> float:
        return rings * row.inner_mm + 2 * row.wire_mm if rings > 0 else 0.0

    outer_mm = row.inner_mm + 2 * row.wire_mm
    return SectionLayout(
        weave=CONNECTING,
        form=Form.CONNECTING,
        metal=section.metal,
        temper=section.temper,
        wire_mm=row.wire_mm,
        inner_mm=row.inner_mm,
        first_ring=first,
        rings=row.rings,
        joins=row.rings,
        links=links,
        repeats=row.rings,
        rows=1,
        length_mm=length_mm(row.rings),
        shorter_mm=length_mm(row.rings - 1),
        longer_mm=length_mm(row.rings + 1),
        wanted_mm=None,
        wanted_rings=row.rings,
        width_mm=outer_mm,
        thickness_mm=outer_mm if row.rings > 1 else row.wire_mm,
        rings_per_cm=10 / row.inner_mm,
        computed_rings_per_cm=10 / row.inner_mm,
    )
