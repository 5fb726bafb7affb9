"""The workbook of a job looked back at."""

from __future__ import annotations

import datetime
import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from chainplan.model.workshop.record import JoinTrace, Review

_TRACE_HEADS = (
    "piece", "copy", "ring", "state", "metal", "wire mm", "wire lot", "power J", "hits", "tip",
    "person", "welded at", "tries", "checks",
)  # fmt: skip


def write_review_book(review: Review, traces: Sequence[JoinTrace], path: Path) -> None:
    """Write ``review.xlsx``: planned and actual, what was learnt, joins to check, every trace."""
    from openpyxl import Workbook
    from openpyxl.styles import Font

    from chainplan.report.workbook.cells.archive import save_workbook
    from chainplan.report.workbook.cells.style import FONT, printable

    book = Workbook()
    first = book.worksheets[0]
    first.title = "planned and actual"
    learnt = book.create_sheet("learnt")
    sample = book.create_sheet("joins to check")
    trace = book.create_sheet("trace")
    bold = Font(name=FONT, bold=True)
    tables = (
        (
            first, ("what", "unit", "planned", "actual", "basis"),
            [(line.what, line.unit, line.planned, line.actual, line.basis)
             for line in review.lines],
        ),
        (
            learnt, ("figure", "unit", "old", "new", "from", "to", "n", "enough", "basis"),
            [(item.title, item.unit, item.old, item.new, _finite(item.low), _finite(item.high),
              item.n, "yes" if item.enough else "no", item.basis) for item in review.learnt],
        ),
        (
            sample, ("lot", "piece", "copy", "ring", "found", "verdict", "next"),
            [(draw.lot, *drawn, found, draw.verdict, draw.next_step) for draw in review.samples
             for drawn, found in zip(draw.drawn, draw.found, strict=True)],
        ),
        (trace, _TRACE_HEADS, [_trace_row(line) for line in traces]),
    )  # fmt: skip
    for sheet, heads, rows in tables:
        sheet.append(heads)
        for row in rows:
            sheet.append([printable(c) if isinstance(c, str) else c for c in row])
            for cell in sheet[sheet.max_row]:
                if cell.data_type == "f":  # a name that looks like a formula is a text
                    cell.data_type = "s"
                    cell.quotePrefix = True
        for cell in sheet[1]:
            cell.font = bold
        for column in "ABCDEFGHIJKLMN"[: len(heads)]:
            sheet.column_dimensions[column].width = 16
        sheet.freeze_panes = "A2"
    book.properties.creator = "chainplan"
    book.properties.created = book.properties.modified = datetime.datetime(2000, 1, 1)
    save_workbook(book, path)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _trace_row(trace: JoinTrace) -> tuple[object, ...]:
    return (
        trace.piece, trace.copy, trace.ring, trace.state, trace.metal, trace.wire_mm, trace.lot,
        trace.power_j, trace.hits, trace.tip, trace.person, trace.at, trace.tries,
        "; ".join(trace.checks),
    )  # fmt: skip
