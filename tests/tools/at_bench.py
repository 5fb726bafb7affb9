"""What tests of the bench sheet share: a real Chromium, and an assistant at the sheet."""

from __future__ import annotations

import csv
import io
import os
import shutil
import subprocess
import tarfile
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from chainplan.model.workshop.bench_log import unguarded

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from chainplan.model.plan import Plan

AXE = "axe-core@4.14.1"
"""The checker of accessibility: older engines have no rules of WCAG 2.2 and pass everything."""
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def need(*names: str) -> list[str]:
    """Paths of programs; without them a user's run skips and a check run fails."""
    found = [shutil.which(name) for name in names]
    missing = [name for name, path in zip(names, found, strict=True) if path is None]
    if missing:
        message = f"{' and '.join(missing)} needed for these tests"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    return [str(path) for path in found]


def start_chromium(downloads: Path, *arguments: str, text_px: int | None = None) -> Any:
    """Start a Chromium of its own; ``text_px``: the size of text that its user asked for."""
    program, driver = need("chromium", "chromedriver")
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = program
    usual = ("--headless=new", "--no-sandbox", "--disable-gpu", "--window-size=1000,800")
    for argument in (*usual, *arguments):
        options.add_argument(argument)
    prefs: dict[str, object] = {"download.default_directory": str(downloads)}
    if text_px is not None:
        prefs["webkit.webprefs.default_font_size"] = text_px
    options.add_experimental_option("prefs", prefs)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    chromium = webdriver.Chrome(options=options, service=Service(driver))
    chromium.downloads = downloads
    chromium.set_script_timeout(60)
    return chromium


def wait_until(what: Callable[[], object], seconds: float = 30) -> None:
    """Look again and again until something is so; a busy machine may take its time."""
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it did not become so"
        time.sleep(0.05)


def fetch_axe(folder: Path) -> str:
    """Fetch the checker's program by npm; where that cannot be, a check run fails."""
    (npm,) = need("npm")
    told = subprocess.run(
        [npm, "pack", AXE, "--silent"], cwd=folder, capture_output=True, text=True, check=False,
        timeout=300,
    )  # fmt: skip
    archives = list(folder.glob("*.tgz"))
    if told.returncode or not archives:
        message = f"{AXE} could not be fetched: {told.stderr[-300:]}"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    with tarfile.open(archives[0]) as archive:
        file = archive.extractfile("package/axe.min.js")
        assert file is not None
        return file.read().decode("utf-8")


def axe_findings(browser: Any, axe: str) -> list[str]:
    """Check the page as it stands; a line a finding, and the rules that could not decide."""
    browser.execute_script(axe)
    found = browser.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        f"axe.run({{runOnly: {{type: 'tag', values: {RULES}}}}}).then(done)"
    )
    assert found["testEngine"]["version"] >= "4.14"
    return [
        f"{item['id']}: {node['html'][:160]}"
        for item in found["violations"]
        for node in item["nodes"]
    ]


class Bench:
    """What an assistant does with the sheet."""

    def __init__(self, browser: Any, path: Path) -> None:
        self.browser = browser
        self.path = path

    def open(self, *, fresh: bool = True) -> None:
        """Open the sheet; fresh: as on a device that has never shown it.

        A new page may be drawn by another process, which what the last page emptied has not yet
        reached: then the cautions are not shown, and it is emptied again. For the same reason a
        sheet that is open already is reloaded where it stands.
        """
        uri = self.path.as_uri()
        if not fresh and self.browser.current_url == uri:
            self.browser.refresh()
        else:
            self.browser.get(uri)
        end = time.monotonic() + 20
        while fresh and not self.shown("cautions") and time.monotonic() < end:
            self.browser.execute_script("localStorage.clear()")
            self.browser.get(self.path.as_uri())
        if fresh:
            assert self.shown("cautions")
            self.browser.get_log("browser")

    def tap(self, name: str) -> None:
        self.browser.find_element("id", name).click()

    def text(self, name: str) -> str:
        return str(self.browser.find_element("id", name).get_property("textContent"))

    def shown(self, name: str) -> bool:
        return bool(self.browser.find_element("id", name).is_displayed())

    def press(self, *keys: str) -> None:
        from selenium.webdriver.common.action_chains import ActionChains

        for key in keys:
            ActionChains(self.browser).send_keys(key).perform()

    def hold(self, name: str, seconds: float) -> None:
        """Hold a button down with the mouse."""
        from selenium.webdriver.common.action_chains import ActionChains

        button = self.browser.find_element("id", name)
        ActionChains(self.browser).click_and_hold(button).pause(seconds).release().perform()

    def close(self, dialog: str) -> None:
        self.browser.find_element("css selector", f"#{dialog} .close").click()

    def log(self) -> list[dict[str, str]]:
        self.tap("open-log")
        text = self.browser.find_element("id", "log-text").get_property("value")
        self.close("log")
        return read_log(text)

    def problems(self) -> list[str]:
        return [str(entry["message"]) for entry in self.browser.get_log("browser")]

    def screen(self, width: int, height: int) -> None:
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def read_log(text: str) -> list[dict[str, str]]:
    """Read a log as a later plan does."""
    rows = csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    return [{name: unguarded(cell) for name, cell in row.items()} for row in rows]


def without_waits(plan: Plan) -> Plan:
    """The same plan with no wait in it."""
    pieces = []
    for piece in plan.pieces:
        order = piece.order
        waits, starts = np.zeros_like(order.wait_s), order.start_s - np.cumsum(order.wait_s)
        passes = tuple(replace(item, wait_s=0.0) for item in order.passes)
        order = replace(order, wait_s=waits, start_s=starts, passes=passes)
        pieces.append(replace(piece, order=order))
    return replace(plan, pieces=tuple(pieces))
