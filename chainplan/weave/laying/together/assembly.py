"""Elements put end to end: rings in the piece's frame, fittings, links, lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import Form
from chainplan.model.piece.fittings import Fitted
from chainplan.model.piece.layout import LaidFitting, Layout, Loop
from chainplan.weave.laying.elements import Woven, is_row, line_up, row_of_section
from chainplan.weave.laying.row import describe_row
from chainplan.weave.laying.tiling import Tiler, find_row_plan
from chainplan.weave.laying.together.blocks import Links, block_of_row, block_of_section, merge
from chainplan.weave.laying.together.clear import refuse_overlaps
from chainplan.weave.laying.together.connection import connect_ends
from chainplan.weave.laying.together.hanging import hang_fitting
from chainplan.weave.laying.together.placed import PlacedSection, choose_end
from chainplan.weave.laying.together.walk import HangPoint, Walk, roll_for_ahead_rad

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import FloatArray
    from chainplan.model.job import Piece
    from chainplan.model.piece.layout import SectionLayout
    from chainplan.weave.laying.section import LaidSection
    from chainplan.weave.laying.together.blocks import Block
    from chainplan.weave.laying.together.walk import LaidBody


def join_sections(piece: Piece, laid: Mapping[int, LaidSection]) -> Layout:
    """Put everything in line end to end, and hang on it what hangs.

    Parameters
    ----------
    piece : Piece
        With its fittings.
    laid : mapping of int to LaidSection
        The woven sections, by their number among the sections of the piece.
    """
    elements = line_up(piece, laid)
    begin = next(k for k, element in enumerate(elements) if isinstance(element, Woven))
    first = elements[begin]
    assert isinstance(first, Woven)
    placed = PlacedSection(first.laid)
    roll_rad = roll_for_ahead_rad(placed, elements[begin + 1 :])
    if roll_rad:
        placed.move(roll_rad, np.zeros(3))
    block = block_of_section(placed, first.number)
    links, used = Links(), dict[int, int]()
    gap_mm = min(part.repeat.residual_gap * part.section.wire_mm for part in laid.values())
    onward = Walk(last=True, links=links, used=used, gap_mm=gap_mm, blocks=[block])
    onward.sections[first.number] = placed
    onward.go(HangPoint(placed=placed, block=block), elements[begin + 1 :])
    back = Walk(last=False, links=links, used=used)
    back.go(HangPoint(placed=placed, block=block), elements[:begin][::-1])
    back.turn_round()
    blocks = [*back.blocks, *onward.blocks]
    total_mm = sum(part.length_mm(part.repeats) for part in laid.values())
    total_mm += onward.added_mm + back.added_mm
    own = sum(section.fitting is None for section in piece.sections)
    loop = _loop_of(first.laid) if piece.closed and own == 1 else None
    closing: Block | None = None
    if piece.closed and own > 1:
        closing, loop_shift, added_mm, gap = _close_round(onward, first, block, links)
        blocks.append(closing)
        total_mm += added_mm
        gap_mm = min(gap_mm, gap)
    bodies = [*back.bodies, *onward.bodies]
    meets = None if loop is None else (loop.shift_mm, loop.turn_rad)
    if closing is not None:
        meets = loop_shift[:2]
    span_mm = (-back.edge_mm, onward.edge_mm)
    for index, fitting in enumerate(piece.fittings):
        if fitting.spot is not None and not fitting.in_line:
            hung = hang_fitting(piece, index, blocks, links, span_mm, meets)
            bodies.append(hung.body)
            blocks += hung.blocks
    arrays = merge(blocks, links)
    refuse_overlaps(piece, blocks, links, arrays, closing)
    if closing is not None:
        loop = _finish_loop(loop_shift, closing)
    return Layout(
        piece=piece.name,
        **arrays,
        sections=_describe(piece, laid, blocks),
        fittings=tuple(
            _fitting(piece, body) for body in sorted(bodies, key=lambda body: body.index)
        ),
        closed=piece.closed,
        loop=loop,
        length_mm=total_mm,
        residual_gap_mm=min(gap_mm, onward.gap_mm, back.gap_mm),
    )


def _describe(
    piece: Piece, laid: Mapping[int, LaidSection], blocks: list[Block]
) -> tuple[SectionLayout, ...]:
    """Describe every section, woven or in a row, with the numbers that its rings have got."""
    described = []
    for number, section in enumerate(piece.sections):
        own = [block for block in blocks if block.section == number]
        first, rings = own[0].first, sum(block.rings for block in own)
        if is_row(section):
            tied = sum(len(block.links) for block in own)
            described.append(describe_row(row_of_section(section, number), section, first, tied))
        else:
            part = laid[number]
            described.append(part.describe(first, rings - part.tiling.rings))
    return tuple(described)


def _fitting(piece: Piece, body: LaidBody) -> LaidFitting:
    fitting = piece.fittings[body.index]
    return LaidFitting(
        index=body.index,
        name=fitting.name,
        in_line=fitting.in_line,
        before=fitting.fitted == Fitted.BEFORE,
        from_mm=tuple(body.from_mm.tolist()),
        to_mm=tuple(body.to_mm.tolist()),
        rings=tuple(sorted(block.number(ring) for block, ring in body.rings)),
    )


def _loop_of(laid: LaidSection) -> Loop:
    """How the last repeat of one closed section links to the first."""
    repeat, tiling = laid.repeat, laid.tiling
    tiler = Tiler(repeat, find_row_plan(laid.weave), laid.rows)
    straight = tiler.join_pairs(repeat.links, laid.repeats, closed=False).astype(np.int64)
    number = tiling.links.astype(np.int64) @ np.array([tiling.rings, 1])
    closing = tiling.links[~np.isin(number, straight @ np.array([tiling.rings, 1]))]
    from_end = np.argsort(-tiling.centre[closing, 0], axis=1, kind="stable")
    return Loop(
        shift_mm=laid.repeats * repeat.vectors[0] * laid.section.wire_mm,
        turn_rad=laid.repeats * repeat.turn_rad,
        links=np.take_along_axis(closing, from_end, axis=1),
    )


_Round = tuple["FloatArray", float, tuple["Block", "list[int]"]]
"""How the ends of a loop meet, before rings have numbers: shift, turn, rings of the start."""


def _close_round(
    walk: Walk, first: Woven, start: Block, links: Links
) -> tuple[Block, _Round, float, float]:
    """Make the ring that closes a loop of several sections, after the last of them.

    The piece is laid straight, so this ring hangs in the last section, and in the first one where
    the loop goes on.

    Returns
    -------
    Block, tuple, float, float
        The ring; how the ends meet: shift, turn and the rings of the start that it goes through;
        what it adds to the length and the gap that it leaves. [mm]
    """
    number, placed = max(walk.sections.items())
    block = next(one for one in walk.blocks if one.section == number)
    part, again = placed.laid, PlacedSection(first.laid)
    radius, wire = (part.section.inner_mm + part.section.wire_mm) / 2, part.section.wire_mm
    one, last_rings = choose_end(placed, last=True, radius=radius, wire=wire)
    two, first_rings = choose_end(again, last=False, radius=radius, wire=wire)
    found = connect_ends(one, two, may_roll=first.laid.weave.form == Form.CHAIN)
    again.move(found.roll_rad, found.shift)
    at = (part.repeats, part.rows // 2, int(part.tiling.column.max()) + 1)
    ring = block_of_row(number, wire, radius, [found.centre], [found.normal], at, alike=True)
    links.tie((ring, 0), [(block, int(end)) for end in last_rings])
    links.tie((ring, 0), [(start, int(end)) for end in first_rings])
    added_mm = again.edges_mm()[0] - placed.edges_mm()[1]
    meets = (found.shift, found.roll_rad, (start, first_rings.tolist()))
    return ring, meets, added_mm, found.gap


def _finish_loop(meets: _Round, closing: Block) -> Loop:
    """Say how the ends meet, once rings have their numbers."""
    shift, turn, (start, rings) = meets
    pairs = [(closing.first, start.number(ring)) for ring in rings]
    return Loop(shift_mm=shift, turn_rad=turn, links=np.array(pairs, dtype=np.int32))
