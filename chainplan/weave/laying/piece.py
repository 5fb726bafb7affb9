"""From a piece as the user asks for it to a layout: sections, connecting rings, loose joins.

Lengths are taut, outer edge to outer edge, clasp, fittings and connecting rings taken off.
Sections lie end to end along x; where neither loose joins nor a fitting stand between two of them,
a connecting ring (of the earlier section's size, counted to it) goes through the last rings of the
one and the first rings of the other: those that miss most links at that end.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.model.job import LOOSE_JOINS, FittingStand, HeatSensitivePart
from chainplan.model.kinds import Form, Rounding, StockKind
from chainplan.model.piece.layout import Layout
from chainplan.weave.laying.elements import is_row
from chainplan.weave.laying.painting import paint_piece
from chainplan.weave.laying.row import describe_loose
from chainplan.weave.laying.section import fit_section, lay_section
from chainplan.weave.laying.together.assembly import join_sections

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from chainplan.model.job import Piece, StockItem

    OnStep = Callable[[str, int, int], None]


def lay_piece(
    piece: Piece,
    *,
    stock: Sequence[StockItem] = (),
    on_step: OnStep | None = None,
    judged: bool = True,
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
    judged : bool
        Whether each ring is judged; who wants counts alone gets them sooner without.

    Raises
    ------
    CannotBeWoven, NotConverged
        If a ring does not go into its weave.
    InputError
        If rows, lengths or sizes are missing or a loop is too short.
    """
    if all(section.weave == LOOSE_JOINS for section in piece.sections):
        return _lay_loose(piece)
    layout = _lay(piece, 0.0, stock, on_step, judged=judged)
    joints_mm = length_of_joints_mm(layout)
    if joints_mm > JOINTS_COUNT_MM and any(s.length_mm is not None for s in piece.sections):
        # What connecting rings and fittings add is known now; the sections give it back.
        layout = _lay(piece, joints_mm, stock, None, judged=judged)
    if any(section.graded for section in piece.sections):
        layout = _even_out(piece, joints_mm, stock, layout, judged=judged)
    return layout


def _even_out(
    piece: Piece, joints_mm: float, stock: Sequence[StockItem], layout: Layout, *, judged: bool
) -> Layout:
    """Let the middle step of a graduated stretch make up for what rounding each step leaves.

    So the whole is as near to the length asked for as one repeat allows, and a stretch that goes
    back stays the same from both ends.
    """
    steps = [k for k, section in enumerate(piece.sections) if section.graded]
    wanted = share_length_mm(piece, joints_mm)
    middle = layout.sections[steps[len(steps) // 2]]
    missing_mm = sum(
        length - layout.sections[k].length_mm
        for k, length in enumerate(wanted)
        if length is not None
    )
    pitch_mm = middle.longer_mm - middle.length_mm
    turn = {Rounding.AT_LEAST: math.ceil, Rounding.AT_MOST: math.floor}.get(piece.rounding, round)
    more = max(turn(round(missing_mm / pitch_mm, 6)), 1 - middle.repeats)
    if not more:
        return layout
    length_mm = middle.length_mm + more * pitch_mm
    instead = {steps[len(steps) // 2]: length_mm}
    return _lay(piece, joints_mm, stock, None, instead, judged=judged)


JOINTS_COUNT_MM = 1e-6
"""Shorter joints are rounding."""


def length_of_joints_mm(layout: Layout) -> float:
    """Return what connecting rings and fittings in line add to the woven sections. [mm]."""
    woven = [s.length_mm for s in layout.sections if s.form not in {Form.LOOSE, Form.CONNECTING}]
    return layout.length_mm - sum(woven)


def _lay(
    piece: Piece,
    joints_mm: float,
    stock: Sequence[StockItem],
    on_step: OnStep | None,
    instead: Mapping[int, float] | None = None,
    *,
    judged: bool,
) -> Layout:
    """Lay a piece whose connecting rings and fittings add so much to its sections.

    ``instead``: lengths of some sections, whatever their share would be. [mm]
    """
    wanted = share_length_mm(piece, joints_mm)
    for number, length_mm in (instead or {}).items():
        wanted[number] = length_mm
    own = sum(section.fitting is None for section in piece.sections)
    laid = {}
    for number, section in enumerate(piece.sections):
        if is_row(section):
            continue
        at_hand = [
            item.inner_mm
            for item in stock
            if item.kind == StockKind.RINGS and abs(item.size_mm - section.wire_mm) < 0.005
        ]
        laid[number] = lay_section(
            section,
            wanted_mm=wanted[number],
            rounding=Rounding.NEAREST if section.graded else piece.rounding,
            closed=piece.closed and own == 1,
            stock_inner_mm=at_hand,
            judged=judged,
        )
        if on_step is not None:
            on_step("weave", number + 1, len(piece.sections))
    return paint_piece(join_sections(piece, laid), piece)


def fit_piece(piece: Piece) -> float:
    """Find the length of a piece of one woven section, and all that is wrong with it. [mm].

    It takes a small part of the time of laying it out: no ring gets its place.

    Raises
    ------
    CannotBeWoven, NotConverged, InputError
        As :func:`lay_piece`.
    """
    (wanted_mm,) = share_length_mm(piece)
    (section,) = piece.sections
    fitted = fit_section(section, wanted_mm=wanted_mm, rounding=piece.rounding, closed=piece.closed)
    return fitted.length_mm


def share_length_mm(piece: Piece, joints_mm: float = 0.0) -> list[float | None]:
    """Length that each section has to reach. [mm].

    Clasp, connecting rings and fittings in line (``joints_mm``) are taken off all in proportion.
    """
    lengths = [section.length_mm for section in piece.sections]
    total = sum(length for length in lengths if length is not None)
    off_mm = piece.clasp_length_mm + joints_mm
    if total and off_mm >= total:
        said = f"clasp, fittings and connecting rings are {off_mm:.4g} mm long"
        if not joints_mm:
            said = f"the clasp is {off_mm:g} mm long"
        message = (
            f"piece {piece.name!r}: {said} and the whole piece {total:g} mm; they must be shorter"
        )
        raise InputError(message)
    factor = 1 - off_mm / total if total else 1.0
    return [None if length is None else length * factor for length in lengths]


def parts_of_fittings(piece: Piece, layout: Layout) -> tuple[HeatSensitivePart, ...]:
    """Make a heat-sensitive part of every fitting that is there while the piece is welded.

    It stands where the layout has put it, and touches the rings that go through its eyes.
    """
    found = []
    for laid in layout.fittings:
        fitting = piece.fittings[laid.index]
        if not fitting.warms or fitting.limit_c is None:
            continue
        low_mm, high_mm = sorted((laid.from_mm[0], laid.to_mm[0]))
        found.append(
            HeatSensitivePart(
                piece=piece.name,
                name=fitting.name,
                kind=fitting.heat_kind,
                limit_c=fitting.limit_c,
                conductivity_w_m_k=fitting.conductivity_w_m_k,
                place_mm=max(low_mm, 0.0),
                length_mm=high_mm - low_mm,
                source=fitting.source,
                stand=FittingStand(
                    rings=laid.rings,
                    from_mm=laid.from_mm,
                    to_mm=laid.to_mm,
                    of_metal=fitting.has_metal_eye,
                ),
            )
        )
    return tuple(found)


def _lay_loose(piece: Piece) -> Layout:
    """Lay joins of no weave side by side: single rings, or the number a row gives."""
    described, sizes = [], []
    first, edge_mm = 0, 0.0
    for section in piece.sections:
        rings = section.rings or 1
        described.append(describe_loose(section, first, rings))
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
