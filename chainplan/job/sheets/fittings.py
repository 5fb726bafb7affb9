"""Reads the fittings, and puts their connecting rings among the sections of their pieces."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError, quote
from chainplan.job.fields import fields_given
from chainplan.job.sheets.limits import check_above_room, read_limit
from chainplan.job.sheets.rows import read_row
from chainplan.model.job import LOOSE_JOINS, Piece, Section
from chainplan.model.piece.fittings import (
    CONNECTING,
    METAL_EYES,
    PLACES,
    Fitted,
    Fitting,
    FittingKind,
    Spot,
    read_place,
)

if TYPE_CHECKING:
    from chainplan.job.known_names import KnownNames
    from chainplan.job.table import Findings, Row
    from chainplan.model.piece.fittings import FittingPlace

_OF_A_THING = ("where", "length", "connecting rings", "wire", "inner", "metal", "mass", "heat kind",
               "limit", "conductivity", "source", "fitted")  # fmt: skip
"""Columns that an extra leaves empty: it is no thing on the piece."""


def read_fittings(
    rows: list[Row],
    pieces: list[Piece],
    named: set[str],
    names: KnownNames,
    room_c: float,
    findings: Findings,
) -> list[Piece]:
    """Read the fittings and give each piece its own, with their connecting rings as sections.

    ``named`` are all names of the pieces sheet, those of faulty pieces too.
    """
    by_name = {piece.name: piece for piece in pieces}
    found: dict[str, list[tuple[Fitting, Row]]] = {}
    for row in rows:
        values = read_row("fittings", row, findings)
        name = values["piece"]
        if name is not None and named and name not in named:
            said = f"piece {quote(name)} is not in the sheet pieces"
            findings.unknown(row.place("piece"), said, name, lambda: sorted(named))
        fitting = _read_fitting(values, row, names, room_c, findings)
        piece = by_name.get(name) if name else None
        if fitting is None or piece is None:
            continue
        others = [one for one, _ in found.get(piece.name, [])]
        if _check_place(fitting, piece, others, row, findings):
            found.setdefault(piece.name, []).append((fitting, row))
    _check_prices([pair for pairs in found.values() for pair in pairs], findings)
    return [_with_fittings(piece, found.get(piece.name, []), findings) for piece in pieces]


def _read_fitting(
    values: dict[str, Any], row: Row, names: KnownNames, room_c: float, findings: Findings
) -> Fitting | None:
    """Read one row; ``None`` after a fault."""
    before = findings.count
    if None in (values["piece"], values["fitting"], values["kind"]):
        return None
    found: dict[str, Any] = {}
    if values["kind"] == FittingKind.EXTRA:
        for column in _OF_A_THING:
            if row.get(column) is not None:
                said = f"{column} is given for an extra"
                findings.fault(row.place(column), said, f"{row.drop}: it is no thing on the piece")
    elif values["where"] is None:
        if row.get("where") is None:
            said = "where it stands is missing"
            findings.fault(row.where, said, f"write it in the column 'where': {PLACES}")
    else:
        try:
            found["where"] = str(read_place(values["where"]))
        except InputError as error:
            findings.add(error.at(row.place("where"), "where"))
    if values["metal"]:
        alloy = names.metal(values["metal"], row.place("metal"), findings)
        found["metal"] = alloy.key if alloy else None
    wire_mm, inner_mm = values["wire"], values["inner"]
    if wire_mm is not None and inner_mm is not None and inner_mm <= wire_mm:
        said = f"a ring of {inner_mm:.4g} mm inside of wire {wire_mm:.4g} mm"
        allowed = "the inner diameter must exceed the wire for another ring to pass"
        findings.fault(row.place("inner"), said, allowed)
    kind = values["heat kind"] or ("own" if values["limit"] is not None else None)
    if kind is not None and values["kind"] != FittingKind.EXTRA:
        known = values | {"heat kind": kind}
        metal_eye = values["kind"] in METAL_EYES
        limit = read_limit(
            known, row, findings, kind_column="heat kind",
            of_metal=metal_eye or values["fitted"] == Fitted.AFTER,
        )  # fmt: skip
        if metal_eye and values["conductivity"] is not None:
            said = f"conductivity is given for a {values['kind']}, whose rings touch metal"
            findings.fault(row.place("conductivity"), said, row.drop)
        if limit is not None:
            check_above_room(limit["limit"], row, room_c, findings, kind_column="heat kind")
            found |= limit
    if findings.count > before:
        return None
    return Fitting(**fields_given("fittings", "Fitting", values | found))


def _check_place(
    fitting: Fitting, piece: Piece, others: list[Fitting], row: Row, findings: Findings
) -> bool:
    """Tell a fitting that cannot stand where it is said to."""
    place = fitting.spot
    if place is None:
        return True
    allowed = ""
    woven = [section for section in piece.sections if section.weave != LOOSE_JOINS]
    if not woven:
        said, allowed = f"{piece.name!r} is of {LOOSE_JOINS}", "fittings stand on a woven piece"
    elif piece.clasp_length_mm and fitting.kind == FittingKind.CLASP:
        said = f"{piece.name!r} has a clasp length in the sheet pieces and this clasp too"
        allowed = "keep one of them"
    elif piece.closed and place.spot in {Spot.START, Spot.END}:
        said, allowed = f"{piece.name!r} is a closed loop and has no {place}", "let it hang on it"
    elif place.spot == Spot.BETWEEN and place.number >= len(piece.sections):
        count = len(piece.sections)
        said = f"where is {place}, and {piece.name!r} has {count} section{'s'[: count != 1]}"
        allowed = "number its rows 1, 2 … in the column 'section' of the sheet pieces"
    elif place.in_line and any(other.place == fitting.place for other in others):
        said, allowed = f"a second fitting {place}", "one stands in line; let the other hang on it"
    else:
        return _check_away(place, piece, row, findings)
    findings.fault(row.place("where"), said, allowed)
    return False


def _check_prices(found: list[tuple[Fitting, Row]], findings: Findings) -> None:
    """Tell fittings of one name that cost different amounts: one price item has one price."""
    known: dict[str, Fitting] = {}
    for fitting, row in found:
        first = known.setdefault(fitting.name.casefold(), fitting)
        same = (first.price, first.kind == FittingKind.EXTRA, first.name)
        if same != (fitting.price, fitting.kind == FittingKind.EXTRA, fitting.name):
            said = f"{quote(fitting.name)} differs in price, kind or capitals from {first.piece!r}"
            findings.fault(row.place("price"), said, "give what differs a name of its own")


def _check_away(place: FittingPlace, piece: Piece, row: Row, findings: Findings) -> bool:
    """Tell a place that lies beyond the end of a piece whose length is known."""
    lengths = [section.length_mm for section in piece.sections]
    known = [length for length in lengths if length is not None]
    if place.away_mm and len(known) == len(lengths) and place.away_mm > sum(known):
        said = f"where is {place} on a piece of {sum(known):g} mm"
        findings.fault(row.place("where"), said, "it must lie on the piece")
        return False
    return True


def _with_fittings(piece: Piece, found: list[tuple[Fitting, Row]], findings: Findings) -> Piece:
    """Give a piece its fittings; check what they leave of its length."""
    if not found:
        return piece
    fittings = tuple(fitting for fitting, _ in found)
    added_mm = piece.clasp_length_mm + sum(f.length_mm for f in fittings if f.in_line)
    lengths = [section.length_mm for section in piece.sections]
    known = [length for length in lengths if length is not None]
    if len(known) == len(lengths) and added_mm >= sum(known):
        row = found[0][1]
        said = f"fittings and clasp are {added_mm:g} mm long, the whole length {sum(known):g} mm"
        findings.fault(row.place("length"), said, "they must be shorter together")
    sections = _sections(piece, found, findings)
    _ask_for_second_half(piece, fittings, findings)
    return replace(piece, fittings=fittings, sections=sections)


def _ask_for_second_half(piece: Piece, fittings: tuple[Fitting, ...], findings: Findings) -> None:
    """Ask what a clasp closes into, where nothing stands at the other end of its piece."""
    taken = {fitting.spot.spot for fitting in fittings if fitting.spot is not None}
    for fitting in fittings:
        if fitting.kind != FittingKind.CLASP or fitting.spot is None:
            continue
        other = {Spot.START: Spot.END, Spot.END: Spot.START}.get(fitting.spot.spot)
        if other is not None and other not in taken:
            findings.warn(
                f"{piece.where}: {quote(fitting.name)} is at the {fitting.spot.spot} of "
                f"{quote(piece.name)} and nothing at the {other}: does it close into the last ring "
                f"there? If it has an end ring or a second half, add that as a fitting with where "
                f"{other}, so that it is bought and the length is right"
            )


def _sections(
    piece: Piece, found: list[tuple[Fitting, Row]], findings: Findings
) -> tuple[Section, ...]:
    """Put the connecting rings of each fitting where they come along the piece."""
    own = list(piece.sections)
    ends: dict[int, list[Section]] = {}  # after how many sections of the piece's own
    hanging: list[Section] = []
    for index, (fitting, row) in enumerate(found):
        place = fitting.spot
        if place is None or fitting.rings == 0:
            continue
        at = {Spot.START: 0, Spot.END: len(own), Spot.BETWEEN: place.number}.get(place.spot)
        beside = own[max((at or 1) - 1, 0)]
        rings = _connecting(fitting, index, beside, row.where)
        if rings.inner_mm <= rings.wire_mm:
            said = f"rings of {rings.inner_mm:.4g} mm inside of wire {rings.wire_mm:.4g} mm"
            findings.fault(row.where, said, "write wire and inner so that another ring passes")
        (hanging if at is None else ends.setdefault(at, [])).append(rings)
    laid = list(ends.get(0, []))
    for number, section in enumerate(own, 1):
        laid += [section, *ends.get(number, [])]
    return (*laid, *hanging)


def _connecting(fitting: Fitting, index: int, beside: Section, where: str) -> Section:
    """Make the section of a fitting's connecting rings; what is not said is as beside it."""
    alike = fitting.wire_mm is None and fitting.inner_mm is None
    return Section(
        weave=CONNECTING,
        metal=fitting.metal or beside.metal,
        temper=beside.temper if fitting.metal in (None, beside.metal) else "annealed",
        wire_mm=fitting.wire_mm or beside.wire_mm,
        inner_mm=fitting.inner_mm or beside.inner_mm,
        mandrel_mm=beside.mandrel_mm if alike else None,
        rings=fitting.rings * fitting.sides,
        fitting=index,
        where=where,
    )


def check_loose(name: str, ordered: list[Section], row: Row, findings: Findings) -> bool:
    """Tell loose joins among sections that are no rings: nothing could hang on them."""
    woven = [section for section in ordered if section.weave != LOOSE_JOINS]
    if not woven or len(woven) == len(ordered):
        return True
    if any(not section.made_of_rings for section in ordered):
        found = f"{name!r} has {LOOSE_JOINS} without a ring size among its sections"
        findings.fault(row.where, found, "give their inner diameter, or make them a fitting")
        return False
    return True
