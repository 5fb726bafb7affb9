"""Weld-order diagrams: every join once, numbers legible and apart, same bytes, safe text."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import numpy as np
import pytest

from chainplan.model.bench.groups import HeatSettings
from chainplan.model.order import LimitCheck, LimitKind
from chainplan.report.diagram.drawn.marks import WAIT_MM, Joins2D, draw_numbers, number_look
from chainplan.report.diagram.drawn.strips import (
    BOX_HEIGHT_MM,
    NUMBER_PT,
    number_width_mm,
)
from chainplan.report.diagram.join_pictures import write_join_pictures
from chainplan.report.diagram.weld_order import draw_diagrams, write_diagrams
from chainplan.report.paper.lettering import MM_A_POINT, text_width_mm
from chainplan.report.paper.sheet import INK, WHITE, Sheet, Text
from chainplan.report.paper.sheet import Path as DrawnPath
from chainplan.report.text.instructions import instructions

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan


def numbers_on(sheet: Sheet) -> list[Text]:
    """The join numbers on a page: bold figures in the size of numbers."""
    return [
        mark
        for mark in sheet.marks
        if isinstance(mark, Text) and mark.size_pt == NUMBER_PT and mark.text.isdigit()
    ]


def words_on(sheet: Sheet) -> list[str]:
    """All texts of a page."""
    return [mark.text for mark in sheet.marks if isinstance(mark, Text)]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["invented_bracelet", "invented_necklace", "invented_sheet"])
def test_every_join_is_numbered_exactly_once(
    name: str, paper: str, request: pytest.FixtureRequest
) -> None:
    """Strips and tiles overlap, but a join has its number in one of them only."""
    plan: Plan = request.getfixturevalue(name)
    found = [
        int(mark.text) for page in draw_diagrams(plan, paper=paper) for mark in numbers_on(page)
    ]
    assert sorted(found) == list(range(1, len(plan.pieces[0].order.ring) + 1))


@pytest.mark.parametrize("name", ["invented_bracelet", "invented_necklace", "invented_sheet"])
def test_numbers_do_not_cover_each_other(name: str, request: pytest.FixtureRequest) -> None:
    """700 rings must be as clear as 12: no two number boxes of a page overlap."""
    plan: Plan = request.getfixturevalue(name)
    wide = number_width_mm(len(plan.pieces[0].order.ring))
    for page in draw_diagrams(plan):
        places = np.array([(mark.x_mm, mark.y_mm) for mark in numbers_on(page)]).reshape(-1, 2)
        apart = np.abs(places[:, None] - places[None])
        over = (apart[..., 0] < wide - 0.01) & (apart[..., 1] < BOX_HEIGHT_MM - 0.01)
        np.fill_diagonal(over, val=False)
        assert not over.any()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["invented_bracelet", "invented_necklace", "invented_sheet"])
def test_everything_lies_on_the_paper_and_is_large_enough(
    name: str, paper: str, request: pytest.FixtureRequest
) -> None:
    """Nothing runs off the page; all but the foot and the sources is 9 pt or more."""
    for page in draw_diagrams(request.getfixturevalue(name), paper=paper):
        for mark in page.marks:
            if isinstance(mark, DrawnPath):
                low, high = mark.points_mm.min(axis=0), mark.points_mm.max(axis=0)
            else:
                width = text_width_mm(mark.text, mark.size_pt, bold=mark.bold)
                left = mark.x_mm - {"start": 0, "middle": width / 2, "end": width}[mark.anchor]
                low = np.array([left, mark.y_mm - mark.size_pt * MM_A_POINT])
                high = np.array([left + width, mark.y_mm])
                assert mark.size_pt >= 9 or mark.text.startswith(("(", "Estimates:", "chainplan"))
            assert np.all(low >= 3.0), mark
            assert high[0] <= page.width_mm - 3.0, mark
            assert high[1] <= page.height_mm - 3.0, mark


def test_dots_lie_on_the_joins(invented_bracelet: Plan) -> None:
    """The number's line ends at the join: dots of the first pass match the plan's own points."""
    plan = invented_bracelet.pieces[0]
    page = draw_diagrams(invented_bracelet)[1]
    picture = page.pictures[1]  # the first is the overview
    rings = plan.order.ring[: plan.order.passes[0].joins]
    surface = plan.joins.point_mm[rings] + plan.joins.approach[rings] * 0.5
    wanted = picture.on_sheet(surface[:, :2])
    drawn = np.concatenate([mark.points_mm for mark in page.marks if isinstance(mark, DrawnPath)])
    for point in wanted:
        assert np.hypot(*(drawn - point).T).min() < 1.7


def test_back_is_drawn_turned_about_the_length(invented_bracelet: Plan) -> None:
    """On the back the start stays left, and what was the upper edge is below."""
    pages = draw_diagrams(invented_bracelet)
    drawings = {each.drawing.key for page in pages for each in page.pictures}
    assert any("back" in key for key in drawings)
    text = " ".join(m.text for page in pages for m in page.marks if isinstance(m, Text))
    assert "Turn the piece to its back, about its length" in text


def test_cover_has_the_cautions_and_each_pass_has_one_line(invented_necklace: Plan) -> None:
    """What must be read first comes first; the passes are listed with their own words."""
    pages = draw_diagrams(invented_necklace)
    texts = [[m.text for m in page.marks if isinstance(m, Text)] for page in pages]
    cover = " ".join(texts[0])
    for word in (
        "Arc light",
        "Hot metal",
        "Fume",
        "Argon",
        "Cylinder",
        "try every setting on scrap",
    ):
        assert word in cover
    listed = [text for page in texts[1:3] for text in page]
    for work in invented_necklace.pieces[0].order.passes:
        assert work.text.removeprefix(f"{work.face}, ") in listed


def test_parts_and_hold_points_are_marked(invented_necklace: Plan, build: Any) -> None:
    """The clasp's limit stands where the clasp is; where to hold, on pages where a pass begins.

    Only as the words have it: where tweezers hold an end, no bar says fingers for a first join
    near it.
    """
    plan = build.plan(build.held(invented_necklace.pieces[0]))
    bench = plan.job.bench
    marked = {}
    for ends in (True, False):
        heat = replace(bench.heat, end_tweezers=ends)
        job = replace(plan.job, bench=replace(bench, heat=heat))
        pages = draw_diagrams(replace(plan, job=job))
        texts = [words_on(page) for page in pages]
        assert any("spring clasp: below 120 °C" in page for page in texts)
        begun = [
            any(text.startswith("pass ") and " of " in text for text in page) for page in texts
        ]
        marked[ends] = sum("hold here at the start" in page for page in texts)
        if not ends:
            assert ["hold here at the start" in page for page in texts] == begun
    order, place = plan.pieces[0].order, plan.pieces[0].layout.centre_mm[:, 0]
    first = [place[order.ring[item.first_step]] for item in order.passes]
    held = [min(x - place.min(), place.max() - x) > 19.5 for x in first]  # 15 mm off, 5 mm long
    assert 0 < marked[True] == sum(held) < marked[False] == len(first)


def test_loose_joins_have_no_place_to_hold_them(build: Any) -> None:
    """A pendant ring hangs in nothing: holding it 15 to 35 mm away would be nonsense."""
    layout = build.chain(12)
    loose = replace(layout, sections=(replace(layout.sections[0], form="loose"),))
    for shown, held in ((layout, True), (loose, False)):
        pages = draw_diagrams(build.plan(build.piece("rings", shown, stride=6, faces=1)))
        words = " ".join(text for page in pages[1:] for text in words_on(page)).lower()
        assert ("hold" in words) is held


def test_first_page_of_a_piece_says_what_to_do(build: Any) -> None:
    """The user's note, waits, how to hold it, and each limit once in words and whole degrees."""
    piece = build.piece("chain", build.chain(12), stride=2, wait_s=4.0, notes="Pliers at the ends")
    limits = tuple(
        LimitCheck(kind=LimitKind.PART if name not in tuple(LimitKind) else LimitKind(name),
                   name=name, where="", limit_c=limit, low_c=30.0, usual_c=35.0, high_c=high,
                   holds=high <= limit)
        for name, limit, high in (
            ("interpass", 60.0, 44.4), ("fingers", 48.0, 47.6), ("pearl", 60.0, 41.0),
            ("pearl", 60.0, 55.2), ("glue", 50.0, 52.0),
        )
    )  # fmt: skip
    gained = ("First of all.", "This much more than the bound.")
    order = replace(piece.order, limits=limits, gained=gained)
    page = draw_diagrams(build.plan(replace(piece, order=order)))[1]
    said = " ".join(words_on(page))
    assert "Note: Pliers at the ends" in said
    assert "3 waits, 12 s in all" in said
    assert (
        "Hold it with your fingers, 15 to 35 mm away from the join, on its cooler side; near an "
        "end hold that end with cross-lock tweezers." in said
    )
    assert "Each ring before its weld: usually 35 °C, warmest 44 °C, limit 60 °C" in said
    assert "fingers: usually 35 °C, warmest 48 °C, limit 48 °C" in said
    assert "glue: TOO WARM, usually 35 °C, warmest 52 °C, limit 50 °C" in said
    assert "pearl: usually 35 °C, warmest 55 °C, limit 60 °C" in said
    assert said.count("pearl") == 1
    assert "First of all." in said
    assert "bound" not in said


