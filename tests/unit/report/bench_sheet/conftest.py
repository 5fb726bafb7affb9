"""A Chromium for the tests of the sheet, and the sheet opened in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from at_bench import Bench, start_chromium, without_waits

from chainplan.report.bench_sheet import write_bench_sheet

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from chainplan.model.plan import Plan

CONTENT = "chainplan.report.bench_sheet.content"


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A real Chromium; without one the tests are skipped, but never where CI runs."""
    chromium = start_chromium(tmp_path_factory.mktemp("downloads"))
    yield chromium
    chromium.quit()


@pytest.fixture(autouse=True)
def taps_in_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tests tap faster than anybody welds; what the sheet makes of that is tested by itself."""
    for name in ("GUARD_MS", "FASTER_SHARE", "SKIPPED_S"):
        monkeypatch.setattr(f"{CONTENT}.{name}", 0)


@pytest.fixture
def bench(browser: Any, invented_bracelet: Plan, tmp_path: Path) -> Bench:
    """The sheet of a twelve-ring bracelet without waits, opened first, cautions read."""
    plan = without_waits(invented_bracelet)
    sheet = Bench(browser, write_bench_sheet(plan, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    return sheet


@pytest.fixture
def waiting(browser: Any, invented_bracelet: Plan, tmp_path: Path) -> Bench:
    """The same with waits: 2 s before joins 4, 7 and 10."""
    sheet = Bench(browser, write_bench_sheet(invented_bracelet, tmp_path / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    return sheet
