"""Tiled repeats: numbering, edges, links by formula against links found in space."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.model.piece.weave import Repeat, RingClass, Weave
from chainplan.weave.laying.tiling import RowPlan, Tiler, find_row_plan
from chainplan.weave.shape.circles import CentreLines, linking_number
from chainplan.weave.solving.solver import solve_repeat


def all_links(tiling, radius):
    """Every linked pair of a tiling, by the linking number of each pair of its circles."""
    count = tiling.rings
    i, j = np.triu_indices(count, 1)
    every = CentreLines(tiling.centre, tiling.normal, radius)
    number = linking_number(every.pick(i), every.pick(j))
    linked = number != 0
    return np.stack([i[linked], j[linked]], axis=1)


@pytest.fixture(scope="module")
def sheet_weave():
    """European 4-in-1 from a hand-made seed."""
    lean = np.radians(35)
    rings = [
        [0, 0, 0, 0, -np.sin(lean), np.cos(lean)],
        [4.95, 4.5, 0, 0, np.sin(lean), np.cos(lean)],
    ]
    return Weave(
        key="invented-sheet",
        title="Invented sheet",
        trade_names=(),
        family="test",
        form="sheet",
        classes=(RingClass(name="ring"),),
        ring_class=(0, 0),
        links=np.array([[0, 1, 0, 0], [0, 1, -1, 0], [0, 1, 0, -1], [0, 1, -1, -1]]),
        data={
            "seed": {
                "aspect_ratio": 8.0,
                "rings": rings,
                "vectors": [[9.9, 0, 0], [0, 9.0, 0]],
            }
        },
    )


@pytest.fixture(scope="module")
def sheet_repeat(sheet_weave):
    """That sheet, solved."""
    return solve_repeat(sheet_weave, 4.5)


@pytest.mark.parametrize("rows", [1, 2, 5, 6])
def test_tiled_links_are_the_links_found_in_space(sheet_weave, sheet_repeat, rows):
    """Declared links with offsets, tiled, against the linking number of every pair of rings."""
    tiling = Tiler(sheet_repeat, find_row_plan(sheet_weave), rows).tile(6)
    radius = sheet_repeat.mean_radius[tiling.place]
    assert tiling.rings == rows * 6
    assert np.array_equal(tiling.links, all_links(tiling, radius))


def test_rings_are_numbered_row_by_row_and_along_each_row(sheet_weave, sheet_repeat):
    """Number = row × rings of a row + column, and columns run along +x, rows along +y."""
    tiling = Tiler(sheet_repeat, find_row_plan(sheet_weave), 5).tile(7)
    assert tiling.row.tolist() == sorted(tiling.row.tolist())
    assert np.array_equal(tiling.row * 7 + tiling.column, np.arange(35))
    by_row = tiling.centre.reshape(5, 7, 3)
    assert (np.diff(by_row[:, :, 0], axis=1) > 0).all()
    assert (np.diff(by_row[:, 0, 1]) > 0).all()


def test_measured_extent_is_the_extent_of_the_tiled_rings(sheet_weave, sheet_repeat):
    """Formula for length and width against the outermost points of all rings."""
    tiler = Tiler(sheet_repeat, find_row_plan(sheet_weave), 5)
    extent, tiling = tiler.measure(), tiler.tile(9)
    half = sheet_repeat.mean_radius[tiling.place, None] * np.sqrt(1 - tiling.normal**2) + 0.5
    span = (tiling.centre + half).max(axis=0) - (tiling.centre - half).min(axis=0)
    assert extent.length(9, closed=False) == pytest.approx(span[0], abs=1e-9)
    assert extent.width == pytest.approx(span[1], abs=1e-9)
    assert extent.thickness == pytest.approx(span[2], abs=1e-9)


def leaning_repeat():
    """A made-up sheet whose second vector leans by 0.7 of the first; rings need not link."""
    return Repeat(
        weave="leaning", aspect_ratio=3.0, state="taut",
        centre=np.zeros((1, 3)), normal=np.array([[0.0, 0.0, 1.0]]),
        mean_radius=np.array([2.0]), wire=np.ones(1), ring_class=np.zeros(1, dtype=np.int32),
        vectors=np.array([[3.0, 0.0, 0.0], [2.1, 3.0, 0.0]]), turn_rad=0.0,
        links=np.array([[0, 0, 1, 0], [0, 0, 0, 1]], dtype=np.int32),
        contacts=np.zeros((0, 4), dtype=np.int32), residual_gap=0.0, width=5.0, thickness=1.0,
    )  # fmt: skip


def test_a_leaning_sheet_is_cut_at_right_angles_and_keeps_its_links():
    """Rows slide back by whole repeats, so no row starts more than half a repeat off."""
    tiling = Tiler(leaning_repeat(), RowPlan((0,), (0,), (1,)), 10).tile(8)
    starts = tiling.centre[tiling.column == 0, 0]
    assert np.abs(starts).max() <= 1.5 + 1e-9
    step = tiling.centre[tiling.links[:, 1]] - tiling.centre[tiling.links[:, 0]]
    known = np.array([[3.0, 0.0, 0.0], [2.1, 3.0, 0.0]])
    off = np.abs(step[:, None] - known[None]).max(axis=2).min(axis=1)
    assert off.max() < 1e-9
    assert len(tiling.links) > 2 * 80 - 10 - 8 - 20


def test_closing_a_loop_gives_every_ring_its_full_degree(sheet_weave, sheet_repeat):
    """One row of repeats wrapped: 2 rows, each ring linked to both sides, none left over."""
    tiler = Tiler(sheet_repeat, find_row_plan(sheet_weave), 2)
    opened, closed = tiler.tile(8), tiler.tile(8, closed=True)
    assert len(closed.links) == len(opened.links) + 1
    assert set(np.bincount(closed.links.ravel()).tolist()) == {2}


def test_memory_stays_at_a_few_hundred_bytes_a_ring(sheet_weave, sheet_repeat):
    """Everything that a tiling keeps of a 40 000-ring sheet, counted."""
    tiling = Tiler(sheet_repeat, find_row_plan(sheet_weave), 200).tile(200)
    kept = sum(getattr(tiling, name).nbytes for name in tiling.__slots__)
    assert tiling.rings == 40_000
    assert kept / tiling.rings < 300
