"""Workbooks: what people really save, and what somebody may send."""

from __future__ import annotations

import datetime
import io
import os
import struct
import tracemalloc
import zipfile

import openpyxl
import pytest

from chainplan.errors import InputError
from chainplan.job import check_job, read_job

HEADINGS = ["name", "weave", "wire mm", "inner mm", "metal", "length mm"]
GOOD_ROW = ["Plain chain", "single-link", 1.0, 4.0, "copper", 200]


def repack(path, change):
    """Write a workbook's members anew, each as ``change(name, data)`` gives it."""
    packed = io.BytesIO(path.read_bytes())
    with zipfile.ZipFile(packed) as source, zipfile.ZipFile(path, "w") as target:
        for member in source.infolist():
            target.writestr(member.filename, change(member.filename, source.read(member)))


def test_small_workbook_is_read(workbook, four_weaves):
    """The plainest job: one sheet, one row."""
    job = read_job(workbook(), weaves=four_weaves)
    (piece,) = job.pieces
    assert (piece.name, piece.quantity, job.name) == ("Plain chain", 1, "job")
    (section,) = piece.sections
    assert (section.weave, section.metal) == ("single-link", "copper")
    assert (section.wire_mm, section.inner_mm, section.length_mm) == (1.0, 4.0, 200.0)
    assert section.temper == "annealed"
    assert job.warnings == ()


def test_fault_names_file_sheet_and_cell(workbook, four_weaves):
    """The place is what a spreadsheet program calls it."""
    row = ["Plain chain", "single-link", "thin", 4.0, "copper", 200]
    (fault,) = check_job(workbook(pieces=[HEADINGS, row]), weaves=four_weaves)
    assert fault.where == "job.xlsx › pieces!C2"


def test_blank_cell_of_a_needed_column_is_named_by_its_cell(workbook, four_weaves):
    """The cell to write into is more help than the row."""
    row = ["Plain chain", None, 1.0, 4.0, "copper", 200]
    (fault,) = check_job(workbook(pieces=[HEADINGS, row]), weaves=four_weaves)
    assert fault.where == "job.xlsx › pieces!B2"
    assert "weave is missing" in fault.found


@pytest.mark.parametrize(("heading", "size"), [("inner mm", 4.0), ("mandrel mm", 3.9)])
def test_section_keeps_the_cell_of_its_ring_for_faults_found_later(
    heading, size, workbook, four_weaves
):
    """Whether a ring goes into its weave is only known after reading; the cell is still named."""
    headings = [heading if text == "inner mm" else text for text in HEADINGS]
    row = ["Plain chain", "single-link", 1.0, size, "copper", 200]
    (piece,) = read_job(workbook(pieces=[headings, row]), weaves=four_weaves).pieces
    assert piece.sections[0].where == "job.xlsx › pieces!D2"


def test_blank_rows_and_columns_and_a_title_are_tolerated(workbook, four_weaves):
    """People leave space, and write a title above the headings; that is said, not silent."""
    rows = [
        ["Work for March"],
        [],
        [None, *HEADINGS[:3], None, *HEADINGS[3:]],
        [],
        [None, *GOOD_ROW[:3], " ", *GOOD_ROW[3:]],
        [None, "  "],
    ]
    job = read_job(workbook(pieces=rows), weaves=four_weaves)
    assert [piece.name for piece in job.pieces] == ["Plain chain"]
    assert any("above the headings" in warning for warning in job.warnings)


def test_cell_beside_the_table_is_told_and_not_read(workbook, four_weaves):
    """A sum scribbled beside the table is no fault, but nothing is ignored in silence."""
    job = read_job(workbook(pieces=[HEADINGS, [*GOOD_ROW, None, "ask Monday"]]), weaves=four_weaves)
    assert job.warnings == ("job.xlsx › pieces!H2: has no heading above it and is not read",)


def test_merged_cell_counts_for_its_first_row_only(workbook, four_weaves):
    """A name merged over two rows leaves the second without one: told, not guessed."""
    path = workbook(pieces=[HEADINGS, GOOD_ROW, [None, *GOOD_ROW[1:]]])
    book = openpyxl.load_workbook(path)
    book["pieces"].merge_cells("A2:A3")
    book.save(path)
    (fault,) = check_job(path, weaves=four_weaves)
    assert fault.where == "job.xlsx › pieces!A3"


