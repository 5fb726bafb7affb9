"""Shaded pictures and the chart of a weave: what is drawn, not which pixels."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.model.weave import Repeat
from chainplan.report.charts.weave import plot_weave, rings_per_cm
from chainplan.report.paper.sheet import Text
from chainplan.report.wire.arcs import rings_of_repeat
from chainplan.report.wire.axes import METAL_LOOKS, look_of_metal
from chainplan.report.wire.weave_picture import (
    draw_weave,
    library_sheet,
    picture_sheet,
    write_sheet,
    write_weave_picture,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from chainplan.model.plan import Plan


def single_link(aspect_ratio: float) -> Repeat:
    """The taut single-link chain: its repeat of two rings is 2·ID long (exact)."""
    lean = np.array([1.0, -1.0]) * np.pi / 4
    return Repeat(
        weave="single-link",
        aspect_ratio=aspect_ratio,
        state="taut",
        centre=np.array([(0.0, 0.0, 0.0), (aspect_ratio, 0.0, 0.0)]),
        normal=np.column_stack([np.zeros(2), np.cos(lean), np.sin(lean)]),
        mean_radius=np.full(2, (aspect_ratio + 1) / 2),
        wire=np.ones(2),
        ring_class=np.zeros(2, dtype=np.int32),
        vectors=np.array([(2 * aspect_ratio, 0.0, 0.0)]),
        turn_rad=0.0,
        links=np.array([(0, 1, 0, 0), (1, 0, 1, 0)], dtype=np.int32),
        contacts=np.array([(0, 1, 0, 0), (1, 0, 1, 0)], dtype=np.int32),
        residual_gap=0.0,
        width=aspect_ratio + 2,
        thickness=aspect_ratio + 2,
    )


@pytest.fixture
def axes() -> Iterator[Any]:
    """Fresh axes, closed afterwards."""
    import matplotlib.pyplot as plt

    figure, ax = plt.subplots()
    yield ax
    plt.close(figure)


def test_repeat_is_laid_at_its_vectors_and_turn() -> None:
    """Copies stand one repeat apart; a screw turns each about the chain's axis."""
    straight = rings_of_repeat(single_link(4.0), 3, wire_mm=0.5)
    assert straight.count == 6
    assert np.allclose(np.diff(straight.centre_mm[:, 0]), 2.0)
    screw = SimpleNamespace(**{name: getattr(single_link(4.0), name) for name in Repeat.__slots__})
    screw.turn_rad = np.pi / 2
    turned = rings_of_repeat(screw, 2)
    x, y, z = turned.normal[0]
    assert np.allclose(turned.normal[2], (x, -z, y))


def test_shaded_picture_draws_on_the_axes_given(axes: Any) -> None:
    """The axes come back with the wire on them and the ring numbers as text."""
    returned = draw_weave(single_link(4.0), ax=axes, numbers=True)
    assert returned is axes
    axes.figure.canvas.draw()
    texts = {text.get_text() for text in axes.texts}
    rings = len(texts)
    assert texts == {str(number) for number in range(1, rings + 1)}
    assert len(axes.patches) > 10


def test_stroke_is_as_wide_as_the_wire_whatever_the_scale(axes: Any) -> None:
    """Twice the zoom, twice the stroke: the outline of a ring is exact at any scale."""
    draw_weave(single_link(4.0), ax=axes)
    axes.figure.canvas.draw()
    before = axes.patches[0].get_linewidth()
    left, right = axes.get_xlim()
    axes.set_xlim(left, left + (right - left) / 2)
    low, high = axes.get_ylim()
    axes.set_ylim(low, low + (high - low) / 2)
    axes.figure.canvas.draw()
    assert axes.patches[0].get_linewidth() == pytest.approx(2 * before, rel=0.02)


