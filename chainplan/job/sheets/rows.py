"""Reads the cells of a row by the table of columns, and says which needed ones are missing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.job.columns import columns_of
from chainplan.job.sheets.cells import read_cell
from chainplan.job.table import option

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
            unit = column.unit if row.by_words else ""
            example = f", for example {column.example}{unit}" if column.example else ""
            found = f"{column.name} is missing"
            findings.fault(row.place(column.name), found, f"{row.ask(column.name)}{example}")
    return values


def need_one(names: tuple[str, str], row: Row, findings: Findings) -> None:
    """Note a fault unless exactly one of two columns is filled."""
    given = [name for name in names if row.get(name) is not None]
    if len(given) == 1:
        return
    first, second = names
    if given:
        found, allowed = f"both {first} and {second} are given", "keep one of them"
    else:
        found = f"neither {first} nor {second} is given"
        allowed = f"write {first} or {second}"
        if row.by_words:
            allowed = f"give one of them ({option(first)} or {option(second)})"
    findings.fault(row.place(names[1] if given else names[0]), found, allowed)