def test_tweezers_are_named_where_they_hold_the_piece(invented_bracelet: Plan) -> None:
    """Without waits and without fingers: the words follow the bench's settings."""
    bench = invented_bracelet.job.bench
    heat = replace(bench.heat, held_bare=False)
    piece = invented_bracelet.pieces[0]
    order = replace(piece.order, wait_s=np.zeros(12))
    said = instructions(replace(piece, order=order), heat)
    assert said == [
        "No waits: weld on without a pause. Hold it with cross-lock tweezers or a clamp, 15 to "
        "35 mm away from the join, on its cooler side."
    ]


def test_small_passes_share_a_picture_and_keep_their_order(build: Any) -> None:
    """Twelve passes of five joins need no twelve pictures; first and last stay marked."""
    plan = build.plan(build.piece("chain", build.chain(60), stride=12, faces=1))
    pages = draw_diagrams(plan)
    words = [text for page in pages for text in words_on(page)]
    shared = [text for text in words if text.startswith("passes ")]
    assert shared[0].startswith("passes 1–3 of 12 · joins 1–15 · 10 J")
    assert len(shared) == 4
    for work in plan.pieces[0].order.passes:
        first, last = work.first_step + 1, work.first_step + work.joins
        said = f"pass {work.number}: every 12th ring from ring {work.number}, 5 joins"
        ends = f"joins {first}–{last}, ring {work.number} to {work.number + 48}"
        assert f"{said} · {ends}" in words
    white = [int(m.text) for page in pages for m in numbers_on(page) if m.colour == WHITE]
    assert sorted(white) == [work.first_step + 1 for work in plan.pieces[0].order.passes]
    assert len(pages) <= 4


