"""What became of each join, which joins to check, and planned against actual."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from chainplan.cli import main
from chainplan.errors import InputError
from chainplan.public.recording import record_logs, review, trace

LogOf = Callable[..., Path]


@pytest.fixture
def welded(folder: Path, log_of: LogOf, tmp_path: Path) -> Path:
    """A chain of twenty joins, all welded, one twice, three checked."""
    lot = tmp_path / "lot.csv"
    lot.write_text(
        "result,at,metal,wire_mm,lot,bar\nwire lot,2027-01-11T08:00:00+01:00,copper,1,L-77,\n"
        "wire lot,2027-01-11T08:10:00+01:00,brass,1,B-1,\n"
        "cylinder,2027-01-11T08:20:00+01:00,,,,100\n",
        "utf-8",
    )
    taps = [("Chain", 1, k, "done", 10.0 * k) for k in range(1, 21)]
    taps.insert(4, ("Chain", 1, 5, "again", 45.0))
    assert not record_logs([lot, log_of("a.csv", taps)], folder, person="Ann").faults
    checks = [("Chain", 1, 2, "good", 500.0), ("Chain", 1, 3, "good", 510.0),
              ("Chain", 1, 9, "bad", 520.0), ("Chain", 1, 9, "done", 530.0)]  # fmt: skip
    assert not record_logs([log_of("checks.csv", checks)], folder, person="Ben").faults
    end = tmp_path / "end.csv"
    end.write_text("result,at,bar\ncylinder,2027-01-11T12:00:00+01:00,99.5\n", "utf-8")
    assert not record_logs([end], folder).faults
    return folder


def test_a_join_is_traced_to_lot_setting_person_time_and_checks(welded: Path) -> None:
    (five,) = trace(welded, ring=5)
    assert (five.state, five.lot, five.power_j, five.hits, five.tip) == (
        "done", "L-77", 8.0, 1, "sharp",
    )  # fmt: skip
    assert (five.person, five.at, five.tries) == ("Ann", "2027-01-11T09:00:50+01:00", 2)
    assert [line.kind for line in five.lines] == ["again", "done"]
    assert five.lines[0].source == "a.csv:6"
    (nine,) = trace(welded, ring=9)
    assert nine.checks == ("bad by Ben at 2027-01-11T09:08:40+01:00",)
    assert nine.person == "Ben"


def test_a_join_not_welded_yet_says_so(folder: Path, log_of: LogOf) -> None:
    record_logs([log_of("a.csv", [("Chain", 1, 1, "done", 0.0)])], folder)
    (two,) = trace(folder, ring=2)
    assert (two.state, two.power_j, two.lines) == ("not welded yet", None, ())
    assert len(trace(folder)) == 20


@pytest.mark.parametrize(
    ("asked", "said"),
    [({"ring": 21}, "ring 21 has no join"), ({"copy": 2}, "copy 2 of 'Chain'"),
     ({"piece": "Chian"}, "did you mean 'Chain'")],
)  # fmt: skip
def test_what_is_not_there_cannot_be_traced(welded: Path, asked: dict, said: str) -> None:
    with pytest.raises(InputError, match=said):
        trace(welded, **asked)


def test_the_joins_to_check_are_drawn_by_seed_and_judged(welded: Path, log_of: LogOf) -> None:
    """Twenty joins, limit 4 %: letter C leads to the plan of three joins that accepts none."""
    (first,) = review(welded, aql_percent=4.0).samples
    assert (first.lot, first.size, first.accept) == ("copper 1 mm, wire lot L-77", 3, 0)
    assert review(welded, aql_percent=4.0).samples == (first,)
    others = {review(welded, aql_percent=4.0, seed=seed).samples[0].drawn for seed in range(6)}
    assert len(others) > 3
    assert len(set(first.drawn)) == 3
    taps = [(*join, "good", 700.0 + k) for k, join in enumerate(first.drawn)]
    fresh = [tap for tap in taps if tap[2] not in (2, 3, 9)]
    record_logs([log_of("good.csv", fresh)], welded)
    (judged,) = review(welded, aql_percent=4.0).samples
    assert judged.drawn == first.drawn
    assert judged.verdict == ("reject" if ("Chain", 1, 9) in judged.drawn else "accept")


def test_a_bad_join_in_the_sample_rejects_the_lot(folder: Path, log_of: LogOf) -> None:
    record_logs([log_of("a.csv", [("Chain", 1, k, "done", 9.0 * k) for k in range(1, 21)])], folder)
    (sample,) = review(folder, aql_percent=4.0).samples
    piece, copy, ring = sample.drawn[0]
    record_logs([log_of("b.csv", [(piece, copy, ring, "bad", 900.0)])], folder)
    (judged,) = review(folder, aql_percent=4.0).samples
    assert (judged.bad, judged.verdict) == (1, "reject")
    assert "look at every join" in judged.next_step


def test_planned_stands_against_actual(welded: Path) -> None:
    lines = {line.what: line for line in review(welded).lines}
    assert lines["weld"].planned == pytest.approx(100 / 60)  # twenty joins of 5 s
    assert lines["weld"].actual == pytest.approx(22 * 6 / 60)  # two of them twice, 6 s each
    assert (lines["pulses"].planned, lines["pulses"].actual) == (20, 22)
    assert lines["argon"].actual == pytest.approx(5.0, abs=0.4)  # half a bar of ten litres
    assert lines["labour"].actual == pytest.approx(22 * 6 / 3600 * 30)
    assert any(text.startswith("weld: 32% more") for text in review(welded).wrong)


def test_pages_and_workbook_are_written_the_same_twice(welded: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert main(["review", str(welded), "--out", str(tmp_path / name), "--json"]) == 0
    for name in ("review.pdf", "review.png", "certificate.pdf", "review.xlsx"):
        data = (tmp_path / "one" / name).read_bytes()
        assert data == (tmp_path / "two" / name).read_bytes()
    book = openpyxl.load_workbook(tmp_path / "one" / "review.xlsx")
    assert book.sheetnames == ["planned and actual", "learnt", "joins to check", "trace"]
    row = [cell.value for cell in book["trace"][6]]
    heads = [cell.value for cell in book["trace"][1]]
    assert dict(zip(heads, row, strict=True))["wire lot"] == "L-77"


def test_the_certificate_says_what_was_checked(welded: Path, tmp_path: Path) -> None:
    pypdfium2 = pytest.importorskip("pypdfium2")
    review(welded, out=tmp_path / "out")
    page = pypdfium2.PdfDocument(tmp_path / "out" / "certificate.pdf")[0]
    text = " ".join(page.get_textpage().get_text_bounded().split())
    assert "Every one of its 20 joins in place was welded shut under argon." in text
    assert "wire lot: L-77" in text
    assert "3 of 20 joins were checked; 1 were found bad at first" in text
    assert "What is not named here was not checked." in text


def test_the_commands_say_it_in_words(welded: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trace", str(welded), "--ring", "5"]) == 0
    assert "lot L-77" in capsys.readouterr().out
    assert main(["trace", str(welded), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["joins"]) == 20
    assert main(["review", str(welded), "--aql", "6.5"]) == 0
    assert "wrong: weld" in capsys.readouterr().out
    assert main(["review", str(welded), "--aql", "3"]) == 2
    assert "one of 0.65, 1, 1.5" in capsys.readouterr().err


def test_a_design_s_rings_are_traced_by_their_own_metal(tmp_path: Path, folder: Path) -> None:
    """Every other ring of one section is of silver: lots, traces and record go by the ring."""
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    metals = ["copper" if ring % 2 else "fine-silver" for ring in range(1, 21)]
    plan["pieces"][0]["sections"][0]["metals"] = [{"metal": "copper"}, {"metal": "fine-silver"}]
    (folder / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    rows = [f"Chain,{ring},{metal}" for ring, metal in enumerate(metals, 1)]
    (folder / "rings.csv").write_text("\n".join(["piece,ring,metal", *rows]), encoding="utf-8")
    log = tmp_path / "lots.csv"
    log.write_text(
        "result,at,piece,ring,metal,wire_mm,lot\n"
        "wire lot,2027-01-11 09:00,,,copper,1.0,C-1\n"
        "wire lot,2027-01-11 09:00,,,fine-silver,1.0,S-9\n"
        "done,2027-01-11 10:00,Chain,1-20,,,\n",
        encoding="utf-8",
    )
    assert not record_logs([log], folder).faults
    found = {item.ring: (item.metal, item.lot) for item in trace(folder)}
    lots = {"copper": "C-1", "fine-silver": "S-9"}
    assert found == {ring: (metal, lots[metal]) for ring, metal in enumerate(metals, 1)}
    assert [sample.joins for sample in review(folder).samples] == [10, 10]
