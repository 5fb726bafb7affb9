"""Shaded pictures of pieces of several metals: every ring in the look of its own metal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.reference.colours import colour_of_metal
from chainplan.report.paper.sheet import Picture, Sheet
from chainplan.report.wire.arcs import FRONT, extent_mm, rings_of_layout, wire_layers
from chainplan.report.wire.looks import look_of_metal, metal_look, wire_drawing
from chainplan.report.wire.weave_picture import LEANING, MOST_RINGS, PICTURE_MM, write_sheet

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.piece.layout import Layout
    from chainplan.report.wire.arcs import Rings
    from chainplan.report.wire.looks import Look

SEGMENTS = 36
"""Straight pieces of a ring: half a tenth of a millimetre off a circle of 9 mm at most."""


def rings_in_metals(layout: Layout) -> tuple[Rings, tuple[Look, ...]]:
    """Take the rings of a piece with the look of each one's metal, for :func:`wire_layers`.

    Of a piece of one metal the look is that of its metal; of several, each has its own display
    colour, so that two golds differ.
    """
    metals = list(dict.fromkeys(item.metal for item in layout.materials))
    if len(metals) == 1:
        return rings_of_layout(layout), (look_of_metal(metals[0]),)
    number = np.array([metals.index(item.metal) for item in layout.materials])
    looks = tuple(_look_of_colour(colour_of_metal(metal)) for metal in metals)
    return rings_of_layout(layout, look=number[layout.material]), looks


def _look_of_colour(colour: str) -> Look:
    """Strokes of wire whose middle has a colour: its shade for the edge, its tint for the light."""
    parts = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    dark = "#" + "".join(f"{round(part * 0.32):02x}" for part in parts)
    light = "#" + "".join(f"{round(part + (255 - part) * 0.35):02x}" for part in parts)
    return metal_look(dark, light)


def write_design_picture(layout: Layout, target: Path) -> list[Path]:
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
    sheet.height_mm = shown[0].height_mm + 2 * edge
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
