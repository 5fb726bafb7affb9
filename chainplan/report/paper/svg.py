"""Sheets as SVG: real text, the piece drawn once and shown in every strip."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from chainplan.report.paper.glyphs import MM_A_POINT
from chainplan.report.paper.sheet import Path, Text
from chainplan.report.wire.axes import LIGHT_FROM, overlap_share

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.report.paper.sheet import Sheet, Stamp, WireDrawing


FONTS = "DejaVu Sans, Verdana, Arial, sans-serif"
UNITS_A_MM = 100
"""Coordinates are whole hundredths of a mm."""


def path_data(points: FloatArray, first: BoolArray, *, closed: bool = False) -> str:
    """Write lines as SVG path data in hundredths of a mm."""
    whole = np.rint(points * UNITS_A_MM).astype(np.int64)
    steps = np.diff(whole, axis=0, prepend=whole[:1])
    whole = np.where(first[:, None], whole, steps)
    after = np.concatenate([[True], first[:-1]])  # the first step of a line names its kind
    words = np.where(first, "M%d %d", np.where(after, "l%d %d", " %d %d")).tolist()
    if closed:
        words = [f"Z{word}" if word[0] == "M" else word for word in words]
        words[0] = words[0][1:]
        words.append("Z")
    text: str = "".join(words) % tuple(whole.ravel().tolist())
    return text.replace(" -", "-")  # a sign parts numbers as well as a space


def drawing_definition(drawing: WireDrawing) -> str:
    """Write a drawing of wire as a group to be used again, in hundredths of a mm, y downwards."""
    parts = [f'<g id="{drawing.key}" fill="none" stroke-linejoin="round">']
    levels = len(drawing.look)
    for layer in drawing.layers:
        for level, stroke in enumerate(drawing.look):
            shift = np.array(LIGHT_FROM) * stroke.shift * layer.wire_mm
            points = (layer.reaching(overlap_share(level, levels)) + shift) * (1, -1)
            width = stroke.width * layer.wire_mm * UNITS_A_MM
            cap = ' stroke-linecap="round"' if layer.cap(level) == "round" else ""
            parts.append(
                f'<path stroke="{stroke.colour}" stroke-width="{width:.0f}"{cap} '
                f'd="{path_data(points, layer.first)}"/>'
            )
    parts.append("</g>")
    return "\n".join(parts)


def sheet_svg(sheet: Sheet, definitions: dict[str, str] | None = None) -> str:
    """Return a sheet as an SVG document.

    Parameters
    ----------
    sheet : Sheet
        The page.
    definitions : dict, optional
        Keeps written drawings by key, for the other pages of the same document.
    """
    kept = {} if definitions is None else definitions
    width, height = sheet.width_mm, sheet.height_mm
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width * UNITS_A_MM:.0f} {height * UNITS_A_MM:.0f}" '
        f"font-family={quoteattr(FONTS)}>",
        f"<title>{escape(_printable(sheet.title))}</title>",
        '<rect width="100%" height="100%" fill="#ffffff"/>',
    ]
    used = {stamp.drawing.key: stamp.drawing for stamp in sheet.stamps}
    for key, drawing in used.items():
        if key not in kept:
            kept[key] = drawing_definition(drawing)
    if used:
        parts.append("<defs>\n" + "\n".join(kept[key] for key in used))
        parts += [_clip(number, stamp) for number, stamp in enumerate(sheet.stamps)]
        parts.append("</defs>")
        parts += [_use(number, stamp) for number, stamp in enumerate(sheet.stamps)]
    parts += [_path(mark) if isinstance(mark, Path) else _text(mark) for mark in sheet.marks]
    parts.append("</svg>\n")
    return "\n".join(parts)


def _clip(number: int, stamp: Stamp) -> str:
    x, y, w, h = (
        part * UNITS_A_MM for part in (stamp.left_mm, stamp.top_mm, stamp.width_mm, stamp.height_mm)
    )
    return (
        f'<clipPath id="clip{number}"><rect x="{x:.0f}" y="{y:.0f}" width="{w:.0f}" '
        f'height="{h:.0f}"/></clipPath>'
    )


def _use(number: int, stamp: Stamp) -> str:
    x = (stamp.left_mm - stamp.window_mm[0] * stamp.scale) * UNITS_A_MM
    y = (stamp.top_mm + stamp.window_mm[3] * stamp.scale) * UNITS_A_MM
    return (
        f'<g clip-path="url(#clip{number})"><use href="#{stamp.drawing.key}" '
        f'transform="translate({x:.0f} {y:.0f}) scale({stamp.scale:.5g})"/></g>'
    )


def _path(path: Path) -> str:
    looks = [f'fill="{path.fill or "none"}"']
    if path.stroke:
        looks.append(f'stroke="{path.stroke}" stroke-width="{path.width_mm * UNITS_A_MM:.0f}"')
    if path.dash_mm:
        dashes = " ".join(f"{dash * UNITS_A_MM:.0f}" for dash in path.dash_mm)
        looks.append(f'stroke-dasharray="{dashes}"')
    data = path_data(path.points_mm, path.first, closed=path.closed)
    return f'<path {" ".join(looks)} d="{data}"/>'


def _text(text: Text) -> str:
    size = text.size_pt * MM_A_POINT * UNITS_A_MM
    looks = [f'x="{text.x_mm * UNITS_A_MM:.0f}" y="{text.y_mm * UNITS_A_MM:.0f}"']
    looks.append(f'font-size="{size:.0f}" fill="{text.colour}"')
    if text.bold:
        looks.append('font-weight="bold"')
    if text.anchor != "start":
        looks.append(f'text-anchor="{text.anchor}"')
    return f"<text {' '.join(looks)}>{escape(_printable(text.text))}</text>"


def _printable(text: str) -> str:
    """Replace what XML cannot hold; everything else stays as it is."""
    return "".join(letter if letter.isprintable() else " " for letter in text)
