"""Rings that the eye cannot tell apart, each shown large once: every place in the repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.report.diagram.drawn import marks
from chainplan.report.diagram.drawn.dots import spread_dots
from chainplan.report.diagram.drawn.windows import say_scale
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import PALE, Picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import AnyIntArray, BoolArray
    from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
    from chainplan.report.diagram.frame.pages import Pages
    from chainplan.report.diagram.pass_groups import PassGroup
    from chainplan.report.wire.arcs import View

INSET_MM = (31.5, 21.0)
"""One picture: eight of them stand beside each other, and a ring of `RING_MM` has its neighbours
around it."""
RING_MM = 13.0
"""Outer diameter of a ring in it: three times that of small chain, so that wire is seen on wire."""
HEAD_MM, LABEL_MM = 5.5, 5.5
"""The line above the pictures, and the names below each."""
GAP_MM = 2.5
"""White between two pictures."""
MOST_INSETS = 24
"""Pictures of a piece: three rows, more than the largest repeat of the library has rings."""
MOVED_MM = 0.3
"""Dots that had to be moved further on a strip lay where the eye cannot tell them apart."""
NAMED = 3
"""Units that are named as examples of one place in the repeat."""


@frozen
class Inset:
    """One ring to be shown large, and the units at whose place in the repeat it stands."""

    ring: int
    view: View
    text: str


def list_insets(drawn: DrawnPiece, groups: Sequence[PassGroup]) -> list[Inset]:
    """List one ring for every place in the repeat, in the order of their units.

    Nothing is listed where all dots of the first strips stand apart by themselves and no pass takes
    one ring of a pair alone, nor where rows and columns name every ring.
    """
    if drawn.unit == "column":
        return []
    if not any(_crowded(group) for group in groups) and not _parted(drawn):
        return []
    layout, order = drawn.plan.layout, drawn.plan.order
    step = np.full(layout.rings, -1)
    step[order.ring] = np.arange(order.ring.size)
    found = []
    for ring in _one_a_place(drawn, order.ring):
        alike = (layout.place == layout.place[ring]) & (layout.section == layout.section[ring])
        own = np.unique(drawn.unit_number[alike])
        to_weld = np.isin(own, drawn.unit_number[alike & (step >= 0)])
        units = _even_run(own, to_weld) + 1
        mates = np.flatnonzero(drawn.unit_number == drawn.unit_number[ring])
        rank = ""
        if mates.size > 1:
            before = int(np.count_nonzero((step[mates] < step[ring]) & (step[mates] >= 0)))
            rank = f" · {drawn.t('sheet.rank', rank=min(before, 3) + 1)}"
        texts = (
            drawn.t(f"sheet.inset.{drawn.unit}", numbers=", ".join(map(str, units[:count]))) + rank
            for count in range(len(units), 0, -1)
        )
        text = next((t for t in texts if text_width_mm(t, SMALL_PT) <= INSET_MM[0] + 1.0), rank)
        work = next(w for w in order.passes if 0 <= step[ring] - w.first_step < w.joins)
        found.append(Inset(ring=ring, view=drawn.view(work), text=text))
    return found[:MOST_INSETS]


def _crowded(group: PassGroup) -> bool:
    """Tell whether dots on the strips of a group had to be moved apart."""
    if not group.cut.narrow:
        return False
    places = group.points_mm * group.cut.scale * (1, -1)
    moved = spread_dots(places, np.arange(len(places)), paired=True) - places
    return bool(np.hypot(moved[:, 0], moved[:, 1]).max(initial=0.0) > MOVED_MM)


def _parted(drawn: DrawnPiece) -> bool:
    """Tell whether the rings of a pair are welded in several passes: which first must be seen."""
    order = drawn.plan.order
    number = np.repeat(np.arange(len(order.passes)), [work.joins for work in order.passes])
    group = drawn.group_number[order.ring[: number.size]]
    sort = np.lexsort((number, group))
    same = np.diff(group[sort]) == 0
    return bool((np.diff(number[sort])[same] != 0).any())


def _even_run(units: AnyIntArray, to_weld: BoolArray) -> AnyIntArray:
    """Pick the first units of a place to weld that stand a repeat apart: the next follow from them.

    Units that are welded already, or closed before weaving, leave gaps. ``units``, shape (k,), are
    all of the place, in their order, and ``to_weld`` those that are left.
    """
    left = units[to_weld]
    apart, often = np.unique(np.diff(units), return_counts=True)
    if left.size < 2:
        return left
    even = np.diff(left) == apart[np.argmax(often)]
    on, run = even, even.astype(np.int64)  # (gaps,) even gaps from each one on, as many as count
    for further in range(1, min(NAMED - 1, even.size)):
        on = on & np.append(even[further:], np.zeros(further, dtype=bool))
        run += on
    begin = int(np.argmax(run))
    return left[begin : begin + int(run[begin]) + 1]


def _one_a_place(drawn: DrawnPiece, welded: AnyIntArray) -> list[int]:
    """Pick a welded ring for every place in the repeat of each section, away from the ends."""
    layout = drawn.plan.layout
    kind = layout.section[welded].astype(np.int64) * (int(layout.place.max()) + 1)
    kind += layout.place[welded]
    along = layout.along[welded]
    middle = np.zeros(len(layout.sections))
    np.maximum.at(middle, layout.section[welded], along / 2)
    off = np.abs(along - middle[layout.section[welded]])
    order = np.lexsort((welded, off, kind))
    _, first = np.unique(kind[order], return_index=True)
    return [int(ring) for ring in welded[order[first]]]


def add_insets(pages: Pages, drawn: DrawnPiece, insets: Sequence[Inset]) -> None:
    """Draw the rings large, side by side, each with its join."""
    if not insets:
        return
    outer = 2 * drawn.rings.mean_radius_mm + drawn.rings.wire_mm
    scale = RING_MM / float(np.median(outer[[item.ring for item in insets]]))
    wide, high = INSET_MM
    columns = int((pages.width_mm + GAP_MM) / (wide + GAP_MM))
    rows = [insets[k : k + columns] for k in range(0, len(insets), columns)]
    for number, row in enumerate(rows):
        head = HEAD_MM if number == 0 else 0.0
        if not pages.has_room(head + high + LABEL_MM):
            pages.turn_page(pages.headings[-1])
        if head:
            key = "sheet.which" if drawn.unit == "ring" else f"sheet.which.{drawn.unit}"
            text = drawn.t(key, scale=say_scale(scale, drawn.t))
            pages.sheet.write(pages.left_mm, pages.y_mm + 4.0, text, SMALL_PT)
            pages.y_mm += head
        for k, item in enumerate(row):
            left = pages.left_mm + k * (wide + GAP_MM)
            _draw(pages, drawn, item, scale, (left, pages.y_mm))
        pages.y_mm += high + LABEL_MM


def _draw(
    pages: Pages, drawn: DrawnPiece, item: Inset, scale: float, corner_mm: tuple[float, float]
) -> None:
    ring = np.array([item.ring])
    (x, y) = drawn.seen(item.view, ring)[0].tolist()
    middle = item.view.project(drawn.rings.centre_mm[ring])[0].tolist()
    x, y = (x + middle[0]) / 2, (y + middle[1]) / 2
    half, rise = (part / scale / 2 for part in INSET_MM)
    window = (x - half, y - rise, x + half, y + rise)
    picture = Picture(
        drawing=drawn.drawing(item.view, window), left_mm=corner_mm[0], top_mm=corner_mm[1],
        scale=scale, window_mm=window,
    )  # fmt: skip
    sheet = pages.sheet
    sheet.pictures.append(picture)
    arcs, seen = drawn.own_arcs(item.view, window, ring)
    marks.draw_own_rings(sheet, picture, arcs, seen, drawn.rings.wire_mm[ring])
    marks.draw_dots(sheet, picture.on_sheet(drawn.seen(item.view, ring)))
    sheet.box(*corner_mm, *INSET_MM, stroke=PALE)
    sheet.write(corner_mm[0], corner_mm[1] + INSET_MM[1] + 3.8, item.text, SMALL_PT)
