"""The table of columns is the one place that reader, starter and documents go by."""

from __future__ import annotations

import pytest

from chainplan.job import columns, columns_markdown, read_job
from chainplan.job.columns import SHEETS, columns_of, find_column
from chainplan.job.own_metals import FIELDS, YIELD
from chainplan.model.job import CLOSING_WAYS, ROUNDING
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
    assert pieces["rounding"].choices == ROUNDING
    assert pieces["closing way"].choices == CLOSING_WAYS


def test_own_metals_can_be_given_every_property_and_temper():
    """A metal of the user's own must not know less than a shipped one."""
    names = set(columns_of("metals"))
    assert set(FIELDS) <= names
    assert {f"{YIELD}{temper}" for temper in TEMPERS} <= names


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