def test_passes_with_something_to_do_in_between_are_drawn_apart(
    invented_bracelet: Plan, build: Any
) -> None:
    """Turning the piece or the dial stands above a picture of its own."""
    piece = invented_bracelet.pieces[0]
    other = replace(build.setting, power_j=12.0)
    passes = [
        replace(p, setting=other if p.number == 2 else build.setting) for p in piece.order.passes
    ]
    order = replace(piece.order, passes=tuple(passes))
    plan = replace(invented_bracelet, pieces=(replace(piece, order=order),))
    words = [text for page in draw_diagrams(plan) for text in words_on(page)]
    titles = [text.split(":")[0] for text in words if text.startswith("pass ") and " of " in text]
    assert titles == ["pass 1 of 4", "pass 2 of 4"]
    assert any(text.startswith("passes 3–4 of 4") for text in words)
    assert sum(text.startswith("Set the welder") for text in words) == 3


def test_a_single_join_is_not_a_range(build: Any) -> None:
    """ "joins 166–166" and "join 13 on ring 241 to join 13 on ring 241" are no words."""
    plan = build.plan(build.piece("chain", build.chain(49), stride=48, faces=1))
    words = " ".join(text for page in draw_diagrams(plan) for text in words_on(page))
    assert "join 49" in words
    assert not re.search(r"joins (\d+)–\1\b", words)
    assert not re.search(r"join (\d+) on ring \d+ to join \1\b", words)


