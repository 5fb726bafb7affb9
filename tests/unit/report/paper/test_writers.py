"""Sheets as PDF, SVG and PNG: the same marks in each, the same bytes each time."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.png import page_pngs, sheet_png
from chainplan.report.paper.sheet import Drawing, Path, Picture, Sheet
from chainplan.report.paper.svg import path_data, sheet_svg

RED, GREEN, BLUE = (255, 0, 0), (0, 255, 0), (0, 0, 255)


def a_sheet() -> Sheet:
    """A red box, a green line shown twice through windows, blue text; 100 by 50 mm."""
    sheet = Sheet(width_mm=100.0, height_mm=50.0, title="trial")
    line = Path(
        points_mm=np.array([(-50.0, 1.0), (50.0, 1.0)]), first=np.array([True, False]),
        stroke="#00ff00", width_mm=2.0,
    )  # fmt: skip
    drawing = Drawing(key="line", paths=(line,))
    for left, scale in ((10.0, 1.0), (60.0, 2.0)):
        window = (-10.0 / scale, 0.0, 10.0 / scale, 5.0)
        sheet.pictures.append(
            Picture(drawing=drawing, left_mm=left, top_mm=10.0, scale=scale, window_mm=window)
        )
    sheet.box(40.0, 5.0, 10.0, 4.0, fill="#ff0000")
    sheet.write(20.0, 40.0, "Łódź 漢 ⌀ 12", 30.0, bold=True, colour="#0000ff")
    return sheet


def dots(sheet: Sheet) -> np.ndarray:
    """Colours of a sheet rendered at ten dots a mm, shape (rows, columns, 3)."""
    from PIL import Image

    return np.asarray(Image.open(BytesIO(sheet_png(sheet, 254))).convert("RGB"))


def edges_mm(
    colours: np.ndarray, colour: tuple[int, int, int], left: int, right: int
) -> list[float]:
    """Left, upper, right and lower edge in mm of what has a colour between two columns of mm."""
    rows, columns = np.nonzero((colours[:, left * 10 : right * 10] == colour).all(axis=2))
    found = [columns.min(), rows.min(), columns.max() + 1, rows.max() + 1]
    return (np.array(found) / 10 + (left, 0, left, 0)).tolist()


def test_marks_stand_at_their_places_in_mm() -> None:
    """From the upper left corner, y downwards; drawings are clipped to their windows and scaled."""
    colours = dots(a_sheet())
    assert colours.shape[:2] == pytest.approx((500, 1000), abs=1)  # rounded up
    assert edges_mm(colours, RED, 0, 100) == pytest.approx([40, 5, 50, 9], abs=0.15)
    # The line lies 1 mm above the lower edge of a window that is 5 mm high, and is 2 mm wide.
    assert edges_mm(colours, GREEN, 0, 40) == pytest.approx([10, 13, 30, 15], abs=0.15)
    assert edges_mm(colours, GREEN, 55, 100) == pytest.approx([60, 16, 80, 20], abs=0.15)


@pytest.mark.parametrize(("anchor", "share"), [("start", 0.0), ("middle", 0.5), ("end", 1.0)])
def test_text_is_anchored_as_it_was_measured(anchor: str, share: float) -> None:
    """Boxes around numbers rely on it."""
    from chainplan.report.paper.lettering import text_width_mm

    sheet = Sheet(width_mm=100.0, height_mm=30.0, title="trial")
    sheet.write(50.0, 20.0, "HIH", 24.0, anchor=anchor, colour="#0000ff")
    left, _, right, base = edges_mm(dots(sheet), BLUE, 0, 100)
    width = text_width_mm("HIH", 24.0)
    assert base == pytest.approx(20.0, abs=0.2)
    assert right - left == pytest.approx(width, abs=2.0)  # the air at both sides of a letter
    assert (left + right) / 2 == pytest.approx(50.0 + (0.5 - share) * width, abs=0.2)


def test_pdf_text_is_searched_and_its_typeface_embedded() -> None:
    """Letters of other scripts are found as they were written, drawn or not."""
    import pypdfium2

    pdf = write_pdf([a_sheet(), a_sheet()], title="trial")
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 2
    assert document.get_metadata_value("Title") == "trial"
    text = document[1].get_textpage().get_text_bounded()
    assert "Łódź" in text
    assert "⌀ 12" in text
    assert b"DejaVuSans-Bold" in pdf
    assert b"Helvetica" not in pdf
    assert not re.search(rb"/(CreationDate|ModDate) \(D:20(?!00)", pdf)
    document.close()


def test_a_drawing_is_stored_once_and_shown_many_times() -> None:
    """Or a necklace's pages would take megabytes."""
    one = Sheet(width_mm=100.0, height_mm=50.0, title="one")
    points = np.random.default_rng(5).uniform(0, 50, (3000, 2))
    path = Path(points_mm=points, first=np.arange(3000) % 30 == 0, stroke="#000000", width_mm=0.1)
    picture = Picture(
        drawing=Drawing(key="tangle", paths=(path,)), left_mm=0.0, top_mm=0.0, scale=1.0,
        window_mm=(0.0, 0.0, 50.0, 50.0),
    )  # fmt: skip
    one.pictures.append(picture)
    ten = Sheet(width_mm=100.0, height_mm=50.0, title="ten", pictures=[picture] * 10)
    small, large = len(write_pdf([one], title="")), len(write_pdf([ten, ten], title=""))
    assert large < small + 2000
    assert sheet_svg(ten).count("<path") == sheet_svg(one).count("<path")


