"""Reads a job file of any kind into a checked job, or tells every fault of it at once."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.job.bench import read_bench
from chainplan.job.cells import LONGEST_NAME, name_fault
from chainplan.job.lists import read_prices, read_recorded, read_stock
from chainplan.job.own_metals import read_metals
from chainplan.job.pieces import read_parts, read_pieces
from chainplan.job.table import Findings, RawJob, match_rows, shorten
from chainplan.job.words import Words
from chainplan.model.job import Job

if TYPE_CHECKING:
    from chainplan.errors import Fault
    from chainplan.model.job import Piece
    from chainplan.model.weave_names import WeaveNames

ENDINGS = (".xlsx", ".csv", ".toml")
LARGEST_FILE = 20 * 1024 * 1024


def read_job(path: str | Path, *, weaves: WeaveNames | None = None) -> Job:
    """Read a job file and check all of it.

    Parameters
    ----------
    path : str or Path
        A file that ends in .xlsx, .csv (pieces only) or .toml.
    weaves : WeaveNames, optional
        The weaves that a piece may name; without them any name is taken.

    Raises
    ------
    InputError
        With every fault of the file, each with its place.
    """
    path = Path(path)
    job, findings = _read(path, weaves)
    faults = findings.all_faults(path.name)
    if faults:
        raise InputError(faults=faults)
    return job


def check_job(path: str | Path, *, weaves: WeaveNames | None = None) -> tuple[Fault, ...]:
    """List every fault of a job file; an empty tuple means that it reads well.

    Raises
    ------
    InputError
        If the file cannot be opened or is of no known kind.
    """
    path = Path(path)
    _, findings = _read(path, weaves)
    return findings.all_faults(path.name)


def _read(path: Path, weaves: WeaveNames | None) -> tuple[Job, Findings]:
    findings = Findings()
    raw = _read_raw(path, findings)
    rows = {name: match_rows(sheet, findings) for name, sheet in raw.sheets.items()}
    _check_pieces_there(path.name, raw, findings)
    metals = read_metals(rows.get("metals", []), findings)
    words = Words(path.parent, weaves, metals)
    recorded, rings = read_recorded(rows.get("recorded", []), words, findings)
    words.measured = {(ring.metal, ring.temper): ring for ring in rings}
    bench = read_bench(rows.get("bench", []), findings)
    pieces = read_pieces(rows.get("pieces", []), words, findings)
    names = {str(cell.value).strip() for row in rows.get("pieces", []) if (cell := row.get("name"))}
    parts = read_parts(rows.get("parts", []), pieces, names, findings)
    pieces = [replace(piece, parts=tuple(parts.get(piece.name, ()))) for piece in pieces]
    if bench.start_date:
        _warn_of_past_dates(pieces, bench.start_date, findings)
    job = Job(
        name=_job_name(path, findings),
        pieces=tuple(pieces),
        bench=bench.bench,
        prices=read_prices(rows.get("prices", []), words, findings),
        stock=read_stock(rows.get("stock", []), words, findings),
        recorded=recorded,
        measured_rings=rings,
        metals=metals,
        start_date=bench.start_date,
        input_sha256=raw.sha256,
        warnings=tuple(findings.warnings),
    )
    return job, findings


def _read_raw(path: Path, findings: Findings) -> RawJob:
    """Open the file by its ending, within the largest size."""
    ending = path.suffix.casefold()
    if not path.exists():
        close = _near(path)
        message = f"{path.name}: there is no such file in {path.parent}{close}"
        raise InputError(message)
    if not path.is_file():
        message = f"{path.name}: is a folder, not a file; name a .xlsx, .csv or .toml file"
        raise InputError(message)
    if ending not in ENDINGS:
        found = f"{path.name}: ends in {ending!r}" if ending else f"{path.name}: has no ending"
        message = f"{found}; a job is a .xlsx, .csv or .toml file"
        raise InputError(message)
    try:
        with path.open("rb") as stream:
            content = stream.read(min(path.stat().st_size, LARGEST_FILE) + 1)
    except OSError as error:
        message = f"{path.name}: cannot be opened ({error.strerror or error})"
        raise InputError(message) from error
    if len(content) > LARGEST_FILE:
        message = f"{path.name}: is larger than {LARGEST_FILE / 1e6:.0f} MB, more than is taken"
        raise InputError(message)
    if not content.strip():
        message = f"{path.name}: is empty; 'chainplan start' writes one to fill in"
        raise InputError(message)
    if ending == ".xlsx":
        from chainplan.job.workbook import read_workbook

        return read_workbook(content, path.name, findings)
    from chainplan.job.text_files import read_csv, read_toml

    return (read_csv if ending == ".csv" else read_toml)(content, path.name, findings)


def _near(path: Path) -> str:
    """Say which file beside a missing one may have been meant."""
    import difflib

    if not path.parent.is_dir():
        return ", which is no folder"
    beside = sorted(
        other.name for other in path.parent.iterdir() if other.suffix.casefold() in ENDINGS
    )
    close = difflib.get_close_matches(path.name, beside, n=1, cutoff=0.6)
    return f"; did you mean {close[0]!r}?" if close else "; check its name and folder"


def _check_pieces_there(file: str, raw: RawJob, findings: Findings) -> None:
    sheet = raw.sheets.get("pieces")
    if sheet is None:
        if any("'pieces'" in f.allowed or "'piece'" in f.allowed for f in findings.faults):
            return
        if raw.others:
            there = ", ".join(repr(shorten(title)) for title in raw.others)
            found = f"there is no sheet 'pieces', only {there}"
            findings.fault(file, found, "call the sheet that has one row a piece 'pieces'")
        else:
            findings.fault(file, "there are no pieces", "a job needs them: one row is one piece")
    elif not sheet.rows:
        if sheet.headings:
            findings.fault(sheet.where, "has headings and no row below", "write one row a piece")
        elif not any(fault.where.startswith(sheet.where) for fault in findings.faults):
            findings.fault(sheet.where, "is empty", "write the headings and one row a piece")


def _warn_of_past_dates(pieces: list[Piece], start: object, findings: Findings) -> None:
    for piece in pieces:
        if piece.due is not None and str(piece.due) < str(start):
            text = f"{piece.where}: {piece.name!r} is due {piece.due}, before the start {start}"
            findings.warn(text)


def _job_name(path: Path, findings: Findings) -> str:
    """Name the job after its file, with signs that every system takes in a folder's name."""
    stem = unicodedata.normalize("NFC", path.stem)
    if name_fault(stem) is None:
        return stem
    kept = "".join(sign if sign.isalnum() or sign in " -_" else "-" for sign in stem)
    name = kept.strip(" -_")[:LONGEST_NAME].strip(" -_") or "job"
    if name_fault(name) is not None:
        name = f"job {name}"
    findings.warn(f"{path.name}: the job is called {name!r}, as the file's name is no folder name")
    return name
