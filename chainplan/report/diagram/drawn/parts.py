"""Heat-sensitive parts and fittings on a strip: where they are and what is written at them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.report.diagram.drawn.marks import RULER_PT
from chainplan.report.paper.lettering import shorten_text, text_width_mm
from chainplan.report.paper.sheet import INK, WHITE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.report.paper.sheet import Picture, Sheet


WARM = "#a34700"
"""Heat-sensitive parts: a dark orange, always hatched as well."""


@frozen
class Zone:
    """A heat-sensitive part or a fitting: where it is on the piece, as seen, and what it is."""

    name: str
    left_mm: float
    right_mm: float
    text: str
    warm: bool = True  # has a temperature that it must not pass


def zone_span(picture: Picture, zone: Zone) -> tuple[float, float] | None:
    """Return left and right edge of a part on the sheet, or None if the strip does not show it."""
    low, high = picture.left_mm, picture.left_mm + picture.width_mm
    left = picture.left_mm + (zone.left_mm - picture.window_mm[0]) * picture.scale
    right = picture.left_mm + (zone.right_mm - picture.window_mm[0]) * picture.scale
    if right - left < 5.0:
        left, right = (left + right) / 2 - 2.5, (left + right) / 2 + 2.5
    if right < low - 0.5 or left > high + 0.5:
        return None
    return max(left, low - 3.0), min(right, high + 3.0)


def zone_label(zone: Zone) -> tuple[str, float]:
    """Return what is written at a part, and how wide that is. [mm]."""
    text = shorten_text(f"{zone.name}: {zone.text}", RULER_PT, 90.0, bold=True)
    return text, text_width_mm(text, RULER_PT, bold=True)


def place_zones(
    picture: Picture, zones: Sequence[Zone], free_mm: float
) -> list[tuple[Zone, float, int]]:
    """Place the labels of parts in lines above a strip so that none covers another.

    Parameters
    ----------
    picture : Picture
        The strip.
    zones : sequence of Zone
        Parts of the piece; those that the strip does not show are left out.
    free_mm : float
        Left edge of what is free in the uppermost line. [mm]

    Returns
    -------
    list of (Zone, float, int)
        Each part, the left edge of its label, and its line from above. [mm]
    """
    low, high = picture.left_mm, picture.left_mm + picture.width_mm
    placed = []
    free = [max(free_mm, low)]
    for middle, zone in middles_of_zones(picture, zones):
        width = zone_label(zone)[1]
        wanted = max(min(middle - width / 2, high - width), low)
        row = next((k for k, edge in enumerate(free) if edge <= min(middle, high - width)), None)
        if row is None:
            row = len(free)
            free.append(low)
        left = max(wanted, free[row])
        free[row] = left + width + 4.0
        placed.append((zone, left, row))
    return sorted(placed, key=_row)  # so that a lower label covers the line from a higher one


def middles_of_zones(picture: Picture, zones: Sequence[Zone]) -> list[tuple[float, Zone]]:
    """Return the parts that a strip shows from left to right, with their middles on the sheet."""
    spans = [(zone, zone_span(picture, zone)) for zone in zones]
    return sorted(((sum(span) / 2, zone) for zone, span in spans if span is not None), key=_first)


def draw_zone(
    sheet: Sheet,
    picture: Picture,
    zone: Zone,
    *,
    top_mm: float,
    bottom_mm: float,
    text_mm: tuple[float, float],
) -> None:
    """Hatch a heat-sensitive part and write its name and limit above it, from ``text_mm`` on.

    A fitting that any heat may reach is an outline.

    The upper and lower edge of the hatched field are ``top_mm`` and ``bottom_mm``.
    """
    span = zone_span(picture, zone)
    if span is None:
        return
    left, right = span
    if bottom_mm - top_mm < 4.0:
        top_mm, bottom_mm = (top_mm + bottom_mm) / 2 - 2.0, (top_mm + bottom_mm) / 2 + 2.0
    rise = bottom_mm - top_mm
    lines = []
    for start in np.arange(left - rise, right, 2.6).tolist():
        a, b = max(start, left), min(start + rise, right)
        if b > a:
            lines.append([(a, bottom_mm - (a - start)), (b, bottom_mm - (b - start))])
    colour = WARM if zone.warm else INK
    if zone.warm:
        sheet.segments(np.array(lines), width_mm=0.3, colour=colour)
    sheet.line(
        [(left, top_mm), (right, top_mm), (right, bottom_mm), (left, bottom_mm), (left, top_mm)],
        width_mm=0.5, colour=colour, dash_mm=(1.6, 0.9) if zone.warm else (),
    )  # fmt: skip
    text, width = zone_label(zone)
    x, base = text_mm
    middle = (left + right) / 2
    middle = min(max(middle, x + 0.3), x + width - 0.3)
    sheet.line([(middle, top_mm), (middle, base + 0.8)], width_mm=0.35, colour=colour)
    sheet.box(x - 0.4, base - 3.1, width + 0.8, 3.9, fill=WHITE)
    sheet.write(x, base, text, RULER_PT, bold=True, colour=colour)


def _row(place: tuple[Zone, float, int]) -> int:
    return place[2]


def _first(pair: tuple[float, Zone]) -> float:
    return pair[0]
