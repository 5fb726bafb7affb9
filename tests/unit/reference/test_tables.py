"""The reference tables: what is wrong in them is told, all at once, before a value is used."""

import re
import shutil
from pathlib import Path

import pytest

from chainplan.errors import InputError
from chainplan.reference.checked import tables
from chainplan.reference.checked.check import check_tables
from chainplan.reference.checked.schema import TABLES
from chainplan.reference.checked.tables import read_table, source_text

SHIPPED = Path(str(tables.FOLDER))


@pytest.fixture
def folder(tmp_path):
    """A copy of the shipped tables that a test may spoil."""
    for name in TABLES:
        shutil.copy(SHIPPED / f"{name}.csv", tmp_path)
    return tmp_path


def spoil(folder, table, old, new):
    """Put one text in the place of another, which must be there."""
    path = folder / f"{table}.csv"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_shipped_tables_have_no_fault():
    """Tables, columns, cells, keys, sources, and all that one table says of another."""
    found, faults = check_tables(SHIPPED)
    assert [str(fault) for fault in faults] == []
    assert set(found) == set(TABLES)


OWN = {"mixtures", "derived", "practice", "assumption"}
"""What stands for no source: it says so itself."""
FINDABLE = re.compile(
    r"\b(1[89]|20)\d\d\b|10\.\d{4,}/|\b\w+\.(com|org|net)\b|any edition"
    r"|\b(ISO|EN|ASTM|GOST|SAE|ANSI|ECMA|CFR|AWS|MIL-STD|EIGA)\b[ -]?\w*\d"
    r"|\bREACH Annex \w+ entry \d"
)
"""A year, a DOI, a site, or the number of a standard or law."""


def test_every_source_can_be_found_again():
    """Who or what it is, and a year, number, DOI or site; none is listed that no row rests on."""
    used = {row["source"] for name in TABLES if name != "sources" for row in read_table(name)}
    for row in read_table("sources"):
        assert row["key"] in used
        assert row["key"] in OWN or FINDABLE.search(row["title"]), row["title"]


@pytest.mark.parametrize("name", sorted(set(TABLES) - {"sources"}))
def test_every_row_says_how_its_source_was_seen_or_that_there_is_none(name):
    """No row that claims a source rests on practice or assumption, and none that does hides it."""
    for row in read_table(name):
        if row["source"] in ("practice", "assumption"):
            assert row["mark"] in "CK", row
        if name == "metals":
            assert float(row["low"]) <= float(row["usual"]) <= float(row["high"]), row
        if name == "metal_limits":
            assert float(row["low"]) <= float(row["limit"]) <= float(row["high"]), row
            assert row["source"] != "practice" or row["note"] == "judgement", row


WITHOUT_SOURCE = {
    "metal_names": 10, "metals": 19, "metal_colours": 18, "refused_metals": 1, "metal_limits": 3,
    "cautions": 4, "parts": 10, "blades": 14,
}  # fmt: skip
"""Rows that rest on practice or judgement and say so: how a metal welds, colours on screen, blades
as makers print them, limits for which nothing was found. 79 of 678; no more come unnoticed."""


def test_no_more_rows_than_are_known_rest_on_no_source():
    """All others name a source that can be found again."""
    found = {
        name: sum(row["source"] in ("practice", "assumption") for row in read_table(name))
        for name in TABLES
        if name != "sources"
    }
    assert {name: count for name, count in found.items() if count} == WITHOUT_SOURCE


def test_every_table_of_the_folder_has_a_schema():
    """A table that nobody checks may hold anything."""
    assert {path.stem for path in SHIPPED.glob("*.csv")} == set(TABLES)


