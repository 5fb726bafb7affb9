"""The nastiest files that were found: each is refused quickly, in little memory, in few words.

They are made here rather than kept, since most of them are large; the bounds are those of
chainplan.bounds. Each runs in a process of its own, which is the only way to measure its memory.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
import zipfile
from typing import TYPE_CHECKING

import openpyxl
import pytest

import chainplan
from chainplan.bounds import BOUNDS
from chainplan.errors import InputError
from chainplan.intake import parse_toml
from chainplan.job import check_job, read_job

if TYPE_CHECKING:
    from collections.abc import Callable

PIECE = """[[piece]]
name = "Plain chain"
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "copper"
length_mm = 200.0
"""
HEADING = "name,weave,wire mm,inner mm,metal,length mm\n"
ROW = "Plain chain,single-link,1,4,copper,200\n"
SLOWER = 8
"""How many times longer a busy machine may take before a test says that a bound does not hold."""

RUN = r"""
import json, pathlib, re, resource, sys, time
from chainplan.errors import InputError
from chainplan.job import check_job
start = time.process_time()
try:
    told = [str(fault) for fault in check_job(sys.argv[1])]
except InputError as error:
    told = [str(error)]
used_s = time.process_time() - start
status = pathlib.Path("/proc/self/status")
if status.is_file():  # elsewhere the count begins with the peak of the process that started us
    most = int(re.search(r"VmHWM:\s*(\d+)", status.read_text())[1]) * 1024
