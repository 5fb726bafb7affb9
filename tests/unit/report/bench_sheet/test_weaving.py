"""The weaving on the bench sheet: bags, lines, ticks that stay, in a real Chromium."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from at_bench import Bench

import chainplan
from chainplan.model.bench.groups import LANGUAGES
from chainplan.reference.texts import bench_texts
from chainplan.report.bench_sheet import bench_sheet_html, write_bench_sheet

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan

JOB = """
[[piece]]
name = "Two tone"
weave = "byzantine"
wire_mm = 1.0
inner_mm = 3.5
metal = "sterling-silver"
rings = 48
design = "gold"

[[piece]]
name = "Patch"
quantity = 2
weave = "european-4-in-1"
wire_mm = 1.0
inner_mm = 4.5
metal = "copper"
rings = 15
rows = 3
design = "flag"

[[piece]]
name = "Stud"
weave = "loose joins"
wire_mm = 1.0
inner_mm = 4.5
metal = "copper"
rings = 2

[[design]]
design = "gold"
rule = "part"
which = "connector"
metals = "gold-14ct-yellow"

[[design]]
design = "flag"
rule = "grid"
which = "C C C C C / C B B B B / C B B B C"
metals = "C copper, B brass"
"""


@pytest.fixture(scope="module", name="plan")
def fixture_plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """A Byzantine with gold connectors, a small flag in two copies, and loose joins."""
    path = tmp_path_factory.mktemp("job") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return chainplan.make_plan(chainplan.read_job(path))


@pytest.fixture(name="sheet")
def fixture_sheet(browser: Any, plan: Plan, tmp_path: Path) -> Bench:
    """Its sheet, cautions read."""
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    return sheet


def weave(sheet: Bench, number: int) -> None:
    """Take up a copy from the list of what is woven."""
    sheet.tap("open-weaving")
    sheet.browser.find_elements("css selector", "#weaving-list button")[number].click()


def content_of(plan: Plan) -> Any:
    page = bench_sheet_html(plan)
    return json.loads(page.split('id="content">')[1].split("</script>")[0])


def test_bags_and_lines_are_the_rings(plan: Plan) -> None:
    """Every ring once, in the bag of its metal; a row is a line, loose joins have none."""
    two_tone, patch, stud = content_of(plan)["pieces"]
    assert "weaving" not in stud
    counts = [(bag["letter"], bag["metal"], bag["rings"]) for bag in two_tone["weaving"]["bags"]]
    assert counts == [("A", "sterling-silver", 32), ("B", "gold-14ct-yellow", 16)]
    lines = two_tone["weaving"]["lines"]
    assert [(row, first) for _, row, first, _, _ in lines] == [(0, 0), (0, 30)]
    assert lines[0][4] == "5 × (2 B, 4 A)"
    rows = patch["weaving"]["lines"]
    assert [line[1] for line in rows] == [1, 2, 3]
    assert [line[4] for line in rows] == ["1 A, 3 B, 1 A", "1 A, 4 B", "5 A"]


def test_lines_are_ticked_one_after_another_and_taken_back(sheet: Bench) -> None:
    weave(sheet, 1)
    assert sheet.text("piece") == "Patch, copy 1 of 2"
    assert sheet.text("title") == "row 1"
    assert sheet.text("place") == "1 A, 3 B, 1 A"
    assert sheet.text("strip") == "ABBBA"
    assert "2 in this line, 2 of 8 so far" in sheet.text("watch")
    sheet.tap("weave-done")
    assert sheet.text("count") == "1 of 3 lines woven"
    assert "1 in this line, 3 of 8 so far" in sheet.text("watch")
    sheet.press("d", " ")
    assert sheet.text("title") == "All lines are woven"
    assert "all 8" in sheet.text("watch")
    assert not sheet.browser.find_element("id", "weave-done").is_enabled()
    sheet.press("u")
    assert sheet.text("title") == "row 3"
    assert "5 in this line, 8 of 8 so far" in sheet.text("watch")
    assert sheet.problems() == []


def test_ticks_stay_over_a_reload_and_belong_to_their_copy(sheet: Bench) -> None:
    weave(sheet, 2)
    sheet.press("d", "d")
    sheet.open(fresh=False)
    sheet.tap("open-weaving")
    told = [
        row.text for row in sheet.browser.find_elements("css selector", "#weaving-list .pass-row")
    ]
    assert [text.split("\n")[2] for text in told] == [
        "0 of 2 lines woven", "0 of 3 lines woven", "2 of 3 lines woven",
    ]  # fmt: skip
    sheet.close("weaving")
    weave(sheet, 2)
    assert sheet.text("title") == "row 3"
    assert sheet.log() == []


def test_welding_goes_on_where_it_was(sheet: Bench) -> None:
    """Weaving in between ticks no join, and leaves nothing of itself on the screen."""
    sheet.press("d")
    title, count, setting = (sheet.text(name) for name in ("title", "count", "setting"))
    weave(sheet, 0)
    sheet.press("d", "u")
    sheet.tap("weave-back")
    assert (sheet.text("title"), sheet.text("count"), sheet.text("setting")) == (
        title, count, setting,
    )  # fmt: skip
    assert sheet.shown("buttons")
    assert not sheet.shown("strip")
    assert not sheet.shown("weaving-buttons")
    sheet.press("d")
    assert len(sheet.log()) == 2
    assert sheet.problems() == []


def test_a_second_tap_at_once_ticks_nothing(
    browser: Any, plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chainplan.report.bench_sheet.content.GUARD_MS", 60_000)
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "slow.html"))
    sheet.open()
    sheet.tap("acknowledge")
    weave(sheet, 1)
    sheet.tap("weave-done")
    assert sheet.text("title") == "row 1"
    assert sheet.text("said").strip() == bench_texts("en")["tap.too_soon"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_weaving_runs_in_every_language(
    browser: Any, plan: Plan, tmp_path: Path, language: str
) -> None:
    bench = replace(plan.job.bench, sheet=replace(plan.job.bench.sheet, language=language))
    plan = replace(plan, job=replace(plan.job, bench=bench))
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    texts = bench_texts(language)
    weave(sheet, 1)
    assert sheet.text("title") == texts["weave.row"].replace("{row}", "1")
    bags = sheet.text("watch")
    assert (texts["metal.brass"] in bags) is (language != "en")
    assert texts["temper.annealed"] in bags
    assert "C110" not in bags or language == "en"
    sheet.press("d", "d", "d")
    assert sheet.text("title") == texts["weave.over"]
    weave(sheet, 0)
    assert sheet.text("setting") == texts["weave.how_chain"]
    assert sheet.problems() == []


def test_a_plain_piece_is_woven_by_it_too(bench: Bench) -> None:
    """One bag; its lines are ticked alike."""
    weave(bench, 0)
    assert bench.text("place") == "12 A"
    bench.press("d")
    assert bench.text("title") == "All lines are woven"
