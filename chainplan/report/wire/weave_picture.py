"""Shaded pictures of real rings: what a weave or a piece looks like, with correct over and under.

The light comes from the upper left; every wire is stroked from its dark edge to its bright line,
far pieces first (see :mod:`chainplan.report.wire.arcs`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.piece.layout import Layout
from chainplan.report.paper.lettering import shorten_text, text_width_mm
from chainplan.report.paper.sheet import GREY, INK, WHITE, Picture, Sheet
from chainplan.report.wire.arcs import (
    FRONT,
    Rings,
    View,
    WireLayer,
    extent_mm,
    rings_of_layout,
    rings_of_repeat,
    tilted_view,
    wire_layers,
)
from chainplan.report.wire.looks import look_of_metal, wire_drawing

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from chainplan.model.piece.count import WeaveDescription
    from chainplan.model.piece.weave import Repeat

LEANING = tilted_view(58.0, 0.0)
"""Seen from a little below the front, so that leaning rings show their depth."""
MOST_RINGS = 6000
"""A picture shows at most so many rings from the start of the piece: of a square sheet each is then
2 mm, in which over and under can just be seen."""
PICTURE_MM = 160.0
"""Longest side of a picture of its own: the width of the text on an A4 page."""
PICTURE_DOTS_AN_INCH = 200
"""The longest side is then 1260 dots: sharp on a screen, and in print at half the size."""

LONG, WIDE = 36.0, 17.0
"""A repeat is laid until it is about so long and wide, in wire diameters: twice as long as wide."""


def rings_of(source: Layout | Repeat | Rings) -> Rings:
    """Take the rings to be shown: of a piece, of a repeat laid a few times, or as they are."""
    if isinstance(source, Rings):
        return source
    if isinstance(source, Layout):
        return rings_of_layout(source)
    along = max(2, round(LONG / float(np.linalg.norm(source.vectors[0]))))
    across = 1
    if source.vectors.shape[0] > 1:
        across = max(2, round(WIDE / float(abs(source.vectors[1, 1]))))
    return rings_of_repeat(source, along, across)


def picture_sheet(
    source: Layout | Repeat | Rings,
    title: str,
    *,
    view: View = LEANING,
    metal: str = "sterling-silver",
    numbers: bool = False,
    longest_mm: float = PICTURE_MM,
) -> Sheet:
    """Draw shaded rings on a sheet just large enough for them."""
    rings = rings_of(source).take(slice(MOST_RINGS))
    extent = extent_mm(rings, view)
    edge = 4.0
    scale = (longest_mm - 2 * edge) / max(extent[2] - extent[0], extent[3] - extent[1])
    sheet = Sheet(
        width_mm=(extent[2] - extent[0]) * scale + 2 * edge,
        height_mm=(extent[3] - extent[1]) * scale + 2 * edge,
        title=title,
    )
    picture = _picture(rings, view, metal, "weave", edge, edge, scale)
    sheet.pictures.append(picture)
    if numbers:
        _write_numbers(sheet, rings, view, picture)
    return sheet


def _picture(
    rings: Rings, view: View, metal: str, key: str, left_mm: float, top_mm: float, scale: float
) -> Picture:
    drawing = wire_drawing(key, _fine_layers(rings, view), look_of_metal(metal))
    return Picture(
        drawing=drawing, left_mm=left_mm, top_mm=top_mm, scale=scale,
        window_mm=extent_mm(rings, view),
    )  # fmt: skip


def _fine_layers(rings: Rings, view: View) -> tuple[WireLayer, ...]:
    """Cut the wire finely enough for a picture: a fifth of it a layer."""
    finest = float(rings.wire_mm.min()) / 5
    return wire_layers(rings, view, segments=48, layer_mm=finest)


def _write_numbers(sheet: Sheet, rings: Rings, view: View, picture: Picture) -> None:
    places = picture.on_sheet(view.project(rings.centre_mm)[:, :2])
    size = float(np.clip(rings.mean_radius_mm.min() * picture.scale * 1.1, 4.0, 10.0))
    for number, (x, y) in enumerate(places.tolist(), 1):
        half = text_width_mm(str(number), size, bold=True) / 2 + 0.5
        sheet.box(x - half, y - size * 0.18, 2 * half, size * 0.36, fill=WHITE, stroke=GREY,
                  line_mm=0.15)  # fmt: skip
        sheet.write_centred(x, y, str(number), size)


def library_sheet(
    weaves: Sequence[tuple[str, str, Layout | Repeat | Rings]],
    *,
    columns: int = 3,
    view: View = LEANING,
    metal: str = "sterling-silver",
) -> Sheet:
    """Draw a page of weaves, all at the same wire.

    Parameters
    ----------
    weaves : sequence of (title, subtitle, source)
        What to show, in this order.
    """
    cell, rise, edge, head = 88.0, 40.0, 8.0, 11.0
    rings = [rings_of(source) for *_, source in weaves]
    sizes = [extent_mm(each, view) for each in rings]
    scale = min(
        min((cell - 6.0) / (e[2] - e[0]) * _wire(r), (rise - 3.0) / (e[3] - e[1]) * _wire(r))
        for r, e in zip(rings, sizes, strict=True)
    )
    rows = -(-len(weaves) // columns)
    sheet = Sheet(
        width_mm=columns * cell + 2 * edge,
        height_mm=rows * (rise + head) + 2 * edge,
        title="The weaves, all at the same wire",
    )
    for k, ((title, subtitle, _), each, e) in enumerate(zip(weaves, rings, sizes, strict=True)):
        left = edge + (k % columns) * cell
        top = edge + (k // columns) * (rise + head)
        own = scale / _wire(each)
        wide, high = (e[2] - e[0]) * own, (e[3] - e[1]) * own
        sheet.pictures.append(
            _picture(each, view, metal, f"weave{k}", left + (cell - wide) / 2,
                   top + head + (rise - high) / 2, own)
        )  # fmt: skip
        middle = left + cell / 2
        name = shorten_text(title, 11, cell - 4, bold=True)
        sheet.write(middle, top + 5.0, name, 11, bold=True, anchor="middle", colour=INK)
        under = shorten_text(subtitle, 8.5, cell - 4)
        sheet.write(middle, top + 9.2, under, 8.5, anchor="middle", colour=GREY)
    return sheet


def _wire(rings: Rings) -> float:
    """Wire of the first ring: what the pictures of a page have in common."""
    return float(rings.wire_mm[0])


def write_sheet(sheet: Sheet, target: Path) -> list[Path]:
    """Write a picture as SVG and PNG beside each other, under the name of ``target``."""
    from chainplan.report.paper.png import sheet_png
    from chainplan.report.paper.svg import sheet_svg

    target.parent.mkdir(parents=True, exist_ok=True)
    svg, png = target.with_suffix(".svg"), target.with_suffix(".png")
    svg.write_text(sheet_svg(sheet), encoding="utf-8", newline="\n")
    png.write_bytes(sheet_png(sheet, PICTURE_DOTS_AN_INCH))
    return [svg, png]


def write_weave_picture(
    described: WeaveDescription,
    target: str | Path,
    *,
    numbers: bool = False,
    metal: str = "sterling-silver",
) -> list[Path]:
    """Write a shaded picture of a weave as SVG and PNG; return the files.

    ``target`` is a file name (either ending will do) or a folder.

    Raises
    ------
    InputError
        If the description has no rings because no ring size was given.
    """
    from pathlib import Path

    from chainplan.errors import InputError

    if described.layout is None:
        message = "there is no picture without rings: give the wire and the inner diameter"
        raise InputError(message)
    path = Path(target)
    if path.suffix.lower() not in (".svg", ".png"):
        path = path / described.weave.key
    sheet = picture_sheet(
        described.layout, described.weave.title, metal=metal, numbers=numbers, view=_best_view(
            described.layout)
    )  # fmt: skip
    return write_sheet(sheet, path)


def _best_view(layout: Layout) -> View:
    """Sheets straight from the front, chains leaning."""
    return FRONT if layout.sections[0].form == "sheet" else LEANING


def write_library_page(
    weaves: Sequence[tuple[str, str, Layout | Repeat | Rings]],
    target: str | Path,
    *,
    wire_mm: float,
) -> list[Path]:
    """Write the page of all weaves as SVG and PNG; ``target`` is a file name or a folder."""
    from pathlib import Path

    path = Path(target)
    if path.suffix.lower() not in (".svg", ".png"):
        path = path / f"weaves-{wire_mm:g}mm"
    return write_sheet(library_sheet(weaves), path)
