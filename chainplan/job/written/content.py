"""A job as plain rows, as every kind of job file holds them; what the writers write."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from chainplan.job.fields import row_of
from chainplan.job.sheets.bench import JOB_GROUP, START_DATE, bench_settings, setting_words
from chainplan.job.sheets.own_metals import metal_row

if TYPE_CHECKING:
    from chainplan.model.job import Job, Piece

Content = Mapping[str, Sequence[Mapping[str, Any]]]
"""Rows by sheet; each row is values by column name, lengths in mm. Blank cells are left out."""


def content_of(job: Job) -> dict[str, list[dict[str, Any]]]:
    """Turn a job back into rows that read as the same job."""
    return {
        "pieces": [row for piece in job.pieces for row in _piece_rows(piece)],
        "fittings": [row_of("fittings", item) for piece in job.pieces for item in piece.fittings],
        "designs": [
            row_of("designs", line) | {"metals": line.metals_text}
            for design in job.designs
            for line in design.lines
        ],
        "bench": _bench_rows(job),
        "people": [row_of("people", person) for person in job.people],
        "machines": [row_of("machines", machine) for machine in job.machines],
        "prices": [row_of("prices", price) for price in job.prices],
        "stock": [row_of("stock", item) for item in job.stock],
        "parts": [row_of("parts", part) for piece in job.pieces for part in piece.parts],
        "metals": [metal_row(metal) for metal in job.metals.values()],
        "recorded": [
            row_of("recorded", item) for item in (*job.recorded, *job.measured_rings)
        ],
    }  # fmt: skip


def _piece_rows(piece: Piece) -> list[dict[str, Any]]:
    """Write a row a section; what holds for the whole piece stands in the first."""
    rows = []
    written = [section for section in piece.sections if section.fitting is None]
    for number, section in enumerate(written, 1):
        row = row_of("pieces", piece, section) if number == 1 else row_of("pieces", section)
        row["name"] = piece.name
        if len(written) > 1:
            row["section"] = number
        if section.mandrel_mm is not None or not section.made_of_rings:
            row.pop("inner", None)  # it was worked out
        rows.append(row)
    return rows


def _bench_rows(job: Job) -> list[dict[str, Any]]:
    """Write the settings that differ from their defaults."""
    rows: list[dict[str, Any]] = []
    if job.start_date is not None:
        name = setting_words(START_DATE)
        rows.append({"group": JOB_GROUP, "setting": name, "value": job.start_date})
    for info in bench_settings():
        value = getattr(getattr(job.bench, info.group), info.name)
        if value != info.default:
            rows.append({"group": info.group, "setting": setting_words(info), "value": value})
    return rows
