"""From a piece as the user asks for it to a layout: sections, connecting rings, loose joins.

Lengths are taut, outer edge to outer edge, the clasp taken off. Sections lie end to end along x;
between two of them a connecting ring (of the earlier section's size, counted to it) goes through
the last rings of the one and the first rings of the other: those that miss most links at that end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.kinds import Form, StockKind
from chainplan.model.piece.layout import Layout, SectionLayout
from chainplan.weave.laying.assembly import join_sections
from chainplan.weave.laying.section import lay_section

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.job import Piece, Section, StockItem

    OnStep = Callable[[str, int, int], None]


def lay_piece(
    piece: Piece, *, stock: Sequence[StockItem] = (), on_step: OnStep | None = None
) -> Layout:
    """Lay out one copy of a piece.

    Parameters
    ----------
    piece : Piece
        With its sections, clasp length, rounding rule.
    stock : sequence of StockItem
        Finished rings at hand, suggested first where a ring does not suit its weave.
    on_step : callable, optional
        Told ``("weave", sections done, sections)``.

    Raises
    ------
    CannotBeWoven, NotConverged
        If a ring does not go into its weave.
    InputError
        If rows, lengths or sizes are missing or a loop is too short.
    """
    if all(section.weave == LOOSE_JOINS for section in piece.sections):
        return _lay_loose(piece)
    wanted = share_length_mm(piece)
    laid = []
    for number, section in enumerate(piece.sections):
        if section.weave == LOOSE_JOINS:
            message = f"piece {piece.name!r}: {LOOSE_JOINS} must be a piece of their own"
            raise InputError(message)
        at_hand = [
            item.inner_mm
            for item in stock
            if item.kind == StockKind.RINGS and abs(item.size_mm - section.wire_mm) < 0.005
        ]
        laid.append(
            lay_section(
                section,
                wanted_mm=wanted[number],
                rounding=piece.rounding,
                closed=piece.closed and len(piece.sections) == 1,
                stock_inner_mm=at_hand,
            )
        )
        if on_step is not None:
            on_step("weave", number + 1, len(piece.sections))
    return join_sections(piece, laid)


def share_length_mm(piece: Piece) -> list[float | None]:
    """Length that each section has to reach: the clasp is taken off all in proportion. [mm]."""
    lengths = [section.length_mm for section in piece.sections]
    total = sum(length for length in lengths if length is not None)
    if total and piece.clasp_length_mm >= total:
        message = (
            f"piece {piece.name!r}: the clasp is {piece.clasp_length_mm:g} mm long and the whole "
            f"piece {total:g} mm; the clasp must be shorter"
        )
        raise InputError(message)
    factor = 1 - piece.clasp_length_mm / total if total else 1.0
    return [None if length is None else length * factor for length in lengths]


def _lay_loose(piece: Piece) -> Layout:
    """Lay joins of no weave side by side: single rings, or the number a row gives."""
    described, sizes = [], []
    first, edge_mm = 0, 0.0
    for section in piece.sections:
        rings = section.rings or 1
        described.append(_describe_loose(section, first, rings))
        sizes.append((rings, section.wire_mm, section.inner_mm))
        first += rings
    count = np.array([rings for rings, _, _ in sizes])
    wire = np.repeat([wire for _, wire, _ in sizes], count).astype(float)
    inner = np.repeat([inner for _, _, inner in sizes], count).astype(float)
    # Side by side on the bench, one wire apart.
    outer = inner + 2 * wire
    x = edge_mm + np.cumsum(outer + wire) - wire - outer / 2
    order = np.arange(first, dtype=np.int32)
    none = np.zeros(first, dtype=np.int32)
    return Layout(
        piece=piece.name,
        centre_mm=np.column_stack([x, np.zeros(first), np.zeros(first)]),
        normal=np.tile([0.0, 0.0, 1.0], (first, 1)),
        mean_radius_mm=(inner + wire) / 2,
        wire_mm=wire,
        section=np.repeat(np.arange(len(sizes)), count).astype(np.int32),
        place=none,
        along=order,
        across=none,
        row=none,
        column=order,
        links=np.zeros((0, 2), dtype=np.int32),
        contacts=np.zeros((0, 2), dtype=np.int32),
        sections=tuple(described),
        length_mm=float(x[-1] + outer[-1] / 2),
    )


def _describe_loose(section: Section, first: int, rings: int) -> SectionLayout:
    """Describe single rings: no weave, no limits."""
    outer_mm = section.inner_mm + 2 * section.wire_mm
    step_mm = outer_mm + section.wire_mm
    length_mm = rings * step_mm - section.wire_mm
    return SectionLayout(
        weave=LOOSE_JOINS,
        form=Form.LOOSE,
        metal=section.metal,
        temper=section.temper,
        wire_mm=section.wire_mm,
        inner_mm=section.inner_mm,
        first_ring=first,
        rings=rings,
        joins=rings,
        links=0,
        repeats=rings,
        rows=1,
        length_mm=length_mm,
        shorter_mm=max(length_mm - step_mm, 0.0),
        longer_mm=length_mm + step_mm,
        wanted_mm=None,
        wanted_rings=section.rings,
        width_mm=outer_mm,
        thickness_mm=section.wire_mm,
        rings_per_cm=10 / step_mm,
        computed_rings_per_cm=10 / step_mm,
    )