else:
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
print(json.dumps({"told": told, "used_s": used_s, "bytes": most}))
"""


def sheet_xml(rows: str) -> str:
    """Write the part of a sheet by hand."""
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<worksheet xmlns="{space}"><sheetData>{rows}</sheetData></worksheet>'


def workbook(change: Callable[[str, bytes], bytes | None], more: dict[str, bytes]) -> bytes:
    """Make a good workbook with some of its parts changed, left out (None) or added."""
    book = openpyxl.Workbook()
    book.active.title = "pieces"
    for line in (HEADING, ROW):
        cells = [float(t) if t.replace(".", "").isdigit() else t for t in line.strip().split(",")]
        book["pieces"].append(cells)
    for name, headings in (("prices", "item,price,per"), ("parts", "piece,part,kind")):
        book.create_sheet(name).append(headings.split(","))
    whole, packed = io.BytesIO(), io.BytesIO()
    book.save(whole)
    with (
        zipfile.ZipFile(whole) as source,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in source.namelist():
            data = change(name, source.read(name))
            if data is not None:
                target.writestr(name, data)
        for name, data in more.items():
            target.writestr(name, data)
    return packed.getvalue()


def with_rows(rows: str) -> bytes:
    """Make a workbook whose sheet of pieces has these rows of XML."""
    data = sheet_xml(rows).encode()
    return workbook(lambda name, old: data if name.endswith("sheet1.xml") else old, {})


def numbers(rows: int, columns: int) -> str:
    """Write rows of numbers as XML without their places, as some programs do."""
    row = "<row>" + "<c><v>1</v></c>" * columns + "</row>"
    return row * rows


def styles(count: int) -> bytes:
    """Make a workbook with so many cell styles."""
    many = b'<xf numFmtId="0"/>' * count

    def change(name: str, old: bytes) -> bytes:
        return old.replace(b"<cellXfs", many + b"<cellXfs") if name.endswith("styles.xml") else old

    return workbook(change, {})


# name → (how the file is made, words of the refusal); every one has a single cause
REFUSED: dict[str, tuple[Callable[[], bytes | str], str]] = {
    "hex of thousands of digits.toml": (
        lambda: PIECE + f"quantity = 0x{'f' * 5000}\n", "number or key of 5002 letters"),
    "decimal of thousands of digits.toml": (
        lambda: PIECE + f"quantity = {'7' * 5000}\n", "number or key of 5000 letters"),
    "hex of a hundred digits.toml": (
        lambda: PIECE + f"quantity = 0x{'f' * 100}\n", "a number of more than 40 digits"),
    "decimals without end.toml": (
        lambda: PIECE + f"list_price = 1.{'3' * 100}\n", "a number of more than 40 digits"),
    "exponent beyond all measure.toml": (
        lambda: PIECE + "list_price = 1e99999999999999999999\n", "beyond all measure"),
    "dotted key of 100 kB.toml": (
        lambda: f"{'a.' * 50_000}a = 1\n" + PIECE, "number or key of 100001 letters"),
    "dotted key with spaces.toml": (
        lambda: f"{'a . ' * 50_000}a = 1\n" + PIECE, "deeper than 16"),
    "dotted table.toml": (lambda: f"[{'a.' * 40}a]\n" + PIECE, "deeper than 16"),
    "lists in lists.toml": (lambda: f"a = {'[' * 50_000}{']' * 50_000}\n" + PIECE, "deeper"),
    "tables in tables.toml": (lambda: f"a = {'{a=' * 5000}1{'}' * 5000}\n" + PIECE, "deeper"),
    "key of a million letters.toml": (
        lambda: PIECE + f'"{"k" * 1_000_000}" = 1\n', "a text of 1000002 letters"),
    "key of thirty thousand letters.toml": (
        lambda: PIECE + f'"{"k" * 30_000}" = 1\n', "no column called 'kkk"),
    "text of a million letters.toml": (
        lambda: PIECE + f'notes = "{"n" * 1_000_000}"\n', "a text of 1000002 letters"),
    "text of ten thousand letters.toml": (
        lambda: PIECE + f'notes = "{"n" * 10_000}"\n', "has 10000 characters"),
    "too many tables.toml": (lambda: PIECE + "[[piece]]\n" * 400_000, "more than 20000 tables"),
    "too many values.toml": (lambda: f"a = [{'1,' * 3_000_000}]\n", "more than 500000 values"),
    "more than is taken.toml": (lambda: "#" * 9_000_000, "larger than 8 MB"),
    "quotes without end.toml": (lambda: PIECE + '"""\\"' * 500_000, "not TOML"),
    "rows of two letters.csv": (lambda: HEADING + "a\n" * 3_900_000, "more than"),
    "blank lines.csv": (lambda: HEADING + "\n" * 7_000_000 + ROW, "more than 1048576 lines"),
    "a hundred thousand columns.csv": (
        lambda: HEADING.strip() + "," + "x," * 100_000 + "\n" + ROW, "has 100007 columns"),
    "too many rows.csv": (lambda: HEADING + ROW * 20_001, "more than 20000 rows"),
    "heading of a million letters.csv": (
        lambda: "h" * 1_000_000 + "," + HEADING + "," + ROW, "not a CSV"),
    "field beyond the limit.csv": (lambda: HEADING + '"' + "x" * 200_000, "not a CSV"),
    "too large.csv": (lambda: HEADING + ROW * 300_000, "larger than 8 MB"),
    "million and a half of cells.xlsx": (
        lambda: with_rows(numbers(15_000, 100)), "has 1500000 cells"),
    "too many rows.xlsx": (
        lambda: with_rows(numbers(30_000, 2)), "more than 20000 filled rows"),
    "beyond the last column.xlsx": (
        lambda: with_rows(numbers(1, 300)), "filled to column 300"),
    "far to the right.xlsx": (
        lambda: with_rows('<row r="1"><c r="XFD1"><v>1</v></c></row>' * 1), "to column 16384"),
    "row given twice.xlsx": (
        lambda: with_rows('<row r="1"><c r="A1"><v>1</v></c></row>' * 2), "there twice"),
    "cell given twice.xlsx": (
        lambda: with_rows('<row r="1"><c r="A1"><v>1</v></c><c r="A1"><v>2</v></c></row>'),
        "a cell twice"),
    "two million styles.xlsx": (lambda: styles(2_000_000), "tags"),
    "too many parts.xlsx": (
        lambda: workbook(lambda _, data: data, {f"xl/{n}.xml": b"<a/>" for n in range(2001)}),
        "parts; at most 2000"),
    "prices missing.xlsx": (
        lambda: workbook(lambda n, d: None if n.endswith("sheet2.xml") else d, {}),
        "the workbook names this sheet and does not hold it"),
    "parts missing.xlsx": (
        lambda: workbook(lambda n, d: None if n.endswith("sheet3.xml") else d, {}),
        "the workbook names this sheet and does not hold it"),
    "entities in another encoding.xlsx": (
        lambda: workbook(lambda n, d: ('<!DOCTYPE a [<!ENTITY b "bb">]>' + sheet_xml("")).encode(
            "utf-16") if n.endswith("sheet1.xml") else d, {}), "declares entities"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_nasty_file_is_refused_quickly_in_little_memory_and_few_words(name, tmp_path):
    """One short message within the time and memory that the bounds promise."""
    make, words = REFUSED[name]
    content = make()
    path = tmp_path / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    run = [sys.executable, "-c", RUN, str(path)]
    done = subprocess.run(run, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout)
    assert len(found["told"]) == 1, found["told"]
    assert words in found["told"][0]
    assert len(found["told"][0]) < BOUNDS.message_letters
    assert found["told"][0].isprintable()
    assert found["bytes"] < BOUNDS.refused_within_bytes
    assert found["used_s"] < BOUNDS.refused_within_s * SLOWER


def test_cells_under_no_heading_are_told_by_column_and_counted(tmp_path, four_weaves):
    """A hundred and ninety columns of a thousand stray cells make 184 notes, not 190 000."""
    path = tmp_path / "stray.xlsx"
    book = openpyxl.Workbook()
    book.active.title = "pieces"
    book.active.append(HEADING.strip().split(","))
    book.active.append(["Plain chain", "single-link", 1, 4, "copper", 200, *[1] * 184])
    for _ in range(300):
        book.active.append([None] * 6 + [1] * 184)
    book.save(path)
    job = read_job(path, weaves=four_weaves)
    assert len(job.warnings) == 184
    assert "G2 (and 300 more below it): has no heading above it" in job.warnings[0]


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("length", "1 2 mm", "'1 2 mm', which is not a length"),
        ("quantity", "1_0", "'1_0', which is not a number"),
        ("quantity", "1 0", "'1 0', which is not a number"),
        ("length", "03/04/2027", "is not a length"),
        ("length", "5/16", "a fraction without a unit"),
        ("length", "7 9/8 in", "is not a length"),
        ("length", "1/0 in", "is not a length"),
        ("due", "2027-03-01 14:30", "is no date"),
        ("name", "\u202eabc", "starts with"),
    ],
)
def test_text_that_means_something_else_is_refused_and_not_altered(
    column, value, words, toml, four_weaves
):
    """A wrong length is a wrong necklace: what is not plainly a number is asked about."""
    (fault,) = check_job(toml(**{column: json.dumps(value)}), weaves=four_weaves)
    assert words in fault.found


