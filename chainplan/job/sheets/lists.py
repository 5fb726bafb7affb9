"""Reads the sheets that are plain lists: people, prices, stock, recorded settings and rings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError, quote, tell_known
from chainplan.job.fields import fields_given
from chainplan.job.sheets.rows import need_one, read_row
from chainplan.model.job import Price, RecordedSetting, StockItem
from chainplan.model.metal import MeasuredRing
from chainplan.model.piece.weave_names import plain
from chainplan.model.prices import EXTRA, EXTRA_UNITS, METAL_UNITS, PRICE_ITEMS, WIRE_PREMIUM
from chainplan.model.workshop.machines import Machine
from chainplan.model.workshop.schedule import Person, read_stations
from chainplan.model.workweek import read_days_off, read_working_days, write_working_days

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.job.known_names import KnownNames
    from chainplan.job.table import Findings, Row


def read_prices(rows: list[Row], names: KnownNames, findings: Findings) -> tuple[Price, ...]:
    """Read the prices; an item twice is a fault."""
    prices: dict[tuple[str, str], Price] = {}
    for row in rows:
        values = read_row("prices", row, findings)
        text, per = values["item"], values["per"]
        if text is None or per is None or values["price"] is None:
            continue
        found = _find_item(text, row, names, findings)
        if found is None:
            continue
        item, units = found
        if per not in units:
            allowed = f"allowed for it: {', '.join(units)}"
            findings.fault(row.place("per"), f"{item} is priced per {per}", allowed)
            continue
        if (item, per) in prices:
            said = f"a second price of {item} per {per}"
            findings.fault(row.place("item"), said, "keep one of them")
            continue
        prices[item, per] = Price(**fields_given("prices", "Price", values | {"item": item}))
    return tuple(prices.values())


def _find_item(
    text: str, row: Row, names: KnownNames, findings: Findings
) -> tuple[str, tuple[str, ...]] | None:
    """Find what a price is of, and per what it may be."""
    from chainplan.reference import metal_keys

    wanted = plain(text)
    for known in PRICE_ITEMS:
        if plain(known.item) == wanted:
            return known.item, known.per
    if wanted.startswith(f"{EXTRA} ") and len(wanted) > len(EXTRA) + 1:
        return f"{EXTRA} {' '.join(text.split()[1:])}", EXTRA_UNITS
    premium = wanted.startswith(f"{WIRE_PREMIUM} ")
    metal = wanted.removeprefix(f"{WIRE_PREMIUM} ")
    known_metal = names.metal_called(metal)
    if known_metal is None:
        items = [*(known.item for known in PRICE_ITEMS), *names.metals, *metal_keys()]
        items += [f"{WIRE_PREMIUM} {key}" for key in metal_keys()]
        found = f"there is no price item {quote(text)}"
        findings.unknown(row.place("item"), found, metal, lambda: items)
        return None
    key = known_metal.key
    return (f"{WIRE_PREMIUM} {key}", (*METAL_UNITS, "m")) if premium else (key, METAL_UNITS)


def read_stock(rows: list[Row], names: KnownNames, findings: Findings) -> tuple[StockItem, ...]:
    """Read what is on the shelf."""
    stock = []
    for row in rows:
        values = read_row("stock", row, findings)
        kind = values["kind"]
        key = ""
        if values["metal"]:
            metal = names.metal(values["metal"], row.place("metal"), findings)
            key = metal.key if metal else ""
        elif kind in {"wire", "rings"}:
            findings.fault(row.where, f"{kind} without a metal", "write it in the column 'metal'")
        if kind == "rings" and row.get("inner") is None:
            findings.fault(row.where, "rings without a size", "write it in the column 'inner'")
        if kind is None or values["size"] is None:
            continue
        found = {"metal": key, "temper": _temper(values["temper"], row, findings)}
        stock.append(StockItem(**fields_given("stock", "StockItem", values | found)))
    return tuple(stock)


def _temper(text: str | None, row: Row, findings: Findings) -> str:
    """Read a temper that is known of any metal; "" if blank."""
    from chainplan.reference import TEMPERS

    wanted = plain(text or "").replace(" ", "-")
    if wanted and wanted not in TEMPERS:
        said = f"temper {quote(text or '')} is not known"
        findings.fault(row.place("temper"), said, tell_known(TEMPERS))
        return ""
    return wanted


def read_people(rows: list[Row], findings: Findings) -> tuple[Person, ...]:
    """Read who works, with hours, days off and stations; what is blank is as in the workshop."""
    people: dict[str, Person] = {}
    for row in rows:
        values = read_row("people", row, findings)
        _rewrite(values, row, findings)
        label = values["person"]
        if label is None:
            continue
        if label.casefold() in people:
            said = f"a second person called {quote(label)}"
            findings.fault(row.place("person"), said, "give everybody a label of their own")
            continue
        people[label.casefold()] = Person(**fields_given("people", "Person", values))
    return tuple(people.values())


def read_machines(rows: list[Row], findings: Findings) -> tuple[Machine, ...]:
    """Read the machines; of several alike each needs a label that no other machine has."""
    machines: list[Machine] = []
    known: set[str] = set()
    for row in rows:
        values = read_row("machines", row, findings)
        _rewrite(values, row, findings)
        if values["machine"] is None or values["station"] is None:
            continue
        machine = Machine(**fields_given("machines", "Machine", values))
        labels = [label.casefold() for label in machine.labels]
        twice = next((k for k, label in enumerate(labels) if label in known), None)
        if twice is not None:
            said = f"a second machine called {quote(machine.labels[twice])}"
            allowed = "give every machine a label of its own, or say in the column number how many"
            findings.fault(row.place("machine"), said, allowed)
            continue
        known.update(labels)
        machines.append(machine)
    return tuple(machines)


def _rewrite(values: dict[str, Any], row: Row, findings: Findings) -> None:
    """Check texts of a row that have a form of their own, and write them in one way."""
    for column in _AS_WRITTEN.keys() & values.keys():
        if values[column] is None:
            continue
        try:
            values[column] = _AS_WRITTEN[column](values[column])
        except InputError as error:
            findings.add(error.at(row.place(column)))


_AS_WRITTEN: dict[str, Callable[[str], str]] = {
    "working days": lambda text: write_working_days(read_working_days(text)),
    "days off": lambda text: " ".join(day.isoformat() for day in sorted(read_days_off(text))),
    "stations": lambda text: ", ".join(read_stations(text)),
}
"""Columns whose text is read here to be checked, and written again in one way."""


def read_recorded(
    rows: list[Row], names: KnownNames, findings: Findings
) -> tuple[tuple[RecordedSetting, ...], tuple[MeasuredRing, ...]]:
    """Read welder settings that were good, and rings that were wound and measured."""
    settings: list[RecordedSetting] = []
    rings: dict[tuple[str, str], MeasuredRing] = {}
    for row in rows:
        values = read_row("recorded", row, findings)
        need_one(("power", "mandrel"), row, findings)
        if values["metal"] is None or values["wire"] is None:
            continue
        metal = names.metal(values["metal"], row.place("metal"), findings)
        if metal is None:
            continue
        temper = _temper(values["temper"], row, findings) or "annealed"
        values |= {"metal": metal.key, "temper": temper}
        if values["mandrel"] is not None:
            if row.get("inner") is None:
                said = "a measured ring without its inner diameter"
                findings.fault(row.where, said, "write it in the column 'inner'")
            elif (metal.key, temper) in rings:
                said = f"a second measured ring of {metal.key}, {temper}"
                findings.fault(row.where, said, "keep the one nearest to what you make")
            elif values["inner"] is not None:
                given = fields_given("recorded", "MeasuredRing", values)
                rings[metal.key, temper] = MeasuredRing(**given)
        elif values["power"] is not None:
            settings.append(RecordedSetting(**fields_given("recorded", "RecordedSetting", values)))
    return tuple(settings), tuple(rings.values())
