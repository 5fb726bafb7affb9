"""Logs of bench sheets and sheets typed by hand, taken in whole or told what is wrong."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from chainplan.errors import InputError
from chainplan.public.recording import record_logs, record_path
from chainplan.record.kept.store import Record

LogOf = Callable[..., Path]
TEN = [("Chain", 1, 20 - k, "done", 10.0 * k) for k in range(10)]


def events(folder: Path) -> list[tuple[str, int | None]]:
    with Record(record_path(folder), read_only=True) as record:
        return [(event.kind, event.ring) for event in record.events()]


def test_a_log_is_taken_once_however_often_it_is_handed_over(folder: Path, log_of: LogOf) -> None:
    log = log_of("a.csv", TEN)
    first = record_logs([log], folder)
    assert [(f.recorded, f.known) for f in first.files] == [(10, 0)]
    again = record_logs([log, log], folder)
    assert [(f.recorded, f.known) for f in again.files] == [(0, 10), (0, 10)]
    assert events(folder) == [("done", 20 - k) for k in range(10)]


def test_a_longer_log_of_the_same_tablet_adds_what_is_new(folder: Path, log_of: LogOf) -> None:
    record_logs([log_of("noon.csv", TEN[:4])], folder)
    later = record_logs([log_of("night.csv", TEN)], folder)
    assert [(f.recorded, f.known) for f in later.files] == [(6, 4)]


def test_logs_of_several_tablets_come_in_any_order(folder: Path, log_of: LogOf) -> None:
    one, two = log_of("one.csv", TEN[:5]), log_of("two.csv", TEN[5:])
    done = record_logs([two, one], folder)
    assert not done.faults
    assert sorted(events(folder)) == sorted(("done", 20 - k) for k in range(10))


def _semicolons(path: Path) -> None:
    text = path.read_text(encoding="utf-8-sig").replace(",", ";").replace("6.0", "6,0")
    path.write_text(text, encoding="utf-8")


def _tabs_utf_16(path: Path) -> None:
    path.write_text(path.read_text(encoding="utf-8-sig").replace(",", "\t"), encoding="utf-16")


def _quoted(path: Path) -> None:
    lines = path.read_text(encoding="utf-8-sig").splitlines()
    path.write_text(
        "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in lines) + "\n\n",
        encoding="utf-8",
    )


def _rounded(path: Path) -> None:
    text = path.read_text(encoding="utf-8-sig").replace(",6.0,", ",6,").replace("result", "Result")
    path.write_text("sep=,\n" + text + ",,,,,,,,,,\n", encoding="utf-8")


@pytest.mark.parametrize("change", [_semicolons, _tabs_utf_16, _quoted, _rounded])
def test_a_log_saved_again_by_a_spreadsheet_is_the_same_log(
    folder: Path, log_of: LogOf, change: Callable[[Path], None]
) -> None:
    log = log_of("a.csv", TEN)
    record_logs([log], folder)
    change(log)
    again = record_logs([log], folder)
    assert not again.faults
    assert [(f.recorded, f.known) for f in again.files] == [(0, 10)]


def test_a_log_saved_as_a_workbook_is_the_same_log(
    folder: Path, log_of: LogOf, tmp_path: Path
) -> None:
    log = log_of("a.csv", TEN)
    record_logs([log], folder)
    book = openpyxl.Workbook()
    for line in log.read_text(encoding="utf-8-sig").splitlines():
        cells = line.split(",")
        book.active.append([float(c) if c.replace(".", "").isdecimal() and len(c) < 9 else c
                            for c in cells])  # fmt: skip
    book.save(tmp_path / "a.xlsx")
    again = record_logs([tmp_path / "a.xlsx"], folder)
    assert [(f.recorded, f.known) for f in again.files] == [(0, 10)]


def test_a_guarded_note_comes_back_as_it_was_written(folder: Path, log_of: LogOf) -> None:
    log = log_of("a.csv", TEN[:1])
    guarded = """"'=1, ""2\""\""""
    text = log.read_text(encoding="utf-8-sig").replace("done,,", f"done,{guarded},", 1)
    log.write_text(text, encoding="utf-8")
    record_logs([log], folder)
    with Record(record_path(folder), read_only=True) as record:
        assert record.events()[0].note == '=1, "2"'


WRONG = {
    "unknown ring": ([("Chain", 1, 21, "done", 0.0)], "line 2: ring 21 of 'Chain'"),
    "unknown piece": ([("Chian", 1, 3, "done", 0.0)], "line 2: the plan has no piece 'Chian'"),
    "unknown copy": ([("Chain", 2, 3, "done", 0.0)], "line 2: copy 2 of 'Chain'"),
    "unknown result": ([("Chain", 1, 3, "dun", 0.0)], "line 2: the result 'dun' is not known"),
    "backwards": (
        [("Chain", 1, 3, "done", 100.0), ("Chain", 1, 4, "done", 50.0)],
        "line 3: the time 2027-01-11T09:00:50\\+01:00 is before that of the row above",
    ),
    "twice": (
        [("Chain", 1, 3, "done", 0.0), ("Chain", 1, 3, "done", 50.0)],
        "line 3: ring 3 of 'Chain', copy 1, is done .* and was done already .*line 2",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_a_fault_is_told_with_its_line_and_nothing_of_the_file_is_taken(
    folder: Path, log_of: LogOf, name: str
) -> None:
    taps, said = WRONG[name]
    bad = log_of("bad.csv", [*taps, ("Chain", 1, 9, "done", 200.0)])
    good = log_of("good.csv", TEN[:2])
    done = record_logs([bad, good], folder)
    assert len(done.faults) == 1
    assert re.search(f"bad.csv {said}", str(done.faults[0]))
    assert events(folder) == [("done", 20), ("done", 19)]
    skipped = record_logs([bad], folder, skip_bad=True)
    assert ("done", 9) in events(folder)
    assert skipped.files[0].skipped == 1


def test_two_people_who_weld_one_join_are_told_of_each_other(folder: Path, log_of: LogOf) -> None:
    ann = log_of("ann.csv", [("Chain", 1, 3, "done", 0.0)])
    record_logs([ann], folder, person="Ann")
    done = record_logs([log_of("ben.csv", [("Chain", 1, 3, "done", 60.0)])], folder, person="Ben")
    (fault,) = done.faults
    assert "is done by Ben" in fault.found
    assert "was done already by Ann" in fault.found
    assert "(ann.csv line 2)" in fault.found
    assert fault.where == "ben.csv line 2"


def test_a_join_welded_again_is_not_done_twice(folder: Path, log_of: LogOf) -> None:
    taps = [("Chain", 1, 3, kind, 10.0 * k) for k, kind in enumerate(["again", "done", "broken",
            "done", "opened", "done", "bad", "done", "good"])]  # fmt: skip
    assert not record_logs([log_of("a.csv", taps)], folder).faults
    with Record(record_path(folder), read_only=True) as record:
        assert record.rows("SELECT done, not_good FROM piece_now") == [(1, 0)]


def test_another_plan_is_told_once_a_file(folder: Path, log_of: LogOf) -> None:
    done = record_logs([log_of("a.csv", TEN, mark="0123456789ab")], folder)
    (fault,) = done.faults
    assert fault.where == "a.csv line 2 and 9 more rows"
    assert "another plan's (0123456789ab)" in fault.found


def test_step_and_ring_of_another_order_are_told(folder: Path, log_of: LogOf) -> None:
    log = log_of("a.csv", TEN)
    text = log.read_text(encoding="utf-8-sig").replace(",1,1,1,20,", ",1,2,1,20,")
    log.write_text(text, encoding="utf-8")
    (fault,) = record_logs([log], folder).faults
    assert fault.found.startswith("step 2 of 'Chain' is not ring 20")


def test_a_sheet_typed_by_hand_is_taken(folder: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "hand.csv"
    sheet.write_text(
        "# what happened on Monday\n"
        "result;at;person;piece;copy;ring;station;minutes;bar;note;what;value;mandrel_mm;metal;"
        "wire_mm\n"
        "begins;2027-01-11 9:00;Ann;;;;;;;;;;;;\n"
        "done;2027-01-11 9:30;Ann;Chain;;1-4, 7;;;;;;;;;\n"
        "finished;2027-01-11 10:00;Ann;Chain;1;;weave;31,5;;;;;;;\n"
        "cylinder;11 January 2027 10:05;;;;;;;142;;;;;;\n"
        "undo;2027-01-11 10:06;Ann;Chain;1;7;;;;;;;;;\n"
        "measured;;;;;;;;;;inner mm;4,04;4;copper;1\n",
        encoding="utf-8",
    )
    done = record_logs([sheet], folder)
    assert not done.faults, done.faults
    with Record(record_path(folder), read_only=True) as record:
        assert record.rows("SELECT ring FROM join_now ORDER BY ring") == [(1,), (2,), (3,), (4,)]
        found = record.rows("SELECT minutes, bar, value FROM event WHERE kind IN "
                            "('finished', 'cylinder', 'measured') ORDER BY seq")  # fmt: skip
        assert found == [(31.5, None, None), (None, 142.0, None), (None, None, 4.04)]
    assert record_logs([sheet], folder).files[0].recorded == 0


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("done,,Chain,1,3", "the time is missing"),
        ("done,03/04/2027 9:00,Chain,1,3", "3 April or March 4"),
        ("done,yesterday,Chain,1,3", "is no time"),
        ("done,2027-01-11 9:00,Chain,1,", "the ring is missing"),
        ("done,2027-01-11 9:00,,1,3", "piece is missing"),
        ("done,2027-01-11 9:00,Chain,1,3-99", "this piece has rings 1 to 20"),
        ("done,2027-01-11 9:00,Chain,0,3", "copy is '0'"),
        ("cylinder,2027-01-11 9:00,,,", "bar is missing"),
        ("undo,2027-01-11 9:00,Chain,1,3", "takes back nothing"),
        ("measured,2027-01-11 9:00,,,", "what was measured"),
    ],
)
def test_what_is_wrong_in_a_typed_row_is_said(
    folder: Path, tmp_path: Path, row: str, said: str
) -> None:
    sheet = tmp_path / "hand.csv"
    sheet.write_text(f"result,at,piece,copy,ring\n{row}\n", encoding="utf-8")
    (fault,) = record_logs([sheet], folder).faults
    assert said in str(fault)
    assert fault.where == "hand.csv line 2"
    assert events(folder) == []


def test_an_undo_leaves_the_join_open_and_it_can_be_done_anew(folder: Path, log_of: LogOf) -> None:
    kinds = ["done", "undo", "done"]
    taps = [("Chain", 1, 3, kind, 10.0 * k) for k, kind in enumerate(kinds)]
    assert not record_logs([log_of("a.csv", taps)], folder).faults
    undone = log_of("b.csv", [("Chain", 1, 3, "undo", 40.0)])
    assert not record_logs([undone], folder).faults
    with Record(record_path(folder), read_only=True) as record:
        assert record.rows("SELECT * FROM join_now") == []


def test_copies_are_kept_apart(tmp_path: Path, make_folder: LogOf, make_log: LogOf) -> None:
    folder = make_folder(tmp_path / "output" / "two", [("Cuff", 2, 5)])
    taps = [("Cuff", 2, 1, "done", 0.0), ("Cuff", 1, 1, "done", 9.0)]
    log = make_log(tmp_path / "a.csv", folder, taps)
    assert not record_logs([log], folder).faults
    with Record(record_path(folder), read_only=True) as record:
        assert record.rows("SELECT copy, done FROM piece_now ORDER BY copy") == [(1, 1), (2, 1)]


def test_files_that_are_no_logs_are_told(folder: Path, tmp_path: Path) -> None:
    empty, other = tmp_path / "empty.csv", tmp_path / "other.csv"
    empty.write_text("\n", encoding="utf-8")
    other.write_text("name,price\nx,1\n", encoding="utf-8")
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(b"PK\x03\x04 no workbook")
    done = record_logs([empty, other, broken, tmp_path / "none.csv"], folder)
    assert [fault.found for fault in done.faults] == [
        "is empty", "the column 'result' is missing",
        "is not a workbook that can be read: it is damaged or not all there",
        "there is no such file",
    ]  # fmt: skip


def test_a_folder_without_a_plan_makes_no_record(tmp_path: Path) -> None:
    (tmp_path / "output" / "none").mkdir(parents=True)
    with pytest.raises(InputError, match=r"holds no plan: plan\.json is not there"):
        record_logs([tmp_path / "a.csv"], tmp_path / "output" / "none")
    assert not record_path(tmp_path / "output" / "none").exists()


def test_nothing_of_a_log_is_left_out_or_replaced_silently(folder: Path, tmp_path: Path) -> None:
    """Columns beyond those taken, letters of no code page, a first sheet that is not there."""
    wide, letters, gone = (tmp_path / name for name in ("wide.xlsx", "letters.csv", "gone.xlsx"))
    book = openpyxl.Workbook()
    book.active.append(["when", "piece", "result"])
    book.active.append(["2027-03-01 09:00", "x", "done"])
    book.active.cell(row=2, column=201, value="lost before")
    book.save(wide)
    letters.write_bytes(b"when,piece,result,note\n2027-03-01 09:00,x,done," + b"\x81\xff\n")
    book.create_sheet("second").append(["when", "piece", "result"])
    book.save(tmp_path / "whole.xlsx")
    with zipfile.ZipFile(tmp_path / "whole.xlsx") as old, zipfile.ZipFile(gone, "w") as new:
        for part in old.infolist():
            if part.filename != "xl/worksheets/sheet1.xml":
                new.writestr(part, old.read(part.filename))
    found = [fault.found for fault in record_logs([wide, letters, gone], folder).faults]
    assert found[0] == "row 2 is filled to column 201"
    assert found[1] == "holds letters that cannot be read (byte 48)"
    assert "damaged" in found[2]


@pytest.mark.parametrize("text", ["[" * 100_000, '{"stamp": 5}', "[1]", "\xff"])
def test_a_plan_folder_that_holds_something_else_is_refused(
    folder: Path, tmp_path: Path, text: str
) -> None:
    """Too deep, without a stamp, or no JSON: one message, no traceback."""
    other = tmp_path / "other"
    other.mkdir()
    (other / "weld-order.csv").write_bytes((folder / "weld-order.csv").read_bytes())
    (other / "plan.json").write_text(text, encoding="latin-1")
    with pytest.raises(InputError, match="no plan of this program"):
        record_logs([tmp_path / "a.csv"], other)


def test_a_plan_folder_beyond_the_bound_is_refused_unread(folder: Path, tmp_path: Path) -> None:
    """A file of a terabyte of nothing takes no time and no memory."""
    other = tmp_path / "other"
    other.mkdir()
    (other / "plan.json").write_bytes((folder / "plan.json").read_bytes())
    with (other / "weld-order.csv").open("wb") as file:
        file.truncate(2**40)
    with pytest.raises(InputError, match="is larger than 400 MB"):
        record_logs([tmp_path / "a.csv"], other)
