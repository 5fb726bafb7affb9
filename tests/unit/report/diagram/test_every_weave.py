"""Pages of every weave at three sizes: figures large enough, none on another, all on the paper."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from chainplan.model.job import Piece, Section
from chainplan.model.piece.line import count_units
from chainplan.report.diagram.drawn.marks import MARK
from chainplan.report.diagram.drawn.strips import NUMBER_PT
from chainplan.report.diagram.weld_order import draw_diagrams
from chainplan.report.paper.lettering import CAP_HEIGHT, MM_A_POINT, text_width_mm
from chainplan.report.paper.sheet import Path, Text
from chainplan.weave import find_smallest_aspect_ratio, lay_piece, load_weave, weave_keys

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import PiecePlan
    from chainplan.report.paper.sheet import Sheet

ARMS_LENGTH_MM = 3.5
"""Figures that are read with the hands at the piece."""
SIZES = (16, 90, 260)
FEW_CROSSED, CROSSED = 2, 0.04
"""Leaders that may cross, and their share: where a lane is full they must go round each other."""


@cache
def laid(weave: str, rings: int) -> Layout:
    """Lay a piece of a weave, a little looser than it just goes together."""
    section: dict[str, Any] = {"weave": weave, "metal": "sterling-silver", "wire_mm": 1.0}
    inner_mm = round(1.1 * find_smallest_aspect_ratio(load_weave(weave)), 2)
    if load_weave(weave).form != "chain":
        section["rows"] = 4 if rings < 100 else 8
    made = Section(**section, inner_mm=inner_mm, rings=rings)
    return lay_piece(Piece(name="piece", quantity=1, sections=(made,)))


def numbers(page: Sheet) -> list[Text]:
    """Numbers of joins on a page."""
    return [m for m in page.marks if isinstance(m, Text) and m.size_pt == NUMBER_PT]


def leaders(page: Sheet) -> FloatArray:
    """Lines from dots to boxes, shape (k, 2, 2)."""
    found = [
        mark.points_mm.reshape(-1, 2, 2)
        for mark in page.marks
        if isinstance(mark, Path) and mark.stroke == MARK and mark.width_mm == 0.3
        and not mark.closed and len(mark.points_mm) == 2 * int(mark.first.sum())
    ]  # fmt: skip
    return np.concatenate([np.zeros((0, 2, 2)), *found])


def crossings(ends: FloatArray) -> int:
    """Pairs of lines that cross."""
    if len(ends) < 2:
        return 0
    a, b = ends[:, None, 0], ends[:, None, 1]
    c, d = ends[None, :, 0], ends[None, :, 1]

    def side(p: FloatArray, q: FloatArray, r: FloatArray) -> FloatArray:
        turn: FloatArray = np.sign(
            (q - p)[..., 0] * (r - p)[..., 1] - (q - p)[..., 1] * (r - p)[..., 0]
        )
        return turn

    cross = (side(a, b, c) * side(a, b, d) < 0) & (side(c, d, a) * side(c, d, b) < 0)
    return int(np.count_nonzero(np.triu(cross, 1)))


@cache
def joined(name: str, rings: int) -> Layout:
    """Lay a loop, a piece of three sections in two metals, or a strip of few rows."""
    made: dict[str, Any] = {"metal": "sterling-silver", "wire_mm": 1.0, "rings": rings}
    folded = Section(weave="byzantine", inner_mm=3.8, **made)
    plain = Section(weave="single-link", inner_mm=3.8, **{**made, "metal": "copper"})
    rows = int(name.rpartition(" ")[2]) if name.startswith("strip") else 1
    strip = Section(weave="european-4-in-1", inner_mm=5.0, rows=rows, **made)
    sections = {"loop": (folded,), "three sections": (folded, plain, folded)}.get(name, (strip,))
    return lay_piece(Piece(name=name, quantity=1, sections=sections, closed=name == "loop"))


@pytest.mark.parametrize("rings", SIZES)
@pytest.mark.parametrize("weave", weave_keys())
def test_numbers_are_large_apart_and_on_the_paper(weave: str, rings: int, build: Any) -> None:
    """Digits of 3.5 mm, no number on another, few leaders that cross, nothing off the page."""
    look_at(laid(weave, rings), rings, build)


@pytest.mark.parametrize("rings", SIZES)
@pytest.mark.parametrize("name", ["loop", "three sections", "strip of 2", "strip of 3"])
def test_so_are_those_of_loops_sections_and_strips(name: str, rings: int, build: Any) -> None:
    """The same of pieces that are more than one stretch of chain, or few rows wide."""
    look_at(joined(name, rings), rings, build)


def check_pairs(middle: dict[int, FloatArray], piece: PiecePlan) -> None:
    """Of a pair welded one ring after the other the first number stands above the second."""
    unit, number = count_units(piece.layout)
    if unit != "pair" or piece.layout.row.any():
        return
    group = number[piece.order.ring].tolist()
    for step in range(1, len(group)):
        if group[step - 1] == group[step] and {step, step + 1} <= set(middle):
            assert middle[step][1] < middle[step + 1][1], (step, step + 1)


def look_at(layout: Layout, rings: int, build: Any) -> None:
    """Draw a piece on both papers and measure what stands on its pages."""
    stride = 1 if rings == SIZES[0] else 11
    piece = build.piece("piece", layout, stride=stride, faces=1, wait_s=3.0)
    written, crossed = 0, 0
    for paper in ("A4", "Letter"):
        for page in draw_diagrams(build.plan(piece), paper=paper):
            mine = numbers(page)
            written += len(mine)
            crossed += crossings(leaders(page))
            for mark in mine:
                assert CAP_HEIGHT * mark.size_pt * MM_A_POINT >= ARMS_LENGTH_MM
            middle = np.array([(m.x_mm, m.y_mm) for m in mine]).reshape(-1, 2)
            wide = np.array([text_width_mm(m.text, m.size_pt, bold=m.bold) for m in mine])
            apart = np.abs(middle[:, None] - middle[None])
            over = (apart[..., 0] < (wide[:, None] + wide[None]) / 2) & (
                apart[..., 1] < ARMS_LENGTH_MM
            )
            np.fill_diagonal(over, val=False)
            assert not over.any(), [mine[k].text for k in np.argwhere(over)[:4, 0].tolist()]
            check_pairs(dict(zip([int(m.text) for m in mine], middle, strict=True)), piece)
            for mark in page.marks:
                points = mark.points_mm if isinstance(mark, Path) else [(mark.x_mm, mark.y_mm)]
                low, high = np.min(points, axis=0), np.max(points, axis=0)
                assert np.all(low >= 3.0), mark
                assert high[0] <= page.width_mm - 3.0, mark
                assert high[1] <= page.height_mm - 3.0, mark
    assert written == 2 * layout.rings
    assert crossed <= max(FEW_CROSSED, CROSSED * written)