def test_date_with_a_time_of_day_is_refused(toml, four_weaves):
    """The time would be dropped; whoever wrote it meant something by it."""
    (fault,) = check_job(toml(due="2027-03-01T14:30:00"), weaves=four_weaves)
    assert "has a time of day" in fault.found
    (piece,) = read_job(toml(due="2027-03-01T00:00:00"), weaves=four_weaves).pieces
    assert str(piece.due) == "2027-03-01"


def test_part_that_reaches_beyond_its_piece_is_refused_with_its_cell(toml, four_weaves):
    """A part at 190 mm that covers 20 mm does not fit on a chain of 200 mm."""
    part = "[[part]]\npiece = 'Plain chain'\npart = 'drop'\nkind = 'amber'\nplace_mm = 190\n"
    assert not check_job(toml(part + "covers_mm = 10\n"), weaves=four_weaves)
    (fault,) = check_job(toml(part + "covers_mm = 20\n"), weaves=four_weaves)
    assert "covers_mm" in fault.where
    assert "on a piece of 200 mm" in fault.found


@pytest.mark.parametrize(("limit", "place"), [("21", "limit"), ("20", "limit")])
def test_limit_that_the_room_reaches_already_is_refused(limit, place, toml, four_weaves):
    """No wait would ever cool a join so far."""
    part = f"[[part]]\npiece = 'Plain chain'\npart = 'a'\nkind = 'amber'\nlimit = {limit}\n"
    (fault,) = check_job(toml(part), weaves=four_weaves)
    assert place in fault.where
    assert "the room is at 21 °C" in fault.found


