"""Sheets as SVG: real text, each drawing written once and shown in many places."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from chainplan.report.paper.lettering import MM_A_POINT, printable
from chainplan.report.paper.sheet import Path, Text

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.report.paper.sheet import Drawing, Picture, Sheet


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


def drawing_definition(drawing: Drawing) -> str:
    """Write a drawing as a group to be used again, in hundredths of a mm, y downwards."""
    parts = [f'<g id="{drawing.key}" stroke-linejoin="round">']
    parts += [_path(path, upwards=True) for path in drawing.paths]
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
        f"<title>{escape(printable(sheet.title))}</title>",
        '<rect width="100%" height="100%" fill="#ffffff"/>',
    ]
    used = {picture.drawing.key: picture.drawing for picture in sheet.pictures}
    for key, drawing in used.items():
        if key not in kept:
            kept[key] = drawing_definition(drawing)
    if used:
        parts.append("<defs>\n" + "\n".join(kept[key] for key in used))
        parts += [_clip(number, picture) for number, picture in enumerate(sheet.pictures)]
        parts.append("</defs>")
        parts += [_use(number, picture) for number, picture in enumerate(sheet.pictures)]
    parts += [_path(mark) if isinstance(mark, Path) else _text(mark) for mark in sheet.marks]
    parts.append("</svg>\n")
    return "\n".join(parts)


def _clip(number: int, picture: Picture) -> str:
    x, y, w, h = (
        part * UNITS_A_MM
        for part in (picture.left_mm, picture.top_mm, picture.width_mm, picture.height_mm)
    )
    return (
        f'<clipPath id="clip{number}"><rect x="{x:.0f}" y="{y:.0f}" width="{w:.0f}" '
        f'height="{h:.0f}"/></clipPath>'
    )


def _use(number: int, picture: Picture) -> str:
    x = (picture.left_mm - picture.window_mm[0] * picture.scale) * UNITS_A_MM
    y = (picture.top_mm + picture.window_mm[3] * picture.scale) * UNITS_A_MM
    return (
        f'<g clip-path="url(#clip{number})"><use href="#{picture.drawing.key}" '
        f'transform="translate({x:.0f} {y:.0f}) scale({picture.scale:.5g})"/></g>'
    )


def _path(path: Path, *, upwards: bool = False) -> str:
    """Write lines or areas; those of a drawing count upwards."""
    looks = [f'fill="{path.fill or "none"}"']
    if path.stroke:
        looks.append(f'stroke="{path.stroke}" stroke-width="{path.width_mm * UNITS_A_MM:.0f}"')
    if path.round_ends:
        looks.append('stroke-linecap="round"')
    if path.dash_mm:
        dashes = " ".join(f"{dash * UNITS_A_MM:.0f}" for dash in path.dash_mm)
        looks.append(f'stroke-dasharray="{dashes}"')
    points = path.points_mm * (1, -1) if upwards else path.points_mm
    data = path_data(points, path.first, closed=path.closed)
    return f'<path {" ".join(looks)} d="{data}"/>'


def _text(text: Text) -> str:
    size = text.size_pt * MM_A_POINT * UNITS_A_MM
    looks = [f'x="{text.x_mm * UNITS_A_MM:.0f}" y="{text.y_mm * UNITS_A_MM:.0f}"']
    looks.append(f'font-size="{size:.0f}" fill="{text.colour}"')
    if text.bold:
        looks.append('font-weight="bold"')
    if text.anchor != "start":
        looks.append(f'text-anchor="{text.anchor}"')
    return f"<text {' '.join(looks)}>{escape(printable(text.text))}</text>"
