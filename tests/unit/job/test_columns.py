"""The table of columns is the one place that reader, starter and documents go by."""

from __future__ import annotations

import csv
from dataclasses import fields
from importlib import resources

import pytest

from chainplan.job import columns, columns_markdown, read_job
from chainplan.job.columns import SHEETS, columns_of, find_column
from chainplan.job.sheets.own_metals import HARDNESSES, YIELDS, value_columns
from chainplan.model import job as model
from chainplan.model.kinds import PreClosing, Rounding
from chainplan.model.metal import MeasuredRing, Metal
from chainplan.model.piece.design import DesignLine
from chainplan.model.piece.fittings import Fitted, Fitting, FittingKind
from chainplan.model.workshop.machines import Machine, MachineStation
from chainplan.model.workshop.schedule import Person
from chainplan.reference import TEMPERS


def test_every_column_says_what_it_means_and_belongs_to_a_known_sheet():
    """A column without a meaning cannot be explained to anybody."""
    for column in columns():
        assert column.sheet in SHEETS
        assert column.meaning, column
        assert column.kind, column


def test_every_heading_and_key_finds_its_own_column():
    """What the starter and the TOML writer write, the reader must find."""
    for column in columns():
        for heading in (column.name, column.heading, column.key):
            found = find_column(column.sheet, heading)
            assert found is not None, heading
            assert found[0] is column


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("Length (cm)", "length", "cm"),
        ("LENGTH [in]", "length", "in"),
        ("wire, mm", "wire", "mm"),
        ("wire AWG", "wire", "awg"),
        ("Wire diameter", "wire", ""),
        ("qty", "quantity", ""),
        ("clasp_length_mm", "clasp length", "mm"),
    ],
)
def test_heading_is_understood_however_it_is_spelled(heading, name, unit):
    """People write units in brackets, after a comma, in capitals."""
    column, found = find_column("pieces", heading)
    assert (column.name, found) == (name, unit)


def test_choices_are_those_of_the_model():
    """The table must not offer a rounding or closing way that no stage knows."""
    pieces = columns_of("pieces")
    assert pieces["rounding"].choices == tuple(Rounding)
    assert pieces["closing way"].choices == tuple(PreClosing)
    fittings = columns_of("fittings")
    assert fittings["kind"].choices == tuple(FittingKind)
    assert fittings["fitted"].choices == tuple(Fitted)
    assert columns_of("machines")["station"].choices == tuple(MachineStation)


HOLDERS = {
    cls.__name__: cls
    for cls in (
        model.Piece, model.Section, model.Price, model.StockItem, model.HeatSensitivePart,
        model.RecordedSetting, MeasuredRing, Metal, Person, Machine, Fitting, DesignLine,
    )
}  # fmt: skip
BY_HAND = {
    "pieces": {"section"},  # puts rows in order
    "designs": {"metals"},  # letters and keys, as one text
    "bench": {"group", "setting", "value", "unit", "meaning", "allowed", "source"},
    "metals": {"like", "source"},  # of every value that is given
}
"""Columns that no field of their own holds: named here, so that none is forgotten."""
WORKED_OUT = {
    "Piece.sections", "Piece.parts", "Piece.fittings", "Piece.where",
    "Section.made_of_rings", "Section.where", "Section.fitting", "HeatSensitivePart.stand",
    "Section.design_tempers", "Section.graded",
    "DesignLine.metals", "DesignLine.spans", "DesignLine.parts", "DesignLine.size",
    "DesignLine.cells", "DesignLine.where",
    "Metal.aliases", "Metal.notes", "Metal.limits",
}  # fmt: skip
"""Fields that no column gives; what a metal does when warm comes from the one it is like."""


def test_every_column_is_held_by_a_field_that_exists():
    """A column without a field would be lost when a job is written; a wrong one could not be."""
    for column in columns():
        by_hand = column.name in BY_HAND.get(column.sheet, ())
        assert bool(column.fields) != by_hand, f"{column.sheet}: {column.name}"
        for holder, name in column.fields:
            assert name in {item.name for item in fields(HOLDERS[holder])}, column


def test_every_field_of_the_job_has_its_column():
    """A field that no column gives could not be filled in."""
    given = {f"{holder}.{name}" for column in columns() for holder, name in column.fields}
    there = {f"{name}.{item.name}" for name, cls in HOLDERS.items() for item in fields(cls)}
    assert there - given == WORKED_OUT


def test_own_metals_can_be_given_every_property_and_temper():
    """A metal of the user's own must not know less than a shipped one."""
    held = {column.field_of("Metal") for column in value_columns()}
    valued = {item.name for item in fields(Metal) if "Value" in str(item.type)}
    assert held == valued
    yields = {c.name for c in value_columns() if c.field_of("Metal") == YIELDS}
    assert yields == {f"yield {temper}" for temper in TEMPERS}
    hardnesses = {c.name for c in value_columns() if c.field_of("Metal") == HARDNESSES}
    assert hardnesses == {f"hardness {temper}" for temper in TEMPERS[1:]}


def test_markdown_has_one_line_for_every_column():
    """The written documents come from the same table."""
    text = columns_markdown()
    assert text.count("\n|") == len(columns()) + 2 * len(SHEETS)
    assert "| wire | mm | yes |" in text


def test_columns_say_what_loose_joins_do_without(toml, four_weaves):
    """The reader takes loose joins without a ring; whoever reads the table must know it."""
    given = {"weave": '"loose-joins"', "rings": "4", "inner": None, "length": None}
    (piece,) = read_job(toml(**given), weaves=four_weaves).pieces
    assert piece.sections[0].rings == 4
    pieces = columns_of("pieces")
    for name, words in (
        ("inner", "may do without"),
        ("mandrel", "may do without"),
        ("length", "rings for loose-joins"),
        ("rings", "rings for loose-joins"),
    ):
        assert words in pieces[name].required


def test_every_row_of_the_table_has_a_cell_a_column():
    """A comma in a sentence without quotes moves all that follows it into the next column."""
    text = resources.files("chainplan.job").joinpath("columns.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))
    assert [row for row in rows if len(row) != len(rows[0])] == []
