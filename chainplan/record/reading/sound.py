"""What a plan's record has to hold before it is counted with: kinds, bounds, names that are there.

A file may have been edited or damaged since it was written. Whoever reads it further on counts on
what is looked at here; each function raises one of what
:data:`chainplan.record.reading.plan_folder.UNREADABLE` lists.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.errors import InputError, cut
from chainplan.model.bench import Bench
from chainplan.model.bench.setting import settings_of
from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.schedule import ASSAY, TUMBLING, Person
from chainplan.model.workweek import read_days_off, read_working_days

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray

_MOST_WORK_S = 1e9
"""No line of a timetable lasts thirty years."""


def refuse_unless(good: object, what: str) -> None:
    """Refuse what does not hold.

    Raises
    ------
    ValueError
        If it does not.
    """
    if not good:
        raise ValueError(what)


def text_of(value: object) -> str:
    """Return a text; anything else is refused.

    Raises
    ------
    TypeError
        If it is none.
    """
    if not isinstance(value, str):
        message = f"{cut(repr(value))} is no text"
        raise TypeError(message)
    return value


def number_of(value: object, low: float, high: float) -> float:
    """Return a number within bounds; texts and truths are none.

    Raises
    ------
    TypeError, ValueError
        If it is none, or lies outside.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        message = f"{cut(repr(value))} is no number"
        raise TypeError(message)
    refuse_unless(low <= value <= high, f"{value} is not within {low:g} to {high:g}")
    return value


def whole_of(value: object, low: int, high: int = 10**9) -> int:
    """Return a whole number within bounds.

    Raises
    ------
    TypeError, ValueError
        If it is none, or lies outside.
    """
    number = number_of(value, low, high)
    refuse_unless(number == int(number), f"{number} is not whole")
    return int(number)


def look_at_piece(
    item: Mapping[str, Any], rows: Mapping[str, Any], pace_s: FloatArray, passes: Sequence[int]
) -> None:
    """Look at copies, rings, sections, passes and seconds of one piece.

    Parameters
    ----------
    item : mapping
        Of ``pieces`` in ``plan.json``.
    rows : mapping
        Columns of its weld order, arrays of shape (k,).
    pace_s : array, shape (k,)
        Seconds of each step without its wait.
    passes : sequence of int
        Numbers of its passes.
    """
    rings, sections = whole_of(item["rings"], 1), len(item["sections"])
    whole_of(item["quantity"], 1)
    columns = {name: np.asarray(values, dtype=float) for name, values in rows.items()}
    columns["pace"] = np.asarray(pace_s, dtype=float)
    for name, values in columns.items():
        refuse_unless(np.isfinite(values).all(), f"{name} holds what is no number")
        refuse_unless((np.abs(values) < _MOST_WORK_S).all(), f"{name} holds numbers beyond all")
    for name, most in (("ring", rings), ("section", sections)):
        within = (columns[name] >= 1) & (columns[name] <= most)
        refuse_unless(within.all(), f"{name} goes beyond 1 to {most}")
    alone = len(np.unique(columns["ring"])) == len(columns["ring"]) == len(columns["pace"])
    refuse_unless(alone, "a ring stands twice, or a step has no time")
    refuse_unless(np.isin(columns["pass"], passes).all(), "a step is of no pass")
    refuse_unless((columns["wait_before_s"] >= 0).all(), "a wait is below nothing")


def look_at_task(task: Mapping[str, Any]) -> None:
    """Look at one line of a timetable with dates."""
    for name in ("piece", "person", "machine", "station"):
        text_of(task[name])
    known = task["station"] in (*STATIONS, TUMBLING, ASSAY)
    refuse_unless(known, f"no station {cut(task['station'])!r}")
    for name in ("start", "end"):
        at = datetime.datetime.fromisoformat(text_of(task[name]))
        refuse_unless(at.tzinfo is None, f"{name} in a time zone")
    for name, low in (("copy", 1), ("copies", 1), ("first_step", 0), ("steps", 0)):
        whole_of(task[name], low, 10**7)
    number_of(task["work_s"], 0, _MOST_WORK_S)


def look_at_settings(bench: Mapping[str, Mapping[str, Any]]) -> None:
    """Look at every bench setting: its kind, its bounds, and days that can be read."""
    for group in fields(Bench):
        told = bench.get(group.name, {})
        for item in settings_of(group.name, type(getattr(_DEFAULT, group.name))):
            if item.name not in told or (told[item.name] is None and item.default is None):
                continue
            value = told[item.name]
            if isinstance(item.default, bool):
                refuse_unless(isinstance(value, bool), f"{item.words}: neither yes nor no")
            elif isinstance(item.default, (int, float)):
                low = -math.inf if item.low is None else item.low
                high = 1e12 if item.high is None else item.high
                number_of(value, low, high)
            elif item.default is None:
                refuse_unless(isinstance(value, (int, float, str)), f"{item.words}: no value")
            else:
                text_of(value)
    _look_at_days(bench.get("calendar", {}))


_DEFAULT = Bench()


def look_at_people(people: Sequence[Mapping[str, Any]]) -> None:
    """Look at the hours of those who work."""
    numbers = {"hours_per_day": (0.25, 24.0), "day_starts_h": (0.0, 24.0), "pace": (0.01, 100.0)}
    for one in people:
        for item in fields(Person):
            value = one.get(item.name)
            if value is None:
                continue
            if item.name in numbers:
                number_of(value, *numbers[item.name])
            else:
                text_of(value)
        text_of(one["label"])
        _look_at_days(one)


def _look_at_days(told: Mapping[str, Any]) -> None:
    try:
        if told.get("working_days"):
            read_working_days(told["working_days"])
        if told.get("days_off"):
            read_days_off(told["days_off"])
    except InputError as error:
        raise ValueError(str(error)) from None
