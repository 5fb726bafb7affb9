"""A job that is written and read again is the same job, in every kind of file."""

from __future__ import annotations

import datetime
import random
import tempfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.job import content_of, read_job, write_job
from chainplan.job.columns import columns_of
from chainplan.job.sheets.cells import name_fault, read_text
from chainplan.job.table import Cell
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.kinds import PreClosing, Rounding

NOTES = columns_of("pieces")["notes"]
METALS = ["copper", "sterling-silver", "studio-white"]

names = st.text(
    alphabet=st.characters(categories=["Lu", "Ll", "Nd", "Lo"], include_characters=" -_.,()+&#'’"),
    min_size=1,
    max_size=30,
).filter(lambda text: name_fault(text.strip()) is None and text == text.strip())
notes = st.text(
    alphabet=st.characters(
        exclude_categories=["Cc", "Cs", "Co", "Cn"], include_characters="\n\t=\"'<&,;"
    ),
    max_size=40,
).map(lambda text: read_text(Cell(text, ""), NOTES))
days = st.dates(datetime.date(2026, 1, 1), datetime.date(2030, 1, 1))
rates = st.decimals(0, 100000, places=2)
money = st.decimals(Decimal("0.01"), Decimal(10**6), places=2)


def sizes(low: float, high: float) -> st.SearchStrategy[float]:
    """Sizes in mm with every digit that a float has."""
    return st.floats(low, high, allow_nan=False)


@st.composite
def sections(draw: st.DrawFn) -> dict[str, object]:
    """One row of the pieces sheet, ring and length only."""
    wire_mm = draw(sizes(0.2, 3))
    row: dict[str, object] = {
        "weave": draw(st.sampled_from(["byzantine", "single-link", LOOSE_JOINS])),
        "wire": wire_mm,
        "metal": draw(st.sampled_from(METALS)),
        "temper": draw(st.sampled_from(["annealed", "half-hard"])),
    }
    row[draw(st.sampled_from(["inner", "mandrel"]))] = wire_mm * draw(st.floats(2.5, 8))
    if row["weave"] == LOOSE_JOINS or draw(st.booleans()):
        row["rings"] = draw(st.integers(1, 5000))
    else:
        row["length"] = draw(sizes(50, 2000))
    return row


@st.composite
def pieces(draw: st.DrawFn, name: str) -> list[dict[str, object]]:
    """The rows of one piece."""
    rows = draw(st.lists(sections(), min_size=1, max_size=3))
    if any(row["weave"] == LOOSE_JOINS for row in rows):
        rows = rows[:1]
    whole: dict[str, object] = {
        "quantity": draw(st.integers(1, 50)),
        "notes": draw(notes) or None,
        "due": draw(st.none() | days),
        "list price": draw(st.none() | money),
        "rounding": draw(st.sampled_from([str(way) for way in Rounding])),
        "closing way": draw(st.sampled_from([str(way) for way in PreClosing])),
    }
    if rows[0]["weave"] != LOOSE_JOINS:
        whole["clasp length"] = draw(st.sampled_from([None, 12.5]))
    rows[0] |= {key: value for key, value in whole.items() if value is not None}
    if len(rows) > 1:
        rows = [row | {"section": number} for number, row in enumerate(rows, 1)]
    return [{"name": name} | row for row in rows]


@st.composite
def contents(draw: st.DrawFn) -> dict[str, list[dict[str, object]]]:
    """A whole job as rows by sheet."""
    chosen = draw(st.lists(names, min_size=1, max_size=4, unique_by=str.casefold))
    rows = [row for name in chosen for row in draw(pieces(name))]
    return {
        "pieces": rows,
        "bench": [
            {"group": "job", "setting": "start date", "value": draw(days)},
            {
                "group": "welder",
                "setting": "pre flow s",
                "value": draw(st.just(0.0) | st.floats(1e-6, 10)),
            },
            {"group": "money", "setting": "labour per hour", "value": draw(rates)},
            {"group": "pace", "setting": "interleave", "value": draw(st.booleans())},
        ],
        "prices": [{"item": "argon", "price": draw(money), "per": "l", "note": draw(notes)}],
        "stock": [{"kind": "wire", "metal": "copper", "size": draw(sizes(0.3, 3)), "amount": 2.5}],
        "parts": [
            {
                "piece": chosen[0],
                "part": "stone",
                "kind": draw(st.sampled_from(["amber", "spring"])),
                "place": draw(st.just(0.0) | st.floats(1e-6, 40)),
                "from": draw(st.sampled_from(["start", "end"])),
            }
        ],
        "metals": [
            {
                "metal": "studio-white",
                "like": "sterling-silver",
                "source": "invented",
                "density": f"9.9 / {draw(st.floats(10, 10.5))!r} / 11",
                "yield half-hard": draw(st.floats(100, 400)),
            }
        ],
        "recorded": [
            {"metal": "copper", "wire": 1.0, "power": draw(st.floats(1, 40)), "hits": 2},
            {"metal": "copper", "temper": "half-hard", "wire": 1, "mandrel": 5, "inner": 5.25},
        ],
    }


def without_places(job):
    """Leave out what differs from file to file: its name, bytes, and where things stand."""
    bare = tuple(replace(piece, where="") for piece in job.pieces)
    return replace(job, name="", input_sha256="", warnings=(), pieces=bare)


@settings(max_examples=12)
@given(content=contents())
def test_job_written_and_read_again_is_the_same_job(content):
    """Every digit, every name, every note survives, in a workbook and in TOML."""
    with tempfile.TemporaryDirectory() as folder:
        first = read_job(write_job(content, Path(folder) / "first.toml"))
        for ending in ("xlsx", "toml"):
            again = read_job(write_job(first, Path(folder) / f"again.{ending}"))
            assert without_places(again) == without_places(first)


@given(content=contents())
def test_pieces_written_as_csv_and_read_again_are_the_same(content):
    """A CSV holds the pieces and no more."""
    rows = [row for row in content["pieces"] if row["metal"] != "studio-white"]
    whole = {row["name"] for row in content["pieces"] if row["metal"] == "studio-white"}
    rows = [row for row in rows if row["name"] not in whole]
    if not rows:
        return
    with tempfile.TemporaryDirectory() as folder:
        first = read_job(write_job({"pieces": rows}, Path(folder) / "first.toml"))
        bare = {"pieces": content_of(first)["pieces"]}
        again = read_job(write_job(bare, Path(folder) / "again.csv"))
    assert without_places(again).pieces == without_places(first).pieces


@given(content=contents(), seed=st.integers(0, 2**16))
def test_order_of_rows_changes_nothing_but_the_order(content, seed):
    """Nobody should have to sort a spreadsheet."""
    shuffled = {
        sheet: random.Random(seed).sample(rows, len(rows)) for sheet, rows in content.items()
    }
    with tempfile.TemporaryDirectory() as folder:
        first = without_places(read_job(write_job(content, Path(folder) / "a.toml")))
        second = without_places(read_job(write_job(shuffled, Path(folder) / "b.toml")))
    by_name = {piece.name: piece for piece in first.pieces}
    assert {piece.name: piece for piece in second.pieces} == by_name
    assert replace(second, pieces=(), recorded=()) == replace(first, pieces=(), recorded=())
