"""Close-ups of the rings of a repeat: where the join lies, and how the electrode comes to it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.piece.joins import FACES
from chainplan.report.diagram.drawn.marks import MARK
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.diagram.frame.pages import LINE_MM
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import INK, PALE, WHITE, Picture
from chainplan.report.wire.arcs import View, extent_mm, face_view, rings_of_layout, wire_layers
from chainplan.report.wire.looks import wire_drawing

if TYPE_CHECKING:
    from chainplan.arrays import AnyIntArray, FloatArray
    from chainplan.model.bench.groups import ElectrodeSettings
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.report.paper.sheet import Sheet


CARD_MM = (134.0, 80.0)
"""Room that the two views of one ring and its words take: four cards fill a landscape page."""
LEAST_SHOWN = 1.5
"""Of a piece at least so many ring diameters are shown along it."""
LEAST_BELOW, MOST_BELOW = 0.7, 1.5
"""From the side as much of the piece is seen below a join as there is, between so many ring
diameters: the whole ring, and still the electrode down to its holder above it."""
CROSS_MM = 1.3
"""Radius of the disc that a join's cross lies on."""
_FLAT = 0.999
"""Cosine from which on a ring counts as lying flat: within 2.6 degrees, which nobody sees."""
_TOUCHES_MM = 0.005  # what would be shown as 0.00 mm
_PICTURE_MM = (64.0, 58.0)
"""One view: two of them beside each other and two lines of words below make a card."""


def rings_of_a_repeat(layout: Layout, section: int) -> AnyIntArray:
    """Pick one ring for every place in the repeat of a section, from its middle."""
    own = np.flatnonzero(layout.section == section)
    along, across = layout.along[own], layout.across[own]
    middle = (int(along.max()) // 2, int(across.max()) // 2)
    off = np.abs(along - middle[0]) + np.abs(across - middle[1])
    order = np.lexsort((own, off, layout.place[own]))
    _, first = np.unique(layout.place[own][order], return_index=True)
    return own[order[first]]


def side_view(approach: FloatArray) -> View:
    """View in which an approach comes straight down: from the lower edge of the piece if it can."""
    up = approach / np.linalg.norm(approach)
    for wanted in (np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, 1.0])):
        toward = wanted - up * (up @ wanted)
        if np.linalg.norm(toward) > 0.5:
            break
    toward /= np.linalg.norm(toward)
    right = np.cross(up, toward)
    return View(name="side", right=_three(right), up=_three(up), toward=_three(toward))


def _three(vector: FloatArray) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])


def electrode_outline(settings: ElectrodeSettings, tip: str, height_mm: float) -> FloatArray:
    """Outline of the electrode seen from the side, tip at (0, 0), cut at a height, in mm.

    Returns
    -------
    array, shape (k, 2)
        Right and up, from the left upper corner round the tip to the right one.
    """
    angle = settings.tip_half_angle_deg if tip == "sharp" else settings.blunt_tip_half_angle_deg
    shank, holder = settings.shank_mm / 2, settings.holder_mm / 2
    cone = min(shank / math.tan(math.radians(angle)), settings.stick_out_mm)
    half = [(0.0, 0.0), (cone * math.tan(math.radians(angle)), cone)]
    if settings.stick_out_mm < height_mm:
        half += [(half[-1][0], settings.stick_out_mm), (holder, settings.stick_out_mm)]
    half.append((half[-1][0], height_mm))
    right = np.array([corner for corner in half if corner[1] <= height_mm])
    left = right[::-1] * (-1, 1)
    return np.concatenate([left[:-1], right])


