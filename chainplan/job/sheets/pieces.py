"""Gathers the rows of the pieces sheet into pieces, with their sections and parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError, cut, quote
from chainplan.job.columns import columns_of
from chainplan.job.fields import fields_given
from chainplan.job.sheets.example import EXAMPLE_PARTS
from chainplan.job.sheets.fittings import check_loose
from chainplan.job.sheets.limits import check_above_room, read_limit
from chainplan.job.sheets.odd_lengths import odd_length
from chainplan.job.sheets.rows import read_row
from chainplan.job.sheets.sections import read_section
from chainplan.model.job import HeatSensitivePart, Piece, Section
from chainplan.model.workshop.schedule import read_minutes, write_minutes

if TYPE_CHECKING:
    from chainplan.job.known_names import KnownNames
    from chainplan.job.table import Findings, Row


SAME_MM = 0.001
"""Lengths nearer than this are the same: half an inch and 12.7 mm differ by rounding alone."""


@dataclass(slots=True)
class _Read:
    """One row, read."""

    row: Row
    values: dict[str, Any]
    section: Section | None


def read_pieces(rows: list[Row], names: KnownNames, findings: Findings) -> list[Piece]:
    """Read every row and put the rows of one name together."""
    by_name: dict[str, list[_Read]] = {}
    spelled: dict[str, str] = {}
    for row in rows:
        values = read_row("pieces", row, findings)
        read = _Read(row, values, read_section(values, row, names, findings))
        name = values["name"]
        if name is None:
            continue
        first = spelled.setdefault(name.casefold(), name)
        if first != name:
            found = f"name is {name!r}, the same as {first!r} but for its capitals"
            findings.fault(row.place("name"), found, "give each piece a name of its own")
        by_name.setdefault(name, []).append(read)
    return [
        piece
        for name, reads in by_name.items()
        if (piece := _build_piece(name, reads, findings)) is not None
    ]


def _build_piece(name: str, reads: list[_Read], findings: Findings) -> Piece | None:
    ordered = _in_order(name, reads, findings)
    if ordered is None:
        return None
    whole = _whole(name, ordered, findings)
    sections = [read.section for read in ordered if read.section is not None]
    if len(sections) < len(ordered):
        return None
    if not check_loose(name, sections, ordered[0].row, findings):
        return None
    clasp_mm = whole["clasp length"] or 0.0
    lengths = [section.length_mm for section in sections]
    if all(length is not None for length in lengths):
        total_mm = sum(length for length in lengths if length is not None)
        if clasp_mm >= total_mm:
            found = f"clasp length is {clasp_mm:g} mm, the whole length {total_mm:g} mm"
            findings.fault(ordered[0].row.place("clasp length"), found, "it must be shorter")
        elif question := odd_length(name, total_mm, clasp_mm):
            findings.warn(f"{ordered[0].row.place('length')}: {question}")
    if whole["closed loop"] and clasp_mm:
        found = "closed loop is yes and a clasp length is given"
        findings.fault(ordered[0].row.place("closed loop"), found, "keep one of them")
    if whole["minutes"]:
        try:
            whole["minutes"] = write_minutes(read_minutes(whole["minutes"]))
        except InputError as error:
            findings.add(error.at(ordered[0].row.place("minutes")))
            return None
    given = fields_given("pieces", "Piece", whole | {"name": name})
    given.setdefault("quantity", 1)
    return Piece(**given, sections=tuple(sections), where=ordered[0].row.where)


def _in_order(name: str, reads: list[_Read], findings: Findings) -> list[_Read] | None:
    """Put the rows of one piece in the order of their section numbers."""
    first = reads[0].row.short
    if len(reads) == 1:
        number = reads[0].values["section"]
        if number not in (None, 1):
            place = reads[0].row.place("section")
            findings.fault(place, f"section is {number} and there is no other", "begin with 1")
            return None
        return reads
    seen: dict[int, _Read] = {}
    unread = False
    for read in reads:
        number = read.values["section"]
        if number is None:
            unread = True
            if read.row.get("section") is None and read is not reads[0]:
                found = f"name is {name!r} a second time, after {first}"
                allowed = "give it another name, or number the rows of one piece in 'section'"
                findings.fault(read.row.place("name"), found, allowed)
            continue
        if number in seen:
            found = f"section {number} of {name!r} is there twice"
            findings.fault(read.row.place("section"), found, "number them 1, 2, 3 …")
            return None
        seen[number] = read
    if unread:
        if reads[0].row.get("section") is None and seen:
            found = f"{name!r} has section numbers in other rows, and none here"
            findings.fault(reads[0].row.place("section"), found, "number them all")
        return None
    numbers = sorted(seen)
    if numbers != list(range(1, len(reads) + 1)):
        found = f"the sections of {name!r} are {cut(', '.join(map(str, numbers)))}"
        findings.fault(reads[0].row.place("section"), found, "number them 1, 2, 3 … without gaps")
        return None
    return [seen[number] for number in numbers]


def _whole(name: str, ordered: list[_Read], findings: Findings) -> dict[str, Any]:
    """Take what holds for the whole piece from whichever row gives it; two answers are a fault."""
    whole: dict[str, Any] = {}
    of_the_whole = [
        column.name
        for column in columns_of("pieces").values()
        if column.field_of("Piece") and column.name != "name"
    ]
    for column in of_the_whole:
        whole[column] = None
        for read in ordered:
            value = read.values[column]
            if value is None:
                continue
            if whole[column] is not None and value != whole[column]:
                found = f"{column} of {name!r} differs between its sections"
                findings.fault(read.row.place(column), found, "write it in section 1 only")
            elif whole[column] is None:
                whole[column] = value
    return whole


def read_parts(
    rows: list[Row], pieces: list[Piece], names: set[str], room_c: float, findings: Findings
) -> dict[str, list[HeatSensitivePart]]:
    """Read the heat-sensitive parts, by the name of the piece that carries them.

    ``names`` are all names of the pieces sheet, those of faulty pieces too; no limit may be at or
    below the room's temperature ``room_c``, since no wait would reach it.
    """
    by_name = {piece.name: piece for piece in pieces}
    parts: dict[str, list[HeatSensitivePart]] = {}
    for row in rows:
        values = read_row("parts", row, findings)
        name = values["piece"]
        if name is not None and names and name not in names:  # without any, that is told already
            found = f"piece {quote(name)} is not in the sheet pieces"
            if (name, values["part"]) in EXAMPLE_PARTS:
                allowed = "delete this row: it belongs to the starter's example"
                findings.fault(row.place("piece"), found, allowed)
            else:
                findings.unknown(row.place("piece"), found, name, lambda: sorted(names))
        part = _read_part(values, row, findings)
        if part is not None:
            check_above_room(part.limit_c, row, room_c, findings, kind_column="kind")
        piece = by_name.get(name) if name else None
        if part is None or piece is None:
            continue
        _check_place(part, piece, row, findings)
        parts.setdefault(piece.name, []).append(part)
    return parts


def _read_part(values: dict[str, Any], row: Row, findings: Findings) -> HeatSensitivePart | None:
    if values["kind"] is None or values["piece"] is None or values["part"] is None:
        return None
    limit = read_limit(values, row, findings, kind_column="kind")
    if limit is None:
        return None
    found = limit | {"place": values["place"] or 0.0}
    return HeatSensitivePart(**fields_given("parts", "HeatSensitivePart", values | found))


def _check_place(part: HeatSensitivePart, piece: Piece, row: Row, findings: Findings) -> None:
    lengths = [section.length_mm for section in piece.sections]
    known = [length for length in lengths if length is not None]
    if len(known) == len(lengths) and part.place_mm > sum(known):
        found = f"place is {part.place_mm:g} mm on a piece of {sum(known):g} mm"
        findings.fault(row.place("place"), found, "it must lie on the piece")
    elif len(known) == len(lengths) and part.place_mm + part.length_mm > sum(known) + SAME_MM:
        found = (
            f"covers is {part.length_mm:g} mm from {part.place_mm:g} mm on, "
            f"on a piece of {sum(known):g} mm"
        )
        findings.fault(row.place("covers"), found, "it must lie on the piece")
    rows = max((section.rows or 1) for section in piece.sections)
    if part.row is not None and part.row > rows:
        found = f"row is {part.row}"
        findings.fault(row.place("row"), found, f"allowed is 1 to {rows}")
