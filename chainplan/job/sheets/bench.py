"""Reads the bench settings into their groups; the settings themselves say what they take."""

from __future__ import annotations

from dataclasses import dataclass, fields
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError, quote
from chainplan.job.columns import Column, fold_heading
from chainplan.job.sheets.cells import (
    read_choice,
    read_count,
    read_day,
    read_length,
    read_money,
    read_plain,
    read_text,
    read_yes_no,
    refuse,
)
from chainplan.job.table import Cell
from chainplan.model.bench import Bench
from chainplan.model.bench.setting import SettingInfo, settings_of
from chainplan.model.workweek import (
    read_days_off,
    read_working_days,
    write_working_days,
)
from chainplan.reference.skin import burn_threshold_c

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable

    from chainplan.job.table import Findings, Row

JOB_GROUP = "job"
START_DATE = SettingInfo(
    group=JOB_GROUP,
    name="start_date",
    default=None,
    unit="",
    means="first working day; without it the calendar counts days from the start",
    source="",
    low=None,
    high=None,
    choices=(),
)


@cache
def bench_settings() -> tuple[SettingInfo, ...]:
    """List every bench setting of every group, in order."""
    return tuple(info for group in fields(Bench) for info in settings_of(group.name, _cls(group)))


def _cls(group: Any) -> type:
    made: type = group.default_factory
    return made


def setting_words(info: SettingInfo) -> str:
    """Write a setting's name as the job's sheets show it."""
    return info.words


@dataclass(slots=True)
class BenchRead:
    """The bench and the first working day."""

    bench: Bench
    start_date: datetime.date | None = None


def read_bench(rows: list[Row], findings: Findings) -> BenchRead:
    """Read the bench sheet; settings that are not there or empty keep their defaults."""
    given: dict[str, dict[str, Any]] = {}
    places: dict[tuple[str, str], str] = {}
    start_date = None
    for row in rows:
        info = _find_setting(row, findings)
        cell = row.get("value")
        if info is None or cell is None or cell.error:
            continue
        where = row.place("value")
        if (info.group, info.name) in places:
            found = f"{setting_words(info)} is there twice"
            findings.fault(where, found, "keep one of them")
            continue
        places[info.group, info.name] = where
        _check_unit(info, row, findings)
        try:
            value = _read_value(info, cell)
        except InputError as error:
            findings.add(error.at(where, setting_words(info)))
            continue
        if info is START_DATE:
            start_date = value
        else:
            given.setdefault(info.group, {})[info.name] = value
    _take_burn_threshold(given, places, findings)
    bench = Bench(
        **{
            group.name: _cls(group)(**given.get(group.name, {}))
            for group in fields(Bench)
            if group.init
        }
    )
    _check_order(bench, places, findings)
    return BenchRead(bench, start_date)


def _take_burn_threshold(
    given: dict[str, dict[str, Any]], places: dict[tuple[str, str], str], findings: Findings
) -> None:
    """Let a contact time set the limit for the fingers, which may be given too if no higher."""
    heat = given.get("heat", {})
    contact_s = heat.get("contact_s", 0.0)
    if contact_s <= 0:
        return
    threshold_c = burn_threshold_c(contact_s)
    limit_c = heat.setdefault("finger_limit_c", threshold_c)
    if limit_c > threshold_c:
        findings.fault(
            places["heat", "finger_limit_c"],
            f"finger limit c is {limit_c:g}, above the burn threshold for a contact of "
            f"{contact_s:g} s",
            f"at most {threshold_c:g} °C, or leave one of them out",
        )


def _find_setting(row: Row, findings: Findings) -> SettingInfo | None:
    group, name = row.get("group"), row.get("setting")
    if group is None or name is None:
        missing = "group" if group is None else "setting"
        findings.fault(row.where, f"{missing} is missing", "each setting needs both")
        return None
    groups = _settings_by_name()
    wanted = _folded(group.value)
    if wanted not in groups:
        found = f"there is no group of settings called {quote(group.value)}"
        findings.unknown(group.where, found, wanted, lambda: list(groups))
        return None
    of_group = groups[wanted]
    word = _folded(name.value)
    if word not in of_group:
        found = f"there is no setting called {quote(name.value)} in {wanted}"
        known = [setting_words(info) for info in of_group.values()]
        findings.unknown(name.where, found, word, lambda: known)
    return of_group.get(word)


def _folded(value: object) -> str:
    return fold_heading(value[: BOUNDS.note_letters]) if isinstance(value, str) else ""


@cache
def _settings_by_name() -> dict[str, dict[str, SettingInfo]]:
    """Return every setting by its folded name, in its group."""
    groups: dict[str, dict[str, SettingInfo]] = {}
    for info in (*bench_settings(), START_DATE):
        groups.setdefault(info.group, {})[fold_heading(info.name)] = info
    return groups


def _check_unit(info: SettingInfo, row: Row, findings: Findings) -> None:
    """Refuse another unit beside a value: it is for show, the value would be silently wrong."""
    unit = row.get("unit")
    if unit is None:
        return
    if not isinstance(unit.value, str) or unit.value.strip() != info.unit:
        found = f"the unit of {setting_words(info)} is {quote(unit.value)}"
        allowed = f"the value is taken in {info.unit!r}" if info.unit else "it has none"
        findings.fault(unit.where, found, allowed)


