"""The workbook says what the plan says: every number and date on its sheets, cell by cell."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from chainplan.examine.printed.bench_sheets import (
    buy_list,
    calendar,
    dates,
    hours,
    minutes,
    passes,
    pieces,
    settings,
    summary,
    workshop,
)
from chainplan.examine.printed.cells import read_cells, table_below
from chainplan.examine.printed.long_sheets import check_long_sheets
from chainplan.examine.printed.money_sheets import (
    cost,
    drivers,
    figures,
    inputs,
    more_copies,
    piece_workings,
    price,
    sources,
    spares,
    spent,
    torch,
    wire,
)
from chainplan.examine.printed.values import Near, SpokenSeconds, TextPart
from chainplan.examine.registry import check
from chainplan.examine.said import seconds_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from chainplan.examine.findings import Teller
    from chainplan.examine.printed.cells import Row, Sheet
    from chainplan.examine.printed.values import Expected
    from chainplan.examine.reading import PlanFiles

BOOK = "plan.xlsx"
_HALF_A_SECOND_S = 0.5
"""Waits below are not said."""

TABLES: dict[str, tuple[Callable[[PlanFiles], list[Expected]], ...]] = {
    "summary": (summary,), "workshop": (workshop,), "pieces": (pieces,), "passes": (passes,),
    "settings to try": (settings,), "buy list": (buy_list,), "time": (hours, minutes),
    "dates": (dates,), "calendar": (calendar,), "price": (price,), "cost": (cost,),
    "inputs": (inputs,), "more copies": (more_copies,), "cost drivers": (drivers,),
    "by torch": (torch,), "what it takes": (figures,), "wire workings": (wire,),
    "piece workings": (piece_workings,), "spare rings": (spares,), "sources": (sources,),
}  # fmt: skip
"""The tables of each sheet that every workbook has."""


@check("the workbook is the plan")
def check_workbook(files: PlanFiles, teller: Teller) -> None:
    """Compare every table of the workbook with plan.json, and look for errors in any cell."""
    path = files.folder / BOOK
    if not path.is_file():
        teller.tell(BOOK, "the file", "is not there", "the workbook of the plan")
        return
    book = read_cells(path)
    for name, sheet in book.items():
        for number, row in sheet.items():
            for column, value in row.items():
                wrong = isinstance(value, str) and value.startswith("#")
                if wrong or (isinstance(value, float) and not math.isfinite(value)):
                    teller.tell(BOOK, f"{name}, {column}{number}", value, "a value")
    begun = {"spent and to come": (spent,)} if "replan" in files.plan else {}
    for name, makers in (TABLES | begun).items():
        if name not in book:
            teller.tell(BOOK, name, "no such sheet", "one of the plan's sheets")
            continue
        for make in makers:
            _compare(name, book[name], make(files), teller)
    check_long_sheets(files, book, teller)
    sheets = [book.get(name, {}) for name in ("workshop", "notes")]
    _check_remarks(files, [row for sheet in sheets for row in sheet.values()], teller)


def _check_remarks(files: PlanFiles, rows: Iterable[Row], teller: Teller) -> None:
    """Warnings, and what is said of each order, stand on the workshop's sheets as sentences."""
    cells = [str(value) for row in rows for value in row.values()]
    said = {text.removeprefix("•  ").removeprefix("The batch: ") for text in cells}
    texts = [*files.plan["warnings"], files.plan["order"]["batch"]["note"]]
    texts += [t for p in files.pieces for t in (*p.order["gained"], *p.order["advice"])]
    for text in dict.fromkeys(texts):
        good = not text or text in said
        teller.true(BOOK, "notes, remarks", good, "other words", text)


def _compare(name: str, sheet: Sheet, expected: list[dict[str, Any]], teller: Teller) -> None:
    if not expected:
        return
    headings = dict.fromkeys(heading for row in expected for heading in row)
    try:
        found = table_below(sheet, tuple(headings))
    except LookupError as error:
        teller.tell(BOOK, name, str(error), "the table of the plan")
        return
    more = found[len(expected) :]
    heat = name == "sources" and all(row.get("about") == "heat" for row in more)
    if len(found) < len(expected) or (more and not heat):
        teller.tell(BOOK, name, f"{len(found)} rows", len(expected))
    for number, (row, wanted) in enumerate(zip(found, expected, strict=False), 1):
        for heading, value in wanted.items():
            if not _agrees(row.get(heading), value):
                place = f"{name}, row {number} of its table, {heading}"
                teller.tell(BOOK, place, _shown(row, heading), _wanted(value))


def _shown(row: Row, heading: str) -> object:
    return row.get(heading, "an empty cell")


def _wanted(value: object) -> object:
    if isinstance(value, SpokenSeconds):
        return f"{value.seconds:.1f} s"
    if isinstance(value, (Near, TextPart)):
        return value.value if isinstance(value, Near) else value.text
    return "an empty cell" if value is None else value


def _agrees(found: float | str | None, expected: object) -> bool:
    """Whether a cell holds what it should, to the digits of plan.json."""
    if expected is None or expected == "":
        return found is None
    if isinstance(expected, TextPart):
        return isinstance(found, str) and found.startswith(expected.text)
    if isinstance(expected, str):
        return found == expected
    if isinstance(expected, SpokenSeconds):
        if found == "none":
            return expected.seconds < _HALF_A_SECOND_S + 0.05
        low, high = seconds_of(found) if isinstance(found, str) else (math.inf, -math.inf)
        return low - 0.06 <= expected.seconds <= high + 0.06
    off = expected.off if isinstance(expected, Near) else 0.0
    value = expected.value if isinstance(expected, Near) else float(str(expected))
    return isinstance(found, float) and abs(found - value) <= off + 1e-5 * abs(value) + 1e-9
