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


LOOP = (
    ("plan", "chainplan plan JOB"), ("bench", "sheet, tablet or list"),
    ("record", "chainplan record LOG"), ("progress", "chainplan progress"),
    ("replan", "chainplan replan"), ("check", "joins drawn by lot"),
    ("review", "chainplan review"), ("learn", "chainplan learn --write JOB"),
)  # fmt: skip
"""Stations of the loop, clockwise from the top, with what is done there."""


def draw_loop(target: Path) -> None:
    """Draw how a plan becomes work, work a record, and the record the next plan."""
    import math

    from chainplan.report.paper.sheet import GREY, INK, PALE, Sheet

    sheet = Sheet(width_mm=170, height_mm=100, title="From plan to bench and back")
    middle, reach = (85.0, 50.0), (58.0, 36.0)
    count = len(LOOP)
    place = [
        (middle[0] + reach[0] * math.sin(2 * math.pi * k / count),
         middle[1] - reach[1] * math.cos(2 * math.pi * k / count)) for k in range(count)
    ]  # fmt: skip
    ring = [
        (middle[0] + reach[0] * math.sin(2 * math.pi * k / 200),
         middle[1] - reach[1] * math.cos(2 * math.pi * k / 200)) for k in range(201)
    ]  # fmt: skip
    sheet.line(ring, width_mm=0.6, colour=GREY)
    for k in range(count):  # an arrow's head half way to the next
        turn = 2 * math.pi * (k + 0.5) / count
        x = middle[0] + reach[0] * math.sin(turn)
        y = middle[1] - reach[1] * math.cos(turn)
        dx, dy = reach[0] * math.cos(turn), reach[1] * math.sin(turn)
        long = math.hypot(dx, dy)
        dx, dy = dx / long, dy / long
        sheet.line(
            [(x - 2.5 * dx - 1.6 * dy, y - 2.5 * dy + 1.6 * dx), (x, y),
             (x - 2.5 * dx + 1.6 * dy, y - 2.5 * dy - 1.6 * dx)], width_mm=0.8, colour=INK,
        )  # fmt: skip
    for (name, text), (x, y) in zip(LOOP, place, strict=True):
        sheet.box(x - 19, y - 6.5, 38, 13, fill=PALE, stroke=INK)
        sheet.write(x, y - 0.8, name, 10, bold=True, anchor="middle")
        sheet.write(x, y + 4.0, text, 7, anchor="middle")
    sheet.write(middle[0], middle[1] - 1, "output/workshop.sqlite", 10, bold=True, anchor="middle")
    sheet.write(middle[0], middle[1] + 4, "the record: only ever added to", 8, anchor="middle")
    target.write_bytes(sheet_png(sheet, 110))


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
    files.append(folder / "loop.png")
    draw_loop(files[-1])
    with tempfile.TemporaryDirectory() as scratch:
        page = write_bench_sheet(plan, Path(scratch) / "bench-sheet.html")
        photograph_bench_sheet(page, files[2])
    return files
