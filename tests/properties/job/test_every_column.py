"""Every column of every sheet survives being written and read again, in a workbook and in TOML.

The values come from the table of columns alone, so that a new column is tried without a word here.
Only what excludes each other is said: a ring has an inner diameter or a mandrel, and so on.
"""

from __future__ import annotations

import datetime
import tempfile
from dataclasses import fields
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from chainplan.job import read_job, write_job
from chainplan.job.columns import SHEETS, Column, columns, columns_of
from chainplan.model.piece.design import Design
from chainplan.model.piece.weave_names import WeaveName, WeaveNames
from chainplan.model.prices import PRICE_ITEMS

if TYPE_CHECKING:
    from chainplan.model.job import Job, Piece

WEAVES = WeaveNames((
    WeaveName(key="plain", form="chain"),
    WeaveName(key="wide", form="sheet"),
    WeaveName(key="two-sizes", second_ring="optional"),
))  # fmt: skip
CHAIN = {
    "name": "Chain", "weave": "plain", "metal": "copper", "temper": "half-hard", "wire": 1.0,
    "inner": 4.0,
}  # fmt: skip

GRADE = {"grade inner", "grade wire", "grade way"}

# Sheet → variants: what each must hold, and which columns it must leave out.
VARIANTS: dict[str, list[tuple[dict[str, object], set[str]]]] = {
    "designs": [
        ({"design": "stripes", "rule": "columns", "which": "1-2, last", "metals": "brass"},
         {"laid", "picture width"}),
        ({"design": "stripes", "rule": "grid", "which": "A.B", "metals": "A brass, B copper"},
         {"picture width"}),
        ({"design": "shown", "rule": "picture", "which": "dots.png", "metals": "brass, copper"},
         set()),
    ],
    "pieces": [
        (CHAIN | {"length": 500.0, "design": "stripes"},
         {"mandrel", "rings", "rows", "lies", "second wire", "second inner", "closed loop",
          "section", "measured rings per cm"}),
        (CHAIN | {"mandrel": 4.0, "rings": 60},
         {"inner", "length", "rows", "lies", "second wire", "second inner",
          "clasp length", "section", "design", *GRADE}),
        (CHAIN | {"weave": "wide", "length": 500.0, "rows": 5, "design": "shown"},
         {"mandrel", "rings", "second wire", "second inner", "closed loop", "section", *GRADE}),
        (CHAIN | {"weave": "two-sizes", "length": 500.0, "section": 1, "second wire": 0.8},
         {"mandrel", "rings", "rows", "lies", "closed loop", "design", *GRADE}),
    ],
    "fittings": [
        ({"piece": "Chain", "fitting": f"drop {place}", "kind": "pendant", "where": place,
          "length": 12.5, "connecting rings": 2, "wire": 0.9, "inner": 3.5, "metal": "copper",
          "heat kind": "own", "limit": 90.0}, set())
        for place in ("middle", "ring 3", "12.5 mm from end")
    ] + [
        ({"piece": "Chain 3", "fitting": "stone", "kind": "centrepiece",
          "where": "between 1 and 2", "connecting rings": 0, "length": 9.5, "wire": 1.2,
          "inner": 3.5, "metal": "copper", "heat kind": "amber", "limit": 80.0}, set()),
        ({"piece": "Chain", "fitting": "engraving", "kind": "extra"},
         {"where", "length", "connecting rings", "wire", "inner", "metal", "mass", "heat kind",
          "limit", "conductivity", "source", "fitted"}),
    ],
    "people": [
        ({"person": "Ann", "working days": "Mon Tue Wed Thu", "days off": "2027-03-09",
          "stations": "weave, finish"}, set()),
    ],
    "machines": [
        ({"machine": "bench welder", "station": "weld", "days off": "2027-03-09"}, set()),
        ({"machine": "saw", "station": "cut"}, {"days off"}),
    ],
    "prices": [({"item": item.item, "per": item.per[0]}, set()) for item in PRICE_ITEMS[:2]],
    "stock": [
        ({"kind": kind, "metal": "copper", "temper": "half-hard"}, set())
        for kind in ("wire", "rings")
    ],
    "parts": [
        ({"piece": "Chain", "kind": "own", "limit": 300.0, "place": 1.5, "covers": 2.5,
          "row": 1, "from": end}, set())
        for end in ("start", "end")
    ],
    "metals": [
        ({"metal": "studio-white", "solidus": 800.0, "liquidus": "890 / 900 / 910"}, {"like"}),
        ({"metal": "studio-grey", "like": "sterling-silver", "solidus": 800.0, "liquidus": 900.0},
         {"hardness", "yield hard"}),
    ],
    "recorded": [
        ({"metal": "copper"}, {"mandrel", "inner", "temper"}),
        ({"metal": "copper", "temper": "half-hard", "mandrel": 4.0, "inner": 4.25},
         {"power", "hits", "tip"}),
    ],
}  # fmt: skip

texts = st.text("abcxyzABCäöé019", min_size=1, max_size=12)


