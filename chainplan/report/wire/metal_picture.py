"""Shaded pictures of pieces of several metals: every ring in the look of its own metal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.reference.colours import colour_of_metal
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import Picture, Sheet
from chainplan.report.wire.arcs import FRONT, extent_mm, rings_of_layout, wire_layers
from chainplan.report.wire.looks import LIGHT_FROM, look_of_colour, look_of_metal, wire_drawing
from chainplan.report.wire.weave_picture import LEANING, MOST_RINGS, PICTURE_MM, write_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from chainplan.model.piece.layout import Layout
    from chainplan.report.wire.arcs import Rings
    from chainplan.report.wire.looks import Look

SWATCH_MM, SWATCH_WIRE_MM = 11.0, 2.0
"""Length and thickness of the wire in a legend: some bands of every pattern fit on it."""
LEGEND_LINE_MM, LEGEND_PT = 5.0, 8.0
SEGMENTS = 36
"""Straight pieces of a ring: half a tenth of a millimetre off a circle of 9 mm at most."""


def metals_shown(layout: Layout) -> tuple[str, ...]:
    """Keys of the metals of a piece, that of most rings first: in this order they are marked."""
    rings: dict[str, int] = {}
    for item in layout.materials:
        rings[item.metal] = rings.get(item.metal, 0) + item.rings
    return tuple(sorted(rings, key=lambda metal: -rings[metal]))


def rings_in_metals(layout: Layout) -> tuple[Rings, tuple[Look, ...]]:
    """Take the rings of a piece with the look of each one's metal, for :func:`wire_layers`.

    Of a piece of one metal the look is that of its metal; of several, each has its own display
    colour, so that two golds differ, and all but the first a pattern, which is seen in grey too.
    """
    metals = metals_shown(layout)
    if len(metals) == 1:
        return rings_of_layout(layout), (look_of_metal(metals[0]),)
    number = np.array([metals.index(item.metal) for item in layout.materials])
    return rings_of_layout(layout, look=number[layout.material]), looks_of_metals(metals)


def looks_of_metals(metals: Sequence[str]) -> tuple[Look, ...]:
    """Give the looks of the metals of a piece that has several."""
    return tuple(look_of_colour(colour_of_metal(metal), k) for k, metal in enumerate(metals))


def draw_legend(
    sheet: Sheet, layout: Layout, names: Mapping[str, str], *, left_mm: float, top_mm: float,
    width_mm: float,
) -> float:  # fmt: skip
    """Say beside a picture which wire is of which metal; return the lower edge. [mm].

    Nothing is drawn of a piece of one metal. ``names`` has the words for each metal's key.
    """
    metals = metals_shown(layout)
    if len(metals) == 1:
        return top_mm
    x, y = left_mm, top_mm
    for metal, look in zip(metals, looks_of_metals(metals), strict=True):
        needs = SWATCH_MM + 1.5 + text_width_mm(names[metal], LEGEND_PT)
        if x > left_mm and x + needs > left_mm + width_mm:
            x, y = left_mm, y + LEGEND_LINE_MM
        draw_swatch(sheet, look, left_mm=x, middle_mm=y + LEGEND_LINE_MM / 2)
        sheet.write(x + SWATCH_MM + 1.5, y + LEGEND_LINE_MM / 2 + 1.0, names[metal], LEGEND_PT)
        x += needs + 5.0
    return y + LEGEND_LINE_MM


def draw_swatch(sheet: Sheet, look: Look, *, left_mm: float, middle_mm: float) -> None:
    """Draw a straight piece of wire in a look."""
    for stroke in look:
        y = middle_mm - LIGHT_FROM[1] * stroke.shift * SWATCH_WIRE_MM
        sheet.line(
            [(left_mm, y), (left_mm + SWATCH_MM, y)], width_mm=stroke.width * SWATCH_WIRE_MM,
            colour=stroke.colour, dash_mm=tuple(part * SWATCH_WIRE_MM for part in stroke.dash),
        )  # fmt: skip


def write_design_picture(layout: Layout, target: Path, names: Mapping[str, str]) -> list[Path]:
    """Write a shaded picture of a piece as PNG and SVG beside each other; return the files.

    A piece of more rings than can be drawn, or of loose joins, has none.
    """
    rings_mm = PICTURE_MM
    sheet = Sheet(width_mm=rings_mm, height_mm=rings_mm, title=layout.piece)
    edge = 3.0
    shown = design_picture(
        layout, "piece", left_mm=edge, top_mm=edge, wide_mm=rings_mm - 2 * edge,
        high_mm=rings_mm - 2 * edge,
    )  # fmt: skip
    if shown is None:
        return []
    sheet.pictures.append(shown[0])
    sheet.width_mm = shown[0].width_mm + 2 * edge
    low = edge + shown[0].height_mm + 2.0
    wide = shown[0].width_mm
    low = draw_legend(sheet, layout, names, left_mm=edge, top_mm=low, width_mm=wide)
    sheet.height_mm = low + edge
    return write_sheet(sheet, target)


def design_picture(
    layout: Layout,
    key: str,
    *,
    left_mm: float,
    top_mm: float,
    wide_mm: float,
    high_mm: float,
) -> tuple[Picture, int] | None:
    """Draw a piece shaded in its metals within some room, at its true size or smaller.

    Parameters
    ----------
    layout : Layout
        The piece.
    key : str
        Name of the drawing, unique within a document.
    left_mm, top_mm, wide_mm, high_mm : float
        Room on the sheet. [mm]

    Returns
    -------
    Picture and int, or None
        The picture, and how many rings from the start it shows; None for loose joins.
    """
    if all(section.form == "loose" for section in layout.sections):
        return None
    rings, looks = rings_in_metals(layout)
    view = FRONT if layout.sections[0].rows > 1 else LEANING
    if rings.count > MOST_RINGS and layout.sections[0].rows == 1:
        rings = rings.take(slice(MOST_RINGS))
    extent = extent_mm(rings, view)
    scale = min(1.0, wide_mm / (extent[2] - extent[0]), high_mm / (extent[3] - extent[1]))
    if rings.count > 4 * MOST_RINGS:
        return None
    finest = float(rings.wire_mm.min()) / 4
    layers = wire_layers(rings, view, segments=SEGMENTS, layer_mm=finest)
    drawing = wire_drawing(key, layers, looks=looks)
    picture = Picture(
        drawing=drawing, left_mm=left_mm, top_mm=top_mm, scale=scale, window_mm=extent
    )
    return picture, rings.count
