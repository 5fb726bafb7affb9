"""Jobs of many pieces: what nobody would look through is left out, what is alike is drawn once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pypdfium2
import pytest

import chainplan
from chainplan.examine import examine_folder
from chainplan.workers import Workers

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan

PIECE = """[[piece]]
name = "Chain of {length}"
weave = "single-link"
wire_mm = 1.2
inner_mm = 8.0
metal = "{metal}"
length = "{length} cm"
"""


@pytest.fixture(scope="module")
def alike(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Three lengths of one chain, and one of another metal; all longer than a page is wide."""
    path = tmp_path_factory.mktemp("catalogue") / "alike.toml"
    kinds = [(20, "copper"), (22, "copper"), (24, "copper"), (25, "sterling-silver")]
    text = "".join(PIECE.format(length=length, metal=metal) for length, metal in kinds)
    path.write_text(text, encoding="utf-8")
    return chainplan.make_plan(chainplan.read_job(path))


@pytest.fixture
def four_are_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a job of four pieces be written as one of hundreds is."""
    for bound in ("report.charts.MOST_BY_PIECE", "report.quote.page.MOST_WHOLE",
                  "examine.papers.charts._MOST_BY_PIECE"):  # fmt: skip
        monkeypatch.setattr(f"chainplan.{bound}", 3)


def rings_drawn(path: Path) -> list[int]:
    """Count the drawings that a PDF holds, and its pages."""
    text = path.read_bytes()
    return [text.count(b"/Subtype /Form"), len(pypdfium2.PdfDocument(path))]


@pytest.mark.usefixtures("four_are_many")
def test_pieces_alike_are_drawn_once_and_charts_of_each_left_out(
    alike: Plan, tmp_path: Path
) -> None:
    """The examiner holds both to the plan; what is left out is told."""
    notes: list[str] = []
    folder = chainplan.write_plan(alike, tmp_path / "many", on_note=notes.append)
    assert rings_drawn(folder / "quote.pdf") == [2, 4]  # one of copper, one of silver
    assert {path.stem for path in (folder / "charts").iterdir()} == {"cost", "calendar"}
    assert any("charts of each piece are left out" in note for note in notes)
    whole = chainplan.write_plan(alike, tmp_path / "all", all_charts=True)
    drawn = {path.stem.split("-")[0] for path in (whole / "charts").iterdir()}
    assert {"heat", "what", "cost"} <= drawn


def test_few_pieces_are_each_shown_whole(alike: Plan, tmp_path: Path) -> None:
    folder = chainplan.write_plan(alike, tmp_path / "few")
    assert rings_drawn(folder / "quote.pdf") == [8, 4]
    assert len(list((folder / "charts").glob("what-if-*.svg"))) == 4


def test_the_examiner_finds_the_same_some_pieces_at_a_time(
    alike: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever looks at them; in files that are sound, and in broken ones."""
    folder = chainplan.write_plan(alike, tmp_path / "plan")

    rings = folder / "rings.csv"
    sound = rings.read_text(encoding="utf-8")
    row = next(line for line in sound.splitlines() if line.startswith("Chain of 24,5,"))
    cells = row.split(",")
    cells[11] = f"{float(cells[11]) + 3:g}"  # z of one ring's centre
    for text in (sound, sound.replace(row, ",".join(cells))):
        rings.write_text(text, encoding="utf-8")
        monkeypatch.setattr("chainplan.examine.parts.SHARES", 1)
        monkeypatch.setattr("chainplan.examine.parts.AT_ONCE", 12)
        together = examine_folder(folder)
        monkeypatch.setattr("chainplan.examine.parts.AT_ONCE", 1)
        assert examine_folder(folder) == together
        assert together.ok == (text == sound)
    assert examine_folder(folder, workers=Workers(count=2)) == together
