"""Makes the pictures that the README shows, from the sample necklace.

``python tests/make_all.py`` runs it; the bench sheet needs chromium.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from pathlib import Path

import chainplan
from chainplan.report.bench_sheet import write_bench_sheet
from chainplan.report.diagram.weld_order import draw_diagrams
from chainplan.report.paper.png import sheet_png
from chainplan.report.wire.weave_picture import picture_sheet, rings_of

SAMPLES = Path(__file__).resolve().parents[1] / "samples"
TAPS = 5
BETWEEN_S = 0.8


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        message = f"{name} is not installed; the picture of the bench sheet needs it"
        raise SystemExit(message)
    return found


def photograph_bench_sheet(page: Path, target: Path) -> None:
    """Open the bench sheet, weld a few joins and save what the screen shows."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = _program("chromium")
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"):
        options.add_argument(argument)
    browser = webdriver.Chrome(options=options, service=Service(_program("chromedriver")))
    try:
        size = {"width": 1100, "height": 720, "deviceScaleFactor": 1, "mobile": False}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        browser.get(page.as_uri())
        browser.find_element("id", "acknowledge").click()
        for _ in range(TAPS):
            time.sleep(BETWEEN_S)  # sooner taps are taken for double ones
            browser.find_element("id", "done").click()
        browser.save_screenshot(str(target))
    finally:
        browser.quit()


def make_pictures(folder: Path) -> list[Path]:
    """Make all pictures and return their files."""
    folder.mkdir(parents=True, exist_ok=True)
    plan = chainplan.make_plan(chainplan.read_job(SAMPLES / "necklace.xlsx"))
    piece = plan.pieces[0]
    metal = piece.layout.sections[0].metal
    rings = rings_of(piece.layout).take(slice(48))
    files = [folder / name for name in ("weave.png", "weld-order.png", "bench-sheet.png")]
    shaded = picture_sheet(rings, "The weave, shaded", metal=metal)
    files[0].write_bytes(sheet_png(shaded, 200))
    pages = draw_diagrams(plan)
    first = next(page for page in pages if any("first of a pass" in str(m) for m in page.marks))
    files[1].write_bytes(sheet_png(first, 100))
    with tempfile.TemporaryDirectory() as scratch:
        page = write_bench_sheet(plan, Path(scratch) / "bench-sheet.html")
        photograph_bench_sheet(page, files[2])
    return files
