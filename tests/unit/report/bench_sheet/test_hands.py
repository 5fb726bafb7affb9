"""The sheet as hands meet it: which ring, stray taps, waits, sleep, pace, screens, languages."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from at_bench import Bench, start_chromium, wait_until, without_waits

from chainplan.model.bench.groups import LANGUAGES
from chainplan.model.order import FasterPace
from chainplan.reference.texts import bench_texts, is_reviewed
from chainplan.report.bench_sheet import bench_sheet_html, write_bench_sheet

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan

CONTENT = "chainplan.report.bench_sheet.content"


def opened(browser: Any, plan: Plan, path: Path) -> Bench:
    """Open the sheet of a plan for the first time, cautions read."""
    sheet = Bench(browser, write_bench_sheet(plan, path / "sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    return sheet


def with_order(plan: Plan, **changes: Any) -> Plan:
    """The same plan with something else in its first piece's order."""
    piece = plan.pieces[0]
    return replace(plan, pieces=(replace(piece, order=replace(piece.order, **changes)),))


def pass_time(browser: Any, seconds: float) -> None:
    """Put this page's clock on, as if so many seconds had gone by."""
    browser.execute_script(
        "const real = window.realNow || (window.realNow = Date.now.bind(Date));"
        "window.gone = (window.gone || 0) + arguments[0] * 1000;"
        "Date.now = () => real() + window.gone;",
        seconds,
    )


# ---- Which ring --------------------------------------------------------------------------------


def test_the_ring_s_place_is_told_from_the_start_and_from_the_last(bench: Bench) -> None:
    """Every second ring of 3.5 mm: ring 5 is four further, its join 14 mm on from the first."""
    assert bench.text("title") == "ring 1"
    assert bench.text("place") == "3 mm from the start"
    bench.press("d")
    assert bench.text("title") == "ring 5"
    assert bench.text("place") == "17 mm from the start · 4 rings to the right"


