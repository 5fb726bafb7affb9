"""Workbook and paper: one wrong number on either is found, and stops the writing."""

from __future__ import annotations

import dataclasses
import random
import re
import shutil
import zipfile

from one_check import findings_of

import chainplan
from chainplan import cli
from chainplan.cli.common.running import OUR_FAULT
from chainplan.examine import examine_folder
from chainplan.examine.printed import pages
from chainplan.examine.printed import paper as paper_checks
from chainplan.examine.printed import workbook as workbook_checks
from chainplan.examine.printed.cells import read_cells
from chainplan.examine.printed.pages import by_piece, read_pages, without_note
from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.sheet import Sheet
from chainplan.store import ResultShelf
from chainplan.store.keeping import keeping

BOOK, PAPER = "the workbook is the plan", "the paper is the weld order"
NO_SECOND_SOURCE = {
    # Numbers of the heat model that stand in the workbook alone.
    ("sources", "heat"),
}
"""Sheets and what their rows are about, whose numbers plan.json does not hold."""
_CELL = re.compile(r'<c r="([A-Z]+)(\d+)"([^>]*)>((?:<f>[^<]*</f>)?)<v>([^<]*)</v></c>')
_NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")
LABELS = re.compile(
    r"(?:(?:ring|pair|three|four|column|at|mm|·|[\d,]+|odd|even) ?)+|passes .*continued"
)
SCALE = re.compile(r"[\d.]+ × true size|50 mm on your rule")
"""Lines of numbers beside the pictures: joins, rows, columns, rings and mm along the axes; scales,
which only a rule laid on the sheet confirms."""


def changed(text):
    """Another number: a whole one is larger by one, a broken one by a fiftieth."""
    value = float(text)
    return str(int(value) + 1) if value == int(value) else repr(value * 1.02 + 0.01)


def test_one_wrong_number_in_any_cell_of_the_workbook_is_found(files, tmp_path, monkeypatch):
    """Every cell that holds a number, and every date; columns of a sheet share their fate."""
    book = read_cells(files.folder / "plan.xlsx")
    rng, missed, tried = random.Random(0), [], 0
    for name, sheet in book.items():
        cells = [
            (number, column)
            for number, row in sheet.items()
            for column, value in row.items()
            if isinstance(value, float)
        ]
        for number, column in rng.sample(cells, min(20, len(cells))):
            bench = "bench: " in str(sheet[number].get("G", ""))
            if (name, sheet[number].get("A")) in NO_SECOND_SOURCE and not bench:
                continue
            row = sheet[number] | {column: float(changed(str(sheet[number][column])))}
            wrong = book | {name: sheet | {number: row}}
            monkeypatch.setattr(workbook_checks, "read_cells", lambda _, wrong=wrong: wrong)
            tried += 1
            if not findings_of(BOOK, files):
                missed.append(f"{name}, {column}{number}: {sheet[number]}")
    assert tried > 240
    assert missed == [], "\n".join(missed)


def test_a_wrong_number_in_the_stored_file_is_found(good, bare):
    """The file itself is read, formulas by their stored values; a damaged one is no workbook."""
    path = bare / "plan.xlsx"
    whole = path.read_bytes()
    try:
        with zipfile.ZipFile(good / "plan.xlsx") as old, zipfile.ZipFile(path, "w") as new:
            for part in old.infolist():
                text = old.read(part.filename)
                if part.filename == "xl/workbook.xml":
                    names = re.findall(r'<sheet\b[^>]*?name="([^"]*)"', text.decode())
                    price = f"xl/worksheets/sheet{names.index('price') + 1}.xml"
                new.writestr(part, text)
        with zipfile.ZipFile(path) as packed:
            parts = {part: packed.read(part) for part in packed.namelist()}
        cell = next(
            found for found in _CELL.finditer(parts[price].decode()) if "SUMIFS" in found.group(4)
        )
        value = f"<v>{float(cell.group(5)) + 0.01:.2f}</v>"
        wrong = cell.group(0).replace(f"<v>{cell.group(5)}</v>", value)
        parts[price] = parts[price].replace(cell.group(0).encode(), wrong.encode())
        with zipfile.ZipFile(path, "w") as packed:
            for part, text in parts.items():
                packed.writestr(part, text)
        (found, *_) = examine_folder(bare, without={PAPER}).findings
        assert (found.file, found.place) == (
            "plan.xlsx", "price, row 1 of its table, cost, all copies",
        )  # fmt: skip
        path.write_bytes(whole[:2000])
        (found,) = examine_folder(bare, without={PAPER}).findings
        assert "no workbook" in found.found
        path.unlink()
        (found,) = examine_folder(bare, without={PAPER}).findings
        assert found.found == "is not there"
    finally:
        path.write_bytes(whole)


