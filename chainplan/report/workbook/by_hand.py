"""The sheet on which a workshop without a tablet writes by hand what happened."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from chainplan.model.workshop.bench_log import BY_HAND_COLUMNS, STATIONS
from chainplan.model.workshop.record import EVENT_KINDS

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any

    from chainplan.model.plan import Plan

ROWS = 2000
"""Rows that have drop-downs."""
_WIDTHS = {"piece": 26, "at": 18, "note": 40, "what": 16, "ring": 14, "result": 13, "person": 12}
"""Characters that columns are wide, where not eleven."""
_LIST_LIMIT = 250
"""Letters that a drop-down's own list may have."""


def write_by_hand(plan: Plan, path: Path) -> None:
    """Write ``record-by-hand.xlsx``: an empty sheet to fill in, and what its columns take."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    from chainplan.report.workbook.cells.archive import save_workbook
    from chainplan.report.workbook.cells.style import FONT

    book = Workbook()
    page = book.worksheets[0]
    page.title = "what happened"
    bold, plain = Font(name=FONT, bold=True, size=10), Font(name=FONT, size=10)
    for column, (name, _) in enumerate(BY_HAND_COLUMNS, 1):
        cell = page.cell(row=1, column=column, value=name)
        cell.font = bold
        page.column_dimensions[get_column_letter(column)].width = _WIDTHS.get(name, 11)
    page.freeze_panes = "B2"
    names = [name for name, _ in BY_HAND_COLUMNS]
    _offer(page, get_column_letter(names.index("station") + 1), STATIONS)
    _offer(page, get_column_letter(names.index("piece") + 1), [p.piece.name for p in plan.pieces])
    page.column_dimensions[get_column_letter(names.index("at") + 1)].number_format = "@"
    help_page = book.create_sheet("columns")
    lines = [
        ("This is a list of what really happened; one row is one thing, in the order of time.", ""),
        ("Save it, and hand it over:", "chainplan record record-by-hand.xlsx --plan FOLDER"),
        ("A row whose first cell begins with # is not read.", ""),
        ("", ""),
        ("column", "what to write"),
        *BY_HAND_COLUMNS,
        ("", ""),
        ("result", "what it says, and what it needs"),
        *((kind, _explained(kind)) for kind in EVENT_KINDS),
    ]
    for row, line in enumerate(lines, 1):
        for column, text in enumerate(line, 1):
            cell = help_page.cell(row=row, column=column, value=text or None)
            cell.font = bold if line[0] in ("column", "result") and "what" in line[1] else plain
            cell.alignment = Alignment(vertical="top", wrap_text=column == 2)
    help_page.column_dimensions["A"].width = 26
    help_page.column_dimensions["B"].width = 90
    last = len(lines)
    _offer(page, "A", f"columns!$A${last - len(EVENT_KINDS) + 1}:$A${last}")
    book.properties.creator = "chainplan"
    book.properties.created = book.properties.modified = datetime.datetime(2000, 1, 1)
    save_workbook(book, path)


def _explained(kind: str) -> str:
    spec = EVENT_KINDS[kind]
    needs = ", ".join(name for name in spec.needs if name != "undoes")
    return f"{spec.means}; needs {needs}" if needs else spec.means


def _offer(page: Any, letter: str, choices: Any) -> None:
    """Offer choices in a column's cells; other words stay possible."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if not isinstance(choices, str):
        listed = ",".join(choices)
        if len(listed) > _LIST_LIMIT or any("," in choice or '"' in choice for choice in choices):
            return
        source = f'"{listed}"'
    else:
        source = choices
    check = DataValidation(type="list", formula1=source, allow_blank=True)
    check.errorStyle = "warning"
    page.add_data_validation(check)
    check.add(f"{letter}2:{letter}{ROWS}")