def test_hidden_row_is_read_like_any_other(workbook, four_weaves):
    """A filter hides rows; what is hidden must not drop out of the batch unseen."""
    path = workbook(pieces=[HEADINGS, GOOD_ROW, ["Other chain", *GOOD_ROW[1:]]])
    book = openpyxl.load_workbook(path)
    book["pieces"].row_dimensions[3].hidden = True
    book.save(path)
    assert len(read_job(path, weaves=four_weaves).pieces) == 2


def test_sheet_of_another_name_is_told_and_a_near_one_refused(workbook, four_weaves):
    """A sheet of sums is fine; 'price' instead of 'prices' would silently drop prices."""
    path = workbook(pieces=[HEADINGS, GOOD_ROW], sums=[["a"]], Parts=[["piece"]])
    assert any("sums" in warning for warning in read_job_warnings(path, four_weaves))
    path = workbook(pieces=[HEADINGS, GOOD_ROW], price=[["item"]])
    (fault,) = check_job(path, weaves=four_weaves)
    assert fault.hint == ("prices",)


def read_job_warnings(path, weaves):
    """Return the warnings of a job whose sheet parts lacks columns on purpose."""
    from chainplan.job.reader import _read

    return _read(path, weaves)[1].warnings


@pytest.mark.parametrize(
    ("rows", "words"),
    [([], "is empty"), ([["  "]], "is empty"), ([HEADINGS], "no row below")],
)
def test_sheet_without_pieces_is_refused(rows, words, workbook, four_weaves):
    """Empty and headings alone are what people save by mistake."""
    (fault,) = check_job(workbook(pieces=rows), weaves=four_weaves)
    assert words in fault.found


def test_workbook_without_the_sheet_pieces_is_refused(workbook, four_weaves):
    """Only that sheet is needed; what is there instead is named."""
    (fault,) = check_job(workbook(Sheet1=[HEADINGS, GOOD_ROW], Sums=[]), weaves=four_weaves)
    assert fault.found == "there is no sheet 'pieces', only 'Sheet1', 'Sums'"
    assert "'pieces'" in fault.allowed


@pytest.mark.parametrize("title", ["Pieces list", "my peices", "PIECES (2027)", "Pieces-new"])
def test_sheet_named_after_a_known_one_is_refused_with_the_name_meant(title, workbook, four_weaves):
    """The sheet is there, only its name is longer: to say that nothing is there does not help."""
    (fault,) = check_job(workbook(**{title: [HEADINGS, GOOD_ROW]}), weaves=four_weaves)
    assert title in fault.where
    assert title in fault.found
    assert fault.hint == ("pieces",)


def test_copy_of_a_sheet_beside_it_is_told_and_not_read(workbook, four_weaves):
    """People keep old versions in the same file."""
    sheets = {"pieces": [HEADINGS, GOOD_ROW], "pieces old": [HEADINGS, GOOD_ROW]}
    job = read_job(workbook(**sheets), weaves=four_weaves)
    assert len(job.pieces) == 1
    assert any("pieces old" in warning for warning in job.warnings)


def test_prices_under_a_longer_name_are_refused_and_not_left_out(workbook, four_weaves):
    """A plan without the prices that the user wrote would be wrong."""
    sheets = {"pieces": [HEADINGS, GOOD_ROW], "Price list": [["item", "price", "per"]]}
    (fault,) = check_job(workbook(**sheets), weaves=four_weaves)
    assert fault.hint == ("prices",)


def test_empty_sheet_of_pieces_is_the_one_fault_where_other_sheets_name_pieces(
    workbook, four_weaves
):
    """A list of what is known with nothing in it says nothing."""
    parts = [["piece", "part", "kind"], ["Plain chain", "bead", "amber"]]
    faults = check_job(workbook(pieces=[], parts=parts), weaves=four_weaves)
    assert [fault.found for fault in faults] == ["is empty"]


