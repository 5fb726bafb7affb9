"""The starter workbook: it reads clean, explains itself, and asks for nothing twice."""

from __future__ import annotations

import openpyxl
import pytest

from chainplan.errors import InputError
from chainplan.job import columns, read_job, write_job, write_starter
from chainplan.job.columns import SHEETS, columns_of
from chainplan.job.sheets.bench import bench_settings, setting_words
from chainplan.job.written.starter import workbook_bytes
from chainplan.model.bench import Bench
from chainplan.reference import metal_keys


@pytest.fixture
def starter(tmp_path, four_weaves):
    """The starter workbook on the disc."""
    return write_starter(tmp_path / "my-job.xlsx", weaves=four_weaves)


def test_starter_reads_clean_with_the_default_bench(starter, four_weaves):
    """What we hand out must be a job, and its bench sheet must change nothing."""
    job = read_job(starter, weaves=four_weaves)
    assert [piece.name for piece in job.pieces] == ["Example necklace", "Example bracelet"]
    assert job.bench == Bench()
    prices, shelf = job.warnings  # its invented rows, and nothing else
    assert "prices of the starter's example" in prices
    assert "sterling silver wire 1 mm, 3 m, mandrel 4 mm" in shelf


def test_starter_has_every_column_with_its_meaning_beside_it(starter):
    """Each heading carries a note, and the sheet columns lists them all."""
    book = openpyxl.load_workbook(starter)
    for sheet in SHEETS:
        headings = book[sheet][1]
        assert [cell.value for cell in headings] == [c.heading for c in columns_of(sheet).values()]
        for cell, column in zip(headings, columns_of(sheet).values(), strict=True):
            assert column.meaning in cell.comment.text
    listed = {(row[0].value, row[1].value) for row in book["columns"].iter_rows(min_row=2)}
    assert {(column.sheet, column.name) for column in columns()} <= listed


def test_starter_has_every_bench_setting_with_unit_meaning_and_source(starter):
    """A default without its source would be a bare number."""
    page = openpyxl.load_workbook(starter)["bench"]
    rows = {(r[0].value, r[1].value): [c.value for c in r] for r in page.iter_rows(min_row=2)}
    for info in bench_settings():
        row = rows[info.group, setting_words(info)]
        assert (row[3] or "") == info.unit
        assert row[4] == info.means
        assert row[6] == info.source
        assert info.source


def test_starter_says_what_every_setting_takes_that_is_no_number(starter):
    """A setting of words has no smallest and largest; an example stands there instead."""
    rows = list(openpyxl.load_workbook(starter)["bench"].iter_rows(min_row=2, values_only=True))
    place = [column.name for column in columns_of("bench").values()].index("allowed")
    taken = {row[1]: row[place] for row in rows if row[0]}
    assert taken["working days"] == "Mon-Fri, or Mon Tue Sat"
    assert all(taken.values()), [name for name, words in taken.items() if not words]


def test_starter_offers_weaves_and_metals_in_drop_downs(starter, four_weaves):
    """Names are chosen rather than typed."""
    book = openpyxl.load_workbook(starter)
    lists = {cell.value: cell.column for cell in book["lists"][1]}
    offered = [
        {row[column - 1] for row in book["lists"].iter_rows(min_row=2, values_only=True)}
        for column in (lists["weave"], lists["metal"])
    ]
    assert {name.key for name in four_weaves.names} | {"loose-joins"} <= offered[0]
    assert set(metal_keys()) <= offered[1]
    checks = book["pieces"].data_validations.dataValidation
    letters = {str(check.sqref).rstrip("0123456789").partition("2:")[0] for check in checks}
    assert len(letters) >= 5
    assert all(check.type == "list" for check in checks)


def test_starter_tells_input_cells_by_their_box_and_not_by_colour_alone(starter):
    """It must be plain in black and white too."""
    page = openpyxl.load_workbook(starter)["bench"]
    assert page["C3"].border.left.style == "thin"
    assert page["E3"].border.left.style is None
    assert page.freeze_panes == "C2"


def test_starter_never_overwrites(starter, four_weaves):
    """Somebody's filled-in job may stand there."""
    before = starter.read_bytes()
    with pytest.raises(InputError, match="already"):
        write_starter(starter, weaves=four_weaves)
    assert starter.read_bytes() == before
    with pytest.raises(InputError, match=r"\.xlsx"):
        write_starter(starter.with_suffix(".csv"))


def test_starter_in_a_folder_that_is_not_there_is_refused(tmp_path):
    """A clear message instead of a traceback."""
    with pytest.raises(InputError, match="cannot be written"):
        write_starter(tmp_path / "nowhere" / "job.xlsx")


def test_workbook_of_the_same_content_has_the_same_bytes(four_weaves):
    """No time of day in what is written."""
    content = {"pieces": [{"name": "A", "weave": "single-link"}]}
    assert workbook_bytes(content, weaves=four_weaves) == workbook_bytes(
        content, weaves=four_weaves
    )


def test_text_that_begins_like_a_formula_stays_text_in_the_workbook(tmp_path):
    """Notes may hold anything; none of it may be computed by the spreadsheet program."""
    content = {"pieces": [{"name": "A", "notes": "=1+1"}]}
    path = write_job(content, tmp_path / "job.xlsx")
    cell = openpyxl.load_workbook(path)["pieces"].cell(
        2, list(columns_of("pieces")).index("notes") + 1
    )
    assert (cell.value, cell.data_type) == ("=1+1", "s")


def test_csv_that_would_lose_prices_is_refused(tmp_path):
    """A CSV holds pieces only."""
    content = {"pieces": [{"name": "A"}], "prices": [{"item": "argon"}]}
    with pytest.raises(InputError, match="prices would be lost"):
        write_job(content, tmp_path / "job.csv")
    assert not (tmp_path / "job.csv").exists()


def test_a_starter_whose_pieces_were_renamed_says_which_row_to_delete(starter, four_weaves):
    """Its invented part is nobody's: a guess at another name would lead astray."""
    book = openpyxl.load_workbook(starter)
    book["pieces"]["A2"] = "Evening necklace"
    book.save(starter)
    with pytest.raises(InputError) as error:
        read_job(starter, weaves=four_weaves)
    (fault,) = error.value.faults
    assert fault.where.endswith("parts!A2")
    assert fault.allowed == "delete this row: it belongs to the starter's example"
    assert not fault.hint
