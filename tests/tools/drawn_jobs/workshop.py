"""The workshop of a job: bench settings within what they allow, people, machines, prices, shelf."""

from __future__ import annotations

import math
from collections import defaultdict
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from chainplan.job.sheets.bench import bench_settings
from chainplan.model.prices import PRICE_ITEMS
from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.machines import MachineStation
from drawn_jobs.pieces import FIRST_DAY, Row, one_in, told

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench.setting import SettingInfo

LANGUAGES = ("en", "de", "fr", "it", "es")
TEXTS: dict[tuple[str, str], Sequence[str]] = {
    ("money", "currency"): ("EUR", "GBP", "JPY"),
    ("money", "country"): ("UK", "IE", "Nowhere"),
    ("calendar", "working_days"): ("Mon Tue Wed Thu Fri", "Mon-Sun", "Tue Thu", "Sat"),
    ("calendar", "days_off"): ("2027-01-12", "2027-01-11 2027-01-13 2027-02-01"),
    ("quote", "shop"): ("Studio Ebb and Flood (invented)",),
    ("quote", "contact"): ("1 Example Quay, Sampletown",),
    ("quote", "customer"): ("Guild of Inventions",),
    ("quote", "terms"): ("Half when you order.",),
    ("quote", "care"): ("Keep it dry.",),
}
"""Settings that are text without a list of words, and what is drawn for them."""
IN_ORDER = (
    ("welder", "lowest_power_j", "highest_power_j"),
    ("welder", "spot_at_lowest_mm", "spot_at_highest_mm"),
    ("heat", "hold_from_mm", "hold_to_mm"),
    ("electrode", "tip_half_angle_deg", "blunt_tip_half_angle_deg"),
)
"""Settings of which the first may not exceed the second; low, usual and high are found by name."""
ALWAYS = ("return_lead", "held_bare", "sides_held", "end_tweezers")
"""How a piece is held and earthed decides most of its plan."""


@cache
def _numbers() -> tuple[SettingInfo, ...]:
    """Settings that are a number, or yes and no."""
    return tuple(i for i in bench_settings() if not isinstance(i.default, str))


@st.composite
def bench_rows(draw: st.DrawFn) -> list[Row]:
    """Some settings, each within what it allows; now and then two of one unit are one number."""
    values: dict[tuple[str, str], Any] = {}
    by_name = {(info.group, info.name): info for info in bench_settings()}
    chosen = draw(st.lists(st.sampled_from(sorted(by_name)), max_size=14, unique=True))
    chosen += [key for key in by_name if key[1] in ALWAYS and draw(st.booleans())]
    for key in dict.fromkeys(chosen):
        values[key] = draw(_value(by_name[key]))
    if one_in(draw, 4):
        values |= draw(_equal_pair())
    values["sheet", "language"] = draw(st.sampled_from(LANGUAGES))
    _put_in_order(values, by_name)
    rows: list[Row] = [{"group": "job", "setting": "start date", "value": FIRST_DAY}]
    if one_in(draw, 6):
        rows = []
    return rows + [
        {"group": group, "setting": name.replace("_", " "), "value": value}
        for (group, name), value in values.items()
        if value is not None
    ]


@st.composite
def _value(draw: st.DrawFn, info: SettingInfo) -> Any:
    """A value of one setting: an end of its range, nothing, near its default or between."""
    if info.choices:
        return draw(st.sampled_from([choice for choice in info.choices if choice]))
    if isinstance(info.default, str):
        return draw(st.sampled_from(TEXTS.get((info.group, info.name), (None,))))
    if isinstance(info.default, bool):
        return draw(st.booleans())
    low, high = float(info.low or 0), float(info.high or 1)
    usual = float(info.default)
    way = draw(st.sampled_from(["near", "near", "near", "between", "low", "high"]))
    if way == "near":
        value = usual * draw(st.sampled_from([0.5, 0.8, 1.0, 1.25, 2.0]))
    elif way == "between":
        value = _between(low, high, draw(st.integers(0, 20)) / 20)
    else:
        value = low if way == "low" else high
    return _as_kind(info, min(max(value, low), high))


