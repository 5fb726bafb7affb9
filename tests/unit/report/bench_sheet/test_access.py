"""Every state of the sheet against WCAG 2.2 AA, by a checker that has its rules."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from at_bench import Bench, axe_findings, fetch_axe

from chainplan.model.bench.groups import LANGUAGES
from chainplan.report.bench_sheet import write_bench_sheet

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from chainplan.model.plan import Plan


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The checker's program."""
    return fetch_axe(tmp_path_factory.mktemp("axe"))


def states(sheet: Bench) -> Iterator[str]:
    """Bring the sheet into every state that it has, one after another."""
    yield "cautions"
    sheet.tap("acknowledge")
    yield "a join"
    sheet.tap("bad")
    yield "not good"
    sheet.tap("with-note")
    yield "note"
    sheet.tap("note-cancel")
    sheet.tap("ring-broken")
    yield "broken"
    sheet.tap("broken-no")
    for name in ("log", "settings", "passes"):
        sheet.tap(f"open-{name}")
        yield name
        sheet.close(name)
    sheet.tap("pause")
    yield "pause"
    sheet.tap("resume")
    sheet.tap("done")
    yield "countdown"
    sheet.tap("large-less")
    yield "a wait"
    sheet.tap("open-log")
    sheet.tap("clear")
    yield "a question"
    sheet.tap("sure-no")
    sheet.close("log")
    sheet.tap("open-passes")
    sheet.browser.find_element("id", "jump-ring").send_keys("1")
    sheet.tap("jump-go")
    yield "reopen"
    sheet.tap("reopen-no")
    sheet.tap("open-settings")
    sheet.tap("left-on")
    sheet.close("settings")
    yield "left-handed"
    sheet.tap("open-weaving")
    yield "weaving"
    sheet.browser.find_element("css selector", "#weaving-list button").click()
    yield "a line to weave"
    sheet.tap("weave-done")
    yield "all lines woven"


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("size", [(360, 740), (1024, 768)])
def test_every_state_of_the_sheet_is_accessible(
    browser: Any,
    invented_bracelet: Plan,
    tmp_path: Path,
    axe: str,
    size: tuple[int, int],
    dark: bool,
) -> None:
    """No violation in any state, on a phone and a tablet, light and dark."""
    piece = invented_bracelet.pieces[0]
    order = replace(piece.order, wait_s=np.full(12, 300.0))
    plan = replace(invented_bracelet, pieces=(replace(piece, order=order),))
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "sheet.html"))
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
    sheet.screen(*size)
    try:
        sheet.open()
        found = {state: axe_findings(browser, axe) for state in states(sheet)}
        assert {state: told for state, told in found.items() if told} == {}
        assert len(found) == 17
    finally:
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_the_sheet_is_accessible_in_every_language(
    browser: Any, invented_bracelet: Plan, tmp_path: Path, axe: str, language: str
) -> None:
    """Longer words on a phone: cautions, a join and the passes, said to be in that language."""
    bench = invented_bracelet.job.bench
    bench = replace(bench, sheet=replace(bench.sheet, language=language))
    plan = replace(invented_bracelet, job=replace(invented_bracelet.job, bench=bench))
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "sheet.html"))
    sheet.screen(360, 740)
    try:
        sheet.open()
        assert browser.find_element("css selector", "html").get_attribute("lang") == language
        found = {"cautions": axe_findings(browser, axe)}
        sheet.tap("acknowledge")
        found["a join"] = axe_findings(browser, axe)
        sheet.tap("open-passes")
        found["passes"] = axe_findings(browser, axe)
        wide = browser.execute_script("return document.documentElement.scrollWidth")
        assert wide <= 360
        assert found == {"cautions": [], "a join": [], "passes": []}
    finally:
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_the_last_screen_is_accessible(bench: Bench, axe: str) -> None:
    bench.press(*"dddddddddddd")
    assert bench.shown("end")
    assert axe_findings(bench.browser, axe) == []


def test_the_checker_finds_what_is_wrong(bench: Bench, axe: str) -> None:
    """A target too small, text too faint, a button without a name: rules of 2.2 are there."""
    bench.browser.execute_script(
        "const box = document.createElement('div'); document.querySelector('main').append(box);"
        "for (let k = 0; k < 2; k++) { const b = document.createElement('button');"
        "b.style.cssText = 'min-width:0;min-height:0;width:8px;height:8px;padding:0;border:0';"
        "box.append(b); }"
    )
    found = " ".join(axe_findings(bench.browser, axe))
    assert "button-name" in found
    assert "target-size" in found
