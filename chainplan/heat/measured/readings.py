"""Reads a cooling curve: a CSV of times and temperatures."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, quote
from chainplan.intake import decode, read_bytes, read_csv_rows
from chainplan.model.thermal.calibration import Readings

LEAST_READINGS = 8
"""Judgement: three numbers are fitted, and their scatter is told from what is left over."""
_ALLOWED = "a heading 'time' (seconds) and one 'temperature' (°C or °F), one reading a row"
_NUMBER = re.compile(r"[+\-−]?[0-9]{1,12}([.,][0-9]{1,12})?")
_SECONDS = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "min": 60.0, "minutes": 60.0, "ms": 1e-3}
"""Seconds in a unit of time that a heading may name."""
_TIMES = frozenset({"time", "t", "seconds", "elapsed"})
_WARMTHS = frozenset({"temperature", "temp", "celsius", "fahrenheit"})


def read_readings(path: str | Path) -> Readings:
    """Read a cooling curve with headings for time and temperature.

    Commas, semicolons or tabs part the columns; a decimal comma is read. A unit may stand in the
    heading: ``time (min)``, ``temperature °F``. Other columns are left alone, rows that begin with
    ``#`` are remarks, and rows out of order are sorted.

    Raises
    ------
    InputError
        With every fault of the file, each with its line.
    """
    path = Path(path)
    text = decode(read_bytes(path, BOUNDS.text_bytes, allowed=_ALLOWED), path.name)
    lines = (line.lstrip() for line in text.splitlines())
    head = next((line for line in lines if line and line[0] != "#"), "")
    separator = max(",;\t", key=head.count)
    rows = [
        (line, [cell.strip() for cell in cells])
        for line, cells in read_csv_rows(text, path.name, separator=separator)
        if not cells[0].lstrip().startswith("#")
    ]
    if not rows:
        raise InputError(Fault(path.name, "is empty", _ALLOWED))
    (line, headings), *rows = rows
    columns = [_find(headings, names) for names in (_TIMES, _WARMTHS)]
    if None in columns:
        found = f"has the headings {', '.join(map(quote, headings))}"
        raise InputError(Fault(f"{path.name} line {line}", found, _ALLOWED))
    at_time, at_warmth = (column for column in columns if column is not None)
    faults: list[Fault] = []
    values = []
    for line, cells in rows:
        pair = [cells[place] if place < len(cells) else "" for place in (at_time, at_warmth)]
        wrong = [cell for cell in pair if not _NUMBER.fullmatch(cell)]
        if wrong:
            faults.append(
                Fault(f"{path.name} line {line}", f"{quote(wrong[0])} is no number",
                      "a number in each of the two columns; leave bad readings out")
            )  # fmt: skip
            continue
        values.append([float(cell.replace(",", ".").replace("−", "-")) for cell in pair])
    if faults:
        raise InputError(faults=faults[: BOUNDS.faults])
    if len(values) < LEAST_READINGS:
        found = f"has {len(values)} readings"
        raise InputError(Fault(path.name, found, f"at least {LEAST_READINGS} are needed"))
    table = np.array(values)
    time_s = table[:, 0] * _seconds_of(headings[at_time])
    warm_c = table[:, 1]
    if re.search(r"°\s*f\b|\bf\b|fahrenheit", headings[at_warmth].casefold()):
        warm_c = (warm_c - 32) / 1.8
    order = np.argsort(time_s, kind="stable")
    return Readings(file=path.name, time_s=time_s[order], temperature_c=warm_c[order])


def _words(heading: str) -> list[str]:
    return re.findall(r"[a-z]+", heading.casefold())


def _find(headings: list[str], names: frozenset[str]) -> int | None:
    """Say which column has one of the names as the first word of its heading."""
    for place, heading in enumerate(headings):
        if _words(heading)[:1] and _words(heading)[0] in names:
            return place
    return None


def _seconds_of(heading: str) -> float:
    return next((_SECONDS[word] for word in _words(heading)[1:] if word in _SECONDS), 1.0)
