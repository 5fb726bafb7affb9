"""Reads drawn designs: a grid of letters in a CSV or workbook, and a small picture."""

from __future__ import annotations

import hashlib
import io
import warnings
from typing import TYPE_CHECKING

import numpy as np

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, Refusal, quote
from chainplan.intake import decode, read_bytes, read_csv_rows
from chainplan.job.files.package import unpack_workbook
from chainplan.model.piece.design import OWN

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

_CLEAR = 128
"""Opacity of a dot below which it leaves a ring as it is: half of 255."""


def _take_in(path: Path, name: str, most: int, seen: dict[str, str]) -> bytes:
    """Read a file beside the job whole, and note what was read.

    Raises
    ------
    InputError
        As a refusal of the cell that names it.
    """
    try:
        content = read_bytes(path, most, name=name)
    except InputError as error:
        fault = error.faults[0] if error.faults else Fault(name, str(error), "")
        allowed = "name a file; its place is counted from the job file's folder"
        raise InputError(Refusal(f"cannot be read: {fault.found}", allowed, quote(name))) from error
    seen[name] = hashlib.sha256(content).hexdigest()
    return content


def read_grid(path: Path, name: str, seen: dict[str, str]) -> list[str]:
    """Read rows of letters, a cell a ring or all of a row in one cell; blank cells are points.

    Raises
    ------
    InputError
        If the file is not there or is no such grid.
    """
    content = _take_in(path, name, BOUNDS.text_bytes, seen)
    try:
        if name.casefold().endswith(".xlsx"):
            rows = _sheet_rows(content, name)
        else:
            rows = _csv_rows(decode(content, name), name)
    except InputError as error:
        fault = error.faults[0] if error.faults else Fault(name, str(error), "")
        raise InputError(Refusal(fault.found, fault.allowed, quote(name))) from error
    lines = []
    for row in rows:
        cells = [cell.strip() for cell in row]
        filled = [cell for cell in cells if cell]
        whole = len(filled) == 1 and len(filled[0]) > 1 and cells[0] == filled[0]
        if not whole and any(len(cell) > 1 for cell in cells):
            long = next(cell for cell in cells if len(cell) > 1)
            found = f"holds {quote(long)} in a row of cells"
            raise InputError(Refusal(found, "one letter a cell, or a row in one cell", quote(name)))
        lines.append(filled[0] if whole else "".join(cell or "." for cell in cells).rstrip("."))
    while lines and not lines[-1].strip("."):
        lines.pop()
    return lines


def _csv_rows(text: str, name: str) -> list[list[str]]:
    """Read the rows of a CSV with commas, semicolons or tabs; blank ones are rows too."""
    first = text.lstrip().split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    rows: list[list[str]] = []
    for number, row in read_csv_rows(text, name, separator=separator):
        rows += [[] for _ in range(number - 1 - len(rows))]
        rows.append(row)
    return rows


def _sheet_rows(content: bytes, name: str) -> list[list[str]]:
    """Read the cells of a workbook's first sheet as texts."""
    from openpyxl import load_workbook

    safe = unpack_workbook(content, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = load_workbook(safe, read_only=True, data_only=True)
            sheet = book.worksheets[0]
            found: list[list[str]] = []
            for row in sheet.iter_rows(values_only=True):
                if len(row) * len(found) > 4 * BOUNDS.design_cells:
                    reach = f"reaches beyond row {len(found)} and column {len(row)}"
                    allowed = f"at most {BOUNDS.design_cells} letters, beginning at the top left"
                    raise InputError(Fault(name, reach, allowed))
                found.append(["" if value is None else str(value) for value in row])
            book.close()
    except InputError:
        raise
    except Exception as error:
        allowed = "open it in a spreadsheet program and save it anew as .xlsx"
        raise InputError(Fault(name, "is damaged, or holds no workbook", allowed)) from error
    return found


def read_picture(
    path: Path, name: str, metals: Sequence[str], seen: dict[str, str]
) -> tuple[bytes, ...]:
    """Read a picture as cells, each the metal whose display colour is nearest in CIELAB.

    Dots that are more clear than not leave a ring as it is.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        What it is called in messages.
    metals : sequence of str
        Keys of the metals to choose among.
    seen : dict
        Takes the file's hash.

    Raises
    ------
    InputError
        If it is not there, is no PNG, or is too large.
    """
    from chainplan.reference.colours import lab_of_metal, nearest_colour

    content = _take_in(path, name, BOUNDS.picture_bytes, seen)
    dots = _dots(content, name)
    shades, place = np.unique(dots.reshape(-1, 4), axis=0, return_inverse=True)
    palette = np.array([lab_of_metal(metal) for metal in metals])
    cell = nearest_colour(shades[:, :3], palette).astype(np.uint8)
    cell[shades[:, 3] < _CLEAR] = OWN
    rows = cell[place.ravel()].reshape(dots.shape[:2])
    return tuple(row.tobytes() for row in rows)


def _dots(content: bytes, name: str) -> np.ndarray:
    """Decode a PNG to dots of red, green, blue and opacity, shape (high, wide, 4)."""
    from PIL import Image

    allowed = "a PNG picture; save it anew from a drawing program"
    if not content.startswith(b"\x89PNG\r\n\x1a\n"):
        raise InputError(Refusal("is no PNG picture", allowed, quote(name)))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = Image.open(io.BytesIO(content), formats=("PNG",))
            wide, high = picture.size
            if wide * high > BOUNDS.picture_dots:
                most = f"at most {BOUNDS.picture_dots} dots are taken: make it smaller"
                raise InputError(Refusal(f"has {wide} × {high} dots", most, quote(name)))
            return np.asarray(picture.convert("RGBA"))
    except InputError:
        raise
    except Exception as error:
        raise InputError(Refusal("is damaged", allowed, quote(name))) from error