def _read_value(info: SettingInfo, cell: Cell) -> Any:
    """Read a value as the kind of the setting's default."""
    column = Column(
        sheet="bench", name=info.name, fields=(), aliases=(),
        kind="number", unit=info.unit, required="no",
        low=info.low, high=info.high, choices=info.choices, meaning=info.means,
        example=str(info.default),
    )  # fmt: skip
    if info is START_DATE:
        return read_day(cell, column)
    if isinstance(info.default, bool):
        return read_yes_no(cell, column)
    cell = Cell(_shares(info, cell), cell.where, info.unit)
    if isinstance(info.default, Decimal):
        return read_money(cell, column)
    if isinstance(info.default, int):
        return read_count(cell, column)
    if isinstance(info.default, float):
        return (read_length if info.unit == "mm" else read_plain)(cell, column)
    if info.choices:
        return read_choice(cell, column)
    text = read_text(cell, column)
    check = _TEXT_CHECKS.get((info.group, info.name))
    return check(text) if check else text


def _shares(info: SettingInfo, cell: Cell) -> object:
    """Turn percentages into what the setting counts in: shares, or per cent."""
    value = cell.value
    if isinstance(info.default, str):
        return value
    if cell.is_percent and isinstance(value, int | float) and info.unit == "%":
        return round(value * 100, 9)
    if isinstance(value, str) and not info.unit and value.strip().endswith("%"):
        number = read_plain(Cell(value.strip()[:-1], cell.where), _ANY_NUMBER)
        return round(number / 100, 12)
    return value


_ANY_NUMBER = Column("bench", "", (), (), "number", "", "no", None, None, (), "", "")


def _working_days(text: str) -> str:
    return write_working_days(read_working_days(text))


def _days_off(text: str) -> str:
    return " ".join(day.isoformat() for day in sorted(read_days_off(text)))


def _currency(text: str) -> str:
    if not (len(text) == 3 and text.isascii() and text.isalpha()):
        refuse("write three letters, such as EUR", of=quote(text))
    return text.upper()


_TEXT_CHECKS: dict[tuple[str, str], Callable[[str], str]] = {
    ("calendar", "working_days"): _working_days,
    ("calendar", "days_off"): _days_off,
    ("money", "currency"): _currency,
}
TEXT_ALLOWED = {
    ("calendar", "working_days"): "Mon-Fri, or Mon Tue Sat",
    ("calendar", "days_off"): "dates, or empty",
    ("money", "currency"): "three letters",
    ("quote", "shop"): "text, or empty",
    ("quote", "logo"): "a .png or .jpg file, or empty",
    ("quote", "contact"): "text, or empty",
    ("quote", "customer"): "text, or empty",
    ("quote", "terms"): "text, or empty",
    ("quote", "care"): "text, or empty",
}
"""What the settings that are text take, as the workbook shows it."""


_IN_ORDER = (
    ("welder", "lowest_power_j", "highest_power_j"),
    ("welder", "spot_at_lowest_mm", "spot_at_highest_mm"),
    ("heat", "hold_from_mm", "hold_to_mm"),
    ("electrode", "tip_half_angle_deg", "blunt_tip_half_angle_deg"),
)
"""Settings of which the first may not exceed the second."""


def _check_order(bench: Bench, places: dict[tuple[str, str], str], findings: Findings) -> None:
    """Check low ≤ usual ≤ high, and other pairs that must be in order."""
    pairs = list(_IN_ORDER)
    names = {(info.group, info.name) for info in bench_settings()}
    for group, name in names:
        for lower, upper in (("_low", "_usual"), ("_usual", "_high")):
            stem, found, rest = name.rpartition(lower)
            partner = f"{stem}{upper}{rest}"
            if found and not rest.strip("_") and (group, partner) in names:
                pairs.append((group, name, partner))
    for group, low, high in sorted(pairs):
        if (group, low) not in names or (group, high) not in names:
            continue
        settings = getattr(bench, group)
        first, second = getattr(settings, low), getattr(settings, high)
        where = places.get((group, low)) or places.get((group, high))
        if where and first > second:
            found = (
                f"{low.replace('_', ' ')} is {first:g}, above {high.replace('_', ' ')} {second:g}"
            )
            findings.fault(where, found, "the first may not exceed the second")
    _check_above_room(bench, places, findings)


def _check_above_room(bench: Bench, places: dict[tuple[str, str], str], findings: Findings) -> None:
    """Check limits that no wait would reach; one left out is none."""
    heat = bench.heat
    for name in ("highest_interpass_c", "finger_limit_c"):
        limit_c = getattr(heat, name)
        where = places.get(("heat", name)) or places.get(("heat", "room_c"))
        if where and limit_c > 0 and limit_c - heat.reserve_k <= heat.room_c:
            findings.fault(
                where,
                f"{name.replace('_', ' ')} is {limit_c:g}, and the room is at {heat.room_c:g} "
                "already",
                "a limit must be above the room",
            )
