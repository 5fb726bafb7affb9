"""Metals of one piece side by side: told apart in colour, and in grey by their patterns."""

from __future__ import annotations

import io
import itertools

import numpy as np
from PIL import Image

from chainplan.model.job import Piece, Section
from chainplan.model.kinds import DesignRule
from chainplan.model.piece.design import Design, DesignLine, Span
from chainplan.report.paper.png import sheet_png
from chainplan.report.paper.sheet import Sheet, Text
from chainplan.report.wire.looks import look_of_colour
from chainplan.report.wire.metal_picture import (
    SWATCH_MM,
    draw_legend,
    draw_swatch,
    metals_shown,
    rings_in_metals,
)
from chainplan.weave import lay_piece

DOTS_AN_INCH = 200


def two_tone():
    """A chain of silver with every third ring of copper."""
    every_third = DesignLine(
        design="x", rule=DesignRule.COLUMNS, which="", metals=(("", "copper"),),
        spans=(Span(first=1, last=-1, every=3),),
    )  # fmt: skip
    section = Section(
        weave="single-link", metal="sterling-silver", wire_mm=1.0, inner_mm=4.0, length_mm=60.0,
        design=Design(name="x", lines=(every_third,)),
    )  # fmt: skip
    return lay_piece(Piece(name="invented", quantity=1, sections=(section,)))


def in_grey(sheet):
    """The sheet as a grey printer gives it, 0 to 255."""
    picture = Image.open(io.BytesIO(sheet_png(sheet, DOTS_AN_INCH)))
    return np.asarray(picture.convert("L"), dtype=float)


def test_patterns_differ_in_grey_where_the_colour_is_the_same():
    """Wire of one colour, marked in six ways: no two look alike, whatever the printer's grey."""
    seen = []
    for pattern in range(6):
        sheet = Sheet(width_mm=SWATCH_MM + 2, height_mm=4.0, title="invented")
        draw_swatch(sheet, look_of_colour("#b0b0b0", pattern), left_mm=1.0, middle_mm=2.0)
        seen.append(in_grey(sheet))
    for one, other in itertools.combinations(seen, 2):
        wire = one < 250
        assert np.abs(one - other)[wire].mean() > 4


def test_the_metal_of_most_rings_is_plain_and_the_other_is_marked():
    layout = two_tone()
    assert metals_shown(layout) == ("sterling-silver", "copper")
    rings, (plain, marked) = rings_in_metals(layout)
    assert not any(stroke.dash for stroke in plain)
    assert any(stroke.dash for stroke in marked)
    copper = np.array([m.metal == "copper" for m in layout.materials])[layout.material]
    assert (rings.look == copper).all()


def test_the_legend_names_each_metal_beside_its_wire():
    """Longer than a line it goes on below; a piece of one metal has none."""
    layout = two_tone()
    names = {"sterling-silver": "Sterling silver 925", "copper": "Copper C110"}
    sheet = Sheet(width_mm=160.0, height_mm=20.0, title="invented")
    one_line = draw_legend(sheet, layout, names, left_mm=2.0, top_mm=2.0, width_mm=150.0)
    assert sorted(mark.text for mark in sheet.marks if isinstance(mark, Text)) == [
        "Copper C110",
        "Sterling silver 925",
    ]
    narrow = Sheet(width_mm=50.0, height_mm=20.0, title="invented")
    assert draw_legend(narrow, layout, names, left_mm=2.0, top_mm=2.0, width_mm=45.0) > one_line
    section = Section(
        weave="single-link", metal="copper", wire_mm=1.0, inner_mm=4.0, length_mm=60.0
    )
    plain = lay_piece(Piece(name="invented", quantity=1, sections=(section,)))
    bare = Sheet(width_mm=50.0, height_mm=20.0, title="invented")
    assert draw_legend(bare, plain, names, left_mm=2.0, top_mm=2.0, width_mm=45.0) == 2.0
    assert not bare.marks
