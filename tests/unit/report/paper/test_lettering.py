"""Text measured, folded and shortened before it is placed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.report.paper.lettering import fold_text, printable, shorten_text, text_width_mm


@given(text=st.text(max_size=120), width=st.floats(10.0, 80.0))
def test_folded_lines_fit_and_lose_nothing(text: str, width: float) -> None:
    """Only spaces are lost when a text is folded."""
    lines = fold_text(text, 10, width)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(text_width_mm(line, 10) <= width or len(line) == 1 for line in lines)
    assert text_width_mm(shorten_text(text, 10, width), 10) <= width


@pytest.mark.parametrize("width", [20.0, 35.0, 60.0])
def test_folded_numbers_stay_beside_what_they_count(width: float) -> None:
    """A line that ends in "2 min" or "before join" is misread at the bench."""
    text = "ring 33, 19 joins, 2 min 44 s (of which 48 s waiting) · wait 48 s before join 22, 12 J"
    lines = fold_text(text, 9, width)
    assert not any(line.endswith((" min", "join", "ring")) for line in lines)
    assert not any(line.startswith(("s ", "min ", "J")) for line in lines)
    assert " ".join(lines) == text


def test_widths_are_those_of_the_typeface() -> None:
    """An independent reader of the same typeface: matplotlib's, at a size where hinting is off."""
    from pathlib import Path

    import matplotlib as mpl
    from matplotlib.ft2font import FT2Font

    face = FT2Font(str(Path(mpl.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"))
    face.set_size(1000.0, 72)
    wanted = sum(face.load_char(ord(letter)).linearHoriAdvance / 65536 for letter in "Ring ⌀ 1Wł")
    found = text_width_mm("Ring ⌀ 1Wł", 1000.0, bold=True) / 25.4 * 72
    assert found == pytest.approx(wanted, rel=1e-3)


def test_control_signs_become_spaces() -> None:
    """Neither PDF nor SVG can hold them."""
    assert printable("a\x00b\x1bc\ud800d é漢😀") == "a b c d é漢😀"
