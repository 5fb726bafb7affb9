"""Charts of a piece that was drawn before are taken from the shelf, byte for byte."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from chainplan.report.charts import heat, write_charts
from chainplan.store import ResultShelf

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Pieces whose heat has been drawn, in their turn."""
    seen: list[str] = []
    real = heat.heat_chart

    def watched(piece):  # type: ignore[no-untyped-def]
        seen.append(piece.piece.name)
        return real(piece)

    monkeypatch.setattr(heat, "heat_chart", watched)
    return seen


def contents(plan: Plan, folder: Path, shelf: ResultShelf | None) -> dict[str, bytes]:
    folder.mkdir()
    return {path.name: path.read_bytes() for path in write_charts(plan, folder, shelf)}


def test_a_chart_is_drawn_once_and_again_when_the_piece_changes(
    necklace_plan: Plan, tmp_path: Path, drawn: list[str]
) -> None:
    """Prices change no chart of a piece; a time in its order does. A damaged shelf is only slow."""
    (piece,) = necklace_plan.pieces
    name = piece.piece.name
    shelf = ResultShelf(folder=tmp_path / "shelf")
    fresh = contents(necklace_plan, tmp_path / "fresh", None)
    assert drawn == [name]
    assert contents(necklace_plan, tmp_path / "first", shelf) == fresh
    assert drawn == [name] * 2
    dearer = replace(necklace_plan, estimates=replace(necklace_plan.estimates, drivers=()))
    again = contents(dearer, tmp_path / "again", shelf)
    assert drawn == [name] * 2
    assert again == {file: fresh[file] for file in again}
    assert any(file.startswith("heat-") for file in again)

    order = replace(piece.order, interpass_high_c=piece.order.interpass_high_c + 1.0)
    warmer = replace(necklace_plan, pieces=(replace(piece, order=order),))
    other = contents(warmer, tmp_path / "warmer", shelf)
    assert drawn == [name] * 3
    assert any(other[file] != fresh[file] for file in other if file.startswith("heat-"))

    for path in shelf.folder.rglob("*.kept"):
        path.write_bytes(path.read_bytes()[:-7])
    assert contents(necklace_plan, tmp_path / "damaged", shelf) == fresh
    assert drawn == [name] * 4