def test_empty_sheet_of_pieces_is_told_beside_faults_of_other_sheets(workbook, four_weaves):
    """Every fault at once."""
    stock = [["kind", "size mm"], ["rope", 1.0]]
    faults = check_job(workbook(pieces=[], stock=stock), weaves=four_weaves)
    assert any(fault.found == "is empty" for fault in faults)
    assert any("'rope'" in fault.found for fault in faults)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"name,weave\nA,byzantine\n", "inside is text"),
        (b"%PDF-1.7\x00\xff\xfe", "inside is something else"),
        (b"PK\x03\x04 and no more", "damaged or not all there"),
    ],
)
def test_file_that_is_no_workbook_is_refused_in_plain_words(content, words, tmp_path):
    """Nobody at a bench knows what a zip file has to do with it."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        check_job(path)
    assert words in str(caught.value)
    assert "zip" not in str(caught.value)


def test_formula_without_a_saved_value_is_refused(workbook, four_weaves):
    """Programs that write workbooks often leave formulas uncomputed; 0 would be a wrong guess."""
    (fault,) = check_job(workbook(pieces=[HEADINGS, [*GOOD_ROW[:5], "=100*2"]]), weaves=four_weaves)
    assert fault.where == "job.xlsx › pieces!F2"
    assert "formula without a saved value" in fault.found
    assert "save the file" in fault.allowed


def test_formula_with_a_saved_value_is_read_and_told(workbook, four_weaves):
    """The value that the spreadsheet program last showed is what the user saw."""
    path = workbook(pieces=[HEADINGS, [*GOOD_ROW[:5], "=100*2"]])
    repack(path, lambda _, data: data.replace(b"<f>100*2</f><v />", b"<f>100*2</f><v>200</v>"))
    job = read_job(path, weaves=four_weaves)
    assert job.pieces[0].sections[0].length_mm == 200
    assert any("formulas" in warning for warning in job.warnings)


@pytest.mark.parametrize(
    ("cell", "value", "data_type", "found"),
    [("F2", "#N/A", "e", "#N/A"), ("A2", "=cmd", "s", "starts with '='")],
)
def test_a_broken_look_up_and_a_name_like_a_formula_are_refused_as_they_stand(
    workbook, four_weaves, cell, value, data_type, found
):
    """A broken look-up shows as #N/A; a name must never become a formula in what is written."""
    path = workbook()
    book = openpyxl.load_workbook(path)
    book["pieces"][cell].value = value
    book["pieces"][cell].data_type = data_type
    book.save(path)
    (fault,) = check_job(path, weaves=four_weaves)
    assert found in fault.found


def test_numbers_as_text_and_dates_of_every_kind_are_read(workbook, four_weaves):
    """Spreadsheets keep numbers as text and dates as dates, or the other way round."""
    headings = [*HEADINGS, "due", "quantity"]
    rows = [
        ["A", "1-in-1", "1,0", "4", "Copper", "200", datetime.datetime(2027, 3, 1), "2"],
        ["B", "Single link", 1, 4, "copper", "20 cm", "1 March 2027", 2.0],
        ["C", "SINGLE-LINK", "18AWG", "4mm", "copper", 200, datetime.date(2027, 3, 1), 2],
    ]
    job = read_job(workbook(pieces=[headings, *rows]), weaves=four_weaves)
    assert {piece.due for piece in job.pieces} == {datetime.date(2027, 3, 1)}
    assert {piece.quantity for piece in job.pieces} == {2}
    assert {piece.sections[0].weave for piece in job.pieces} == {"single-link"}
    assert {piece.sections[0].length_mm for piece in job.pieces} == {200.0}


def test_percentages_are_taken_for_what_the_spreadsheet_shows(workbook, four_weaves):
    """40 % is kept as 0.4 by a spreadsheet, and a margin of 0.4 % would be a silent loss."""
    bench = [
        ["group", "setting", "value"],
        ["money", "margin percent", 0.4],
        ["wire", "join yield", "95%"],
    ]
    path = workbook(pieces=[HEADINGS, GOOD_ROW], bench=bench)
    book = openpyxl.load_workbook(path)
    book["bench"]["C2"].number_format = "0%"
    book.save(path)
    bench = read_job(path, weaves=four_weaves).bench
    assert bench.money.margin_percent == 40
    assert bench.wire.join_yield == pytest.approx(0.95)


def test_unit_changed_beside_a_setting_is_refused(workbook, four_weaves):
    """The unit is shown only; taking the value as before would be silently wrong."""
    bench = [["group", "setting", "value", "unit"], ["electrode", "shank mm", 1, "in"]]
    path = workbook(pieces=[HEADINGS, GOOD_ROW], bench=bench)
    (fault,) = check_job(path, weaves=four_weaves)
    assert fault.where == "job.xlsx › bench!D2"


