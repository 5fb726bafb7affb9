"""A small piece stands on one page: a picture with every number and a table with a line a join."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from chainplan.report.diagram.small_piece import MOST_LISTED, hold_text
from chainplan.report.diagram.weld_order import draw_diagrams
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import Sheet, Text


def texts(page: Sheet) -> list[Text]:
    return [mark for mark in page.marks if isinstance(mark, Text)]


def rows_of(page: Sheet) -> list[list[str]]:
    """Texts of the table, line by line in the order of welding: all to the right of a number."""
    numbers = [mark for mark in texts(page) if mark.bold and mark.size_pt == 11.0]
    rows = []
    for number in sorted(numbers, key=lambda mark: int(mark.text)):
        beside = [
            mark for mark in texts(page)
            if abs(mark.y_mm - number.y_mm) < 0.1 and 0 <= mark.x_mm - number.x_mm < 125
        ]  # fmt: skip
        rows.append([mark.text for mark in sorted(beside, key=lambda mark: mark.x_mm)])
    return rows


@pytest.fixture(name="pages")
def fixture_pages(build: Any) -> list[Sheet]:
    """Pages of two copies of a chain of 24 rings in six passes, with waits."""
    piece = build.piece("chain", build.chain(24), stride=6, faces=1, wait_s=9.0, quantity=2)
    return draw_diagrams(build.plan(build.held(piece)))


def test_cover_and_one_page_are_all(pages: list[Sheet], build: Any) -> None:
    """Six passes of four joins: no list of passes, no picture a pass."""
    assert len(pages) == 2
    assert len(pages[1].pictures) == 1
    longer = build.piece("chain", build.chain(MOST_LISTED + 2), stride=6, faces=1)
    assert len(draw_diagrams(build.plan(longer))[1].pictures) > 1


def test_table_says_ring_place_wait_and_hold_of_every_join(pages: list[Sheet]) -> None:
    """In the order of welding: every sixth ring of a chain of 3.5 mm pitch, its start at −2.75."""
    rows = rows_of(pages[1])
    assert [row[0] for row in rows] == [str(k) for k in range(1, 25)]
    rings = [first + 6 * k for first in range(1, 7) for k in range(4)]
    assert [row[1] for row in rows] == [f"ring {ring}" for ring in rings]
    assert [row[2] for row in rows] == [f"{3.5 * (ring - 1) + 2.75:.0f} mm" for ring in rings]
    waits = ["9 s" if k and k % 4 == 0 else "–" for k in range(24)]
    assert [row[3] for row in rows] == waits
    assert rows[0][4] == "cross-lock tweezers"  # they hold the end
    assert " or " in rows[2][4]


def test_texts_of_the_page_do_not_cover_each_other(pages: list[Sheet]) -> None:
    """Neither within a line nor across the two columns of the table."""
    lines: dict[float, list[tuple[float, float]]] = {}
    for mark in texts(pages[1]):
        width = text_width_mm(mark.text, mark.size_pt, bold=mark.bold)
        left = mark.x_mm - {"start": 0.0, "middle": width / 2, "end": width}[mark.anchor]
        lines.setdefault(round(mark.y_mm, 2), []).append((left, left + width))
    for spans in lines.values():
        spans.sort()
        assert all(a[1] <= b[0] for a, b in pairwise(spans))


def test_what_stands_above_the_picture_goes_with_it_to_the_next_page(build: Any) -> None:
    """However much is said before: the face is on the page of the picture."""
    parted = 0
    for lines in range(0, 45, 3):
        piece = build.piece("chain", build.chain(24), stride=6, faces=1)
        advice = tuple(f"Advice {k}." for k in range(lines))
        order = replace(piece.order, status="infeasible", advice=advice)
        pages = draw_diagrams(build.plan(replace(piece, order=order)))
        (own,) = (page for page in pages if page.pictures)
        assert "FRONT" in [mark.text for mark in texts(own)], lines
        parted += own is not pages[1]
    assert parted


@pytest.mark.parametrize("change", ["face", "setting"])
def test_what_has_something_to_do_in_between_is_drawn_by_passes(build: Any, change: str) -> None:
    """Turning the piece or the dial must not hide in a table."""
    piece = build.piece("chain", build.chain(12), stride=3, faces=1)
    passes = list(piece.order.passes)
    if change == "face":
        passes[1] = replace(passes[1], face="back")
    else:
        passes[1] = replace(passes[1], setting=replace(build.setting, power_j=14.0))
    order = replace(piece.order, passes=tuple(passes))
    page = draw_diagrams(build.plan(replace(piece, order=order)))[1]
    assert len(page.pictures) > 1


@pytest.mark.parametrize(
    ("at_mm", "said"),
    [(50.0, "15–35 or 65–85"), (8.0, "23–43"), (19.0, "34–54"), (21.0, "0–6 or 36–56"),
     (155.0, "120–140")],
)  # fmt: skip
def test_hold_points_lie_on_the_piece(at_mm: float, said: str) -> None:
    """What is left of them beyond its ends is not worth a finger."""
    assert hold_text(at_mm, 160.0, 15.0, 35.0) == said
    assert hold_text(at_mm, 160.0, 15.0, 35.0, loose=True) == ""


def test_copies_have_a_box_each(build: Any) -> None:
    """Up to six; more are ticked on the bench sheet."""
    found = []
    for copies in (1, 3, 40):
        piece = build.piece("chain", build.chain(10), stride=2, faces=1, quantity=copies)
        page = draw_diagrams(build.plan(piece))[-1]  # the cover lists many copies on two pages
        boxes = [
            mark for mark in page.marks
            if not isinstance(mark, Text) and mark.closed and len(mark.points_mm) == 4
            and np.ptp(mark.points_mm, axis=0) == pytest.approx([3.6, 3.6])
        ]  # fmt: skip
        found.append(len(boxes))
    assert found == [10, 30, 60]
