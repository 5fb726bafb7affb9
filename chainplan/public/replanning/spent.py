"""Time, cost and date of a job as spent and to come, beside its first plan."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.intake import read_plan_record
from chainplan.model.kinds import CostKind
from chainplan.reference import find_metal
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from chainplan.model.estimate import DueLine
    from chainplan.model.plan import Plan
    from chainplan.record.account import Minutes

CENT = Decimal("0.01")
MATERIAL = (
    CostKind.METAL, CostKind.PREMIUM, CostKind.SCRAP, CostKind.CLASP, CostKind.FITTING,
)  # fmt: skip
"""Costs that are spent once a piece's wire is cut."""


def first_plan(folder: Path) -> dict[str, Any]:
    """Read what the first plan of this work promised: cost, minutes by station, day ready."""
    from chainplan.record.reading.plan_folder import told_as_damage

    with told_as_damage(folder):
        return _first_plan(read_plan_record(folder / "plan.json"))


def _first_plan(record: Mapping[str, Any]) -> dict[str, Any]:
    if "replan" in record:
        return _as_kept(record["replan"]["first"])
    estimates = record["estimates"]
    minutes: dict[str, float] = {}
    for line in estimates["times"]:
        minutes[line["station"]] = minutes.get(line["station"], 0.0) + float(line["usual_min"])
    cost = sum((Decimal(quote["cost"]) for quote in estimates["quotes"]), Decimal(0))
    metal_g: dict[str, float] = {}
    for need in estimates["wire"]:
        metal_g[need["metal"]] = metal_g.get(need["metal"], 0.0) + float(need["mass_used_g"])
    metal_money: dict[str, Decimal] = {}
    for line in estimates["costs"]:
        metal = _metal_of(line["item"])
        if metal:
            metal_money[metal] = metal_money.get(metal, Decimal(0)) + Decimal(line["amount"])
    begins = f"{CostKind.LABOUR}: "
    labour = (Decimal(c["amount"]) for c in estimates["costs"] if c["item"].startswith(begins))
    done = [row["done"] for row in estimates["due"] if row["done"]]
    return {
        "cost": str(cost.quantize(CENT)),
        "currency": estimates.get("currency") or "",
        "minutes": minutes,
        "metal_g": {key: round(mass_g, 2) for key, mass_g in metal_g.items()},
        "metal_money": {key: str(money.quantize(CENT)) for key, money in metal_money.items()},
        "labour": str(sum(labour, Decimal(0)).quantize(CENT)),
        "labour_per_hour": str(record["bench"]["money"]["labour_per_hour"]),
        "ready": max(done, default=None),
    }


def _as_kept(first: Mapping[str, Any]) -> dict[str, Any]:
    """Take what an earlier plan made again has kept of the first, each value as it must be."""
    ready = first["ready"]
    return {
        "cost": str(Decimal(first["cost"])),
        "currency": str(first["currency"]),
        "minutes": {station: float(each) for station, each in first["minutes"].items()},
        "metal_g": {metal: float(mass_g) for metal, mass_g in first["metal_g"].items()},
        "metal_money": {metal: str(Decimal(own)) for metal, own in first["metal_money"].items()},
        "labour": str(Decimal(first["labour"])),
        "labour_per_hour": str(Decimal(first["labour_per_hour"])),
        "ready": None if ready is None else datetime.date.fromisoformat(ready).isoformat(),
    }


def account(
    first: Mapping[str, Any],
    minutes: Mapping[str, Minutes],
    full: Plan,
    begun: Mapping[str, float],
    welded: float,
) -> list[dict[str, Any]]:
    """Lay out the table: a row a station, a metal, then labour, all other costs, and the whole.

    Below all other costs stands what of them is each metal's: its wire, the premium on it and what
    comes back for scrap.

    Parameters
    ----------
    first : mapping
        As :func:`first_plan` gives it.
    minutes : mapping
        Spent and to come, by station.
    full : Plan
        The whole job as it would be planned now.
    begun : mapping
        Share of each piece whose material is used.
    welded : float
        Share of the job's joins that are welded.

    Returns
    -------
    list of dict
        ``what``, ``unit``, ``first``, ``spent``, ``to_come``, ``together``; money as text.
    """
    currency = full.estimates.currency
    rate = Decimal(str(full.job.bench.money.labour_per_hour))
    rows: list[dict[str, Any]] = []
    for station in dict.fromkeys([*first["minutes"], *minutes]):
        spent, come = minutes.get(station, (0.0, 0.0))
        planned = float(first["minutes"].get(station, 0.0))
        if planned or spent or come:
            rows.append(_amount(station, "min", planned, spent, come))
    sums = [sum(float(row[name]) for row in rows) for name in ("first", "spent", "to_come")]
    rows.append(_amount("all stations", "min", *sums))
    rows += _metals_g(first, full, begun)
    later = ((Decimal(repr(round(value, 4))) / 60 * rate).quantize(CENT) for value in sums[1:])
    labour = (Decimal(first["labour"]), *later)
    rows.append(_money("labour", currency, *labour))
    others = _others(first, labour[0], full, begun, welded)
    rows.append(_money("all other costs", currency, *others))
    rows += _metals_money(first, full, begun)
    whole = (a + b for a, b in zip(labour, others, strict=True))
    rows.append(_money("cost of the job", currency, *whole))
    return rows


