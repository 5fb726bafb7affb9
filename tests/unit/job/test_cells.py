"""Single cells: what each kind of column takes."""

from __future__ import annotations

import datetime
from decimal import Decimal

import pytest

from chainplan.errors import InputError
from chainplan.job.columns import columns_of
from chainplan.job.sheets.cells import name_fault, read_money, read_text, read_wire, read_yes_no
from chainplan.job.table import Cell
from chainplan.model.dates import read_date

WIRE = columns_of("pieces")["wire"]
PRICE = columns_of("pieces")["list price"]
NOTES = columns_of("pieces")["notes"]
CLOSED = columns_of("pieces")["closed loop"]


@pytest.mark.parametrize(
    ("value", "unit", "wire_mm"),
    [
        (1.0, "mm", 1.0),
        (1, "mm", 1.0),
        ("1", "mm", 1.0),
        ("1.0mm", "", 1.0),
        ("0,8 mm", "", 0.8),
        ("1,0", "mm", 1.0),
        ("18AWG", "mm", 1.02368),
        ("18 swg", "", 1.2192),
        (18, "awg", 1.02368),
        (18.0, "swg", 1.2192),
        ("0.04in", "mm", 1.016),
        (Decimal("0.04"), "in", 1.016),
    ],
)
def test_wire_is_read_in_mm_however_it_is_written(value, unit, wire_mm):
    """Gauges: 18 AWG is 1.0237 mm (ASTM B258), 18 SWG 1.219 mm (BS 3737), both from memory."""
    assert read_wire(Cell(value, "B2", unit), WIRE) == pytest.approx(wire_mm, abs=1e-5)


@pytest.mark.parametrize("value", ["18", "18 gauge", "1.0", "one", "", "1,234.5 mm", "nan mm"])
def test_wire_is_refused_where_it_could_mean_two_things(value):
    """A bare 18 is 1.02 mm in one system and 1.22 mm in the other."""
    with pytest.raises(InputError):
        read_wire(Cell(value, "B2"), WIRE)


def test_number_that_a_spreadsheet_made_a_date_is_refused_with_the_reason():
    """Spreadsheets turn 3.5 into the third of May."""
    cell = Cell(datetime.datetime(2027, 5, 3), "B2", "mm")
    with pytest.raises(InputError) as caught:
        read_wire(cell, WIRE)
    assert "turned a number into it" in caught.value.said.allowed


@pytest.mark.parametrize(
    ("value", "money"), [("12,50", "12.50"), (12.1, "12.1"), (3, "3"), (Decimal("0.10"), "0.10")]
)
def test_money_keeps_the_digits_that_were_written(value, money):
    """12.1 must not become 12.0999999…"""
    assert read_money(Cell(value, "T2"), PRICE) == Decimal(money)


@pytest.mark.parametrize(
    ("value", "answer"), [("Yes", True), ("n", False), (True, True), ("FALSE", False), ("x", True)]
)
def test_yes_and_no_are_read_in_the_usual_spellings(value, answer):
    """Spreadsheets and people write them differently."""
    assert read_yes_no(Cell(value, "P2"), CLOSED) is answer


@pytest.mark.parametrize(("value", "text"), [(123.0, "123"), (7, "7"), ("  a\r\nb ", "a\nb")])
def test_text_takes_numbers_as_they_look(value, text):
    """A piece called 123 must not become 123.0."""
    assert read_text(Cell(value, "A2"), NOTES) == text


@pytest.mark.parametrize(
    "name",
    ["Chain 2", "Kette für Zoë", "3-in-1 (long)", "首飾", "A.B", "Chaîne d'Inès", "Anna’s", "J'"],
)
def test_name_of_any_script_is_taken(name):
    """Letters and digits are those of every script."""
    assert name_fault(name) is None


@pytest.mark.parametrize(
    "name",
    ["../a", "a/b", "a\\b", "..", "=A1", "+1", "-1", "@a", 'a"b', "'a", "’a", "a‘b", "a\nb",
     "a\u202eb", "CON", "com1.txt", "a.", "a..b", "\U0001f48d", " ", "", "n" * 61, "a:b", "a*",
     "a?", "<b>"],
)  # fmt: skip
def test_name_is_refused_that_is_no_safe_file_name_or_may_act_as_a_formula(name):
    """A name must not leave the output folder nor become a formula in what is written."""
    assert name_fault(name) is not None


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("2027-03-01", "2027-03-01"),
        ("1 March 2027", "2027-03-01"),
        ("1. Mar. 2027", "2027-03-01"),
        ("March 1, 2027", "2027-03-01"),
        ("1st mar 2027", "2027-03-01"),
        ("3 Sept 2027", "2027-09-03"),
        ("13/04/2027", "2027-04-13"),
        ("04/13/2027", "2027-04-13"),
        ("5.5.2027", "2027-05-05"),
    ],
)
def test_date_as_text_is_read_where_it_can_mean_one_day(text, iso):
    """Day and month are plain when one of them is above 12, or both are the same."""
    assert read_date(text).isoformat() == iso


@pytest.mark.parametrize("text", ["03/04/2027", "1.2.2027", "31 June 2027", "1 Mai 2027", "27-3-1"])
def test_date_as_text_is_refused_where_it_may_mean_another_day(text):
    """A due date read wrongly is worse than none."""
    with pytest.raises(ValueError, match="2027-03-01"):
        read_date(text)
