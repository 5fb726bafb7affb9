"""The very piece, shaded and to scale: the whole over a ruler, and a stretch at its own size."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.piece.fittings import FittingKind
from chainplan.report.paper.sheet import GREY, INK, WHITE, Path, Picture
from chainplan.report.wire.arcs import FRONT, extent_mm, rings_of_layout, wire_layers
from chainplan.report.wire.looks import name_drawing, wire_drawing
from chainplan.report.wire.metal_picture import rings_in_metals
from chainplan.report.wire.weave_picture import LEANING

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.model.piece.layout import LaidFitting, Layout
    from chainplan.model.plan import PiecePlan
    from chainplan.report.paper.sheet import Drawing, Sheet
    from chainplan.report.wire.arcs import Rings, View

MOST_SHADED = 4000
"""Rings up to which the whole piece is drawn ring by ring: at a page's width each is then still
half a millimetre of a square mesh, and the file below some megabytes."""
BODY_RATIO = 0.55
"""Width of a fitting's outline over its length: only the length is known."""
OWN_SIZE_FROM = 0.4
"""Share of the page's width from which on a piece that fits is shown at its own size alone; a
smaller one is shown larger, and at its own size below."""
OFF_CIRCLE_MM = 0.02
"""How far a ring's straight pieces may be off its circle on paper: half a dot at 600 an inch."""
FEWEST_SEGMENTS, MOST_SEGMENTS = 12, 48
"""Straight pieces of the smallest and the largest ring."""
_RATIOS = {
    FittingKind.END_RING: 1.0, FittingKind.EAR_WIRE: 0.3, FittingKind.EAR_POST: 0.15,
    FittingKind.CLASP: 0.45, FittingKind.BAIL: 0.6,
}  # fmt: skip
"""Kinds that are usually slimmer or rounder than a stone: a picture, no measure."""
RULER_PT = 7.0
"""Type of the rule below the piece."""


