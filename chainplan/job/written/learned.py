"""Puts what was learnt at the bench into a job's own sheets, and keeps the file as it was."""

from __future__ import annotations

import io
import math
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.frozen import frozen
from chainplan.job.columns import find_column, fold_heading
from chainplan.job.sheets.bench import bench_settings, setting_words
from chainplan.writing import write_file

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from openpyxl.worksheet.worksheet import Worksheet

    from chainplan.model.workshop.record import Learned, WorkingSetting

RINGS_PER_CM = "pieces.measured rings per cm"
INNER = "recorded.inner"
DIGITS = 3
"""Significant digits of a learnt value: no interval from a bench is narrower than a thousandth."""


@frozen
class Written:
    """What was put into a job, where the file as it was is kept, and what was left out and why."""

    file: str
    kept_as: str
    changes: tuple[str, ...]
    left_out: tuple[str, ...]


def write_learned(
    path: str | Path, figures: Sequence[Learned], settings: Sequence[WorkingSetting]
) -> Written:
    """Write figures and good settings into the sheets of a job's workbook.

    Parameters
    ----------
    path : str or Path
        The job's ``.xlsx``.
    figures : sequence of Learned
        Bench settings, and rings per cm of pieces.
    settings : sequence of WorkingSetting
        Go into the sheet ``recorded``, one a metal and wire.

    Raises
    ------
    InputError
        If the file is no workbook of a job or cannot be written.
    """
    import openpyxl

    path = Path(path)
    if path.suffix.casefold() != ".xlsx":
        message = f"{path}: figures are written into a job's workbook; name its .xlsx"
        raise InputError(message)
    try:
        before = path.read_bytes()
        book = openpyxl.load_workbook(io.BytesIO(before))
    except OSError as error:
        message = f"{path}: cannot be read ({error.strerror})"
        raise InputError(message) from None
    except Exception as error:
        message = f"{path}: is damaged, or holds no workbook; save it anew as .xlsx"
        raise InputError(message) from error
    changes: list[str] = []
    left_out: list[str] = []
    for item in figures:
        _put(book, item, changes, left_out)
    changes.extend(_put_setting(_sheet(book, "recorded", path), good) for good in settings)
    if not changes:
        return Written(file=str(path), kept_as="", changes=(), left_out=tuple(left_out))
    data = io.BytesIO()
    book.save(data)
    kept = _keep(path)
    write_file(path, data.getvalue())
    return Written(
        file=str(path), kept_as=str(kept), changes=tuple(changes), left_out=tuple(left_out)
    )


def _keep(path: Path) -> Path:
    """Copy a file as it is beside itself, under a name that is free."""
    number = 1
    while True:
        kept = path.with_name(f"{path.stem}-as-it-was-{number}{path.suffix}")
        try:
            with kept.open("xb") as target, path.open("rb") as source:
                shutil.copyfileobj(source, target)
        except FileExistsError:
            number += 1
            continue
        except OSError as error:
            message = f"{kept}: cannot be written ({error.strerror}); nothing was changed"
            raise InputError(message) from None
        return kept


def _sheet(book: Any, name: str, path: Path) -> Worksheet:
    for sheet in book.worksheets:
        if sheet.title.strip().casefold() == name:
            found: Worksheet = sheet
            return found
    message = f"{path}: has no sheet {name!r}; 'chainplan start' writes a workbook with all sheets"
    raise InputError(message)


def _put(book: Any, item: Learned, changes: list[str], left_out: list[str]) -> None:
    path = Path("the workbook")
    if item.key == RINGS_PER_CM:
        changes.extend(_put_rings(_sheet(book, "pieces", path), item))
        return
    if item.key == INNER:
        changes.append(_put_inner(_sheet(book, "recorded", path), item))
        return
    group, _, name = item.key.partition(".")
    info = next((i for i in bench_settings() if (i.group, i.name) == (group, name)), None)
    if info is None:
        return
    value = _rounded(item.new)
    if isinstance(info.default, int):
        value = max(round(item.new), 1)
    low = -math.inf if info.low is None else info.low
    high = math.inf if info.high is None else info.high
    if not low <= value <= high:
        left_out.append(f"{item.key}: {value:g} is outside {low:g} to {high:g}")
        return
    changes.append(_put_bench(_sheet(book, "bench", path), info, value, source_of(item)))


def source_of(item: Learned) -> str:
    """Say where a learnt value comes from, as the job's sheet shows it."""
    return f"measured, n = {item.n}"