def draw_card(
    sheet: Sheet,
    layout: Layout,
    joins: Joins,
    settings: ElectrodeSettings,
    ring: int,
    *,
    left_mm: float,
    top_mm: float,
    title: str,
) -> None:
    """Draw one ring: as the welder sees it, from the side with the electrode, and in words."""
    width, height = _PICTURE_MM
    face = int(joins.face[ring])
    sheet.write(left_mm, top_mm + 4.0, title, 10, bold=True)
    top = top_mm + 6.0
    approach = np.asarray(joins.approach[ring])
    views = [face_view(FACES[face] if face >= 0 else "front", approach), side_view(approach)]
    tip = layout_tip(layout, joins, ring)
    for number, view in enumerate(views):
        left = left_mm + number * (width + 3.0)
        picture = _picture(layout, ring, view, tip, left, top, aside=number > 0)
        sheet.pictures.append(picture)
        _draw_own(sheet, picture, layout, ring, view)
        spot = picture.on_sheet(view.project(tip[None])[:, :2])
        if number and face >= 0:
            _draw_electrode(sheet, picture, spot[0], settings, joins.electrode)
        draw_join_marks(sheet, spot)
        sheet.box(left, top, width, height, stroke=PALE)
        word = "from the side" if number else ("as welded" if face >= 0 else "from the front")
        sheet.box(left, top, text_width_mm(word, 8) + 3.0, 4.6, fill=WHITE, stroke=PALE)
        sheet.write(left + 1.5, top + 3.3, word, 8)
    for line, text in enumerate(describe_join(layout, joins, ring)):
        sheet.write(left_mm, top + height + LINE_MM * (line + 0.9), text, SMALL_PT)


def layout_tip(layout: Layout, joins: Joins, ring: int) -> FloatArray:
    """Point on the wire's surface where the electrode's tip meets it, in mm."""
    spoke = joins.point_mm[ring] - layout.centre_mm[ring]
    along = np.cross(layout.normal[ring], spoke)
    along /= np.linalg.norm(along)
    side = joins.approach[ring] - along * (joins.approach[ring] @ along)
    tip: FloatArray = joins.point_mm[ring] + side * (
        layout.wire_mm[ring] / 2 / np.linalg.norm(side)
    )
    return tip


def describe_join(layout: Layout, joins: Joins, ring: int) -> list[str]:
    """Say in two lines where a join lies and what it keeps free."""
    degrees = abs(round(math.degrees(float(joins.angle_rad[ring]))))
    face = int(joins.face[ring])
    if face < 0:
        others = ", ".join(str(other + 1) for other in joins.blocked_by.get(ring, ())[:6])
        blocked = f"not reached; in the way: rings {others}" if others else "not reached"
        return [blocked, "closed before weaving"]
    flat = abs(float(layout.normal[ring][2])) > _FLAT
    top = "the ring's side towards the end" if flat else "the ring's top"
    place = f"{degrees}° from {top}" if degrees else f"at {top}"
    closed = "; closed before weaving" if joins.pre_closed[ring] else ""
    first = f"{FACES[face]}, {describe_lean(joins.approach[ring])}; join {place}{closed}"
    second = (
        f"air {joins.clearance_mm[ring]:.2f} mm; {describe_air(float(joins.spot_gap_mm[ring]))}; "
        f"free arc {math.degrees(float(joins.free_arc_rad[ring])):.0f}°"
    )
    return [first, second]


def describe_air(air_mm: float) -> str:
    """Say how near the next wire is to the wire at the join."""
    return (
        "the next wire touches: keep it off, or they fuse"
        if air_mm < _TOUCHES_MM
        else f"next wire {air_mm:.2f} mm off"
    )


def describe_lean(approach: FloatArray) -> str:
    """Say how far the holder leans from upright, and to which side of the piece."""
    x, y, z = (float(part) for part in approach)
    lean = round(math.degrees(math.acos(min(abs(z), 1.0))))
    if lean == 0:
        return "upright"
    along, across = ("start", "end")[x > 0], ("lower edge", "upper edge")[y > 0]
    sides = [
        name
        for name, part in ((across, abs(y)), (along, abs(x)))
        if part > 0.38 * math.hypot(x, y)  # within 67.5° of it
    ]
    return f"leaning {lean}° to the {' and the '.join(sides)}"