def test_turns_that_go_on_with_the_same_piece_are_one(invented_batch: Plan) -> None:
    """The list of the batch names a change of piece, not each part of one."""
    batch = replace(
        invented_batch.batch,
        piece=("earring",) * 4,
        copy=np.array([1, 1, 2, 2], dtype=np.int32),
        first_step=np.array([0, 3, 0, 3], dtype=np.int32),
    )
    words = words_on(draw_diagrams(replace(invented_batch, batch=batch))[0])
    assert "1. earring, copy 1: joins 1–6" in words
    assert "2. earring, copy 2: joins 1–6" in words
    assert not any(text.startswith("3. ") for text in words)


def test_labels_of_parts_beside_each_other_do_not_overlap(build: Any) -> None:
    """A stone and a clasp at the same end are both legible."""
    parts = tuple(
        replace(build.clasp, piece="chain", name=name, place_mm=place)
        for name, place in (("spring clasp", 0.0), ("a stone in its setting", 9.0), ("glue", 14.0))
    )
    plan = build.plan(build.piece("chain", build.chain(60), stride=3, faces=1, parts=parts))
    for page in draw_diagrams(plan):
        spans = [
            (m.x_mm, m.x_mm + text_width_mm(m.text, m.size_pt, bold=True), m.y_mm)
            for m in page.marks
            if isinstance(m, Text) and ": below 120" in m.text
        ]
        for k, (left, right, y) in enumerate(spans):
            for left2, right2, y2 in spans[k + 1 :]:
                assert abs(y - y2) > 3.5 or right < left2 or right2 < left


def test_necklace_of_many_passes_takes_few_pages(build: Any) -> None:
    """19 passes of 24 joins on strips of two: two passes a page besides cover and list."""
    layout = build.chain(456, wire_mm=2.0, inner_mm=0.96)
    plan = build.plan(build.piece("necklace", layout, stride=19, faces=1))
    assert len(plan.pieces[0].order.passes) == 19
    assert len(draw_diagrams(plan)) <= 12


def test_large_piece_shows_where_each_pass_begins(
    invented_large_sheet: Plan,
) -> None:
    """90 000 rings: an overview and the beginnings, all tiles only when asked for."""
    pages = draw_diagrams(invented_large_sheet)
    assert len(pages) < 40
    firsts = {work.first_step + 1 for work in invented_large_sheet.pieces[0].order.passes}
    found = {int(mark.text) for page in pages for mark in numbers_on(page)}
    assert firsts <= found


@pytest.mark.parametrize("images", [None, "png", "svg"])
def test_same_plan_gives_the_same_bytes(
    invented_bracelet: Plan, tmp_path: Path, images: str | None
) -> None:
    """No dates, no names made up on the way; images of the pages only where they are asked for."""
    files = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        files.append(write_diagrams(invented_bracelet, tmp_path / name, images=images))
    pages = len(draw_diagrams(invented_bracelet)) if images else 0
    assert [path.suffix for path in files[0]] == [".pdf"] + [f".{images}"] * pages
    for one, two in zip(*files, strict=True):
        assert one.read_bytes() == two.read_bytes()


