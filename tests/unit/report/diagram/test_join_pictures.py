"""Pictures of where the joins go: what is drawn, not how it looks to the pixel."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from chainplan.join import place_joins
from chainplan.model.bench.groups import ElectrodeSettings
from chainplan.model.job import Piece, Section
from chainplan.report.diagram.approach_picture import (
    describe_join,
    describe_lean,
    electrode_outline,
    layout_tip,
    rings_of_a_repeat,
    side_view,
)
from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
from chainplan.report.diagram.drawn.strips import NUMBER_PT
from chainplan.report.diagram.frame.pages import Pages
from chainplan.report.diagram.join_pictures import (
    add_approaches,
    add_face,
    write_join_pictures,
)
from chainplan.report.paper.sheet import Path, Text
from chainplan.weave import lay_piece

SETTINGS = ElectrodeSettings()


def lay(weave, inner_mm, rings, **more):
    section = Section(
        weave=weave, metal="sterling-silver", wire_mm=1.0, inner_mm=inner_mm, rings=rings, **more
    )
    return lay_piece(Piece(name="trial", quantity=1, sections=(section,)))


def plan_of(layout, *, way="all in place"):
    joins = place_joins(layout, spot_mm=[0.8], electrode=SETTINGS, way=way)
    order = SimpleNamespace(ring=joins.in_place[::-1].copy(), passes=())
    return SimpleNamespace(
        piece=SimpleNamespace(name="trial", parts=()),
        layout=layout,
        joins=joins,
        order=order,
        heat=SimpleNamespace(parts=()),
    )


@pytest.fixture(scope="module", name="chain")
def fixture_chain():
    """A single-link chain of 20 rings, every second one closed beforehand."""
    return plan_of(lay("single-link", 4.0, 20), way="as many as possible beforehand")


def texts(sheets):
    return [mark.text for sheet in sheets for mark in sheet.marks if isinstance(mark, Text)]


def numbers_of(sheets):
    """Numbers of joins; those of rows and columns are smaller."""
    return [
        mark.text
        for sheet in sheets
        for mark in sheet.marks
        if isinstance(mark, Text) and mark.size_pt == NUMBER_PT
    ]


def test_every_join_of_a_face_is_marked_once_with_its_place_in_the_weld_order(chain):
    """Rings closed beforehand have no place in the order and no number."""
    pages = Pages("A4", "trial", "stamp")
    add_face(pages, DrawnPiece(number=0, plan=chain), "front")
    numbers = [text for text in numbers_of(pages.finish()) if text.isdigit()]
    assert sorted(map(int, numbers)) == list(range(1, 11))


def test_face_without_joins_gets_no_page(chain):
    """Nobody prints an empty back."""
    pages = Pages("A4", "trial", "stamp")
    add_face(pages, DrawnPiece(number=0, plan=chain), "back")
    assert pages.sheets == []


def test_wide_strip_has_its_numbers_beside_the_joins_and_none_is_lost():
    """Seven rows: numbers above and below could not be told apart."""
    plan = plan_of(lay("european-4-in-1", 4.5, 63, rows=7))
    pages = Pages("A4", "trial", "stamp")
    add_face(pages, DrawnPiece(number=0, plan=plan), "front")
    numbers = [text for text in numbers_of(pages.finish()) if text.isdigit()]
    assert sorted(map(int, numbers)) == list(range(1, plan.layout.rings + 1))


def test_close_up_shows_every_ring_of_the_repeat_with_its_electrode():
    """Six rings a repeat: six cards, on each the outline of the electrode in two strokes."""
    layout = lay("byzantine", 3.6, 60)
    plan = plan_of(layout)
    assert sorted(layout.place[rings_of_a_repeat(layout, 0)].tolist()) == [0, 1, 2, 3, 4, 5]
    pages = Pages("A4", "trial", "stamp")
    add_approaches(pages, "trial", layout, plan.joins, SETTINGS)
    sheets = pages.finish()
    titles = [
        text
        for text in texts(sheets)
        if text.endswith(" of the repeat") and text.startswith("ring ")
    ]
    assert len(titles) == 6
    assert sum(len(sheet.pictures) for sheet in sheets) == 12
    outlines = [
        mark
        for sheet in sheets
        for mark in sheet.marks
        if isinstance(mark, Path)
        and mark.stroke
        and not mark.closed
        and mark.first.sum() == 1
        and len(mark.points_mm) >= 7
    ]
    assert len(outlines) >= 6


def test_electrode_outline_has_the_bench_settings_shape():
    """Tip at the origin, shank and holder as wide as set, the cone as long as its angle says."""
    outline = electrode_outline(SETTINGS, "sharp", 10.0)
    assert [0.0, 0.0] in outline.tolist()
    assert outline[:, 0].max() == SETTINGS.holder_mm / 2
    cone = SETTINGS.shank_mm / 2 / math.tan(math.radians(SETTINGS.tip_half_angle_deg))
    assert np.isclose(outline, [SETTINGS.shank_mm / 2, cone]).all(axis=1).any()
    short = electrode_outline(SETTINGS, "blunt", 3.0)
    assert short[:, 0].max() == pytest.approx(SETTINGS.shank_mm / 2)


@pytest.mark.parametrize(
    "approach", [(0, 0, 1), (0, 1, 0), (0, -1, 0), (1, 0, 0), (0.3, 0.5, -0.8)]
)
def test_side_view_shows_the_approach_coming_straight_down(approach):
    """In the close-up the electrode always points down."""
    axis = np.array(approach, dtype=float) / np.linalg.norm(approach)
    seen = side_view(axis).project(axis[None])[0]
    assert seen == pytest.approx([0, 1, 0], abs=1e-12)


def test_tip_lies_on_the_wires_surface(chain):
    """Half a wire from the centre line, at right angles to the wire."""
    layout, joins = chain.layout, chain.joins
    tip = layout_tip(layout, joins, 3)
    assert np.linalg.norm(tip - joins.point_mm[3]) == pytest.approx(0.5)


def test_lean_is_said_in_the_words_of_the_piece():
    """Towards which side the holder leans."""
    assert describe_lean(np.array([0.0, 0.0, -1.0])) == "upright"
    assert describe_lean(np.array([0.0, 0.5, math.sqrt(0.75)])) == "leaning 30° to the upper edge"
    both = describe_lean(np.array([-0.5, -0.5, math.sqrt(0.5)]))
    assert both == "leaning 45° to the lower edge and the start"


def test_words_of_a_join_give_its_face_its_place_and_what_it_keeps_free(chain):
    """The same numbers as in the lists."""
    first, second = describe_join(chain.layout, chain.joins, 1)
    assert first.startswith("front, ")
    assert f"air {chain.joins.clearance_mm[1]:.2f} mm" in second


def test_file_is_written_and_the_same_plan_gives_the_same_bytes(chain, tmp_path):
    """No date, no chance."""
    plan = SimpleNamespace(
        pieces=(chain,),
        stamp=SimpleNamespace(of_work="stamp"),
        job=SimpleNamespace(name="job", bench=SimpleNamespace(electrode=SETTINGS)),
    )
    contents = []
    for name in ("one", "two"):
        folder = tmp_path / name
        folder.mkdir()
        (path,) = write_join_pictures(plan, folder)
        contents.append(path.read_bytes())
    assert contents[0] == contents[1]
    assert contents[0].startswith(b"%PDF")
