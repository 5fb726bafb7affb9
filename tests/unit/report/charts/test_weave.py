"""The chart of one weave: rings per cm against the aspect ratio."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.report.charts.weave import rings_per_cm, weave_chart, write_weave_chart

if TYPE_CHECKING:
    from pathlib import Path


def test_rings_per_cm_of_single_link_is_ten_over_the_inner_diameter(build: Any) -> None:
    """Exact: the taut single-link chain has one ring for each inner diameter of length."""
    assert rings_per_cm(build.repeat(3.5), 1.2) == pytest.approx(10 / (3.5 * 1.2))


def test_chart_marks_the_own_ring_and_the_end_of_the_weave(build: Any) -> None:
    """The line falls with the aspect ratio; ring and limit are written in figures."""
    taut = [build.repeat(ratio) for ratio in (2.0, 3.0, 4.0, 6.0)]
    figure = weave_chart(
        taut, wire_mm=1.0, title="Single link", smallest_aspect_ratio=2.0, own_aspect_ratio=3.0
    )
    (axes,) = figure.axes
    assert np.all(np.diff(axes.lines[0].get_ydata()) < 0)
    texts = [text.get_text() for text in axes.texts]
    assert any(text.startswith("3.00: 3.3") for text in texts)
    assert any("cannot be woven below 2.00" in text for text in texts)


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_chart_is_written_by_its_ending_and_repeats(
    build: Any, tmp_path: Path, ending: str
) -> None:
    """The same bytes twice; another ending is refused by name."""
    given: Any = {
        "wire_mm": 1.0, "title": "Single link", "smallest_aspect_ratio": 2.0,
        "own_aspect_ratio": 3.0,
    }  # fmt: skip
    taut = [build.repeat(ratio) for ratio in (2.0, 4.0)]
    one, two = (
        write_weave_chart(taut, [], tmp_path / f"{name}.{ending}", **given).read_bytes()
        for name in ("one", "two")
    )
    assert one == two
    with pytest.raises(InputError, match=r"chart\.pdf.*\.png or \.svg"):
        write_weave_chart(taut, [], tmp_path / "chart.pdf", **given)
