"""Sides of cells: rings closed beforehand do not count, second pulses come after the first."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from chainplan.join.sides import ChosenSides, choose_sides

if TYPE_CHECKING:
    from chainplan.join.cells import Cells

NO = -np.inf


def sides(
    score: list[list[float]],
    cell: list[int],
    *,
    closed: list[int] = (),  # type: ignore[assignment]
    heavy: list[int] = (),  # type: ignore[assignment]
    other: dict[tuple[int, int], list[float]] | None = None,
) -> ChosenSides:
    """Choose for cells with some scores; ``other`` are those of second pulses by cell and side."""
    table = np.array(score)
    second = np.full((len(score), 4, 4), NO)
    for (row, side), values in (other or {}).items():
        second[row, side] = values
    cells = SimpleNamespace(rings=np.ones(len(score)), score=table, other_score=second)
    rings = np.arange(len(cell))
    return choose_sides(
        cast("Cells", cells), np.array(cell), np.isin(rings, closed), np.isin(rings, heavy)
    )


def test_every_cell_counts_the_first_one_too() -> None:
    """The back is needed for one cell alone, wherever it stands in the list."""
    front, back = [1.0, NO, NO, NO], [NO, 1.0, NO, NO]
    for score in ([front, back], [back, front]):
        chosen = sides(score, [0, 1])
        assert chosen.turns == 1
        assert sorted(chosen.first.tolist()) == [0, 1]


def test_a_ring_closed_beforehand_asks_for_no_turn() -> None:
    """Nor does a loose join, which has no cell."""
    score = [[1.0, 1.0, NO, NO], [NO, 1.5, NO, NO], [1.0, NO, NO, NO]]
    chosen = sides(score, [0, 2, 1, -1], closed=[2])
    assert chosen.turns == 0
    assert chosen.first.tolist() == [0, 1, 0]
    assert sides(score, [0, 2, 1, -1]).turns == 1


def test_a_cell_without_rings_at_the_end_of_the_list_does_not_count() -> None:
    """All its rings may have been closed beforehand."""
    chosen = sides([[1.0, NO, NO, NO], [NO, 1.0, NO, NO]], [0])
    assert chosen.turns == 0


def test_the_commoner_cell_weighs_more() -> None:
    """Of equally few faces the one that is better for most rings is taken."""
    score = [[2.0, 1.0, NO, NO], [1.0, 3.0, NO, NO]]
    assert sides(score, [0, 0, 0, 0, 0, 1]).first.tolist() == [0, 0]
    assert sides(score, [0, 1]).first.tolist() == [1, 1]


@pytest.mark.parametrize("heavy", [[], [0]])
def test_second_pulses_are_chosen_where_the_wire_is_heavy(heavy: list[int]) -> None:
    """From the other side of the side that the first come from, and counted as a turn then."""
    chosen = sides([[1.0, NO, NO, NO]], [0], heavy=heavy, other={(0, 0): [NO, 1.0, NO, NO]})
    assert chosen.first.tolist() == [0]
    assert chosen.second.tolist() == [1]
    assert chosen.turns == len(heavy)


def test_a_heavy_ring_closed_beforehand_asks_for_no_second_side() -> None:
    """It is welded before the piece is woven."""
    other = {(0, 0): [NO, 1.0, NO, NO]}
    score = [[1.0, NO, NO, NO], [1.0, NO, NO, NO]]
    assert sides(score, [0, 1], closed=[0], heavy=[0], other=other).turns == 0
    assert sides(score, [0, 1], heavy=[1], other=other).turns == 0


def test_a_cell_that_nothing_reaches_gets_no_second_side_either() -> None:
    """Whatever was found for a second approach to it."""
    score = [[NO, NO, NO, NO], [1.0, NO, NO, NO]]
    chosen = sides(score, [0, 1], heavy=[0], other={(0, 0): [1.0, 1.0, NO, NO]})
    assert chosen.first.tolist() == [-1, 0]
    assert chosen.second.tolist() == [-1, -1]
    assert chosen.turns == 0


def test_a_side_that_is_worked_on_anyway_is_taken_for_second_pulses() -> None:
    """It costs no turn, so a somewhat better one is not worth it."""
    score = [[1.0, NO, NO, NO], [NO, 1.0, NO, NO]]
    chosen = sides(score, [0, 1], heavy=[0], other={(0, 0): [NO, 1.0, 1.5, NO]})
    assert chosen.second.tolist()[0] == 1
    assert chosen.turns == 1
