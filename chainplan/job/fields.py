"""Moves values between the columns of a sheet and the fields of the job that hold them."""

from __future__ import annotations

from dataclasses import MISSING, fields
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING, Any

from chainplan.job.columns import columns_of
from chainplan.model.kinds import (
    DesignLaid,
    DesignRule,
    GradeWay,
    Lying,
    PreClosing,
    Rounding,
    StockKind,
    Tip,
)
from chainplan.model.piece.design import Design
from chainplan.model.piece.fittings import Fitted, FittingKind
from chainplan.model.workshop.machines import MachineStation

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

_KINDS: dict[tuple[str, str], type[StrEnum]] = {
    ("pieces", "lies"): Lying,
    ("pieces", "grade way"): GradeWay,
    ("designs", "rule"): DesignRule,
    ("designs", "laid"): DesignLaid,
    ("pieces", "rounding"): Rounding,
    ("pieces", "closing way"): PreClosing,
    ("stock", "kind"): StockKind,
    ("recorded", "tip"): Tip,
    ("fittings", "kind"): FittingKind,
    ("fittings", "fitted"): Fitted,
    ("machines", "station"): MachineStation,
}
"""Columns of a choice that the job holds as a kind: their choices are its words."""
_FLAGS = {("parts", "from"): "end"}
"""Columns of a choice that the job holds as yes or no: the choice that means yes."""


def fields_given(sheet: str, holder: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of a row that a class holds, by field; what is blank is left out.

    Parameters
    ----------
    sheet : str
        Name of the sheet.
    holder : str
        Name of the class, as columns.csv writes it.
    values : mapping
        Values by column name, ``None`` where blank.

    Examples
    --------
    >>> row = {"piece": "Chain", "place": 3.0, "from": "end", "row": None}
    >>> fields_given("parts", "HeatSensitivePart", row)
    {'piece': 'Chain', 'place_mm': 3.0, 'from_end': True}
    """
    given = {}
    for name, field, turn in _held(sheet, holder):
        value = values.get(name)
        if value is not None:
            given[field] = value if turn is None else turn(value)
    return given


@cache
def _held(sheet: str, holder: str) -> tuple[tuple[str, str, Callable[[Any], Any] | None], ...]:
    """Return the columns that a class holds: name, field, and what turns a choice into a kind."""
    return tuple(
        (column.name, field, _turn(sheet, column.name))
        for column in columns_of(sheet).values()
        if (field := column.field_of(holder)) is not None
    )


def _turn(sheet: str, name: str) -> Callable[[Any], Any] | None:
    yes = _FLAGS.get((sheet, name))
    if yes is not None:
        return lambda value: value == yes
    return _KINDS.get((sheet, name))


def row_of(sheet: str, *held: Any) -> dict[str, Any]:
    """Return the row that reads as these objects; what is as a blank cell would be is left out.

    Examples
    --------
    >>> from chainplan.model.job import StockItem
    >>> row_of("stock", StockItem(kind="mandrel", size_mm=3.5))
    {'kind': 'mandrel', 'size': 3.5}
    """
    row = {}
    for column in columns_of(sheet).values():
        for item in held:
            field = column.field_of(type(item).__name__)
            if field is None:
                continue
            value = getattr(item, field)
            needed = column.required == "yes"
            if value is None or (not needed and value == _default(type(item), field)):
                continue
            yes = _FLAGS.get((sheet, column.name))
            if yes is not None:
                value = yes if value else next(word for word in column.choices if word != yes)
            if isinstance(value, Design):
                value = value.name  # its rules stand in a sheet of their own
            row[column.name] = str(value) if isinstance(value, StrEnum) else value
    return row


def _default(holder: type, name: str) -> object:
    """Return what a field is where nothing is given; ``MISSING`` if something has to be."""
    return next((item.default for item in fields(holder) if item.name == name), MISSING)
