"""Writes a job as a file that reads as the same job: workbook, TOML or CSV."""

from __future__ import annotations

import csv
import datetime
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.job.columns import columns_of
from chainplan.job.written.content import content_of
from chainplan.model.job import Job
from chainplan.writing import write_file

if TYPE_CHECKING:
    from chainplan.job.written.content import Content
    from chainplan.model.piece.weave_names import WeaveNames


def write_job(job: Job | Content, path: str | Path, *, weaves: WeaveNames | None = None) -> Path:
    """Write a job, or rows by sheet, as .xlsx, .toml or .csv (pieces only).

    A file that is there is replaced, whole or not at all.

    Raises
    ------
    InputError
        If the ending is not one of these, the file cannot be written, or a CSV would lose more
        than pieces.
    """
    path = Path(path)
    content: Content = content_of(job) if isinstance(job, Job) else job
    ending = path.suffix.casefold()
    if ending == ".xlsx":
        from chainplan.job.written.starter import workbook_bytes

        data = workbook_bytes(content, weaves=weaves)
    elif ending == ".toml":
        from chainplan.job.written.toml_writer import toml_text

        data = toml_text(content).encode("utf-8")
    elif ending == ".csv":
        data = _csv_text(content, path.name).encode("utf-8")
    else:
        message = f"{path.name}: ends in {ending!r}; a job is written as .xlsx, .toml or .csv"
        raise InputError(message)
    write_file(path, data)
    return path


def _csv_text(content: Content, file: str) -> str:
    others = [sheet for sheet, rows in content.items() if rows and sheet != "pieces"]
    if others:
        message = f"{file}: a CSV holds pieces only, and {', '.join(others)} would be lost"
        raise InputError(message)
    rows = content.get("pieces", ())
    used = [c for c in columns_of("pieces").values() if any(c.name in row for row in rows)]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.heading for column in used])
    for row in rows:
        writer.writerow([_csv_cell(row.get(column.name)) for column in used])
    return text.getvalue()


def _csv_cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime.date):
        return value.isoformat()
    return str(value)
