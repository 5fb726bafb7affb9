"""Rows, columns and rings named beside and on a tile."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.reference.texts import ENGLISH
from chainplan.report.diagram.drawn.marks import RULER_PT
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import GREY, WHITE

if TYPE_CHECKING:
    from chainplan.arrays import AnyIntArray, FloatArray
    from chainplan.reference.texts import Texts
    from chainplan.report.paper.sheet import Picture, Sheet


ROW_APART_MM = 3.0
"""Rows whose joins lie nearer to one level are named together, one above the other."""
COLUMN_LINE_MM = 4.2
"""From the columns of odd rows to those of even ones."""
ROW_MM = 5.0
"""Height of a line of words or of the map above a strip."""


EDGE_MM = 5.0
"""A ring whose middle is nearer to the picture's left edge is not numbered: half of four figures
and white."""


def draw_rows(
    sheet: Sheet, picture: Picture, joins_mm: FloatArray, row: AnyIntArray, column: AnyIntArray,
    t: Texts = ENGLISH,
) -> None:  # fmt: skip
    """Write the rows left of a picture, level with their joins, and the columns below it.

    Odd and even rows each have a line of columns, since one's rings stand between the other's.

    Parameters
    ----------
    sheet, picture : Sheet, Picture
        The strip or tile.
    joins_mm : array, shape (n, 2)
        Joins of all rings: right and up, in the picture's own mm.
    row, column : array, shape (n,)
        Of each ring, from 0.
    t : Texts
        Of the language that is spoken there.
    """
    inside = _inside(picture, joins_mm)
    if not len(inside):
        return
    place = picture.on_sheet(joins_mm)
    rows, high = name_rows(sheet, picture, joins_mm, row)
    below = picture.top_mm + picture.height_mm + 4.2
    upwards = rows[np.argsort(-high, kind="stable")].tolist()
    for word, parity in ((t("sheet.odd"), 0), (t("sheet.even"), 1)):
        number = next((each for each in upwards if each % 2 == parity), None)
        if number is not None:
            line = inside[row[inside] == number]
            _write_columns(sheet, picture, place, line, column, below, word)
            below += COLUMN_LINE_MM


def _inside(picture: Picture, joins_mm: FloatArray) -> AnyIntArray:
    left, lower, right, upper = picture.window_mm
    x, y = joins_mm[:, 0], joins_mm[:, 1]
    return np.flatnonzero((x > left) & (x < right) & (y > lower) & (y < upper))


def name_rows(
    sheet: Sheet, picture: Picture, joins_mm: FloatArray, row: AnyIntArray
) -> tuple[AnyIntArray, FloatArray]:
    """Write the rows left of a picture, level with their joins; return them and their levels."""
    inside = _inside(picture, joins_mm)
    rows, where = np.unique(row[inside], return_inverse=True)
    level_mm = picture.on_sheet(joins_mm[inside])[:, 1]
    high = np.bincount(where, weights=level_mm) / np.bincount(where)
    level = np.inf
    named: list[tuple[float, list[int]]] = []
    for k in np.argsort(-high, kind="stable").tolist():
        if high[k] < level - ROW_APART_MM:
            level = float(high[k])
            named.append((level, [int(rows[k]) + 1]))
        else:
            named[-1][1].append(int(rows[k]) + 1)
    for at_mm, numbers in named:
        for k, row_number in enumerate(sorted(numbers)[:2]):
            base = at_mm + 1.2 + ROW_APART_MM * (k - (min(len(numbers), 2) - 1) / 2)
            at = (picture.left_mm - 1.0, base)
            sheet.write(*at, str(row_number), RULER_PT, anchor="end", colour=GREY)
    return rows, high


def number_rings(
    sheet: Sheet, picture: Picture, centre_mm: FloatArray, row: AnyIntArray, taken_mm: FloatArray,
    half_mm: tuple[float, float],
) -> None:  # fmt: skip
    """Write its number into the first ring of each row that no box covers.

    ``centre_mm``: middles of all rings as seen; ``taken_mm``: middles of the boxes on the sheet,
    which reach ``half_mm`` to the side and up.
    """
    left, lower, right, upper = picture.window_mm
    inside = np.flatnonzero(
        (centre_mm[:, 0] > left) & (centre_mm[:, 0] < right)
        & (centre_mm[:, 1] > lower) & (centre_mm[:, 1] < upper)
    )  # fmt: skip
    place = picture.on_sheet(centre_mm[inside])
    free = place[:, 0] > picture.left_mm + EDGE_MM  # further left it would run into the rows
    for x, y in taken_mm.tolist():
        free &= (np.abs(place[:, 0] - x) > half_mm[0] + 4.0) | (
            np.abs(place[:, 1] - y) > half_mm[1] + 2.0
        )
    order = np.lexsort((place[:, 0], row[inside]))
    order = order[free[order]]
    _, first = np.unique(row[inside][order], return_index=True)
    for k in order[first].tolist():
        text = str(inside[k] + 1)
        wide = text_width_mm(text, RULER_PT) + 0.8
        x, y = place[k].tolist()
        sheet.box(x - wide / 2, y - 1.6, wide, 3.2, fill=WHITE)
        sheet.write_centred(x, y, text, RULER_PT, bold=False, colour=GREY)


def _write_columns(
    sheet: Sheet, picture: Picture, place: FloatArray, rings: AnyIntArray, column: AnyIntArray,
    base_mm: float, word: str,
) -> None:  # fmt: skip
    """Write one line of column numbers, each below the joins of its rings."""
    at = (picture.left_mm - 1.0, base_mm)
    sheet.write(*at, word, RULER_PT, anchor="end", colour=GREY)
    free = -np.inf
    for k in rings[np.argsort(place[rings, 0], kind="stable")].tolist():
        text = str(int(column[k]) + 1)
        width = text_width_mm(text, RULER_PT)
        if place[k, 0] - width / 2 > free + 2.0:
            sheet.write(place[k, 0], base_mm, text, RULER_PT, anchor="middle", colour=GREY)
            free = place[k, 0] + width / 2