def test_limit_of_a_kind_is_held_against_a_hot_room(toml, four_weaves):
    """The limit may come from the table and the room from the bench: the kind's cell is named."""
    part = "[[part]]\npiece = 'Plain chain'\npart = 'a'\nkind = 'own'\nlimit = 45\n"
    assert not check_job(toml(part), weaves=four_weaves)
    (fault,) = check_job(toml(part + "[bench.heat]\nroom_c = 46\n"), weaves=four_weaves)
    assert "the room is at 46 °C" in fault.found


def test_toml_within_the_bounds_is_read_as_it_stands():
    """Strings, comments and dates may hold what looks like depth or length and is none."""
    text = 'a = "' + "[[" * 40 + "\"\nb = '''\n" + "{" * 40 + "\n'''\n# " + "a." * 400 + "\n"
    found = parse_toml(text + "c = 1979-05-27T07:32:00.5Z\nd = [[1, 2], [3]]\n", "x.toml")
    assert found["d"] == [[1, 2], [3]]
    with pytest.raises(InputError, match="is not TOML"):
        parse_toml("a = \n", "x.toml")


def test_twenty_thousand_rows_are_read_in_time_that_grows_with_their_number(tmp_path):
    """Four times the rows take about four times as long, not sixteen times."""
    used = []
    for rows in (2000, 8000):
        path = tmp_path / f"{rows}.csv"
        lines = [f"Chain {n},single-link,{1 + n / 1e5},4,copper,200\n" for n in range(rows)]
        path.write_text(HEADING + "".join(lines))
        run = [sys.executable, "-c", RUN, str(path)]
        done = subprocess.run(run, capture_output=True, text=True, check=True)
        found = json.loads(done.stdout)
        assert found["told"] == []
        used.append(found["used_s"])
    assert used[1] < 8 * used[0]


def test_part_beyond_a_piece_of_so_many_rings_is_refused_once_it_is_laid_out(toml):
    """Ten rings of 4 mm are 42 mm long, which only the weave knows."""
    part = "[[part]]\npiece = 'Plain chain'\npart = 'drop'\nkind = 'amber'\nplace_mm = 39\n"
    rings = {"length": None, "rings": "10"}
    assert not chainplan.check_job(toml(part + "covers_mm = 3\n", **rings))
    (fault,) = chainplan.check_job(toml(part + "covers_mm = 500\n", **rings))
    assert "reaches to 539 mm on a piece of 42 mm" in fault.found


@pytest.mark.parametrize(
    ("name", "limit", "room"), [("highest_interpass_c", 25, 25), ("finger_limit_c", 40, 45)]
)
def test_limit_at_the_bench_that_the_room_reaches_already_is_refused(
    name, limit, room, toml, four_weaves
):
    """No wait would reach it; left out, there is none."""
    bench = f"[bench.heat]\nroom_c = {room}\n{name} = {limit}\n"
    (fault,) = check_job(toml(bench), weaves=four_weaves)
    assert fault.allowed == "a limit must be above the room"
    assert f"{name.replace('_', ' ')} is {limit}" in fault.found
    none = f"[bench.heat]\nroom_c = {room}\nhighest_interpass_c = 0\n"
    assert check_job(toml(none), weaves=four_weaves) == ()