def _rounded(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def _columns(sheet: Worksheet, name: str) -> tuple[int, dict[str, int]]:
    """Row of the headings, and the column number of each known heading."""
    for row in sheet.iter_rows(min_row=1, max_row=20):
        found: dict[str, int] = {}
        for cell in row:
            known = find_column(name, str(cell.value)) if isinstance(cell.value, str) else None
            if known is not None:
                found.setdefault(known[0].name, int(cell.column or 0))
        if len(found) >= 2:
            return int(row[0].row or 1), found
    message = f"the sheet {name!r} has no headings; 'chainplan start' writes one that has"
    raise InputError(message)


def _rows(sheet: Worksheet, top: int) -> Iterator[int]:
    yield from range(top + 1, (sheet.max_row or top) + 1)


def _put_bench(sheet: Worksheet, info: Any, value: float, source: str) -> str:
    top, at = _columns(sheet, "bench")
    place = None
    for row in _rows(sheet, top):
        group = fold_heading(str(sheet.cell(row, at["group"]).value or ""))
        name = fold_heading(str(sheet.cell(row, at["setting"]).value or ""))
        if (group, name) == (info.group, fold_heading(info.name)):
            place = row
            break
    if place is None:
        place = _free_row(sheet, top, at["group"])
        sheet.cell(place, at["group"], info.group)
        sheet.cell(place, at["setting"], setting_words(info))
        if "unit" in at and info.unit:
            sheet.cell(place, at["unit"], info.unit)
    old = sheet.cell(place, at["value"]).value
    sheet.cell(place, at["value"], value)
    if "source" in at:
        sheet.cell(place, at["source"], source)
    was = "the default" if old is None else str(old)
    return f"bench: {setting_words(info)} {value:g} {info.unit} instead of {was} ({source})"


def _free_row(sheet: Worksheet, top: int, column: int) -> int:
    """First row below all that is filled."""
    last = max((row for row in _rows(sheet, top) if sheet.cell(row, column).value), default=top)
    return last + 1


def _put_setting(sheet: Worksheet, good: WorkingSetting) -> str:
    top, at = _columns(sheet, "recorded")
    note = f"measured, n = {good.tries}: {good.yield_share:.1%} good at first try"
    place = None
    for row in _rows(sheet, top):
        cell = sheet.cell(row, at["metal"]).value
        wire = sheet.cell(row, at["wire"]).value
        is_setting = sheet.cell(row, at["power"]).value is not None
        if cell == good.metal and wire == good.wire_mm and is_setting:
            place = row
    place = place or _free_row(sheet, top, at["metal"])
    values = {
        "metal": good.metal, "wire": good.wire_mm, "power": good.power_j, "hits": good.hits,
        "tip": good.tip, "note": note,
    }  # fmt: skip
    for name, value in values.items():
        if name in at:
            sheet.cell(place, at[name], value)
    return (
        f"recorded: {good.metal} {good.wire_mm:g} mm at {good.power_j:g} J, {good.hits} hits, "
        f"{good.tip} tip ({note})"
    )


def _put_inner(sheet: Worksheet, item: Learned) -> str:
    """Write a measured ring; its group says metal, wire and mandrel."""
    top, at = _columns(sheet, "recorded")
    metal, _, rest = item.group.partition(", ")
    wire, _, mandrel = rest.partition(" mm wire on ")
    place = _free_row(sheet, top, at["metal"])
    values = {
        "metal": metal, "wire": float(wire), "mandrel": float(mandrel.removesuffix(" mm")),
        "inner": round(item.new, 3), "note": source_of(item),
    }  # fmt: skip
    for name, value in values.items():
        if name in at:
            sheet.cell(place, at[name], value)
    return f"recorded: {item.group} gives {item.new:.3f} mm inside ({source_of(item)})"


def _put_rings(sheet: Worksheet, item: Learned) -> list[str]:
    """Write rings per cm beside the piece of that name."""
    top, at = _columns(sheet, "pieces")
    heading = "measured rings per cm"
    if heading not in at:
        column = (sheet.max_column or 0) + 1
        sheet.cell(top, column, heading)
        at[heading] = column
    found = []
    for row in _rows(sheet, top):
        if str(sheet.cell(row, at["name"]).value or "").strip() == item.group:
            sheet.cell(row, at[heading], round(item.new, 3))
            found.append(f"pieces: {item.group} {item.new:.3f} rings per cm ({source_of(item)})")
            break
    return found