def _between(low: float, high: float, share: float) -> float:
    """A value between two ends, by their logarithm where the range is wide."""
    if low > 0 and high / low > 50:
        return math.exp(math.log(low) + share * (math.log(high) - math.log(low)))
    return low + share**2 * (high - low)


def _as_kind(info: SettingInfo, value: float) -> Any:
    if isinstance(info.default, Decimal):
        return Decimal(f"{value:.2f}")
    if isinstance(info.default, int):
        return round(value)
    return float(f"{value:.4g}")


@st.composite
def _equal_pair(draw: st.DrawFn) -> dict[tuple[str, str], Any]:
    """Two settings of one unit with one number, so that a mix-up of them hides."""
    by_unit = defaultdict(list)
    for info in _numbers():
        if info.unit and not isinstance(info.default, bool):
            by_unit[info.unit, type(info.default)].append(info)
    pairs = [found for found in by_unit.values() if len(found) > 1]
    first, second = draw(
        st.sampled_from(pairs).flatmap(
            lambda found: st.lists(
                st.sampled_from(found),
                min_size=2,
                max_size=2,
                unique_by=lambda i: (i.group, i.name),
            )
        )
    )
    value = min(max(float(first.default), float(second.low or 0)), float(second.high or 1e9))
    value = min(max(value, float(first.low or 0)), float(first.high or 1e9))
    return {(info.group, info.name): _as_kind(info, value) for info in (first, second)}


def _put_in_order(values: dict[tuple[str, str], Any], by_name: dict[tuple[str, str], Any]) -> None:
    """Make a job sound: no low above its high, no limit at or below the room."""
    orders = [list(pair) for pair in IN_ORDER]
    for group, name in by_name:
        if "_low" in name:
            names = [name, name.replace("_low", "_usual"), name.replace("_low", "_high")]
            orders.append([group, *(one for one in names if (group, one) in by_name)])
    for group, *names in orders:
        if any((group, name) in values for name in names):
            held = sorted(values.get((group, name), by_name[group, name].default) for name in names)
            for name, value in zip(names, held, strict=True):
                low, high = by_name[group, name].low, by_name[group, name].high
                values[group, name] = min(max(value, low), high)
    if values.get(("heat", "contact_s")):
        values.pop(("heat", "finger_limit_c"), None)
    room_c = values.get(("heat", "room_c"), 21.0)
    reserve_k = values.get(("heat", "reserve_k"), 0.0)
    if reserve_k > 8:
        values["heat", "reserve_k"] = reserve_k = 8.0
    for name, usual in (("highest_interpass_c", 0.0), ("finger_limit_c", 48.0)):
        limit_c = values.get(("heat", name), usual)
        if limit_c and limit_c - reserve_k <= room_c + 2:
            values["heat", name] = room_c + reserve_k + 10
    if room_c > 40:
        values["heat", "room_c"] = 40.0


@st.composite
def people_rows(draw: st.DrawFn) -> list[Row]:
    """Nobody, or some with hours, days off, stations and a pace of their own."""
    if not one_in(draw, 3):
        return []
    names = draw(st.lists(st.sampled_from(["Ann", "Ben", "Cleo", "apprentice"]), min_size=1,
                          max_size=3, unique=True))  # fmt: skip
    rows = []
    for number, name in enumerate(names):
        some = draw(st.lists(st.sampled_from(STATIONS), min_size=1, max_size=6, unique=True))
        rows.append(told({
            "person": name,
            "hours": draw(st.sampled_from([None, 0.5, 4.0, 8.0])),
            "begins": draw(st.sampled_from([None, 0.0, 7.5, 9.0, 13.0])),
            "working days": draw(st.sampled_from([None, "Mon-Thu", "Wed", "Mon Sat"])),
            "days off": draw(st.sampled_from([None, "2027-01-12", "2027-01-13, 2027-01-20"])),
            "stations": ", ".join(some) if number and draw(st.booleans()) else None,
            "pace": draw(st.sampled_from([None, 0.8, 1.0, 2.5])),
            "wage": draw(st.sampled_from([None, Decimal("0.0"), Decimal("17.35")])),
        }))  # fmt: skip
    return rows


