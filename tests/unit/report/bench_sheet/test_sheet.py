"""The bench sheet in a real Chromium: by clicks and by keys, kept, undone, taken along."""

from __future__ import annotations

import datetime
import json
import re
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from at_bench import Bench, wait_until, without_waits

from chainplan.model.workshop.bench_log import LOG_COLUMNS, LOG_RESULTS, unguarded
from chainplan.model.workshop.schedule import Schedule, Task
from chainplan.report.bench_sheet import bench_sheet_html, write_bench_sheet
from chainplan.units import show_duration

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan

HOSTILE = "</script><script>document.title='taken'</script><!--\u2028=1+1 ”&{{program}}"


def test_whole_job_is_welded_by_clicks(bench: Bench) -> None:
    """Every join comes up once, in the plan's order, and the log says so."""
    titles = []
    for _ in range(12):
        titles.append(bench.text("title"))
        bench.tap("done")
    assert titles[0] == "ring 1"
    assert titles[1] == "ring 5"
    assert bench.text("title") == "All joins are welded"
    rows = bench.log()
    assert [int(row["step"]) for row in rows] == list(range(1, 13))
    assert {row["result"] for row in rows} == {"done"}
    assert list(rows[0]) == list(LOG_COLUMNS)
    assert bench.problems() == []


def test_the_time_left_begins_with_the_plan_s_bench_time(
    bench: Bench, invented_bracelet: Plan
) -> None:
    """Tenths of a second are not rounded join by join; the last join's end counts too."""
    plan = without_waits(invented_bracelet)
    whole_s = plan.pieces[0].order.bench_time_s
    assert bench.text("left") == f"about {show_duration(whole_s)} left"