def test_a_pair_s_ring_is_named_by_where_it_lies(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """Two rings through the same others: the hand counts pairs, the sheet says which of the two."""
    piece = invented_bracelet.pieces[0]
    layout = piece.layout
    n = np.arange(layout.rings)
    pair = n // 2
    first, second = np.meshgrid(n, n, indexing="ij")
    linked = (pair[second] - pair[first]) == 1
    links = np.column_stack([first[linked], second[linked]]).astype(np.int32)
    centre = np.column_stack([pair * 3.5, np.zeros(len(n)), (n % 2) * 1.0])
    pairs = replace(layout, links=links, contacts=links, centre_mm=centre)
    plan = replace(without_waits(invented_bracelet), pieces=(replace(piece, layout=pairs),))
    sheet = opened(browser, plan, tmp_path)
    assert sheet.text("title") == "pair 1, rear ring"
    assert "ring 1 · join 1 of 12" in sheet.text("where")
    assert sheet.problems() == []


def test_the_very_ring_is_drawn_otherwise_than_all_others(bench: Bench) -> None:
    """Stripes and a broken outline beside colour; welded rings faint; the electrode is there."""
    for _ in range(4):
        bench.tap("farther")
    looks = bench.browser.execute_script(WATCH_PEN, "done")
    assert looks["dashes"] > 0
    assert looks["stripes"] > 0  # as many as there are of the ring's other colour
    assert looks["faint"] > 0
    assert looks["electrode"] > 0


WATCH_PEN = """
const found = { dashes: 0, stripes: 0, faint: 0, electrode: 0 };
const look = getComputedStyle(document.documentElement);
const colour = (name) => look.getPropertyValue(name).trim().toLowerCase();
const pen = CanvasRenderingContext2D.prototype;
const { stroke, fill, setLineDash } = pen;
pen.setLineDash = function (dash) {
  if (dash[0] === 9) found.dashes++;
  return setLineDash.call(this, dash);
};
pen.stroke = function (...all) {
  if (this.strokeStyle === colour('--mark') && this.lineWidth > 8) found.stripes++;
  if (this.strokeStyle === colour('--shut-edge')) found.faint++;
  return stroke.apply(this, all);
};
pen.fill = function (...all) {
  if (this.fillStyle === colour('--electrode')) found.electrode++;
  return fill.apply(this, all);
};
document.getElementById(arguments[0]).click();
Object.assign(pen, { stroke, fill, setLineDash });
return found;
"""


def test_the_electrode_s_way_is_said(bench: Bench) -> None:
    """Straight down here; the words come from the same direction as the picture."""
    assert "Electrode: upright, straight down." in bench.text("watch")


# ---- Stray taps and waits ----------------------------------------------------------------------


def test_a_second_tap_at_once_ticks_nothing(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A double tap is one tap; after the guard's time the next one counts."""
    monkeypatch.setattr(f"{CONTENT}.GUARD_MS", 60_000)
    sheet = opened(browser, without_waits(invented_bracelet), tmp_path)
    pass_time(browser, 100)
    sheet.tap("done")
    assert sheet.text("count") == "1 of 12 joins welded"
    sheet.tap("done")
    sheet.press("d")
    assert sheet.text("count") == "1 of 12 joins welded"
    assert "not counted" in sheet.text("said")
    pass_time(browser, 61)
    sheet.tap("done")
    assert sheet.text("count") == "2 of 12 joins welded"


def test_done_during_a_wait_has_to_be_held(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """A tap does nothing while it cools; a hold goes on, by finger and by key."""
    waits = np.full(12, 300.0)
    sheet = opened(browser, with_order(invented_bracelet, wait_s=waits), tmp_path)
    sheet.tap("done")
    assert sheet.text("title") == "ring 5"
    wait_until(lambda: sheet.shown("countdown"))
    assert sheet.text("done-word") == "Hold: done without the wait"
    sheet.tap("done")
    sheet.press("d")
    assert sheet.text("count") == "1 of 12 joins welded"
    assert "hold the button down" in sheet.text("said")
    sheet.hold("done", 2.5)
    wait_until(lambda: sheet.text("count") == "2 of 12 joins welded")
    assert float(sheet.log()[-1]["waited_s"]) < 250


def test_undo_and_again_give_the_wait_back(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """Taking back a tap, or welding again, does not take the cooling away."""
    waits = np.full(12, 300.0)
    sheet = opened(browser, with_order(invented_bracelet, wait_s=waits), tmp_path)
    sheet.tap("done")
    sheet.hold("done", 2.5)
    wait_until(lambda: sheet.text("title") == "ring 9")
    sheet.tap("undo")
    assert sheet.text("title") == "ring 5"
    assert sheet.shown("wait")
    pass_time(browser, 301)
    wait_until(lambda: not sheet.shown("wait"))
    sheet.press("n", "1")
    assert sheet.text("title") == "ring 5"
    assert sheet.shown("wait")


def test_a_long_wait_fills_the_screen_and_can_be_put_aside(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """The seconds are huge; the join can be looked at meanwhile; it can be switched off."""
    waits = np.full(12, 300.0)
    sheet = opened(browser, with_order(invented_bracelet, wait_s=waits), tmp_path)
    sheet.tap("done")
    wait_until(lambda: sheet.shown("countdown"))
    size = browser.execute_script(
        "return parseFloat(getComputedStyle(document.getElementById('large-time')).fontSize)"
    )
    assert size >= 64
    sheet.tap("large-less")
    assert not sheet.shown("countdown")
    assert sheet.shown("wait-time")
    sheet.tap("open-settings")
    sheet.tap("large-on")
    sheet.tap("sound-on")
    sheet.close("settings")
    sheet.hold("done", 2.5)
    wait_until(lambda: sheet.text("count") == "2 of 12 joins welded")
    assert not sheet.shown("countdown")
    sheet.open(fresh=False)
    assert not browser.find_element("id", "sound-on").is_selected()


def test_the_end_of_a_wait_sounds_and_shakes_unless_switched_off(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """What the sheet asks of the device, counted."""
    waits = np.full(12, 300.0)
    sheet = opened(browser, with_order(invented_bracelet, wait_s=waits), tmp_path)
    browser.execute_script(
        "window.shaken = 0; navigator.vibrate = () => { window.shaken++; return true; };"
        "window.tones = 0; const make = AudioContext.prototype.createOscillator;"
        "AudioContext.prototype.createOscillator = function () { window.tones++;"
        " return make.call(this); };"
    )
    sheet.tap("done")
    pass_time(browser, 301)
    wait_until(lambda: browser.execute_script("return window.shaken") == 1)
    assert browser.execute_script("return window.tones") == 2
    sheet.tap("open-settings")
    sheet.tap("sound-on")
    sheet.tap("shake-on")
    sheet.close("settings")
    sheet.tap("done")
    pass_time(browser, 301)
    wait_until(lambda: not sheet.shown("wait"))
    assert browser.execute_script("return [window.shaken, window.tones]") == [1, 2]


def test_the_screen_is_kept_on_from_the_first_tap(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """The wake lock is asked for when work begins, and let go in a pause."""
    script = browser.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument",
        {
            "source": "window.held = 0; Object.defineProperty(navigator, 'wakeLock', {value:"
            "{request: async () => { window.held++; const one = new EventTarget();"
            "one.release = () => { window.held--; one.dispatchEvent(new Event('release')); };"
            "return one; }}});"
        },
    )
    try:
        sheet = opened(browser, without_waits(invented_bracelet), tmp_path)
        sheet.tap("done")
        wait_until(lambda: browser.execute_script("return window.held") == 1)
        sheet.tap("pause")
        wait_until(lambda: browser.execute_script("return window.held") == 0)
        assert "kept on" in sheet.text("awake-state")
    finally:
        browser.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", script)


# ---- Time and pace -----------------------------------------------------------------------------


def test_a_night_in_the_drawer_is_no_work(bench: Bench) -> None:
    """Fourteen hours between two taps: set apart in the log, and nothing in what is left."""
    bench.press("d")
    pass_time(bench.browser, 14 * 3600)
    bench.press("d")
    rows = bench.log()
    assert len(rows) == 2
    row = rows[-1]
    assert row["work_s"] == ""
    assert float(row["apart_s"]) >= 14 * 3600
    assert bench.text("left") == "about 1 min 6 s left"


def test_who_welds_faster_than_planned_is_warned_and_asked_to_wait(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The wait is the one that the plan worked out for the quicker of the two paces around."""
    monkeypatch.setattr(f"{CONTENT}.FASTER_SHARE", 0.9)
    faster = tuple(
        FasterPace(share=share, wait_s=np.full(12, wait))
        for share, wait in ((0.7, 40.0), (0.4, 90.0))
    )
    plan = with_order(without_waits(invented_bracelet), faster=faster)
    sheet = opened(browser, plan, tmp_path)
    for _ in range(6):
        pass_time(browser, 3.0)  # half of the planned 6 s and a little more
        sheet.press("d")
    assert "You weld faster than planned (3." in sheet.text("watch")
    assert "at this pace the heat needs 90 s here" in sheet.text("watch")
    assert sheet.shown("wait")
    assert sheet.text("wait-text") == "you weld faster than planned: let it cool"


def test_who_keeps_the_pace_is_not_warned(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(f"{CONTENT}.FASTER_SHARE", 0.9)
    sheet = opened(browser, without_waits(invented_bracelet), tmp_path)
    for _ in range(7):
        pass_time(browser, 6.0)
        sheet.press("d")
    assert "faster" not in sheet.text("watch")
    assert not sheet.shown("wait")


# ---- Another join than the next ----------------------------------------------------------------


def go_to(sheet: Bench, ring: int) -> None:
    sheet.tap("open-passes")
    sheet.browser.find_element("id", "jump-ring").send_keys(str(ring))
    sheet.tap("jump-go")


def test_any_join_can_be_gone_to_by_its_number_and_its_pass_goes_on(bench: Bench) -> None:
    """Ring 3 begins pass 2: from there its pass is welded on, then what was left before it."""
    go_to(bench, 3)
    assert bench.text("title") == "ring 3"
    bench.press("d")
    assert bench.text("title") == "ring 7"
    bench.press("d", "d")
    assert bench.text("title") == "ring 1"
    go_to(bench, 99)
    assert "Ring 99 of bracelet is none to weld here" in bench.text("jump-result")


def test_a_pass_is_chosen_from_the_list(bench: Bench) -> None:
    bench.tap("open-passes")
    bench.browser.find_elements("css selector", "#pass-list .pass-row button")[2].click()
    assert bench.text("title") == "ring 2"
    assert bench.text("face") == "back"


def test_the_heat_is_said_when_the_plan_s_order_is_left(
    browser: Any, invented_bracelet: Plan, tmp_path: Path
) -> None:
    """Another stretch from cold, a single join after a rest, with the reason."""
    plan = with_order(without_waits(invented_bracelet), rest_s=40.0, cold_s=400.0)
    sheet = opened(browser, plan, tmp_path)
    go_to(sheet, 2)
    sheet.press("d")
    assert not sheet.shown("wait")
    go_to(sheet, 1)
    assert "single" not in sheet.text("wait-text")
    assert "rest" not in sheet.text("wait-time")
    assert "let the warmest rings cool first" in sheet.text("wait-text")


def test_a_stretch_begun_anew_wants_the_piece_cold(
    browser: Any, invented_necklace: Plan, tmp_path: Path
) -> None:
    plan = with_order(without_waits(invented_necklace), rest_s=40.0, cold_s=400.0)
    sheet = opened(browser, plan, tmp_path)
    go_to(sheet, 3)  # of pass 2
    sheet.press("d")
    go_to(sheet, 1)
    assert "the limits allow this stretch when the piece is cold" in sheet.text("wait-text")


def test_a_welded_join_is_opened_again_from_the_picture(bench: Bench) -> None:
    """A tap on the ring in the picture: its tick was a mistake, so it is taken back."""
    bench.press("d")
    for _ in range(4):
        bench.tap("farther")
    place = bench.browser.execute_script(
        "const box = document.getElementById('canvas').getBoundingClientRect();"
        "return [box.width, box.height, box.left, box.top];"
    )
    from selenium.webdriver.common.action_chains import ActionChains

    canvas = bench.browser.find_element("id", "canvas")
    # Ring 5's join is in the middle; ring 1's is 14 mm to the left of it.
    for left in range(20, int(place[0] / 2), 8):
        ActionChains(bench.browser).move_to_element_with_offset(canvas, -left, 0).click().perform()
        if bench.shown("sure"):
            if "Ring 1 (join 1) is welded" in bench.text("sure-text"):
                break
            bench.tap("sure-no")
    bench.tap("sure-yes")
    assert bench.shown("reopen")
    bench.tap("reopen-mistake")
    assert bench.text("title") == "ring 1"
    assert bench.text("count") == "0 of 12 joins welded"
    assert [row["result"] for row in bench.log()] == ["done", "undo"]


def test_a_broken_ring_has_its_own_button_and_says_what_to_do(bench: Bench) -> None:
    """Size of the new ring, through which others it goes, and it is the next to be welded."""
    bench.press("d", "n", "4")
    steps = bench.text("broken-steps")
    assert "Cut ring 5" in steps
    assert "sterling silver, wire 1 mm, inside 3.5 mm" in steps
    assert "the same rings as the old one: 4, 6" in steps
    bench.tap("broken-yes")
    assert bench.text("title") == "ring 5"
    assert "Its ring broke and is new" in bench.text("action")
    assert bench.log()[-1]["result"] == "broken"
    bench.press("d")
    assert bench.text("count") == "2 of 12 joins welded"


def test_the_last_screen_saves_and_says_what_happens_next(bench: Bench) -> None:
    bench.press(*"dddddddddddd")
    assert bench.text("title") == "All joins are welded"
    assert "chainplan record" in bench.text("end-next")
    for old in bench.browser.downloads.iterdir():
        old.unlink()
    bench.tap("end-save")
    wait_until(lambda: list(bench.browser.downloads.glob("*.csv")))


# ---- Screens -----------------------------------------------------------------------------------


HIDDEN = """
const footer = document.querySelector('footer').getBoundingClientRect();
const scroller = document.getElementById('next');
scroller.scrollTop = scroller.scrollHeight;
window.scrollTo(0, document.documentElement.scrollHeight);
const low = [...document.querySelectorAll('#next > *')].filter((e) => e.checkVisibility());
const last = low[low.length - 1].getBoundingClientRect();
const end = footer.top < last.top ? footer.top : footer.bottom < last.top ? Infinity : footer.top;
const wide = document.documentElement.scrollWidth;
return [last.bottom, document.querySelector('footer').getBoundingClientRect().top, wide,
  getComputedStyle(document.getElementById('app')).display];
"""


SIDEWAYS = """
return [...document.querySelectorAll("dialog")].filter((dialog) => {
  dialog.showModal();
  const wide = dialog.scrollWidth > dialog.clientWidth;
  dialog.close();
  return wide;
}).map((dialog) => dialog.id);
"""
"""Dialogs of which something lies beyond their edge."""


@pytest.mark.parametrize("text_px", [16, 32])
def test_nothing_lies_under_the_buttons_of_a_phone(
    invented_necklace: Plan, tmp_path: Path, text_px: int
) -> None:
    """360 × 740, text as usual and twice as large: all can be brought into sight, none is cut."""
    chromium = start_chromium(tmp_path, text_px=text_px)
    try:
        sheet = Bench(chromium, write_bench_sheet(invented_necklace, tmp_path / "sheet.html"))
        sheet.screen(360, 740)
        sheet.open()
        box = chromium.find_element("id", "acknowledge").rect
        assert box["y"] + box["height"] <= 740  # in sight without a hunt
        sheet.tap("acknowledge")
        bottom, top, wide, _ = chromium.execute_script(HIDDEN)
        assert bottom <= top + 1 or top < 0
        assert wide <= 360
        for name in ("done", "bad", "undo", "pause", "title", "open-passes"):
            place = chromium.find_element("id", name)
            chromium.execute_script("arguments[0].scrollIntoView({block: 'center'})", place)
            at = chromium.execute_script(
                "const b = arguments[0].getBoundingClientRect();"
                "const e = document.elementFromPoint(b.left + b.width / 2, b.top + b.height / 2);"
                "return e === arguments[0] || arguments[0].contains(e);",
                place,
            )
            assert at, name
        assert chromium.execute_script(SIDEWAYS) == []
        sheet.tap("done")
        assert sheet.text("count") == "1 of 700 joins welded"
    finally:
        chromium.quit()


def test_on_a_tablet_the_instruction_is_the_biggest_thing(bench: Bench) -> None:
    """Larger letters than any button has, and a taller block than any button."""
    bench.screen(1024, 768)
    try:
        sizes = bench.browser.execute_script(
            "const px = (e) => parseFloat(getComputedStyle(e).fontSize);"
            "const high = (e) => e.getBoundingClientRect().height;"
            "const all = [...document.querySelectorAll('#app button')]"
            ".filter((e) => e.checkVisibility());"
            "const title = document.getElementById('title');"
            "return [px(title), Math.max(...all.map(px)), high(title) +"
            " high(document.getElementById('place')), Math.max(...all.map(high))]"
        )
        assert sizes[0] >= 2 * sizes[1]
        assert sizes[0] >= 48  # 48 px are read at arm's length
        assert sizes[2] > sizes[3]
    finally:
        bench.browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_cautions_are_asked_once_a_day(bench: Bench) -> None:
    """Not at a reload, but on another day."""
    bench.open(fresh=False)
    assert not bench.shown("cautions")
    key = "Object.keys(localStorage).find((name) => localStorage[name].includes('settings'))"
    bench.browser.execute_script(
        f"const key = {key}; const head = JSON.parse(localStorage[key]);"
        "head.settings.read = '2020-01-01'; localStorage[key] = JSON.stringify(head);"
    )
    bench.open(fresh=False)
    assert bench.shown("cautions")
    bench.tap("acknowledge")


def test_left_handed_people_get_it_mirrored(bench: Bench) -> None:
    """Picture and instruction change places, and so do the buttons; it is kept."""

    def places() -> list[float]:
        return [
            bench.browser.find_element("id", name).rect["x"]
            for name in ("view", "next", "done", "pause")
        ]

    view, text, done, pause = places()
    assert view < text
    assert done < pause
    bench.tap("open-settings")
    bench.tap("left-on")
    bench.close("settings")
    bench.open(fresh=False)
    view, text, done, pause = places()
    assert view > text
    assert done > pause


# ---- Languages ---------------------------------------------------------------------------------


def in_language(plan: Plan, language: str) -> Plan:
    bench = replace(plan.job.bench, sheet=replace(plan.job.bench.sheet, language=language))
    return replace(plan, job=replace(plan.job, bench=bench))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_every_text_with_the_same_places_for_numbers(language: str) -> None:
    english, other = bench_texts("en"), bench_texts(language)
    assert english.keys() == other.keys()
    for key, text in other.items():
        assert text.strip(), key
        found, wanted = (
            set(re.findall(r"\{(\w+)(?:\.nth)?\}", words)) for words in (text, english[key])
        )
        assert found == wanted, key
    assert is_reviewed(language) is (language == "en")


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_sheet_runs_in_every_language(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, language: str
) -> None:
    """Through a whole job with all its buttons, without a text that is missing."""
    plan = in_language(invented_bracelet, language)
    sheet = opened(browser, without_waits(plan), tmp_path)
    texts = bench_texts(language)
    assert sheet.text("done-word") == texts["button.done"]
    assert browser.find_element("css selector", "html").get_attribute("lang") == language
    sheet.press("d", "n", "1", "n", "2", "n", "4")
    sheet.tap("broken-yes")
    sheet.tap("undo")
    for name in ("open-passes", "open-log", "open-settings"):
        sheet.tap(name)
        if name == "open-settings":
            assert sheet.shown("unreviewed") is (language != "en")
        sheet.close(name.removeprefix("open-"))
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    for _ in range(12):
        sheet.press("d")
    assert sheet.text("title") == texts["end.all_done"]
    assert sheet.problems() == []


def test_every_text_that_the_program_asks_for_is_in_the_table(invented_bracelet: Plan) -> None:
    """Names in the program stand in the table, and the page has no mark left."""
    page = bench_sheet_html(invented_bracelet)
    assert re.findall(r"\{\{[\w.]+\}\}", page) == []
    texts = set(bench_texts("en"))
    program = page.split("</style>")[1].split("<script>")[-1]
    asked = set(re.findall(r'\bt\("([\w.]+)"', program))
    assert len(asked) > 60
    for key in asked:
        assert key in texts or {f"{key}.one", f"{key}.other"} <= texts, key


def test_numbers_of_the_sheet_are_the_plan_s(invented_bracelet: Plan) -> None:
    """Waits of quicker hands and the times to cool go into the sheet rounded up."""
    faster = (FasterPace(share=0.4, wait_s=np.full(12, 1.2)),)
    plan = with_order(invented_bracelet, faster=faster, rest_s=1.5, cold_s=99.1)
    page = bench_sheet_html(plan)
    piece = json.loads(page.split('id="content">')[1].split("</script>")[0])["pieces"][0]
    assert piece["faster"] == [{"share": 0.4, "wait": [2] * 12}]
    assert (piece["rest_s"], piece["cold_s"]) == (2, math.ceil(99.1))
