"""Reads a job file of any kind into a checked job, or tells every fault of it at once."""

from __future__ import annotations

import hashlib
import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, near_words, quote
from chainplan.intake import read_bytes
from chainplan.job.files.logo import check_logo
from chainplan.job.known_names import KnownNames
from chainplan.job.sheets.bench import read_bench
from chainplan.job.sheets.cells import name_fault
from chainplan.job.sheets.designs import read_designs
from chainplan.job.sheets.example import tell_examples
from chainplan.job.sheets.fittings import read_fittings
from chainplan.job.sheets.lists import (
    read_machines,
    read_people,
    read_prices,
    read_recorded,
    read_stock,
)
from chainplan.job.sheets.own_metals import read_metals
from chainplan.job.sheets.pieces import read_parts, read_pieces
from chainplan.job.table import Findings, RawJob, match_rows
from chainplan.model.job import Job

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping

    from chainplan.model.job import Piece
    from chainplan.model.piece.design import Design
    from chainplan.model.piece.weave_names import WeaveNames

ENDINGS = (".xlsx", ".csv", ".toml")
KINDS = "a job is a .xlsx, .csv or .toml file"


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
    names = KnownNames(path.parent, weaves, metals)
    recorded, rings = read_recorded(rows.get("recorded", []), names, findings)
    names.measured = {(ring.metal, ring.temper): ring for ring in rings}
    bench = read_bench(rows.get("bench", []), findings)
    names.designs = read_designs(rows.get("designs", []), names, findings)
    pieces = read_pieces(rows.get("pieces", []), names, findings)
    _note_unused(names.designs, pieces, path.name, findings)
    named = {str(cell.value).strip() for row in rows.get("pieces", []) if (cell := row.get("name"))}
    room_c = bench.bench.heat.room_c
    parts = read_parts(rows.get("parts", []), pieces, named, room_c, findings)
    pieces = read_fittings(rows.get("fittings", []), pieces, named, names, room_c, findings)
    pieces = [replace(piece, parts=tuple(parts.get(piece.name, ()))) for piece in pieces]
    if bench.start_date:
        _warn_of_past_dates(pieces, bench.start_date, findings)
    prices = read_prices(rows.get("prices", []), names, findings)
    stock = read_stock(rows.get("stock", []), names, findings)
    for text in tell_examples(prices, stock):
        findings.warn(text)
    check_logo(bench.bench.quote.logo, path.parent, f"{path.name} › bench", findings)
    job = Job(
        name=_job_name(path, findings),
        pieces=tuple(pieces),
        bench=bench.bench,
        people=read_people(rows.get("people", []), findings),
        machines=read_machines(rows.get("machines", []), findings),
        prices=prices,
        stock=stock,
        recorded=recorded,
        measured_rings=rings,
        metals=metals,
        designs=tuple(names.designs.values()),
        start_date=bench.start_date,
        input_sha256=_hash_of(raw.sha256, names.files),
        warnings=findings.all_warnings(path.name),
        file=str(path),
    )
    return job, findings


def _note_unused(
    designs: Mapping[str, Design], pieces: list[Piece], file: str, findings: Findings
) -> None:
    used = {section.design.name for p in pieces for section in p.sections if section.design}
    for name in designs:
        if name not in used and not findings.faults:
            findings.warn(f"{file}: no piece has the design {quote(name)}")


def _hash_of(sha256: str, files: Mapping[str, str]) -> str:
    """Hash of a job with the drawn designs beside it: a picture redrawn makes another plan."""
    if not files:
        return sha256
    text = "\n".join([sha256, *(f"{name} {files[name]}" for name in sorted(files))])
    return hashlib.sha256(text.encode()).hexdigest()


def _read_raw(path: Path, findings: Findings) -> RawJob:
    """Open the file by its ending, within the largest size."""
    ending = path.suffix.casefold()
    if path.is_dir():
        raise InputError(Fault(path.name, "is a folder, not a file", KINDS))
    if not path.is_file():
        raise InputError(_not_there(path))
    if ending not in ENDINGS:
        found = f"ends in {quote(path.suffix)}" if ending else "has no ending"
        raise InputError(Fault(path.name, found, KINDS))
    most = BOUNDS.workbook_bytes if ending == ".xlsx" else BOUNDS.text_bytes
    content = read_bytes(path, most, name=path.name, allowed=KINDS)
    if not content.strip():
        raise InputError(Fault(path.name, "is empty", "'chainplan start' writes one to fill in"))
    if ending == ".xlsx":
        from chainplan.job.files.workbook import read_workbook

        return read_workbook(content, path.name, findings)
    from chainplan.job.files.text_files import read_csv, read_toml

    return (read_csv if ending == ".csv" else read_toml)(content, path.name, findings)


def _not_there(path: Path) -> Fault:
    """Say which file beside a missing one may have been meant."""
    found = f"there is no such file in {path.parent}"
    if not path.parent.is_dir():
        return Fault(path.name, f"{found}, which is no folder", "check its name and folder")
    beside = sorted(
        other.name for other in path.parent.iterdir() if other.suffix.casefold() in ENDINGS
    )
    hint = near_words(path.name, beside)
    return Fault(path.name, found, "check its name and folder", hint)


def _check_pieces_there(file: str, raw: RawJob, findings: Findings) -> None:
    sheet = raw.sheets.get("pieces")
    if sheet is None:
        if any({"pieces", "piece"} & set(fault.hint) for fault in findings.faults):
            return
        if raw.others:
            there = ", ".join(quote(title) for title in raw.others[: BOUNDS.shown_words])
            found = f"there is no sheet 'pieces', only {there}"
            findings.fault(file, found, "call the sheet that has one row a piece 'pieces'")
        else:
            findings.fault(file, "there are no pieces", "a job needs them: one row is one piece")
    elif not sheet.rows:
        if sheet.headings:
            findings.fault(sheet.where, "has headings and no row below", "write one row a piece")
        elif not sheet.is_told:
            findings.fault(sheet.where, "is empty", "write the headings and one row a piece")


def _warn_of_past_dates(pieces: list[Piece], start: datetime.date, findings: Findings) -> None:
    for piece in pieces:
        if piece.due is not None and piece.due < start:
            text = f"{piece.where}: {piece.name!r} is due {piece.due}, before the start {start}"
            findings.warn(text)


def _job_name(path: Path, findings: Findings) -> str:
    """Name the job after its file, with signs that every system takes in a folder's name."""
    stem = unicodedata.normalize("NFC", path.stem)
    if name_fault(stem) is None:
        return stem
    kept = "".join(sign if sign.isalnum() or sign in " -_" else "-" for sign in stem)
    name = kept.strip(" -_")[: BOUNDS.name_letters].strip(" -_") or "job"
    if name_fault(name) is not None:
        name = f"job {name}"
    findings.warn(f"{path.name}: the job is called {name!r}, as the file's name is no folder name")
    return name