def test_a_piece_with_nothing_to_weld_has_a_sheet_too(
    bench: Bench, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """All rings closed beforehand: no step, no pace, and the page opens without a fault."""
    piece = invented_bracelet.pieces[0]
    none, nothing = np.zeros(0), np.zeros(0, dtype=np.int32)
    order = replace(
        piece.order, ring=nothing, pass_number=nothing, start_s=none, wait_s=none, passes=(),
        interpass_low_c=none, interpass_usual_c=none, interpass_high_c=none, bench_time_s=0.0,
    )  # fmt: skip
    batch = invented_bracelet.batch
    batch = replace(batch, piece=(), copy=nothing, first_step=nothing, steps=nothing, start_s=none)
    plan = replace(invented_bracelet, pieces=(replace(piece, order=order),), batch=batch)
    empty = Bench(bench.browser, write_bench_sheet(plan, tmp_path / "empty.html"))
    empty.open()
    assert empty.text("count") == "0 of 0 joins welded"
    assert empty.problems() == []


def test_whole_job_is_welded_by_keys(bench: Bench) -> None:
    """Hands in gloves: D and space, not good with 1 and 2, what was left comes at the end."""
    bench.press("d", " ")
    assert bench.text("title") == "ring 9"
    bench.press("n", "1")
    assert "not good once" in bench.text("watch")
    bench.press("d", "n", "2")
    assert bench.text("title") == "ring 7"
    bench.press(*"dddddddd")
    assert bench.text("title") == "ring 3"
    assert "left for later" in bench.text("action")
    bench.press("d")
    assert bench.text("title") == "All joins are welded"
    rows = bench.log()
    results = [row["result"] for row in rows]
    assert len({row["id"] for row in rows}) == len(rows)
    assert results == ["done"] * 2 + ["again", "done", "later"] + ["done"] * 9
    assert bench.problems() == []


def test_reload_in_the_middle_keeps_all(bench: Bench) -> None:
    """A closed tab or an empty battery costs nothing; the cautions are not asked twice."""
    for _ in range(5):
        bench.tap("done")
    bench.open(fresh=False)
    assert bench.text("title") == "ring 11"
    assert bench.text("count") == "5 of 12 joins welded"
    assert not bench.shown("cautions")
    assert len(bench.log()) == 5


def test_undo_takes_back_the_last_tap(bench: Bench) -> None:
    """Undo works tap by tap, by button and by key, down to the beginning."""
    bench.press("d", "d", "u")
    assert bench.text("title") == "ring 5"
    bench.tap("undo")
    assert bench.text("title") == "ring 1"
    assert not bench.browser.find_element("id", "undo").is_enabled()
    rows = bench.log()
    assert [row["result"] for row in rows] == ["done", "done", "undo", "undo"]
    assert [row["undoes"] for row in rows[2:]] == [rows[1]["id"], rows[0]["id"]]


def test_cautions_must_be_acknowledged_first(bench: Bench) -> None:
    """Escape does not pass them by; they are shown once and can be read again."""
    from selenium.webdriver.common.keys import Keys

    bench.open()
    assert bench.shown("cautions")
    bench.press(Keys.ESCAPE, Keys.ESCAPE)
    end = time.monotonic() + 20
    steady = 0  # a close and the opening that answers it come one after another
    while steady < 10 and time.monotonic() < end:
        steady = steady + 1 if bench.shown("cautions") else 0
        time.sleep(0.05)
    assert steady == 10
    assert "Arc light" in bench.text("caution-list")
    bench.tap("acknowledge")
    bench.press("d")
    assert bench.text("title") == "ring 5"
    bench.tap("open-cautions")
    assert bench.shown("cautions")


def test_face_and_setting_changes_are_announced(bench: Bench) -> None:
    """Turning the piece must not be missed: it stands on the screen and is spoken."""
    assert "Set the welder: 10 J" in bench.text("action")
    bench.press(*"dddddd")
    assert "Turn the piece to its back" in bench.text("action")
    assert "Turn the piece to its back" in bench.text("said")
    assert bench.text("face") == "back"


def test_wait_counts_down_on_the_clock(waiting: Bench) -> None:
    """The plan asks for 2 s before join 4: shown at once, over by itself, logged."""
    waiting.press("d", "d", "d")
    assert waiting.shown("wait")
    wait_until(lambda: not waiting.shown("wait"))
    waiting.press("d")
    assert waiting.text("title") == "ring 7"
    waited = float(waiting.log()[-1]["waited_s"])
    assert 0.5 <= waited <= 2.5


def test_pause_stops_the_clock_of_work(bench: Bench) -> None:
    """A pause of over a second does not count as work."""
    bench.press("p")
    assert bench.shown("paused")
    time.sleep(1.3)
    bench.press("p")
    assert not bench.shown("paused")
    bench.press("d")
    since_load_s = bench.browser.execute_script("return performance.now()") / 1000
    assert float(bench.log()[0]["work_s"]) <= since_load_s - 1.2


def test_log_goes_out_and_comes_back(bench: Bench, tmp_path: Path) -> None:
    """The saved file, taken up in a fresh sheet, gives the same log and the same next join."""
    bench.press("d", "n", "3")
    bench.browser.find_element("id", "note-text").send_keys('=SUM(A1), "porous"')
    bench.tap("note-save")
    bench.press("d", "d")
    before = bench.log()
    assert before[1]["note"] == '=SUM(A1), "porous"'
    for old in bench.browser.downloads.iterdir():
        old.unlink()
    bench.tap("open-log")
    bench.tap("export")
    end = time.monotonic() + 20
    files: list[Path] = []
    while not files and time.monotonic() < end:
        files = [path for path in bench.browser.downloads.glob("*.csv") if path.stat().st_size]
        time.sleep(0.1)
    raw = files[0].read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    assert b"'=SUM(A1)" in raw
    bench.open()
    bench.tap("acknowledge")
    bench.tap("open-log")
    bench.browser.find_element("id", "import").send_keys(str(files[0]))
    end = time.monotonic() + 20
    while "added" not in bench.text("import-result") and time.monotonic() < end:
        time.sleep(0.05)
    bench.browser.find_element("css selector", "#log .close").click()
    assert bench.log() == before
    assert bench.text("title") == "ring 3"


def test_foreign_file_is_not_taken_up(bench: Bench, tmp_path: Path) -> None:
    """A wrong file changes nothing and the message says what is wrong with it."""
    bench.press("d")
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("a,b\n1,2\n", encoding="utf-8")
    bench.tap("open-log")
    bench.browser.find_element("id", "import").send_keys(str(wrong))
    end = time.monotonic() + 20
    while not bench.text("import-result") and time.monotonic() < end:
        time.sleep(0.05)
    assert "column plan is missing" in bench.text("import-result")
    assert bench.text("count") == "1 of 12 joins welded"


def test_sheet_works_and_warns_without_storage(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """Some browsers refuse storage to files: the sheet goes on and says so all the time."""
    path = write_bench_sheet(invented_bracelet, tmp_path / "bench-sheet.html")
    refused = browser.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument",
        {
            "source": "Object.defineProperty(window, 'localStorage', "
            "{ get() { throw new DOMException('no', 'SecurityError'); } });"
        },
    )
    try:
        sheet = Bench(browser, path)
        sheet.open(fresh=False)
        sheet.tap("acknowledge")
        sheet.press("d")
        assert sheet.text("title") == "ring 5"
        assert "does not keep" in sheet.text("alarm")
        assert sheet.shown("alarm")
    finally:
        browser.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", refused)


def test_hostile_names_stay_text(browser: Any, invented_bracelet: Plan, tmp_path: Path) -> None:
    """Names of jobs and pieces and notes can hold markup; none of it runs or breaks the page."""
    plan = invented_bracelet.pieces[0]
    piece = replace(plan, piece=replace(plan.piece, name=HOSTILE, notes=HOSTILE))
    batch = replace(invented_bracelet.batch, piece=(HOSTILE,))
    hostile = replace(
        invented_bracelet,
        pieces=(piece,),
        batch=batch,
        job=replace(invented_bracelet.job, name=HOSTILE),
    )
    sheet = Bench(browser, write_bench_sheet(hostile, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    assert sheet.text("piece") == HOSTILE
    sheet.press("d", "n", "3")
    sheet.browser.find_element("id", "note-text").send_keys("<img src=x onerror=alert(1)>")
    sheet.tap("note-save")
    assert "<img src=x onerror=alert(1)>" in sheet.text("watch")
    sheet.tap("open-passes")
    assert browser.find_elements("css selector", "#watch img, #pass-list script") == []
    title = re.sub(r"[ \t\n]+", " ", f"Bench sheet: {HOSTILE}").strip()
    assert browser.title == title
    assert sheet.problems() == []


def test_no_request_leaves_the_page(bench: Bench) -> None:
    """Offline means offline: only the file itself is ever asked for."""
    bench.browser.get_log("performance")
    bench.open(fresh=False)
    bench.press("d", "d")
    bench.tap("open-log")
    bench.tap("export")
    asked = []
    for entry in bench.browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.append(message["params"]["request"]["url"])
    assert asked
    assert {url for url in asked if not url.startswith(("file:", "blob:", "data:"))} == set()


def test_five_thousand_joins_stay_smooth(
    browser: Any, invented_long_chain: Plan, invented_necklace: Plan, tmp_path: Path
) -> None:
    """The picture draws only what is in sight, so a tap costs about the same on any length."""
    seconds = []
    for plan in (invented_necklace, invented_long_chain):
        page = write_bench_sheet(without_waits(plan), tmp_path / "bench-sheet.html")
        sheet = Bench(browser, page)
        sheet.open()
        sheet.tap("acknowledge")
        seconds.append(browser.execute_script(TIMED_TAPS))
        assert sheet.text("count").startswith("100 of ")
    assert seconds[1] < 4 * seconds[0]  # seven times the joins


TIMED_TAPS = """
const taps = [];
for (let k = 0; k < 100; k++) {
  const at = performance.now();
  document.getElementById('done').click();
  taps.push(performance.now() - at);
}
return taps.sort((a, b) => a - b)[30];
"""


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("width", [360, 768, 1600])
def test_page_fits_the_screen_and_contrasts(bench: Bench, width: int, dark: bool) -> None:
    """Nothing is cut off sideways, targets are large, and text has WCAG AA contrast (4.5 to 1)."""
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    bench.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
    size = {"width": width, "height": 740, "deviceScaleFactor": 1, "mobile": False}
    bench.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        wide = bench.browser.execute_script("return document.documentElement.scrollWidth")
        assert wide <= width
        for name in ("done", "bad", "undo", "pause"):
            box = bench.browser.find_element("id", name).rect
            assert min(box["width"], box["height"]) >= 44, name
        bench.press("d")
        looks = bench.browser.execute_script(CONTRASTS)
        assert len(looks) > 8
        low = {name: ratio for name, ratio in looks.items() if ratio < 4.5}
        assert low == {}
    finally:
        bench.browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


CONTRASTS = """
const parts = (colour) => colour.match(/[\\d.]+/g).map(Number);
const light = (colour) => {
  const [r, g, b] = parts(colour).slice(0, 3).map((part) => {
    const share = part / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const ground = (element) => {
  for (let at = element; at; at = at.parentElement) {
    const colour = getComputedStyle(at).backgroundColor;
    if (parts(colour)[3] !== 0) return colour;
  }
  return 'rgb(255, 255, 255)';
};
const found = {};
for (const element of document.querySelectorAll('#app [id]')) {
  const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
  const bold = element.querySelector('b');
  if (!(own || bold) || element.disabled || !element.checkVisibility()) continue;
  const [a, b] = [light(getComputedStyle(element).color), light(ground(element))];
  found[element.id] = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
}
return found;
"""


def test_every_control_has_a_name(bench: Bench) -> None:
    """A screen reader can name each button, field, dialog, the picture and the progress."""
    unnamed = bench.browser.execute_script(
        "return [...document.querySelectorAll('button, input, textarea, dialog, progress, canvas')]"
        ".filter((e) => !(e.textContent.trim() || e.getAttribute('aria-label') || "
        "e.getAttribute('aria-labelledby') || (e.labels && e.labels.length)))"
        ".map((e) => e.id || e.outerHTML);"
    )
    assert unnamed == []
    assert "Ring 1 of 12" in bench.browser.find_element("id", "canvas").get_attribute("aria-label")


def test_printed_list_has_a_box_for_every_pass_and_join(bench: Bench) -> None:
    """The paper list stands in when the tablet is flat."""
    bench.browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    boxes = bench.browser.find_elements("css selector", "#paper .box")
    assert len(boxes) == 4 + 12
    assert "6: ring 11" in bench.text("paper")


def test_sheet_is_the_same_for_the_same_plan(invented_bracelet: Plan) -> None:
    """Same plan, same bytes."""
    assert bench_sheet_html(invented_bracelet) == bench_sheet_html(invented_bracelet)


def test_results_of_the_log_are_those_the_sheet_knows(invented_bracelet: Plan) -> None:
    """The columns and results stand in one place and the page is given them."""
    page = bench_sheet_html(invented_bracelet)
    data = json.loads(page.split('id="content">')[1].split("</script>")[0])
    assert [name for name, _ in data["columns"]] == list(LOG_COLUMNS)
    assert tuple(data["results"]) == LOG_RESULTS


def test_guard_comes_off_as_it_went_on() -> None:
    """A cell that began with an apostrophe of its own gets one more and loses one."""
    for text in ("=1", "+1", "-1", "@x", "\tx", "'tis", "plain", ""):
        guarded = "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "'") and text else text
        assert unguarded(guarded) == text


def test_interleaved_batch_says_which_piece_to_take_up(
    browser: Any, invented_batch: Plan, tmp_path: Path
) -> None:
    """While one copy cools the other is welded; the log keeps them apart."""
    sheet = Bench(browser, write_bench_sheet(invented_batch, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    assert sheet.text("piece") == "earring, copy 1 of 2"
    sheet.press("d", "d", "d")
    assert sheet.text("piece") == "earring, copy 2 of 2"
    assert "Take up earring, copy 2" in sheet.text("action")
    sheet.press(*"ddddddddd")
    assert sheet.text("title") == "All joins are welded"
    done = [(row["copy"], row["step"]) for row in sheet.log()]
    assert done[:4] == [("1", "1"), ("1", "2"), ("1", "3"), ("2", "1")]
    assert sorted(done) == [(copy, step) for copy in "12" for step in "123456"]
    assert sheet.problems() == []


def test_a_copy_is_taken_up_when_it_lies_woven(
    browser: Any, invented_batch: Plan, tmp_path: Path
) -> None:
    """By the schedule the second copy is woven long ago, the first will be in a long time."""

    def woven(copy: int, year: int) -> Task:
        end = datetime.datetime(year, 3, 4, 14, 30)
        return Task(
            piece="earring", copy=copy, copies=1, station="weave", person="Ann", machine="",
            start_s=0, end_s=1, work_s=1, start=end, end=end,
        )  # fmt: skip

    job = replace(invented_batch.job, start_date=datetime.date(2000, 3, 4))
    schedule = Schedule(tasks=(woven(1, 2200), woven(2, 2000)))
    plan = replace(invented_batch, job=job, schedule=schedule)
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    assert sheet.text("piece") == "earring, copy 2 of 2"
    assert "lies woven" not in sheet.text("watch")
    sheet.press(*"dddddd")
    assert sheet.text("piece") == "earring, copy 1 of 2"
    told = sheet.text("watch")  # the moment as the browser's language writes it
    assert re.search(r"lies woven from Tue\b.*\b4\b.*\b(14|0?2):30.* on: begin it", told)
    sheet.press("d")
    assert "lies woven" not in sheet.text("watch")
    sheet.press(*"ddddd")
    assert sheet.text("title") == "All joins are welded"
    assert sheet.problems() == []


def test_notes_stand_where_a_piece_is_taken_up_and_in_the_lists(
    browser: Any, invented_batch: Plan, tmp_path: Path
) -> None:
    """What the jeweller wrote for the assistant is read when the piece is taken up, not later."""
    piece = invented_batch.pieces[0]
    noted = replace(piece, piece=replace(piece.piece, notes="pliers only at the ends"))
    plan = replace(invented_batch, pieces=(noted,))
    bench = Bench(browser, write_bench_sheet(plan, tmp_path / "noted.html"))
    bench.open()
    bench.tap("acknowledge")
    said = "Take up earring, copy {} of 2. Note: pliers only at the ends."
    assert bench.text("action").startswith(said.format(1))
    bench.tap("done")
    assert "Note" not in bench.text("action")
    bench.tap("done")
    bench.tap("done")
    assert bench.text("action").startswith(said.format(2))
    bench.tap("open-passes")
    assert "Note: pliers only at the ends." in bench.text("pass-list")
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    assert "Note: pliers only at the ends." in bench.text("paper")
    assert bench.problems() == []


@pytest.mark.parametrize(("form", "held"), [("chain", True), ("loose", False)])
def test_loose_joins_are_not_held_away_from_the_join(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, form: str, held: bool
) -> None:
    """A pendant ring hangs in nothing that could be held 15 to 35 mm away."""
    piece = invented_bracelet.pieces[0]
    sections = (replace(piece.layout.sections[0], form=form),)
    plan = replace(
        invented_bracelet,
        pieces=(replace(piece, layout=replace(piece.layout, sections=sections)),),
    )
    bench = Bench(browser, write_bench_sheet(plan, tmp_path / "loose.html"))
    bench.open()
    bench.tap("acknowledge")
    assert ("Hold the piece" in bench.text("watch")) is held
    assert bench.problems() == []


def test_far_too_many_joins_leave_a_sheet_with_the_passes(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sheet of a million joins would not load: it lists the passes and says why."""
    monkeypatch.setattr("chainplan.report.bench_sheet.content.MOST_JOINS", 5)
    sheet = Bench(browser, write_bench_sheet(invented_bracelet, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    assert sheet.text("title") == "Too many joins for one list"
    sheet.tap("open-passes")
    assert "front, every 2th ring from ring 1, 3 joins" in sheet.text("pass-list")
    assert sheet.problems() == []


def test_piece_too_large_to_draw_is_still_welded_join_by_join(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a picture the words remain."""
    monkeypatch.setattr("chainplan.report.bench_sheet.content.MOST_DRAWN", 5)
    sheet = Bench(browser, write_bench_sheet(invented_bracelet, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    sheet.press("d", "d")
    assert sheet.text("title") == "ring 9"
    assert sheet.problems() == []


def test_long_log_is_kept_in_blocks_through_reload_and_undo(
    browser: Any, invented_necklace: Plan, tmp_path: Path
) -> None:
    """Blocks of 200 taps: going over a block's end and back again loses and doubles nothing."""
    plan = without_waits(invented_necklace)
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    many = "for (let k = 0; k < arguments[1]; k++) document.getElementById(arguments[0]).click();"
    browser.execute_script(many, "done", 405)
    sheet.open(fresh=False)
    assert sheet.text("count") == "405 of 700 joins welded"
    browser.execute_script(many, "undo", 10)
    sheet.open(fresh=False)
    assert sheet.text("count") == "395 of 700 joins welded"
    browser.execute_script(many, "done", 10)
    sheet.open(fresh=False)
    rows = sheet.log()
    undone = {row["undoes"] for row in rows}
    assert len(rows) == 425
    kept = [row for row in rows if row["result"] == "done" and row["id"] not in undone]
    assert [int(row["step"]) for row in kept] == list(range(1, 406))


def test_a_saved_log_is_merged_by_event_and_nothing_is_replaced(
    bench: Bench, tmp_path: Path
) -> None:
    """What is in the file and not here is added, what is here stays; twice changes nothing."""
    bench.press("d")
    bench.tap("open-log")
    saved = tmp_path / "saved.csv"
    text = bench.browser.find_element("id", "log-text").get_property("value")
    saved.write_text(text, encoding="utf-8", newline="")
    bench.browser.find_element("css selector", "#log .close").click()
    bench.press("d", "u")
    first = bench.log()
    bench.open()
    bench.tap("acknowledge")
    bench.press("d", "d")
    for told in ("1 event added; 0 were here already.", "0 events added; 1 were here already."):
        bench.tap("open-log")
        bench.browser.find_element("id", "import").send_keys(str(saved))
        wait_until(lambda told=told: bench.text("import-result") == told)
        bench.browser.find_element("css selector", "#log .close").click()
        assert bench.text("count") == "2 of 12 joins welded"
        assert len(bench.log()) == 3
    assert first[0]["id"] in {row["id"] for row in bench.log()}


def test_starting_again_asks_first(bench: Bench) -> None:
    """Nothing is forgotten without a question."""
    bench.press("d")
    bench.tap("open-log")
    bench.tap("clear")
    assert bench.shown("sure")
    bench.tap("sure-no")
    assert bench.text("count") == "1 of 12 joins welded"
    bench.tap("clear")
    bench.tap("sure-yes")
    assert bench.text("count") == "0 of 12 joins welded"


def test_full_storage_is_said(bench: Bench) -> None:
    """When the browser has no room left the sheet goes on and warns."""
    bench.browser.execute_script(
        "Storage.prototype.setItem = () => {throw new DOMException('full', 'QuotaExceededError'); }"
    )
    bench.press("d")
    assert bench.text("title") == "ring 5"
    assert bench.shown("alarm")


def test_single_keys_can_be_switched_off(bench: Bench) -> None:
    """Speech input sends letters: WCAG 2.1.4 wants single keys to be switchable."""
    bench.tap("open-settings")
    bench.tap("keys-on")
    bench.browser.find_element("css selector", "#settings .close").click()
    bench.press("d")
    assert bench.text("title") == "ring 1"
    bench.open(fresh=False)
    assert not bench.browser.find_element("id", "keys-on").is_selected()


def test_another_tab_is_taken_over(bench: Bench) -> None:
    """Two tabs of one sheet: what is ticked in one shows in the other."""
    first = bench.browser.current_window_handle
    bench.browser.switch_to.new_window("tab")
    bench.open(fresh=False)
    bench.press("d", "d")
    bench.browser.close()
    bench.browser.switch_to.window(first)
    end = time.monotonic() + 20
    while bench.text("count") != "2 of 12 joins welded" and time.monotonic() < end:
        time.sleep(0.05)
    assert bench.text("title") == "ring 9"
