"""An order of somebody else, read from a file."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import Fault, InputError, did_you_mean

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray


_MOST_ORDER_BYTES = 200_000_000
"""Some ten million rows: far beyond any order, and still within memory."""


@dataclass(frozen=True, kw_only=True)
class GivenOrder:
    """An order as somebody wrote it down: rings from 0, start times if the file has them."""

    ring: IntArray
    start_s: FloatArray | None


def read_order(path: str | Path, piece: str | None = None) -> GivenOrder:
    """Read a weld order from a CSV file with a column "ring" (counted from 1).

    A column "start s" (or "planned start s") gives the times; without it see :func:`pace_start_s`.
    A column "piece" is looked at only if ``piece`` is given. Rows count in the order of the file,
    or of a column "step" if there is one.

    Raises
    ------
    InputError
        Naming every row that cannot be used.
    """
    path = Path(path)
    if not path.is_file():
        message = f"{path}: no such file; expected a CSV file with a column 'ring'"
        raise InputError(message)
    if path.stat().st_size > _MOST_ORDER_BYTES:
        message = f"{path}: larger than 200 MB; expected one row a join"
        raise InputError(message)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"{path}: not a text file in UTF-8 ({error.reason}); expected a CSV file"
        raise InputError(message) from None
    rows = list(csv.reader(text.splitlines()))
    header = [name.strip().lower().replace("_", " ") for name in rows[0]] if rows else []
    if "ring" not in header:
        message = (
            f"{path}: no column 'ring' among {', '.join(header[:8]) or 'no columns'}; "
            f"{did_you_mean('ring', header or ['ring'])}"
        )
        raise InputError(message)
    column = {name: header.index(name) for name in ("ring", "step", "piece") if name in header}
    starts = [k for k, name in enumerate(header) if name in ("start s", "planned start s")]
    faults: list[Fault] = []
    found: list[tuple[float, int, float]] = []
    for number, row in enumerate(rows[1:], 2):
        if not any(cell.strip() for cell in row):
            continue
        if piece is not None and "piece" in column:
            name = row[column["piece"]].strip() if column["piece"] < len(row) else ""
            if name != piece:
                continue
        where = f"{path.name} row {number}"
        ring = _number(row, column["ring"], f"{where}, ring", faults)
        start = _number(row, starts[0], f"{where}, start", faults) if starts else 0.0
        step = (
            _number(row, column["step"], f"{where}, step", faults) if "step" in column else number
        )
        if ring is not None and (ring != int(ring) or ring < 1):
            faults.append(Fault(where, f"ring {ring:g}", "rings are counted 1, 2, 3 …"))
        elif ring is not None and start is not None and step is not None:
            found.append((float(step), int(ring) - 1, start))
    if faults:
        raise InputError(faults=faults[:50])
    if not found:
        message = f"{path}: no joins found; expected one row a join"
        raise InputError(message)
    found.sort(key=lambda entry: entry[0])
    return GivenOrder(
        ring=np.asarray([entry[1] for entry in found], dtype=np.int32),
        start_s=np.asarray([entry[2] for entry in found]) if starts else None,
    )


def _number(row: Sequence[str], column: int, where: str, faults: list[Fault]) -> float | None:
    text = row[column].strip() if column < len(row) else ""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        faults.append(Fault(where, f"found {text!r}", "a number is expected"))
        return None
    return value
