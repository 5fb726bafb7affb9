"""What changed in a job's file since its last plan."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chainplan.model.job import Job
    from chainplan.model.workshop.record import KnownPlan


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
