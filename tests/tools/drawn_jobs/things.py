"""Fittings of every kind at every place, and parts on the chain that heat spoils."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from chainplan.model.piece.fittings import METAL_EYES, FittingKind
from chainplan.reference import part_keys
from drawn_jobs.pieces import Drawn, Row, one_in, told
from drawn_jobs.rings import metals

if TYPE_CHECKING:
    from collections.abc import Iterator

KINDS = tuple(kind for kind in FittingKind if kind != FittingKind.EXTRA)
HEAT_KINDS = (*part_keys(), "own")
SHORT_MM = 40.0
"""Of shorter pieces a fitting in line and its rings would leave nothing to weave."""
SAID_BY = "invented: as its maker says"


@st.composite
def things_on(draw: st.DrawFn, piece: Drawn) -> tuple[list[Row], list[Row]]:
    """Rows of fittings and of parts of one piece."""
    fittings, parts = [], []
    if piece.ring is not None and one_in(draw, 2):
        places = draw(
            st.lists(st.sampled_from(_places(piece)), min_size=1, max_size=3, unique=True)
        )
        left_mm = None if piece.length_mm is None else piece.length_mm * 0.6
        for number, place in enumerate(places, 1):
            row = draw(_fitting(piece, place, number, left_mm))
            if left_mm is not None and not _hangs(place):
                left_mm -= row["length"] or 0.0
            fittings.append(row)
    if one_in(draw, 6):
        fittings.append({"piece": piece.name, "fitting": f"engraving {piece.name}", "kind": "extra",
                         "price": draw(st.sampled_from([None, Decimal("12.50")]))})  # fmt: skip
    if piece.shape != "loose" and one_in(draw, 4):
        parts = [draw(_part(piece, number)) for number in range(draw(st.integers(1, 2)))]
    return [told(row) for row in fittings], parts


def _hangs(place: str) -> bool:
    return place == "middle" or "ring" in place or "from" in place


def _places(piece: Drawn) -> list[str]:
    return [*_in_line(piece), "middle", "ring 1", "ring 3", "1 mm from start", "2 mm from end"]


def _in_line(piece: Drawn) -> Iterator[str]:
    if piece.length_mm is not None and piece.length_mm < SHORT_MM:
        return
    if piece.shape != "loop":
        yield from ("start", "end")
    for number in range(1, len(piece.rows)):
        yield f"between {number} and {number + 1}"


@st.composite
def _fitting(draw: st.DrawFn, piece: Drawn, place: str, number: int, left_mm: float | None) -> Row:
    kinds = [kind for kind in KINDS if kind != FittingKind.CLASP or not _has_clasp(piece)]
    kind = draw(st.sampled_from(kinds))
    length_mm = draw(st.sampled_from([None, 3.0, 7.5, 18.0]))
    if left_mm is not None and length_mm is not None and not _hangs(place):
        length_mm = round(min(length_mm, left_mm / 2), 1)
    row: Row = {
        "piece": piece.name, "fitting": f"{kind} {number} of {piece.name}", "kind": str(kind),
        "where": place, "length": length_mm,
        "connecting rings": draw(st.sampled_from([None, None, 0, 1, 2])),
        "mass": draw(st.sampled_from([None, 0.0, 0.4, 12.0])),
        "price": draw(st.sampled_from([None, Decimal("0.0"), Decimal("1.10"), Decimal("64.0")])),
        "delivery days": draw(st.sampled_from([None, 0, 5])),
        "fitted": draw(st.sampled_from([None, "before welding", "after welding"])),
        "notes": draw(st.sampled_from([None, None, "closed cold"])),
    }  # fmt: skip
    assert piece.ring is not None
    if _hangs(place) and piece.ring.weave != "single-link" and not one_in(draw, 4):
        row["connecting rings"] = 0  # few weaves have room for a ring in their middle
    if not one_in(draw, 4):
        # A thin ring goes through one that is full already; it has to hold two wires itself.
        thick_mm = piece.ring.wire_mm
        wire_mm = max(round(thick_mm * draw(st.sampled_from([0.4, 0.6, 1.0])), 3), 0.1)
        inside_mm = (thick_mm + wire_mm) * draw(st.sampled_from([1.3, 1.8, 3.0]))
        row |= {"wire": wire_mm, "inner": round(inside_mm, 3)}
    row["metal"] = draw(st.none() | metals) if one_in(draw, 4) else None
    if one_in(draw, 2):
        row |= draw(_limit("heat kind", metal_eye=kind in METAL_EYES))
    return row


def _has_clasp(piece: Drawn) -> bool:
    return any("clasp length" in row for row in piece.rows)


@st.composite
def _limit(draw: st.DrawFn, column: str, *, metal_eye: bool) -> Row:
    """A kind of the table, or a limit of one's own with or without how it conducts."""
    kind = draw(st.sampled_from(HEAT_KINDS))
    row: Row = {column: kind}
    if kind == "own":
        row["limit"] = draw(st.sampled_from([60.0, 150.0, 400.0]))
        row["source"] = draw(st.sampled_from([None, SAID_BY]))
        if not metal_eye:
            row["conductivity"] = draw(st.sampled_from([None, 1.0, 15.0]))
    return row


@st.composite
def _part(draw: st.DrawFn, piece: Drawn, number: int) -> Row:
    limit = draw(_limit("kind", metal_eye=False))
    long_mm = piece.length_mm or 4.0
    place_mm = round(long_mm * draw(st.sampled_from([0.0, 0.0, 0.3, 0.5])), 1)
    row: Row = {
        "piece": piece.name, "part": f"part {number} of {piece.name}", "place": place_mm,
        "from": draw(st.sampled_from([None, "start", "end"])),
        "covers": round((long_mm - place_mm) * draw(st.sampled_from([0.0, 0.2, 0.9])), 1),
        "heat sink": draw(st.sampled_from([None, None, 0.0, 0.05, 2.0])),
        "row": draw(st.sampled_from([None, 1, piece.sheet_rows])) if piece.sheet_rows > 1 else None,
    }  # fmt: skip
    return told(row | limit)
