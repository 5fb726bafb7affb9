"""What a piece looks like, small, for the customer's page: a stretch of each kind of section."""

from __future__ import annotations

from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.png import page_pngs
from chainplan.report.paper.sheet import Picture, Sheet
from chainplan.report.wire.arcs import FRONT, wire_layers
from chainplan.report.wire.looks import name_drawing, wire_drawing
from chainplan.report.wire.metal_picture import rings_in_metals
from chainplan.report.wire.weave_picture import LEANING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IndexArray
    from chainplan.model.piece.layout import Layout, SectionLayout
    from chainplan.report.wire.arcs import Rings, View
    from chainplan.report.wire.looks import Look

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

COLOURS = 128
"""Colours of a picture: shades of a few metals."""

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
    known: dict[tuple[_Stretch, ...], int] = {}  # pieces of one kind look alike at any length
    places = [known.setdefault(_shown(layout), len(known)) for layout in layouts]
    nothing = known.pop((), None)
    drawn = [_draw(stretches) for stretches in known]
    pictures = list(page_pngs(write_pdf(drawn, title="pieces"), DOTS_AN_INCH)) if drawn else []
    found = dict(zip(known.values(), map(in_few_colours, pictures), strict=True))
    return [None if place == nothing else found[place] for place in places]


@dataclass(frozen=True, slots=True)
class _Stretch:
    """What is shown of a section, and where: alike if its drawing is named alike."""

    name: str
    left_mm: float
    wide_mm: float
    scale: float
    window_mm: tuple[float, float, float, float]
    rings: Rings = field(compare=False)
    looks: Sequence[Look] = field(compare=False)
    view: View = field(compare=False)
    finest_mm: float = field(compare=False)


def _shown(layout: Layout) -> tuple[_Stretch, ...]:
    kinds: dict[tuple[object, ...], int] = {}
    for number, section in enumerate(layout.sections):
        if section.form not in ("loose", "connecting") and section.rings:
            kind = (section.weave, section.metal, section.design, section.wire_mm, section.inner_mm)
            kinds.setdefault(kind, number)
    shown = list(kinds.values())[:MOST_SECTIONS]
    if not shown:
        return ()
    scale = min(_scale(layout.sections[number]) for number in shown)
    wide_mm = WIDE_MM / len(shown)
    return tuple(
        _stretch(layout, number, scale, (place * wide_mm, wide_mm))
        for place, number in enumerate(shown)
    )


def _draw(stretches: Sequence[_Stretch]) -> Sheet:
    sheet = Sheet(width_mm=WIDE_MM, height_mm=HIGH_MM, title="piece")
    for own in stretches:
        layers = wire_layers(own.rings, own.view, segments=SEGMENTS, layer_mm=own.finest_mm)
        left, lower, right, upper = own.window_mm
        picture = Picture(
            drawing=wire_drawing(own.name, layers, looks=own.looks),
            left_mm=own.left_mm + (own.wide_mm - (right - left) * own.scale) / 2,
            top_mm=(HIGH_MM - (upper - lower) * own.scale) / 2,
            scale=own.scale,
            window_mm=own.window_mm,
        )
        sheet.pictures.append(picture)
    return sheet


def _scale(section: SectionLayout) -> float:
    """Choose mm of the picture a mm of the piece: all of its width, if its wire is seen then."""
    whole = HIGH_MM / max(section.width_mm, section.inner_mm + 2 * section.wire_mm)
    largest = MOST_RING_MM / (section.inner_mm + 2 * section.wire_mm)
    return max(min(whole, largest), LEAST_WIRE_MM / section.wire_mm)


def _stretch(layout: Layout, number: int, scale: float, room_mm: tuple[float, float]) -> _Stretch:
    """Choose a section's rings from its start, as far as the picture reaches."""
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
    window = (left, middle - half, left + width, middle + half)
    return _Stretch(
        name=name_drawing(chosen, looks, view, finest_mm),
        left_mm=left_mm,
        wide_mm=wide_mm,
        scale=scale,
        window_mm=tuple(round(edge, 6) for edge in window),  # type: ignore[arg-type]
        rings=chosen,
        looks=looks,
        view=view,
        finest_mm=finest_mm,
    )


def in_few_colours(png: bytes) -> bytes:
    """Give a shaded picture a palette: to the eye the same, in a third of the bytes."""
    from PIL import Image

    out = BytesIO()
    with Image.open(BytesIO(png)) as picture:
        dots = picture.info.get("dpi", (DOTS_AN_INCH, DOTS_AN_INCH))
        picture.quantize(COLOURS).save(out, "PNG", dpi=dots)
    return out.getvalue()


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