@st.composite
def machine_rows(draw: st.DrawFn) -> list[Row]:
    """Machines: several welders, tumblers that stand on a day, a bench that all share."""
    if not one_in(draw, 4):
        return []
    stations = draw(st.lists(st.sampled_from(list(MachineStation)), min_size=1, max_size=3,
                             unique=True))  # fmt: skip
    return [
        told({
            "machine": f"machine for {station}", "station": str(station),
            "number": draw(st.sampled_from([None, 1, 2, 3])),
            "days off": draw(st.sampled_from([None, None, "2027-01-12, 2027-01-14"])),
        })
        for station in stations
    ]  # fmt: skip


@st.composite
def price_rows(draw: st.DrawFn, used: Sequence[str]) -> list[Row]:
    """Prices of metals and of some items; some are missing, some are old."""
    rows: list[Row] = []
    for metal in used:
        if not one_in(draw, 3):
            unit, price = draw(st.sampled_from([("g", "1.05"), ("kg", "16.00"), ("ozt", "31.5")]))
            rows.append({"item": metal, "price": Decimal(price), "per": unit})
        if one_in(draw, 3):
            per = draw(st.sampled_from(["g", "m"]))
            price = draw(st.sampled_from([Decimal("0.35"), Decimal("0.0")]))
            rows.append({"item": f"wire premium {metal}", "per": per, "price": price})
    chosen = draw(st.lists(st.sampled_from(PRICE_ITEMS), max_size=12, unique_by=lambda i: i.item))
    for item in chosen:
        price = draw(st.sampled_from(["0.0", "2.40", "95.0", "1234.567"]))
        per = draw(st.sampled_from(item.per))
        rows.append({"item": item.item, "price": Decimal(price), "per": per})
    if one_in(draw, 4):
        per = draw(st.sampled_from(["each", "job"]))
        rows.append({"item": "extra gift wrapping", "price": Decimal("3.50"), "per": per})
    dates = st.sampled_from([None, FIRST_DAY, FIRST_DAY.replace(year=2026)])
    return [told(row | {"date": draw(dates)}) for row in rows]


@st.composite
def stock_rows(draw: st.DrawFn, wires: Sequence[tuple[str, float, float]]) -> list[Row]:
    """Some of the wire that is needed, in packs or not, mandrels, blades and finished rings."""
    rows: list[Row] = []
    for metal, wire_mm, inner_mm in wires:
        what = draw(st.sampled_from(["", "", "wire", "mandrel", "blade", "rings"]))
        amount = draw(st.sampled_from([None, 0.0, 2.0, 500.0]))
        row: Row = {
            "kind": what,
            "amount": amount,
            "pack": draw(st.sampled_from([None, 1.0, 25.0])),
        }
        if what == "wire":
            rows.append(row | {"metal": metal, "size": wire_mm})
        elif what == "mandrel":
            rows.append({"kind": what, "size": inner_mm, "amount": 1.0})
        elif what == "blade":
            rows.append({"kind": what, "size": 0.25, "amount": 3.0})
        elif what == "rings":
            rows.append(row | {"metal": metal, "size": wire_mm, "inner": inner_mm})
    return [told(row) for row in rows]


@st.composite
def recorded_rows(draw: st.DrawFn, wires: Sequence[tuple[str, float, float]]) -> list[Row]:
    """Settings that were found good, and rings that were measured."""
    rows: list[Row] = []
    for metal, wire_mm, _ in wires[:2]:
        if one_in(draw, 6):
            power_j = draw(st.sampled_from([4.0, 12.0, 31.5]))
            rows.append({"metal": metal, "wire": wire_mm, "power": power_j,
                         "hits": draw(st.sampled_from([None, 1, 3])),
                         "tip": draw(st.sampled_from([None, "blunt"]))})  # fmt: skip
    return [told(row) for row in rows]