def test_workbook_that_unpacks_to_too_much_is_refused_before_it_is_unpacked(tmp_path):
    """200 MB of zeros pack into 200 kB; the directory's own sizes are enough to refuse it."""
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", bytes(200_000_000))
    assert path.stat().st_size < 1_000_000
    with pytest.raises(InputError, match="unpacks to 200 MB"):
        read_job(path)


def test_workbook_that_lies_about_its_size_is_not_unpacked_beyond_it(tmp_path):
    """The directory may declare anything: what is really read is counted and bounded."""
    path = tmp_path / "liar.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", bytes(200_000_000))
    real, said = struct.pack("<I", 200_000_000), struct.pack("<I", 1_000_000)
    content = path.read_bytes()
    assert content.count(real) == 2  # before the data, and in the directory
    path.write_bytes(content.replace(real, said))
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="not a workbook"):
            read_job(path)
        _, most_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most_bytes < 20_000_000


def test_workbook_with_entities_is_refused(workbook):
    """Entities can grow without end while they are read; no workbook needs them."""
    path = workbook()
    bad = b'<!DOCTYPE a [<!ENTITY b "bb">]>'
    repack(path, lambda name, data: bad + data if name.endswith("sheet1.xml") else data)
    with pytest.raises(InputError, match="entities"):
        read_job(path)


def test_row_at_the_very_bottom_of_the_sheet_is_read_in_little_time(workbook, four_weaves):
    """A stray cell in the last row must not make a million rows of blanks."""
    path = workbook()
    book = openpyxl.load_workbook(path)
    for column, value in enumerate(["Deep chain", *GOOD_ROW[1:]], 1):
        book["pieces"].cell(1_048_576, column, value)
    book.save(path)
    job = read_job(path, weaves=four_weaves)
    assert [piece.where.rpartition(" ")[2] for piece in job.pieces] == ["2", "1048576"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"PK\x03\x04 broken", "not a workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old .xls or has a password"),
        (b"name,weave\n", "not a workbook"),
    ],
)
def test_file_that_only_ends_like_a_workbook_is_refused(content, words, tmp_path):
    """The ending is not the content."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(content)
    with pytest.raises(InputError, match=words):
        read_job(path)


def test_zip_that_is_no_workbook_and_a_broken_one_are_refused(tmp_path, workbook):
    """Other programs make zip files too, and a copy may have stopped half way."""
    path = tmp_path / "other.xlsx"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("a.xml", b"<a/>")
    with pytest.raises(InputError, match="is damaged, or holds no workbook;"):
        read_job(path)
    whole = workbook()
    repack(whole, lambda name, data: data[:-30] if name.endswith("sheet1.xml") else data)
    with pytest.raises(InputError, match="is damaged, or holds no workbook;"):
        read_job(whole)


def test_missing_file_is_named_with_the_nearest_one(tmp_path, workbook):
    """A mistyped name is the commonest fault of all."""
    workbook()
    with pytest.raises(InputError, match=r"did you mean 'job\.xlsx'"):
        read_job(tmp_path / "jbo.xlsx")
    with pytest.raises(InputError, match="no such file"):
        read_job(tmp_path / "nowhere" / "job.xlsx")


def test_folder_another_ending_and_a_huge_file_are_refused(tmp_path):
    """What cannot be a job is said before it is read."""
    (tmp_path / "folder.xlsx").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        read_job(tmp_path / "folder.xlsx")
    (tmp_path / "job.ods").write_bytes(b"x")
    with pytest.raises(InputError, match=r"\.ods"):
        read_job(tmp_path / "job.ods")
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as stream:
        os.truncate(stream.fileno(), 30_000_000)
    with pytest.raises(InputError, match="larger than"):
        read_job(huge)


def test_file_whose_name_is_no_folder_name_gives_the_job_another_and_says_so(toml, four_weaves):
    """The output folder is called after the job."""
    path = toml()
    odd = path.rename(path.with_name("=Anna's “job”.toml"))
    job = read_job(odd, weaves=four_weaves)
    assert job.name == "Anna-s -job"
    assert any("job is called" in warning for warning in job.warnings)