def test_page_images_are_as_large_as_the_paper(invented_bracelet: Plan, tmp_path: Path) -> None:
    """An independent reader finds the paper's size from dots and dots an inch."""
    from PIL import Image

    with Image.open(write_diagrams(invented_bracelet, tmp_path, images="png")[-1]) as image:
        size_mm = np.array(image.size) / np.array(image.info["dpi"]) * 25.4
    assert size_mm == pytest.approx([297.0, 210.0], abs=0.3)


def test_svg_is_well_formed_and_holds_the_numbers_as_text(
    invented_bracelet: Plan, tmp_path: Path
) -> None:
    """Numbers are text, so they can be searched and read out; nothing is fetched from elsewhere."""
    found = []
    for path in write_diagrams(invented_bracelet, tmp_path, images="svg")[1:]:
        tree = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        found += [node.text for node in tree.iter("{http://www.w3.org/2000/svg}text")]
        assert not re.search(r"(href|src)=\"(?!#)", path.read_text(encoding="utf-8"))
    assert {str(number) for number in range(1, 13)} <= set(found)


def test_pdf_has_every_page_with_its_text(invented_bracelet: Plan, tmp_path: Path) -> None:
    """An independent reader finds the pages and the words of the passes."""
    reader = shutil.which("pdftotext")
    if reader is None:
        pytest.skip("pdftotext is not installed")
    pdf = write_diagrams(invented_bracelet, tmp_path)[0]
    done = subprocess.run([reader, str(pdf), "-"], capture_output=True, check=True, timeout=60)
    text = done.stdout.decode()
    assert done.stderr == b""
    assert text.count("\f") == len(draw_diagrams(invented_bracelet))
    assert "every 2th ring from ring 1, 3 joins" in text


def test_hostile_names_are_plain_text(invented_bracelet: Plan, tmp_path: Path) -> None:
    """Markup, control characters, emoji and endless names neither break nor leave the page."""
    name = "<svg onload=x>\u202e(\\) & \x00\x07 😀 漢字 " + "long " * 80
    piece = invented_bracelet.pieces[0]
    plan = replace(
        invented_bracelet,
        pieces=(replace(piece, piece=replace(piece.piece, name=name)),),
        job=replace(invented_bracelet.job, name=name),
    )
    for path in write_diagrams(plan, tmp_path, images="svg")[1:]:
        ElementTree.fromstring(path.read_text(encoding="utf-8"))
    write_join_pictures(plan, tmp_path)
    for page in draw_diagrams(plan):
        for mark in page.marks:
            if isinstance(mark, Text) and mark.anchor == "start":
                width = text_width_mm(mark.text, mark.size_pt, bold=mark.bold)
                assert mark.x_mm + width <= page.width_mm


def test_bars_of_a_wait_stand_clear_between_two_last_numbers() -> None:
    """A wait that melts into the rims of its neighbours is overlooked."""
    largest = 28
    room = number_width_mm(largest) + 1.0 + WAIT_MM
    middles = np.array([[20.0, 10.0], [20.0 + room, 10.0]])
    yes = np.ones(2, dtype=bool)
    joins = Joins2D(
        number=np.array([12, 16]), points_mm=middles + np.array([0.0, 8.0]),
        waits=np.array([False, True]), starts=~yes, ends=yes, shaded=~yes,
    )  # fmt: skip
    sheet = Sheet(width_mm=100.0, height_mm=40.0, title="invented")
    draw_numbers(sheet, joins, middles, number_look(largest))
    drawn = [mark for mark in sheet.marks if isinstance(mark, DrawnPath) and len(mark.points_mm)]
    bars = [mark for mark in drawn if mark.fill == INK and np.ptp(mark.points_mm[:, 0]) < 1.0]
    places = np.concatenate([mark.points_mm[:, 0] for mark in bars])
    rims = [mark for mark in drawn if mark.stroke and len(mark.points_mm) > 2]
    edges = np.concatenate([mark.points_mm[:, 0] for mark in rims])
    assert len(bars) == 2
    assert not np.any((edges > places.min() - 0.3) & (edges < places.max() + 0.3))