def _metals_g(
    first: Mapping[str, Any], full: Plan, begun: Mapping[str, float]
) -> Iterator[dict[str, Any]]:
    """Tell each metal's wire, spare rings and scrap included: of copies begun, and of the rest."""
    titles: dict[str, str] = {}
    spent: dict[str, list[float]] = {}
    for need in full.estimates.wire:
        titles[need.metal] = find_metal(need.metal, own=full.job.metals).title
        share = begun.get(need.piece, 0.0)
        both = spent.setdefault(need.metal, [0.0, 0.0])
        both[0] += need.mass_used_g * share
        both[1] += need.mass_used_g * (1 - share)
    for metal, (gone_g, come_g) in spent.items():
        planned_g = float(first["metal_g"].get(metal, 0.0))
        yield _amount(titles[metal], "g", planned_g, gone_g, come_g)


def _metals_money(
    first: Mapping[str, Any], full: Plan, begun: Mapping[str, float]
) -> Iterator[dict[str, Any]]:
    """Tell what each metal with a price costs, scrap back taken off."""
    spent: dict[str, list[Decimal]] = {}
    for line in full.estimates.costs:
        metal = _metal_of(line.item)
        if not metal:
            continue
        gone = line.amount * Decimal(repr(round(begun.get(line.piece, 0.0), 6)))
        both = spent.setdefault(metal, [Decimal(0), Decimal(0)])
        both[0] += gone
        both[1] += line.amount - gone
    for metal, (gone, come) in spent.items():
        planned = Decimal(first["metal_money"].get(metal, "0"))
        whole, gone = (gone + come).quantize(CENT), gone.quantize(CENT)
        yield _money(f"of these {metal}", full.estimates.currency, planned, gone, whole - gone)


def _metal_of(item: str) -> str:
    """Tell the metal of a cost for metal by the text of its item; empty for any other cost."""
    kind, _, of = item.partition(": ")
    if kind in (CostKind.METAL, CostKind.SCRAP):
        return of
    return of.rsplit(" ", 2)[0] if kind == CostKind.PREMIUM else ""  # without "1 mm"


def _others(
    first: Mapping[str, Any],
    labour: Decimal,
    full: Plan,
    begun: Mapping[str, float],
    welded: float,
) -> tuple[Decimal, Decimal, Decimal]:
    """Costs beside labour at the bench: first planned, spent, to come."""
    estimates = full.estimates
    cost = sum((quote.cost for quote in estimates.quotes), Decimal(0))
    of_kind = [(line.item.kind, line.amount) for line in estimates.costs]
    now = cost - sum((money for kind, money in of_kind if kind == CostKind.LABOUR), Decimal(0))
    material, used = Decimal(0), Decimal(0)
    for line in estimates.costs:
        if line.item.kind in MATERIAL:
            material += line.amount
            used += line.amount * Decimal(repr(round(begun.get(line.piece, 0.0), 6)))
    spent = used + (now - material) * Decimal(repr(round(welded, 6)))
    spent = spent.quantize(CENT)
    return Decimal(first["cost"]) - labour, spent, now.quantize(CENT) - spent


def _amount(what: str, unit: str, first: float, spent: float, come: float) -> dict[str, Any]:
    values = (round(value, 2) for value in (first, spent, come))
    return _row(what, unit, *values)


def _money(what: str, unit: str, first: Decimal, spent: Decimal, come: Decimal) -> dict[str, Any]:
    return _row(what, unit, first.quantize(CENT), spent.quantize(CENT), come.quantize(CENT))


def _row(what: str, unit: str, first: Any, spent: Any, come: Any) -> dict[str, Any]:
    together = spent + come
    if isinstance(together, float):
        together = round(together, 2)
    return {
        "what": what, "unit": unit, "first": first, "spent": spent, "to_come": come,
        "together": together,
    }  # fmt: skip


def say_spent(
    rows: Sequence[Mapping[str, Any]], first: Mapping[str, Any], ready: str | None
) -> list[str]:
    """Tell time, metals where there are several, cost and date, a line each."""
    by_name = {row["what"]: row for row in rows}
    time, weld = by_name["all stations"], by_name.get("weld")
    lines = []
    if weld is not None:
        lines.append(f"At the welder: {_spans(weld)}.")
    lines.append(f"At all stations: {_spans(time)}.")
    metals = [row for row in rows if row["unit"] == "g"]
    if len(metals) > 1:
        each = (
            f"{row['what']} {row['spent']:.2f} g spent + {row['to_come']:.2f} to come"
            for row in metals
        )
        lines.append(f"Metal: {'; '.join(each)}.")
    cost = by_name["cost of the job"]
    lines.append(
        f"Cost: {cost['spent']:.2f} {cost['unit']} spent + {cost['to_come']:.2f} to come = "
        f"{cost['together']:.2f}; first quote {cost['first']:.2f}."
    )
    if ready is not None:
        then = first["ready"]
        beside = f"; first plan {then}" if then and then != ready else ""
        lines.append(f"All ready on {ready}{beside}.")
    return lines


def _spans(row: Mapping[str, Any]) -> str:
    spent, come, together, first = (
        show_duration(60 * float(row[name])) for name in ("spent", "to_come", "together", "first")
    )
    return f"{spent} spent + {come} to come = {together}; first plan {first}"


def ready_day(due: Sequence[DueLine]) -> str | None:
    """Return the day on which the last piece is ready; None without dates."""
    days: list[datetime.date] = [row.done for row in due if row.done is not None]
    return max(days).isoformat() if days else None