@dataclass(frozen=True, slots=True)
class _Room:
    """Where a picture goes on the sheet, in mm."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


def draw_piece(
    sheet: Sheet,
    piece: PiecePlan,
    key: str,
    *,
    left_mm: float,
    top_mm: float,
    width_mm: float,
    shared: dict[str, Drawing] | None = None,
) -> float:
    """Draw the piece and a stretch of it at its own size; return the lower edge. [mm].

    ``shared``: drawings of the document so far, where it has many pieces. One that is too long for
    its own size is then shown by a stretch from its start alone, which pieces of one kind share,
    whatever their length.
    """
    layout = piece.layout
    rings = rings_of_layout(layout)
    flat = any(s.form in ("sheet", "strip") for s in layout.sections)
    hangs = any(not item.in_line for item in layout.fittings)
    view = FRONT if flat or hangs else LEANING
    extent = _extent(rings, layout, view)
    long = extent[2] - extent[0]
    scale = min(width_mm / long, 70.0 / (extent[3] - extent[1]), 3.0)
    if scale >= 1 and long >= OWN_SIZE_FROM * width_mm:
        scale = 1.0
    y = top_mm
    if layout.rings <= MOST_SHADED and (shared is None or scale >= 1):
        room = _Room(left_mm, y, width_mm, 0.0)
        y = _show(sheet, piece, rings, view, extent, scale, f"{key}-whole", room, shared)
        y = _ruler(sheet, left_mm, y + 1.5, long, scale)
        of = "at its own size" if math.isclose(scale, 1.0) else _scale_words(scale)
        sheet.write(left_mm, y + 4.0, f"The whole piece, {of}.", 8.0, colour=GREY)
        y += 8.0
    if not math.isclose(scale, 1.0) or layout.rings > MOST_SHADED:
        window = _own_size_window(layout, extent, width_mm, from_start=shared is not None)
        room = _Room(left_mm, y, width_mm, 0.0)
        y = _show(sheet, piece, rings, view, window, 1.0, f"{key}-own", room, shared)
        y = _ruler(sheet, left_mm, y + 1.5, window[2] - window[0], 1.0)
        text = "A stretch of it at its own size, when printed without scaling."
        sheet.write(left_mm, y + 4.0, text, 8.0, colour=GREY)
        y += 6.0
    return y


def _scale_words(scale: float) -> str:
    return f"{scale:.2g} of its own size" if scale < 1 else f"{scale:.2g} times its own size"


def _extent(rings: Rings, layout: Layout, view: View) -> tuple[float, float, float, float]:
    """Edges as seen of rings and of all fittings, with their outlines. [mm]."""
    left, lower, right, upper = extent_mm(rings, view)
    for item in layout.fittings:
        corners = _seen(item, view)
        half = BODY_RATIO * float(np.linalg.norm(corners[1] - corners[0])) / 2
        low, high = corners.min(axis=0) - half, corners.max(axis=0) + half
        if item.in_line:
            low[0], high[0] = corners[:, 0].min(), corners[:, 0].max()
        left, lower = min(left, float(low[0])), min(lower, float(low[1]))
        right, upper = max(right, float(high[0])), max(upper, float(high[1]))
    return left, lower, right, upper


def _seen(item: LaidFitting, view: View) -> FloatArray:
    """Both ends of a fitting as seen, shape (2, 2). [mm]."""
    return view.project(np.array([item.from_mm, item.to_mm]))[:, :2]


def _own_size_window(
    layout: Layout,
    extent: tuple[float, float, float, float],
    width_mm: float,
    *,
    from_start: bool = False,
) -> tuple[float, float, float, float]:
    """Choose what is shown at its own size: about the fitting nearest the middle, or the middle."""
    middle = extent[0] if from_start else (extent[0] + extent[2]) / 2
    at = [float(item.from_mm[0] + item.to_mm[0]) / 2 for item in layout.fittings]
    if at:
        middle = min(at, key=lambda x: abs(x - middle))
    half = min(width_mm, extent[2] - extent[0]) / 2
    middle = min(max(middle, extent[0] + half), extent[2] - half)
    high = min(extent[3] - extent[1], 60.0)
    up = (extent[1] + extent[3]) / 2
    return middle - half, up - high / 2, middle + half, up + high / 2


def _show(
    sheet: Sheet, piece: PiecePlan, rings: Rings, view: View,
    window: tuple[float, float, float, float], scale: float, key: str, room: _Room,
    shared: dict[str, Drawing] | None,
) -> float:  # fmt: skip
    """Show rings and fittings within a window; return the lower edge. [mm]."""
    seen = view.project(rings.centre_mm)
    reach = rings.mean_radius_mm + rings.wire_mm
    inside = (seen[:, 0] + reach > window[0]) & (seen[:, 0] - reach < window[2])
    inside &= (seen[:, 1] + reach > window[1]) & (seen[:, 1] - reach < window[3])
    in_metals, looks = rings_in_metals(piece.layout)
    own = in_metals.take(inside)
    finest = float(own.wire_mm.min()) / (5 if scale > 0.8 else 3)
    if shared is not None:
        key = name_drawing(own, looks, view, finest)
    drawing = None if shared is None else shared.get(key)
    if drawing is None:
        segments = _segments(float(own.mean_radius_mm.max()) * scale)
        layers = wire_layers(own, view, segments=segments, layer_mm=finest)
        drawing = wire_drawing(key, layers, looks=looks)
    if shared is not None:
        shared[key] = drawing
    picture = Picture(
        drawing=drawing, left_mm=room.left_mm, top_mm=room.top_mm, scale=scale, window_mm=window,
    )  # fmt: skip
    sheet.pictures.append(picture)
    for item in piece.layout.fittings:
        kind = piece.piece.fittings[item.index].kind
        _outline(sheet, picture, _seen(item, view), kind, item.name, window)
    return room.top_mm + (window[3] - window[1]) * scale


def _segments(radius_mm: float) -> int:
    """Choose the straight pieces of a ring of some size on paper."""
    exact = math.pi / math.sqrt(2 * OFF_CIRCLE_MM / radius_mm)
    return min(max(math.ceil(exact), FEWEST_SEGMENTS), MOST_SEGMENTS)


def _outline(
    sheet: Sheet, picture: Picture, ends: FloatArray, kind: FittingKind, name: str,
    window: tuple[float, float, float, float],
) -> None:  # fmt: skip
    """Draw a fitting by its length, with its name; its own form is not known."""
    middle = ends.mean(axis=0)
    if not window[0] <= middle[0] <= window[2]:
        return
    way = ends[1] - ends[0]
    long = float(np.linalg.norm(way))
    if long <= 0:
        return
    way = way / long
    across = np.array([-way[1], way[0]])
    ratio = _RATIOS.get(kind, BODY_RATIO)
    angle = np.linspace(0, 2 * np.pi, 41)
    power = 0.5 if kind in (FittingKind.TAG, FittingKind.CLASP) else 1.0  # squarer if below 1
    cos = np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** power
    sin = np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** power
    rim = middle + long / 2 * (cos[:, None] * way + ratio * sin[:, None] * across)
    points = picture.on_sheet(rim)
    first = np.zeros(len(points), dtype=bool)
    first[0] = True
    fill = WHITE if kind == FittingKind.END_RING else "#e9eaec"
    sheet.marks.append(
        Path(points_mm=points, first=first, closed=True, fill=fill, stroke=INK, width_mm=0.4)
    )
    place = picture.on_sheet(middle)[0]
    size = 7.0
    low = float(points[:, 1].max()) + 3.2
    room = picture.left_mm + picture.width_mm
    x = min(max(float(place[0]), picture.left_mm + len(name) * 0.7), room - len(name) * 0.7)
    sheet.write(x, low, name, size, anchor="middle")


def _ruler(sheet: Sheet, left_mm: float, top_mm: float, long_mm: float, scale: float) -> float:
    """Draw a ruler in centimetres; return its lower edge. [mm]."""
    top_mm += 3.0
    right = left_mm + long_mm * scale
    sheet.line([(left_mm, top_mm), (right, top_mm)], width_mm=0.3)
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100) if s * 10 * scale >= 8.0)
    small = step * 10 * scale / 5 >= 1.5
    marks = np.arange(0.0, long_mm + 1e-6, step * (2.0 if small else 10.0))
    for mm in marks.tolist():
        x = left_mm + mm * scale
        whole = math.isclose(mm / 10 / step, round(mm / 10 / step), abs_tol=1e-6)
        sheet.line([(x, top_mm), (x, top_mm + (2.4 if whole else 1.2))], width_mm=0.25)
        if whole:
            text = f"{mm / 10:g}" + (" cm" if mm == 0 else "")
            sheet.write(x, top_mm + 5.4, text, RULER_PT, anchor="start" if mm == 0 else "middle")
    return top_mm + 5.6