def test_picture_numbers_every_ring_when_asked() -> None:
    """Numbers start at 1 and none is missing; without asking there are none."""
    rings = rings_of_repeat(single_link(4.0), 4)
    numbered = picture_sheet(rings, "single link", numbers=True)
    found = [mark.text for mark in numbered.marks if isinstance(mark, Text)]
    assert found == [str(number) for number in range(1, 9)]
    assert not picture_sheet(rings, "single link").marks


def test_library_page_shows_each_weave_at_the_same_wire(tmp_path: Path) -> None:
    """The same wire in mm on the page for all, each under its name."""
    weaves = [(f"weave {ratio}", "", single_link(ratio)) for ratio in (3.0, 5.0, 8.0)]
    page = library_sheet(weaves)
    wires = [stamp.scale * stamp.drawing.layers[0].wire_mm for stamp in page.stamps]
    assert wires == pytest.approx([wires[0]] * 3)
    svg, png = write_sheet(page, tmp_path / "library")
    names = [
        node.text
        for node in ElementTree.fromstring(svg.read_text(encoding="utf-8")).iter(
            "{http://www.w3.org/2000/svg}text"
        )
    ]
    assert {"weave 3.0", "weave 5.0", "weave 8.0"} <= set(names)
    assert png.read_bytes().startswith(b"\x89PNG")


def test_weave_picture_is_written_as_svg_and_png(invented_bracelet: Plan, tmp_path: Path) -> None:
    """A folder or a file name will do; without rings the message says what to give."""
    layout = invented_bracelet.pieces[0].layout
    weave = SimpleNamespace(key="single-link", title="Single link")
    described: Any = SimpleNamespace(weave=weave, layout=layout)
    files = write_weave_picture(described, tmp_path)
    assert [path.name for path in files] == ["single-link.svg", "single-link.png"]
    named = write_weave_picture(described, tmp_path / "mine.png", numbers=True)
    assert [path.name for path in named] == ["mine.svg", "mine.png"]
    described.layout = None
    with pytest.raises(InputError, match="give the wire and the inner diameter"):
        write_weave_picture(described, tmp_path)


def test_metal_gives_its_colour() -> None:
    """Gold is yellow, copper red, silver and anything unknown grey."""
    assert look_of_metal("gold-18ct-yellow") == METAL_LOOKS["gold"]
    assert look_of_metal("copper") == METAL_LOOKS["copper"]
    assert look_of_metal("stainless-316l") == METAL_LOOKS["dark"]
    assert look_of_metal("invented-alloy") == METAL_LOOKS["silver"]


def test_rings_per_cm_of_single_link_is_ten_over_the_inner_diameter() -> None:
    """Exact: the taut single-link chain has one ring for each inner diameter of length."""
    assert rings_per_cm(single_link(3.5), 1.2) == pytest.approx(10 / (3.5 * 1.2))


def test_chart_marks_the_own_ring_and_the_end_of_the_weave(axes: Any) -> None:
    """The line falls with the aspect ratio; ring and limit are written in figures."""
    taut = [single_link(ratio) for ratio in (2.0, 3.0, 4.0, 6.0)]
    plot_weave(
        taut, wire_mm=1.0, title="Single link", smallest_aspect_ratio=2.0, own_aspect_ratio=3.0,
        ax=axes,
    )  # fmt: skip
    counts = axes.lines[0].get_ydata()
    assert np.all(np.diff(counts) < 0)
    texts = [text.get_text() for text in axes.texts]
    assert any(text.startswith("3.00: 3.3") for text in texts)
    assert any("cannot be woven below 2.00" in text for text in texts)


def test_png_reads_back_as_it_was_written() -> None:
    """An independent reader finds the same picture and the resolution."""
    from io import BytesIO

    from PIL import Image

    from chainplan.report.paper.png import png_file

    colours = np.random.default_rng(3).integers(0, 256, (7, 11, 3), dtype=np.uint8)
    picture = Image.open(BytesIO(png_file(colours, 110)))
    assert np.array_equal(np.asarray(picture), colours)
    assert picture.info["dpi"] == pytest.approx((110, 110), abs=0.1)
