"""Reads the first sheet of any workbook as plain rows, for logs that a spreadsheet saved."""

from __future__ import annotations

import warnings
from typing import Any

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError
from chainplan.job.files.package import unpack_workbook


def first_sheet_rows(content: bytes, file: str) -> list[list[Any]]:
    """Read the rows of a workbook's first sheet, from its first row on.

    Raises
    ------
    InputError
        If it is no workbook, is damaged, or is outside the bounds.
    """
    import openpyxl

    safe = unpack_workbook(content, file)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(safe, read_only=True, data_only=True)
            sheet = book.worksheets[0]
            sheet.reset_dimensions()
            rows = [list(row) for row in sheet.iter_rows(max_col=BOUNDS.columns, values_only=True)]
            book.close()
    except Exception as error:
        found = "is damaged, or holds no workbook"
        raise InputError(Fault(file, found, "save it anew as .xlsx or .csv")) from error
    return rows