def test_one_wrong_number_on_paper_is_found(files, monkeypatch):
    """In every sentence, list, title and table; of labels beside pictures, joins' own numbers."""
    pages = read_pages(files.folder / "weld-order.pdf")
    cover = len(by_piece(pages)[0])
    rng, missed, tried = random.Random(1), [], 0
    places, count = [], 0
    for k, page in enumerate(pages):
        for j, line in enumerate(page.lines):
            count += 1
            sources = count <= cover and "rings," not in line and "joins" not in line
            if sources or LABELS.fullmatch(line):
                continue
            left_out = {n for found in SCALE.finditer(line) for n in range(*found.span())}
            places += [
                (k, j, *found.span())
                for found in _NUMBER.finditer(line)
                if found.start() not in left_out
            ]
    for k, j, begin, end in rng.sample(places, min(250, len(places))):
        line = pages[k].lines[j]
        number = line[begin:end]
        more = str(int(number) + 3) if "." not in number else f"{float(number) * 1.5:.4g}"
        lines = [*pages[k].lines]
        lines[j] = line[:begin] + more + line[end:]
        wrong = [*pages]
        wrong[k] = dataclasses.replace(pages[k], lines=tuple(lines))
        monkeypatch.setattr(paper_checks, "read_pages", lambda *_, wrong=wrong: wrong)
        tried += 1
        if not findings_of(PAPER, files):
            missed.append(f"page {k + 1}: {number} → {more} in {lines[j]!r}")
    assert tried > 240
    assert missed == [], "\n".join(missed)


def test_every_number_at_a_join_that_is_left_out_or_altered_is_found(files, monkeypatch):
    """One box at a time, on all pages of all pieces: none escapes."""
    pages = read_pages(files.folder / "weld-order.pdf")
    missed, tried = [], 0
    for k, page in enumerate(pages):
        for j, number in enumerate(page.boxes):
            other = number + 1 if number % 2 else number - 1
            for boxes in ((), (other,), (number, number)):
                wrong = [*pages]
                changed_boxes = (*page.boxes[:j], *boxes, *page.boxes[j + 1 :])
                wrong[k] = dataclasses.replace(page, boxes=changed_boxes)
                monkeypatch.setattr(paper_checks, "read_pages", lambda *_, wrong=wrong: wrong)
                tried += 1
                if not any("numbers drawn" in item.place for item in findings_of(PAPER, files)):
                    missed.append((page.number, number, boxes))
    assert tried > 3 * 80
    assert missed == []


def test_boxes_of_two_pages_that_are_exchanged_are_found(files, monkeypatch):
    """All numbers are there, and two stand above another pass."""
    pages = read_pages(files.folder / "weld-order.pdf")
    own = [k for k, page in enumerate(pages) if page.boxes and page.foot.startswith("Short chain")]
    first, last = own[0], own[-1]
    assert first < last
    wrong = [*pages]
    wrong[first] = dataclasses.replace(pages[first], boxes=pages[last].boxes)
    wrong[last] = dataclasses.replace(pages[last], boxes=pages[first].boxes)
    monkeypatch.setattr(paper_checks, "read_pages", lambda *_: wrong)
    assert any("numbers drawn on page" in item.place for item in findings_of(PAPER, files))