def test_order_that_breaks_a_limit_says_so_first(invented_bracelet: Plan) -> None:
    """Nobody may take an order for safe that is not; what would help stands beside it."""
    piece = invented_bracelet.pieces[0]
    order = replace(piece.order, status="infeasible", advice=("Move the clasp.",))
    plan = replace(invented_bracelet, pieces=(replace(piece, order=order),))
    texts = [mark.text for mark in draw_diagrams(plan)[1].marks if isinstance(mark, Text)]
    assert any("No order keeps all limits" in text for text in texts)
    assert "Move the clasp." in texts


def test_piece_with_everything_closed_beforehand_has_its_list_only(invented_bracelet: Plan) -> None:
    """No joins in place: a page that says so, no empty strips."""
    piece = invented_bracelet.pieces[0]
    none = np.zeros(0)
    order = replace(
        piece.order, ring=none.astype(np.int32), pass_number=none.astype(np.int32), start_s=none,
        wait_s=none, passes=(), bench_time_s=0.0, gained=(),
    )  # fmt: skip
    joins = replace(piece.joins, pre_closed=np.ones(12, dtype=bool))
    plan = replace(invented_bracelet, pieces=(replace(piece, order=order, joins=joins),))
    pages = draw_diagrams(plan)
    assert len(pages) == 2
    texts = " ".join(mark.text for mark in pages[1].marks if isinstance(mark, Text))
    assert "0 joins to weld" in texts
    assert "12 rings are closed before weaving" in texts


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_edge_is_drawn_from_the_edge_that_is_welded(invented_bracelet: Plan, side: float) -> None:
    """Held in the air, a join is seen from where the electrode comes: its dot lies inside."""
    piece = invented_bracelet.pieces[0]
    passes = tuple(replace(work, face="edge") for work in piece.order.passes)
    approach = np.tile([0.0, side, 0.0], (12, 1))
    joins = replace(piece.joins, face=np.full(12, 2, dtype=np.int8), approach=approach)
    plan = replace(
        invented_bracelet,
        pieces=(replace(piece, joins=joins, order=replace(piece.order, passes=passes)),),
    )
    page = draw_diagrams(plan)[-1]
    edges = [path.points_mm[:, 0] for path in page.pictures[-1].drawing.paths]
    assert np.concatenate(edges).min() < 0.0  # the start stays on the left
    texts = [mark.text for mark in page.marks if isinstance(mark, Text)]
    assert "EDGE" in texts
    front = draw_diagrams(invented_bracelet)[1].pictures[1].drawing
    assert page.pictures[-1].drawing.key != front.key


def test_a_piece_too_short_for_fingers_is_held_at_an_end(build: Any) -> None:
    """No place lies as far from its joins as fingers hold: then no limit for them is told."""
    piece = build.piece("short", build.chain(3), stride=1)
    (text,) = instructions(piece, HeatSettings())
    assert text.endswith(
        "It is too short to be held 15 to 35 mm away from the join: hold it with cross-lock "
        "tweezers at an end."
    )
    fingers = LimitCheck(
        kind=LimitKind.FINGERS, name="fingers", where="", limit_c=48.0, low_c=30.0, usual_c=35.0,
        high_c=40.0, holds=True,
    )  # fmt: skip
    held = replace(piece, order=replace(piece.order, limits=(fingers,)))
    assert "Hold it with your fingers" in instructions(held, HeatSettings())[0]
    assert "tweezers or a clamp" in instructions(piece, HeatSettings(held_bare=False))[0]
