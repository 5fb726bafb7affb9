"""What a piece looks like, small, for the customer's page: a stretch of each kind of section."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.png import page_pngs
from chainplan.report.paper.sheet import Picture, Sheet
from chainplan.report.wire.arcs import FRONT, wire_layers
from chainplan.report.wire.looks import wire_drawing
from chainplan.report.wire.metal_picture import rings_in_metals
from chainplan.report.wire.weave_picture import LEANING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IndexArray
    from chainplan.model.piece.layout import Layout, SectionLayout

WIDE_MM, HIGH_MM = 44.0, 15.0
"""Size of a picture: beside three lines of text, wide enough to show how the pattern repeats."""

LEAST_WIRE_MM = 0.7
"""Wire as it is drawn, at least: thinner, the rings of a large sheet run together to a grey."""

MOST_RING_MM = 9.0
"""Outside of a ring as it is drawn, at most: larger, a fine chain would look like a coarse one."""

AIR_MM = 1.0
"""Between the picture and the lines of its row."""

_EMU_A_MM = 36_000
"""The file format's unit of length: 914,400 an inch."""

DOTS_AN_INCH = 150
"""Sharp enough in print at this size: 44 mm are then 260 dots and some 20 kilobytes."""

SEGMENTS = 48
"""Straight pieces that a ring is drawn with: half a dot off a circle of 9 mm at most."""

LAYERS_A_WIRE = 5
"""Steps of depth in the thickness of a wire; with fewer, wires that cross steeply cut notches."""

MOST_SECTIONS = 3
"""Kinds of sections side by side: narrower than 14 mm nothing is seen of a pattern."""


def draw_pieces(layouts: Sequence[Layout]) -> list[bytes | None]:
    """Draw pieces, each as the bytes of a PNG file; None for one that has no rings to be seen.

    Sections that look alike are shown once; all that are shown of a piece are at one scale.
    """
    sheets = [_draw(layout, f"piece{number}") for number, layout in enumerate(layouts)]
    drawn = [sheet for sheet in sheets if sheet is not None]
    pictures = page_pngs(write_pdf(drawn, title="pieces"), DOTS_AN_INCH) if drawn else iter(())
    return [None if sheet is None else next(pictures) for sheet in sheets]


def _draw(layout: Layout, key: str) -> Sheet | None:
    kinds: dict[tuple[object, ...], int] = {}
    for number, section in enumerate(layout.sections):
        if section.form not in ("loose", "connecting") and section.rings:
            kind = (section.weave, section.metal, section.design, section.wire_mm, section.inner_mm)
            kinds.setdefault(kind, number)
    shown = list(kinds.values())[:MOST_SECTIONS]
    if not shown:
        return None
    scale = min(_scale(layout.sections[number]) for number in shown)
    sheet = Sheet(width_mm=WIDE_MM, height_mm=HIGH_MM, title=layout.piece)
    wide_mm = WIDE_MM / len(shown)
    for place, number in enumerate(shown):
        own = _stretch(layout, number, scale, f"{key}-{number}", (place * wide_mm, wide_mm))
        sheet.pictures.append(own)
    return sheet


def _scale(section: SectionLayout) -> float:
    """Choose mm of the picture a mm of the piece: all of its width, if its wire is seen then."""
    whole = HIGH_MM / max(section.width_mm, section.inner_mm + 2 * section.wire_mm)
    largest = MOST_RING_MM / (section.inner_mm + 2 * section.wire_mm)
    return max(min(whole, largest), LEAST_WIRE_MM / section.wire_mm)


def _stretch(
    layout: Layout, number: int, scale: float, key: str, room_mm: tuple[float, float]
) -> Picture:
    """Show a section from its start, as far as the picture reaches."""
    (left_mm, wide_mm), section = room_mm, layout.sections[number]
    view = FRONT if section.form == "sheet" else LEANING
    own: IndexArray = np.flatnonzero(layout.section == number)
    rings, looks = rings_in_metals(layout)
    seen = view.project(rings.centre_mm[own])
    reach = rings.mean_radius_mm[own] + rings.wire_mm[own]
    left = float((seen[:, 0] - reach).min())
    width = min(wide_mm / scale, float((seen[:, 0] + reach).max()) - left)
    lower, upper = float((seen[:, 1] - reach).min()), float((seen[:, 1] + reach).max())
    middle, half = (lower + upper) / 2, min(upper - lower, HIGH_MM / scale) / 2
    inside = (
        (seen[:, 0] - reach < left + width)
        & (seen[:, 1] + reach > middle - half)
        & (seen[:, 1] - reach < middle + half)
    )
    chosen = rings.take(own[inside])
    finest_mm = float(chosen.wire_mm.min()) / LAYERS_A_WIRE
    layers = wire_layers(chosen, view, segments=SEGMENTS, layer_mm=finest_mm)
    return Picture(
        drawing=wire_drawing(key, layers, looks=looks),
        left_mm=left_mm + (wide_mm - width * scale) / 2,
        top_mm=HIGH_MM / 2 - half * scale,
        scale=scale,
        window_mm=(left, middle - half, left + width, middle + half),
    )


def workbook_image(png: bytes, *, row: int, column: int) -> Any:
    """Make a picture for a cell from the bytes of its file: at its size, a little off the edge."""
    from openpyxl.drawing.image import Image
    from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, OneCellAnchor
    from openpyxl.drawing.xdr import XDRPositiveSize2D

    image = Image(BytesIO(png))
    air = round(AIR_MM * _EMU_A_MM)
    image.anchor = OneCellAnchor(
        _from=AnchorMarker(col=column - 1, row=row - 1, colOff=2 * air, rowOff=air),
        ext=XDRPositiveSize2D(round(WIDE_MM * _EMU_A_MM), round(HIGH_MM * _EMU_A_MM)),
    )
    return image