@pytest.mark.parametrize(
    ("table", "old", "new", "words"),
    [
        ("cautions", "stainless-304 stainless-316l", "stainless-304 stainles-316l",
         ["cautions.csv, row 8, column metal", "'stainles-316l'", "did you mean 'stainless-316l'"]),
        ("cautions", "eyes,arc light,,M004", "eyes,arc ligth,,M004",
         ["row 3, column topic", "'arc ligth'", "did you mean 'arc light'"]),
        ("cautions", "M004", "MM04", ["column sign", "ISO 7010"]),
        ("metal_names", "fine-silver,Fine silver 999,fine silver|999|silver 999|pure silver,silver,"
         "999,awkward", "fine-silver,Fine silver 999,fine silver|999|silver 999|pure silver,silver,"
         "999,god", ["metal_names.csv, row 2, column weldability", "'god'", "good, fair, awkward",
                     "did you mean 'good'"]),
        ("metal_names", "silver,925,fair", "silver,,fair", ["column fineness", "no fineness"]),
        ("metal_names", "cu|c110|", "cu|925|", ["a name of one thing",
                                              "row 3 has it for sterling-silver"]),
        ("metal_names", "niobium,Niobium", "niobum,Niobium",
         ["metals.csv", "column metal", "'niobium'", "did you mean 'niobum'",
          "missing: density, specific_heat"]),
        ("metals", "copper,latent_heat,,205,208.7,208.7,kJ/kg,crc-95,L,13.26 kJ/mol\n", "",
         ["metal_names.csv", "'copper'", "missing: latent_heat"]),
        ("metals", "copper,modulus,,115,117,117", "copper,modulus,,115,17,117",
         ["'115 / 17 / 117'", "low ≤ usual ≤ high", "30 to 450 GPa for modulus"]),
        ("metals", "copper,modulus,,115,117,117", "copper,modulus,,115,1l7,117",
         ["column usual", "'1l7'", "a number"]),
        ("metals", "390,394,394,W/(m K)", "390,394,394,J/(kg K)",
         ["column unit", "W/(m K) for conductivity"]),
        ("metals", "copper,yield,half-hard,200", "copper,yield,half-hrad,200",
         ["column temper", "'half-hrad'", "did you mean 'half-hard'"]),
        ("metals", "copper,yield,half-hard", "copper,yield,", ["column temper", "for yield"]),
        ("metals", "brass,solidus,,915,916,916", "brass,solidus,,915,960,960",
         ["'954 after 960'", "solidus ≤ liquidus"]),
        ("metals", "copper,yield,hard,280,280,310", "copper,yield,hard,180,180,310",
         ["'180 after 200'", "a harder temper yields later"]),
        ("metals", "copper,density,,8.89", "copper,density,,8.89,8.94",
         ["metals.csv, row", "'11 cells'", "10 cells"]),
        ("metals", "brass,modulus,,110,110,117", "brass,density,,8.53,8.53,8.6",
         ["once; row", "column metal, property, temper", "missing: modulus"]),
        ("metals", "390,394,394,W/(m K),cda-facts,P", "390,394,394,W/(m K),cda-fact,P",
         ["column source", "did you mean 'cda-facts'"]),
        ("metals", "390,394,394,W/(m K),cda-facts,P", "390,394,394,W/(m K),cda-facts,X",
         ["column mark", "'X'", "P, L, Q, S, M, C, K"]),
        ("parts", "amber,Amber,,100,", "amber,Amber,,1000,", ["column limit", "30 to 900"]),
        ("parts", "°C,0.2,5 % of", "F,0.2,5 % of", ["column unit", "'F'"]),
        ("refused_metals", "lead brass|", "yellow brass|",
         ["refused_metals.csv", "'yellow-brass'", "metal_names.csv row 10 has it for brass"]),
        ("sources", "cda-facts,", "cda-papers,\"unused\",a\ncda-facts,",
         ["sources.csv, row 2", "'cda-papers'", "some row refers to"]),
        ("gas", "argon,compressibility,-10,5,", "argon,compressibility,-11,5,",
         ["gas.csv", "no row for -10 °C and 5 bar", "every pressure at every temperature"]),
        ("fineness", "UK,gold", "FR,gold",
         ["fineness.csv, row 2", "'FR gold'", "hallmark.csv", "'UK gold'"]),
        ("blades", "8/0,0.160,mm", "8/0, 0.160,mm", ["column thickness", "no space"]),
        ("blades", "blade,thickness", "blade,thick",
         ["blades.csv, row 1", "allowed: columns blade,thickness"]),
    ],
)  # fmt: skip
def test_a_slip_in_a_table_is_told_with_its_place(folder, table, old, new, words):
    """Each slip was once, or could be, taken without a word."""
    spoil(folder, table, old, new)
    _, faults = check_tables(folder)
    text = "\n".join(f"{fault}; {fault.allowed}" for fault in faults)
    for word in words:
        assert word in text, text


def test_all_faults_are_told_at_once_when_the_tables_are_read(folder, monkeypatch):
    """Who adds a metal sees everything that is still missing in one go."""
    spoil(folder, "metal_names", "silver,999,awkward", "silver,999,god")
    spoil(folder, "parts", "amber,Amber,,100", "amber,Amber,,warm")
    monkeypatch.setattr(tables, "FOLDER", folder)
    tables._tables.cache_clear()
    try:
        with pytest.raises(InputError) as caught:
            read_table("blades")
    finally:
        monkeypatch.undo()
        tables._tables.cache_clear()
    assert len(caught.value.faults) == 2
    assert "'god'" in str(caught.value)
    assert "'warm'" in str(caught.value)


def test_a_value_quoted_from_memory_says_so():
    """Mark M or S may never read like something seen in print."""
    for table, schema in TABLES.items():
        if "source" not in {column.name for column in schema.columns}:
            continue
        for row in read_table(table):
            text = source_text({**row, "note": ""})
            assert ("from memory" in text) == (row["mark"] in {"M", "S"}), row
            if row["mark"] == "C":
                assert text.startswith(("common practice, no source", "assumption")), row