def values_of(column: Column) -> st.SearchStrategy[object]:
    """Draw a value that a column takes, from what columns.csv says of it."""
    if column.name == "minutes":
        return st.sampled_from(("weave 45", "weave 12.5, finish 10"))
    low, high = column.low or 0.01, min(column.high or 100.0, 100.0)
    if column.choices:
        return st.sampled_from(column.choices)
    if column.kind in {"text", "name"}:
        return texts
    if column.kind == "yes-no":
        return st.booleans()
    if column.kind == "date":
        return st.dates(datetime.date(2020, 1, 1), datetime.date(2090, 1, 1))
    if column.kind == "count":
        return st.integers(max(1, int(low)), int(high))
    if column.kind == "money":
        return st.decimals(Decimal("0.01"), Decimal(1000), places=2)
    if column.kind == "range":
        return st.floats(low, column.high or 100.0).map(lambda value: round(value, 3) or low)
    assert column.kind in {"number", "length", "wire"}, f"say how to draw {column.kind}"
    return st.floats(low, high).map(lambda value: max(round(value, 4), low))


@st.composite
def rows(draw: st.DrawFn, sheet: str, variant: int) -> dict[str, object]:
    """One row with every column filled that the variant does not exclude."""
    fixed, without = VARIANTS[sheet][variant]
    return {
        column.name: fixed[column.name] if column.name in fixed else draw(values_of(column))
        for column in columns_of(sheet).values()
        if column.name not in without
    }


@st.composite
def jobs(draw: st.DrawFn) -> dict[str, list[dict[str, object]]]:
    """A job with a row for every variant of every sheet."""
    content = {
        sheet: [draw(rows(sheet, number)) for number in range(len(variants))]
        for sheet, variants in VARIANTS.items()
    }
    for number, row in enumerate(content["pieces"]):
        row["name"] = f"Chain {number}" if number else "Chain"
        if "clasp length" in row:
            row["clasp length"] = min(float(str(row["clasp length"])), 20.0)
    second = {key: content["pieces"][3][key] for key in ("name", "weave", "metal", "wire", "inner")}
    content["pieces"].append(second | {"section": 2, "rings": 8})
    return content


def test_every_column_is_filled_in_some_variant():
    """A column that every variant leaves out would never be tried."""
    for sheet in SHEETS:
        if sheet == "bench":
            continue
        tried = {
            name for fixed, without in VARIANTS[sheet] for name in set(columns_of(sheet)) - without
        }
        assert tried | ({"like"} if sheet == "metals" else set()) == set(columns_of(sheet))


@settings(max_examples=5)
@given(content=jobs())
def test_every_column_survives_workbook_and_toml(content):
    """What is written for each column is what was read; reading it again gives the same job."""
    with tempfile.TemporaryDirectory() as folder:
        Image.new("RGBA", (4, 3), (200, 120, 80, 255)).save(Path(folder) / "dots.png")
        first = read_job(write_job(content, Path(folder) / "job.toml"), weaves=WEAVES)
        again = first
        for ending in ("xlsx", "toml", "xlsx"):
            again = read_job(write_job(again, Path(folder) / f"again.{ending}"), weaves=WEAVES)
            for part in (
                "prices",
                "stock",
                "recorded",
                "measured_rings",
                "metals",
                "people",
                "machines",
                "bench",
                "designs",
            ):
                assert getattr(again, part) == getattr(first, part)
            assert [bare(piece) for piece in again.pieces] == [bare(p) for p in first.pieces]
    for column in columns():
        if column.fields:
            assert_held(column, content, first)


def bare(piece: Piece) -> dict[str, object]:
    """The fields of a piece without the place it was read from."""
    return {item.name: getattr(piece, item.name) for item in fields(piece) if item.name != "where"}


def assert_held(column: Column, content: dict[str, list[dict[str, object]]], job: Job) -> None:
    """Check that what was filled in stands in the field that columns.csv names."""
    pieces = job.pieces
    held = {
        "Piece": pieces,
        "Section": [section for piece in pieces for section in piece.sections],
        "Fitting": [fitting for piece in pieces for fitting in piece.fittings],
        "HeatSensitivePart": [part for piece in pieces for part in piece.parts],
        "Price": job.prices,
        "StockItem": job.stock,
        "RecordedSetting": job.recorded,
        "MeasuredRing": job.measured_rings,
        "Metal": list(job.metals.values()),
        "Person": job.people,
        "Machine": job.machines,
        "DesignLine": [line for design in job.designs for line in design.lines],
    }
    given_values = [row[column.name] for row in content[column.sheet] if column.name in row]
    found = [getattr(item, name) for holder, name in column.fields for item in held[holder]]
    found = [item.name if isinstance(item, Design) else item for item in found]
    if column.kind in {"number", "length", "wire", "count", "money", "text", "date", "choice"}:
        for value in given_values:
            wanted = value == "end" if column.name == "from" else value
            if isinstance(wanted, float):
                assert min(abs(item - wanted) for item in found if item is not None) < 1e-9, column
            else:
                assert wanted in found, column
