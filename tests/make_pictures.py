"""Make the pictures that the README shows, from the sample necklace.

Run as ``python tests/make_pictures.py FOLDER``; needs chromium for the bench sheet.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import chainplan
from chainplan.report.bench_sheet import write_bench_sheet
from chainplan.report.diagram.weld_order import draw_diagrams
from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.png import page_pngs
from chainplan.report.wire.weave_picture import picture_sheet, rings_of, write_sheet

SAMPLES = Path(__file__).parents[1] / "samples"
TAPS = 5


def photograph_bench_sheet(page: Path, target: Path) -> None:
    """Open the bench sheet, weld a few joins and save what the screen shows."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = "/usr/bin/chromium"
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"):
        options.add_argument(argument)
    browser = webdriver.Chrome(options=options, service=Service("/usr/bin/chromedriver"))
    try:
        size = {"width": 1100, "height": 720, "deviceScaleFactor": 1, "mobile": False}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        browser.get(page.as_uri())
        browser.find_element("id", "acknowledge").click()
        for _ in range(TAPS):
            browser.find_element("id", "done").click()
        browser.save_screenshot(str(target))
    finally:
        browser.quit()


def main(folder: Path) -> int:
    """Make all pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    plan = chainplan.make_plan(chainplan.read_job(SAMPLES / "necklace.xlsx"))
    piece = plan.pieces[0]
    metal = piece.layout.sections[0].metal
    rings = rings_of(piece.layout).take(slice(48))
    write_sheet(picture_sheet(rings, "The weave, shaded", metal=metal), folder / "weave.png")
    pages = draw_diagrams(plan)
    first = next(page for page in pages if any("first of a pass" in str(m) for m in page.marks))
    (content,) = page_pngs(write_pdf([first], title=first.title), 100)
    (folder / "weld-order.png").write_bytes(content)
    with tempfile.TemporaryDirectory() as scratch:
        page = write_bench_sheet(plan, Path(scratch) / "bench-sheet.html")
        photograph_bench_sheet(page, folder / "bench-sheet.png")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
