"""Charts of a piece that was drawn before are taken from the shelf, byte for byte."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from chainplan.model.plan import PiecePlan
from chainplan.report import charts
from chainplan.report.charts import heat, write_charts
from chainplan.report.charts.kept import Chart, ChartShelf
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
    estimates = necklace_plan.estimates
    shelf = ResultShelf(folder=tmp_path / "shelf")
    fresh = contents(necklace_plan, tmp_path / "fresh", None)
    assert drawn == [name]
    assert contents(necklace_plan, tmp_path / "first", shelf) == fresh
    assert drawn == [name] * 2
    costs = tuple(replace(line, amount=line.amount * 2) for line in estimates.costs)
    dearer = replace(necklace_plan, estimates=replace(estimates, costs=costs))
    again = contents(dearer, tmp_path / "again", shelf)
    assert drawn == [name] * 2
    assert {file for file in again if again[file] != fresh[file]} == {"cost.svg"}
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


def parts(value: object) -> list[tuple[str, object]]:
    """A frozen result with each of its fields changed in turn, by the field's name."""
    found = []
    for item in fields(value):  # type: ignore[arg-type]
        content = getattr(value, item.name)
        if item.name.startswith("_"):
            continue
        other = content + 1.0 if isinstance(content, np.ndarray) else ("changed", repr(content))
        copy = object.__new__(type(value))
        for own in fields(value):  # type: ignore[arg-type]
            kept = getattr(value, own.name)
            object.__setattr__(copy, own.name, other if own.name == item.name else kept)
        found.append((item.name, copy))
    return found


def test_whatever_a_chart_is_drawn_from_is_in_its_key(
    necklace_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each field of piece, order and estimates that a chart gets gives it another key."""
    keys: list[str] = []
    shelf = ResultShelf(folder=tmp_path / "shelf")
    monkeypatch.setattr(ResultShelf, "put", lambda self, key, value: keys.append(key))

    def key(chart: Chart) -> str:
        silent = replace(chart, draw=lambda *shown: None)
        path = tmp_path / f"{chart.name}.svg"
        path.touch()
        ChartShelf(shelf).keep(silent, [path])
        return keys[-1]

    seen = 0
    for chart in charts.charts_of(necklace_plan):
        for place, shown in enumerate(chart.shows):
            others = parts(shown) if is_dataclass(shown) else [("all", (shown, "more"))]
            if isinstance(shown, PiecePlan):
                orders = [replace(shown, order=item) for _, item in parts(shown.order)]
                others += [("order", item) for item in orders]
            for name, other in others:
                changed = (*chart.shows[:place], other, *chart.shows[place + 1 :])
                assert key(replace(chart, shows=changed)) != key(chart), (chart.name, name)
                seen += 1
    assert seen > 100