def draw_join_marks(sheet: Sheet, places: FloatArray, *, size_mm: float = CROSS_MM) -> None:
    """Mark joins by a dark cross on a white disc with a dark rim: plain in black and white."""
    sheet.discs(places, size_mm, fill=WHITE, stroke=MARK)
    reach = 0.62 * size_mm
    for arm in (np.array([reach, reach]), np.array([reach, -reach])):
        ends = np.stack([places - arm, places + arm], axis=1)
        sheet.segments(ends, width_mm=0.35 * size_mm, colour=INK)


def _draw_electrode(
    sheet: Sheet, picture: Picture, spot: FloatArray, settings: ElectrodeSettings, tip: str
) -> None:
    room_mm = (spot[1] - picture.top_mm) / picture.scale
    outline = electrode_outline(settings, tip, room_mm) * picture.scale
    edge_mm = picture.left_mm, picture.left_mm + picture.width_mm
    corners = spot + outline * (1, -1)
    corners[:, 0] = np.clip(corners[:, 0], *edge_mm)
    sheet.line(corners, width_mm=1.1, colour=WHITE)
    sheet.line(corners, width_mm=0.5, colour=INK)


def _picture(
    layout: Layout, ring: int, view: View, tip: FloatArray, left: float, top: float, *, aside: bool
) -> Picture:
    """Show the rings near a join; ``aside``: from the side, the piece below, its holder above."""
    width, height = _PICTURE_MM
    outer = 2 * float(layout.mean_radius_mm[ring]) + float(layout.wire_mm[ring])
    scale = height / (2.6 * outer)
    x, y = view.project(tip[None])[0, :2].tolist()
    rings = rings_of_layout(layout)
    low, high = extent_mm(rings, view)[1::2]
    if not aside and (high - low) * scale < height:  # a narrow piece fills its frame
        scale = min(height / (high - low), width / (LEAST_SHOWN * outer))
        y = (low + high) / 2
    middle = view.project(rings.centre_mm)
    reach = rings.mean_radius_mm + rings.wire_mm
    if aside:
        beside = np.abs(middle[:, 0] - x) < width / 2 / scale
        under = y - float((middle[beside, 1] - reach[beside]).min())
        y += height / scale / 2 - min(max(under, LEAST_BELOW * outer), MOST_BELOW * outer)
    window = (
        x - width / 2 / scale,
        y - height / 2 / scale,
        x + width / 2 / scale,
        y + height / 2 / scale,
    )
    shown = (
        (middle[:, 0] + reach > window[0])
        & (middle[:, 0] - reach < window[2])
        & (middle[:, 1] + reach > window[1])
        & (middle[:, 1] - reach < window[3])
    )
    near = np.flatnonzero(shown)
    thick = float(rings.wire_mm[near].min()) / 3
    layers = wire_layers(rings.take(near), view, segments=40, layer_mm=thick)
    drawing = wire_drawing(f"ring{ring}-{view.name}", layers)
    return Picture(drawing=drawing, left_mm=left, top_mm=top, scale=scale, window_mm=window)


def _draw_own(sheet: Sheet, picture: Picture, layout: Layout, ring: int, view: View) -> None:
    """Draw the centre line of the ring whose join it is, hidden parts too."""
    angle = np.linspace(0, 2 * np.pi, 73)
    points = view.project(layout.point_mm(angle, np.full(angle.size, ring)))[:, :2]
    left, lower, right, upper = picture.window_mm
    low, high = np.array([left, lower]), np.array([right, upper])
    inside = np.all((points >= low) & (points <= high), axis=1)
    ends = np.stack([points[:-1], points[1:]], axis=1)[inside[:-1] & inside[1:]]
    places = picture.on_sheet(ends.reshape(-1, 2)).reshape(-1, 2, 2)
    sheet.segments(places, width_mm=0.7, colour=MARK)