def test_the_same_sheets_give_the_same_bytes_in_another_process() -> None:
    """With another hash seed and time zone, and after other documents."""
    import hashlib

    code = f"""
import hashlib, runpy
from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.png import page_pngs
a_sheet = runpy.run_path({__file__!r})["a_sheet"]
pdf = write_pdf([a_sheet()], title="trial")
print(*(hashlib.sha256(part).hexdigest() for part in (pdf, *page_pngs(pdf))))
"""
    environment = {**os.environ, "PYTHONHASHSEED": "4711", "TZ": "Asia/Tokyo"}
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, env=environment, capture_output=True, text=True
    )
    write_pdf([Sheet(width_mm=10.0, height_mm=10.0, title="another")], title="another")
    pdf = write_pdf([a_sheet()], title="trial")
    here = [hashlib.sha256(part).hexdigest() for part in (pdf, *page_pngs(pdf))]
    assert done.stdout.split() == here


def test_svg_says_the_same_as_the_pdf() -> None:
    """Two windows onto one drawing, a box and a line of text."""
    tree = ElementTree.fromstring(sheet_svg(a_sheet()))
    kinds = [node.tag.rpartition("}")[2] for node in tree.iter()]
    assert kinds.count("use") == 2
    assert kinds.count("clipPath") == 2
    texts = [node.text for node in tree.iter("{http://www.w3.org/2000/svg}text")]
    assert texts == ["Łódź 漢 ⌀ 12"]


@given(
    lines=st.lists(
        st.lists(st.tuples(*[st.integers(-9999, 9999)] * 2), min_size=2, max_size=6),
        min_size=1,
        max_size=5,
    )
)
def test_path_data_is_short_and_gives_the_points_back(lines: list[list[tuple[int, int]]]) -> None:
    """Steps of a line follow one letter, signs part numbers: read as SVG says, nothing is lost."""
    points = np.array([point for line in lines for point in line]) / 100
    first = np.array([k == 0 for line in lines for k in range(len(line))])
    data = path_data(points, first)
    found = []
    for line in data[1:].split("M"):
        start, steps = line.split("l")
        numbers = [int(word) for word in re.findall(r"-?\d+", f"{start} {steps}")]
        found += np.cumsum(np.array(numbers).reshape(-1, 2), axis=0).tolist()
    assert found == np.rint(points * 100).astype(int).tolist()
    assert data.count("l") == len(lines)
