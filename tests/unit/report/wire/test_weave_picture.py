"""Shaded pictures of a weave: what is drawn, not which pixels."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.model.piece.weave import Repeat
from chainplan.report.paper.sheet import Text
from chainplan.report.wire.arcs import FRONT, rings_of_repeat, wire_layers
from chainplan.report.wire.looks import METAL_LOOKS, look_of_metal, wire_drawing
from chainplan.report.wire.weave_picture import (
    library_sheet,
    picture_sheet,
    write_sheet,
    write_weave_picture,
)

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan


def test_repeat_is_laid_at_its_vectors_and_turn(build: Any) -> None:
    """Copies stand one repeat apart; a screw turns each about the chain's axis."""
    straight = rings_of_repeat(build.repeat(4.0), 3, wire_mm=0.5)
    assert straight.count == 6
    assert np.allclose(np.diff(straight.centre_mm[:, 0]), 2.0)
    screw = SimpleNamespace(**{name: getattr(build.repeat(4.0), name) for name in Repeat.__slots__})
    screw.turn_rad = np.pi / 2
    turned = rings_of_repeat(screw, 2)
    x, y, z = turned.normal[0]
    assert np.allclose(turned.normal[2], (x, -z, y))


def test_stroke_is_as_wide_as_the_wire(build: Any) -> None:
    """The widest stroke of a layer is the wire itself; brighter ones are narrower, above it."""
    rings = rings_of_repeat(build.repeat(4.0), 4, wire_mm=1.2)
    layers = wire_layers(rings, FRONT)
    look = METAL_LOOKS["gold"]
    drawing = wire_drawing("trial", layers, look)
    assert len(drawing.paths) == len(layers) * len(look)
    widths = np.array([path.width_mm for path in drawing.paths]).reshape(len(layers), len(look))
    assert widths[:, 0] == pytest.approx(np.full(len(layers), 1.2))
    assert np.all(np.diff(widths, axis=1) < 0)


def test_picture_numbers_every_ring_when_asked(build: Any) -> None:
    """Numbers start at 1 and none is missing; without asking there are none."""
    rings = rings_of_repeat(build.repeat(4.0), 4)
    numbered = picture_sheet(rings, "single link", numbers=True)
    found = [mark.text for mark in numbered.marks if isinstance(mark, Text)]
    assert found == [str(number) for number in range(1, 9)]
    assert not picture_sheet(rings, "single link").marks


def test_library_page_shows_each_weave_at_the_same_wire(build: Any, tmp_path: Path) -> None:
    """The same wire in mm on the page for all, each under its name."""
    weaves = [(f"weave {ratio}", "", build.repeat(ratio)) for ratio in (3.0, 5.0, 8.0)]
    page = library_sheet(weaves)
    wires = [each.scale * each.drawing.paths[0].width_mm for each in page.pictures]
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
