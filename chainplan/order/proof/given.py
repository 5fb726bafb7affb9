"""An order of somebody else, read from a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, cut, near_words, quote
from chainplan.frozen import frozen
from chainplan.intake import decode, read_bytes, read_csv_rows
from chainplan.units import read_number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray


@frozen
class GivenOrder:
    """An order as somebody wrote it down: rings from 0, start times if the file has them."""

    ring: IntArray
    start_s: FloatArray | None
    clip_ring: IntArray | None = None  # from 0, if the file says where the clip sits


def read_order(path: str | Path, piece: str | None = None) -> GivenOrder:
    """Read a weld order from a CSV file with a column "ring" (counted from 1).

    A column "start s" (or "planned start s") gives the times; without it see :func:`pace_start_s`.
    A column "clip on ring" says where the return lead's clip sits, if it is filled in every row.
    A column "piece" is looked at only if ``piece`` is given. Rows count in the order of the file,
    or of a column "step" if there is one.

    Raises
    ------
    InputError
        Naming every row that cannot be used.
    """
    path = Path(path)
    allowed = "expected a CSV file with a column 'ring'"
    text = decode(read_bytes(path, BOUNDS.order_bytes, allowed=allowed), str(path))
    rows = read_csv_rows(text, str(path), rows=BOUNDS.order_rows)
    _, first = next(rows, (0, []))
    header = [name.strip().lower().replace("_", " ") for name in first]
    if "ring" not in header:
        among = f"no column 'ring' among {cut(', '.join(header)) or 'no columns'}"
        raise InputError(Fault(str(path), among, allowed, near_words("ring", header)))
    looked_at: tuple[str, ...] = ("ring", "step", "piece", "clip on ring")
    column = {name: header.index(name) for name in looked_at if name in header}
    starts = [k for k, name in enumerate(header) if name in ("start s", "planned start s")]
    faults: list[Fault] = []
    found: list[tuple[float, int, float, int]] = []
    for number, row in rows:
        if len(faults) >= BOUNDS.faults:
            break
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
        if ring is not None and (ring != int(ring) or not 1 <= ring <= BOUNDS.order_rows):
            faults.append(Fault(where, f"ring {ring:g}", "rings are counted 1, 2, 3 …"))
        elif ring is not None and start is not None and step is not None:
            found.append((float(step), int(ring) - 1, start, _clip(row, column, where, faults)))
    if faults:
        raise InputError(faults=faults)
    if not found:
        raise InputError(Fault(str(path), "no joins found", "expected one row a join"))
    found.sort(key=lambda entry: entry[0])
    clip = np.asarray([entry[3] for entry in found], dtype=np.int32)
    return GivenOrder(
        ring=np.asarray([entry[1] for entry in found], dtype=np.int32),
        start_s=np.asarray([entry[2] for entry in found]) if starts else None,
        clip_ring=clip if (clip >= 0).all() else None,
    )


def _clip(row: Sequence[str], column: Mapping[str, int], where: str, faults: list[Fault]) -> int:
    """Ring that the clip sits on, from 0; −1 if the row does not say."""
    place = column.get("clip on ring", len(row))
    if place >= len(row) or not row[place].strip():
        return -1
    clip = _number(row, place, f"{where}, clip on ring", faults)
    if clip is not None and (clip != int(clip) or not 1 <= clip <= BOUNDS.order_rows):
        faults.append(Fault(where, f"clip on ring {clip:g}", "rings are counted 1, 2, 3 …"))
    return -1 if clip is None else int(clip) - 1


def _number(row: Sequence[str], column: int, where: str, faults: list[Fault]) -> float | None:
    text = row[column].strip() if column < len(row) else ""
    try:
        return read_number(text)
    except InputError:
        faults.append(Fault(where, f"found {quote(text)}", "a number is expected"))
        return None
