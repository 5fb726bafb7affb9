"""Reads the first sheet of any workbook as plain rows, for logs that a spreadsheet saved."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, quote
from chainplan.job.files.package import unpack_workbook

if TYPE_CHECKING:
    from collections.abc import Sequence


def first_sheet_rows(content: bytes, file: str) -> list[list[Any]]:
    """Read the rows of a workbook's first sheet, from its first row on.

    Raises
    ------
    InputError
        If it is no workbook, is damaged, or is outside the bounds.
    """
    from openpyxl.reader.excel import ExcelReader

    safe = unpack_workbook(content, file)
    rows: list[list[Any]] = []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            reader = ExcelReader(safe, read_only=True, data_only=True, keep_links=False)
            reader.read()
            title = reader.parser.sheets[0].name
            sheet = reader.wb.worksheets[0]
            if sheet.title != title:
                found = f"names a sheet {quote(title)} and does not hold it: it is damaged"
                raise InputError(Fault(file, found, "save it anew as .xlsx or .csv"))
            sheet.reset_dimensions()
            for number, row in enumerate(sheet.iter_rows(values_only=True), 1):
                rows.append(_within(row, number, file))
            reader.wb.close()
    except InputError:
        raise
    except Exception as error:
        found = "is damaged, or holds no workbook"
        raise InputError(Fault(file, found, "save it anew as .xlsx or .csv")) from error
    return rows


def _within(row: Sequence[Any], number: int, file: str) -> list[Any]:
    """Refuse a row that is filled beyond the columns that are taken: none is left out silently."""
    beyond = [k for k in range(BOUNDS.columns, len(row)) if row[k] is not None]
    if beyond:
        found = f"row {number} is filled to column {beyond[-1] + 1}"
        raise InputError(Fault(file, found, f"at most {BOUNDS.columns} columns are taken"))
    return list(row[: BOUNDS.columns])