def test_a_wrong_number_in_a_drawn_box_stops_the_writing(good, tmp_path, monkeypatch, capsys):
    """As it stands in the PDF, not as it is read here."""
    from chainplan.report.diagram.drawn import marks

    known = marks.draw_numbers

    def draw(sheet, joins, middles, look):
        number = joins.number.copy()
        number[number == 20] = 21
        known(sheet, dataclasses.replace(joins, number=number), middles, look)

    monkeypatch.setattr(marks, "draw_numbers", draw)
    job, out = good.parent / "small.toml", tmp_path / "out"
    assert cli.main(["plan", str(job), "--out", str(out), "--workers", "1"]) == OUR_FAULT
    assert "Short chain, numbers drawn: not [20]" in capsys.readouterr().err
    assert not out.exists()


def test_a_wrong_time_on_paper_stops_the_writing(good, tmp_path, monkeypatch, capsys):
    """Our fault, exit 1, nothing replaced."""
    from chainplan.report.diagram import pass_list

    job, out = good.parent / "small.toml", tmp_path / "out"
    shutil.copytree(good, out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    known = pass_list.show_duration
    monkeypatch.setattr(pass_list, "show_duration", lambda seconds: known(seconds + 61))
    assert cli.main(["plan", str(job), "--out", str(out), "--workers", "1"]) == OUR_FAULT
    assert "weld-order.pdf, Short chain, time at the bench" in capsys.readouterr().err
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


NAMES = """
start_date = 2027-01-11

[[piece]]
name = "珍珠 Kette (süß) 2. 3. joins 1-4 with a very long name, copy 1"
quantity = 3
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "sterling-silver"
length_mm = 150.0
notes = '''pass 2 of 3: 12 joins, 5 s; 17
18 19
20 copies, each 28 rings, 28 joins to weld in 4 passes, about 9 min at the bench.
3 waits, 4 s in all, where two strokes stand before a number. x · page 3 of 4'''

[[piece]]
name = "Дракон 7"
quantity = 7
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "copper"
rings = 2

[[part]]
piece = "珍珠 Kette (süß) 2. 3. joins 1-4 with a very long name, copy 1"
part = "真珠: 1, 2 · x"
kind = "own"
limit_c = 60.5
from = "end"
covers_mm = 8.0
source = "invented"

[[part]]
piece = "珍珠 Kette (süß) 2. 3. joins 1-4 with a very long name, copy 1"
part = "真珠: 1, 2 · x"
kind = "own"
limit_c = 70
covers_mm = 4.0
source = "invented"
"""


def test_names_and_notes_that_read_like_the_plan_s_own_words_pass(tmp_path):
    """What the user writes may be in any script, and may say what the pages say."""
    job = tmp_path / "names.toml"
    job.write_text(NAMES, encoding="utf-8")
    plan = chainplan.make_plan(chainplan.read_job(job))
    folder = chainplan.write_plan(plan, tmp_path / "plan", paper="Letter", all_sheets=True)
    assert chainplan.examine_plan(folder).ok


def test_a_note_is_left_out_as_far_as_its_letters_are_shown():
    """Letters that the typeface lacks may be missing; what follows the note stays."""
    lines = ["12 rings", "Note: 3 waits,", "4 s □", "No waits: weld on"]
    assert without_note(lines, "3 waits, 4 s 珠") == ["12 rings", "No waits: weld on"]
    assert without_note(["12 rings", "No waits"], "other") == ["12 rings", "No waits"]


def test_what_pages_say_is_kept_by_every_byte_of_their_file(tmp_path, monkeypatch):
    """Only where a shelf is lent; a page that says something else is read."""
    read = []
    real = pages._pages_of
    monkeypatch.setattr(pages, "_pages_of", lambda *given: (read.append(1), real(*given))[-1])

    def page(text):
        sheet = Sheet(width_mm=100.0, height_mm=60.0, title="a page")
        sheet.write(10.0, 20.0, text, 12.0)
        file = tmp_path / "page.pdf"
        file.write_bytes(write_pdf([sheet], title="a page"))
        return pages.read_texts(file)

    first = page("weld ring 12")
    assert "weld ring 12" in first[0]
    assert page("weld ring 12") == first
    assert len(read) == 2
    with keeping(ResultShelf(folder=tmp_path / "kept")):
        assert page("weld ring 12") == first
        assert page("weld ring 12") == first
        assert len(read) == 3
        assert "weld ring 13" in page("weld ring 13")[0]
        assert len(read) == 4
