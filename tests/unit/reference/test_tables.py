"""The reference tables: every number has a unit and a source, every row can be read."""

import csv
from importlib.resources import files

import pytest

from chainplan.reference.metals import PROPERTIES, TEMPERS
from chainplan.reference.tables import MARKS, plain_key, read_table, source_text

WITH_NUMBERS = ("metals", "parts", "hallmark", "fineness", "gas", "blades")
WITH_SOURCES = (*WITH_NUMBERS, "metal_names", "refused_metals", "cautions")


@pytest.mark.parametrize("table", WITH_NUMBERS)
def test_every_number_has_a_unit(table):
    """A number without a unit cannot be used."""
    rows = read_table(table)
    assert rows
    assert all(row["unit"] for row in rows)


@pytest.mark.parametrize("table", WITH_SOURCES)
def test_every_row_names_a_known_source_and_how_it_was_read(table):
    """A value that nobody can trace is not shipped."""
    known = {row["key"] for row in read_table("sources")}
    for row in read_table(table):
        assert row["source"] in known, row
        assert row["mark"] in MARKS, row
        assert source_text(row)


@pytest.mark.parametrize("table", [*WITH_SOURCES, "sources"])
def test_every_row_has_as_many_fields_as_the_header(table):
    """A stray comma shifts every field after it without a word."""
    text = files("chainplan.reference").joinpath(f"{table}.csv").read_text(encoding="utf-8")
    header, *rows = csv.reader(text.splitlines())
    for row in rows:
        assert len(row) == len(header), row


def test_sources_are_all_used_and_named_once():
    """A source that nothing refers to is a leftover."""
    keys = [row["key"] for row in read_table("sources")]
    assert len(keys) == len(set(keys))
    used = {row["source"] for table in WITH_SOURCES for row in read_table(table)}
    assert set(keys) == used


def test_a_value_quoted_from_memory_says_so():
    """Mark M or S may never read like something seen in print."""
    for table in WITH_SOURCES:
        for row in read_table(table):
            text = source_text(row)
            assert ("from memory" in text.split(" (")[0]) == (row["mark"] in {"M", "S"}), row
            if row["mark"] == "C":
                assert text.startswith(("common practice, no source", "assumption")), row


def test_low_usual_and_high_stand_in_order():
    """A range whose usual value lies outside would turn the bad end into the good one."""
    for row in read_table("metals"):
        low, usual, high = (float(row[name]) for name in ("low", "usual", "high"))
        assert 0 < low <= usual <= high, row


def test_properties_have_the_units_that_the_model_names():
    """A conductivity in another unit would be off by a factor, silently."""
    for row in read_table("metals"):
        assert PROPERTIES[row["property"]][1] == row["unit"], row
        assert (row["temper"] in TEMPERS) == (row["property"] == "yield"), row


def test_a_property_is_given_once_for_each_metal_and_temper():
    """With two rows the later would win without a word."""
    seen = [(row["metal"], row["property"], row["temper"]) for row in read_table("metals")]
    assert len(seen) == len(set(seen))


@pytest.mark.parametrize(
    ("table", "key"), [("metal_names", "metal"), ("refused_metals", "metal"), ("parts", "part")]
)
def test_no_name_stands_for_two_things(table, key):
    """An alias shared by two rows would pick one of them by chance."""
    owner = {}
    for row in read_table(table):
        for word in {
            plain_key(word) for word in (row[key], row["title"], *row["aliases"].split("|"))
        }:
            if word:
                assert owner.setdefault(word, row[key]) == row[key], word
