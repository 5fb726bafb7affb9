"""Reads the cells of a row by the table of columns, and says which needed ones are missing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.job.cells import read_cell
from chainplan.job.columns import columns_of

if TYPE_CHECKING:
    from chainplan.job.table import Findings, Row

NOT_READ_HERE = {"shown", "any", "range"}


def read_row(sheet: str, row: Row, findings: Findings) -> dict[str, Any]:
    """Read every cell of a row; ``None`` where it is blank or faulty.

    A needed cell that is blank is a fault, told at the row.
    """
    values: dict[str, Any] = {}
    for column in columns_of(sheet).values():
        if column.kind in NOT_READ_HERE:
            continue
        values[column.name] = read_cell(row, column, findings)
        blank = row.get(column.name) is None
        if column.required == "yes" and blank and row.may_hold(column.name):
            example = f", for example {column.example}" if column.example else ""
            found = f"{column.name} is missing"
            findings.fault(
                row.place(column.name), found, f"write it in the column {column.name!r}{example}"
            )
    return values


def need_one(names: tuple[str, str], row: Row, findings: Findings) -> None:
    """Note a fault unless exactly one of two columns is filled."""
    given = [name for name in names if row.get(name) is not None]
    if len(given) == 1:
        return
    found = f"both {names[0]} and {names[1]} are given" if given else f"no {names[0]} is given"
    allowed = "keep one of them" if given else f"write {names[0]} or {names[1]}"
    findings.fault(row.place(names[1] if given else names[0]), found, allowed)
