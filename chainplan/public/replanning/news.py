"""What changed since the last plan of a job, and what was spent and is to come."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.intake import read_plan_record
from chainplan.units import show_duration

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.job import Job
    from chainplan.model.plan import Plan
    from chainplan.model.workshop.record import KnownPlan, Progress


def changes(known: KnownPlan, job: Job) -> list[str]:
    """Name every bench setting that is another than in the last plan."""
    from chainplan.report.text.record import plain

    found = []
    for group in fields(job.bench):
        settings = getattr(job.bench, group.name)
        for item in fields(settings):
            key = f"{group.name}.{item.name}"
            old, new = known.bench.get(key), plain(getattr(settings, item.name))
            if key in known.bench and old != new:
                unit = item.metadata.get("unit") or ""
                words = item.name.replace("_", " ")
                found.append(f"Changed: {group.name}, {words}: {new} {unit} instead of {old}.")
    start = job.start_date.isoformat() if job.start_date else None
    if known.bench.get("job.start_date") != start:
        found.append(f"Changed: start date {start} instead of {known.bench.get('job.start_date')}.")
    old_copies = {piece.name: piece.copies for piece in known.pieces}
    found += [
        f"Changed: {piece.name}: {piece.quantity} copies instead of {old_copies[piece.name]}."
        for piece in job.pieces
        if old_copies.get(piece.name, piece.quantity) != piece.quantity
    ]
    return found or ["The job's settings are as they were."]


def spent(before: Progress, full: Plan, folder: Path) -> list[str]:
    """Tell welding, labour and dates as spent and to come, beside the first quote."""
    spent_s = sum(piece.work_s + piece.waited_s for piece in before.pieces)
    come_s = sum(piece.left_s for piece in before.pieces)
    rate = float(full.job.bench.money.labour_per_hour)
    currency = full.estimates.currency
    lines = [
        f"At the welder: {show_duration(spent_s)} spent, about {show_duration(come_s)} to come; "
        f"labour there {spent_s / 3600 * rate:.2f} + {come_s / 3600 * rate:.2f} {currency}."
    ]
    if before.finish is not None:
        lines.append(f"Finished about {before.finish:%Y-%m-%d %H:%M} at the pace so far.")
    cost = sum(quote.cost for quote in full.estimates.quotes)
    first = first_cost(folder)
    if first:
        lines.append(f"The whole job now costs {cost:.2f} {currency}; first planned were {first}.")
    return lines


def first_cost(folder: Path) -> str:
    """Return the cost of the first plan of this work, as text with its currency."""
    record = read_plan_record(folder / "plan.json")
    if "replan" in record:
        return str(record["replan"]["first_cost"])
    cost = sum((Decimal(quote["cost"]) for quote in record["estimates"]["quotes"]), Decimal(0))
    return f"{cost:.2f} {record['estimates'].get('currency') or ''}".strip()
