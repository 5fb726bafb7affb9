"""Charts of a plan: what is drawn, not how the pixels fall."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from chainplan.report.charts.frame import (
    HATCHES,
    TONES,
    Frame,
    Key,
    draw_bars,
    draw_legend,
    key_of,
    legend_height,
    nice_ticks,
)
from chainplan.report.charts.heat import (
    charts_of,
    heat_chart,
    plot_heat,
    plot_traces,
    tone_of,
    traces_chart,
    write_charts,
    write_sheets,
)
from chainplan.report.paper.sheet import Path, Sheet, Text

if TYPE_CHECKING:
    from pathlib import Path as File

    from chainplan.model.plan import PiecePlan, Plan

HOSTILE = "$x_1^2$ {\\frac} <b>&amp; \x07" + "very long " * 30


def texts(sheet: Sheet) -> list[str]:
    """All texts of a sheet."""
    return [mark.text for mark in sheet.marks if isinstance(mark, Text)]


def discs(sheet: Sheet) -> list[tuple[float, float, str]]:
    """Middle and tone of every disc of a sheet."""
    found = []
    for mark in sheet.marks:
        if isinstance(mark, Path) and mark.closed and len(mark.points_mm) == 16 * mark.first.sum():
            middles = mark.points_mm.reshape(-1, 16, 2).mean(axis=1)
            found += [(x, y, mark.fill) for x, y in middles.tolist()]
    return found


@pytest.fixture(scope="module")
def necklace(necklace_plan: Plan) -> PiecePlan:
    """The one piece of the sample necklace."""
    return necklace_plan.pieces[0]


def test_heat_shows_every_ring_twice_in_one_scale(necklace: PiecePlan) -> None:
    """Equal temperatures look equal in both panels: the order must not look better than it is."""
    sheet = heat_chart(necklace)
    drawn = discs(sheet)
    assert len(drawn) == 2 * necklace.layout.rings
    both = np.concatenate([necklace.order.peak_c, necklace.order.end_to_end_peak_c])
    said = texts(sheet)
    assert any(f"{necklace.order.peak_c.max():.0f} °C" in text for text in said)
    assert any(f"{necklace.order.end_to_end_peak_c.max():.0f} °C" in text for text in said)
    low = min(both.min(), necklace.order.interpass_low_c[0])
    level = np.minimum((both - low) / (both.max() - low) * 32, 31).astype(int)
    expected = sorted(tone_of((number + 0.5) / 32) for number in level.tolist())
    assert sorted(tone for _, _, tone in drawn) == expected


def test_the_same_temperatures_give_two_equal_panels(necklace: PiecePlan) -> None:
    """If the end-to-end order were as good, nothing would tell the panels apart."""
    order = replace(necklace.order, end_to_end_peak_c=necklace.order.peak_c)
    drawn = discs(heat_chart(replace(necklace, order=order)))
    half = len(drawn) // 2
    assert [tone for _, _, tone in drawn[:half]] == [tone for _, _, tone in drawn[half:]]


def test_heat_stays_on_the_sheet_beside_its_scale(fair_plan: Plan) -> None:
    """Long, wide and short pieces all fit."""
    for piece in fair_plan.pieces:
        sheet = heat_chart(piece)
        assert all(0 < x < sheet.width_mm - 30 and 0 < y < sheet.height_mm
                   for x, y, _ in discs(sheet)), piece.piece.name  # fmt: skip


def test_scale_of_tones_grows_lighter_so_that_grey_tells_the_same() -> None:
    """Weights of red, green and blue as the eye has them, ITU-R BT.709 (from memory)."""
    tones = [tone_of(share) for share in np.linspace(0, 1, 33)]
    rgb = np.array([[int(tone[k : k + 2], 16) for k in (1, 3, 5)] for tone in tones])
    assert (np.diff(rgb @ [0.2126, 0.7152, 0.0722]) > 0).all()


def test_temperatures_name_fingers_parts_and_their_limits(fair_plan: Plan) -> None:
    """Every trace is in the legend, every limit at its line."""
    piece = fair_plan.piece("Amber chain")
    said = texts(traces_chart(piece))
    assert {"fingers", "amber drop"} <= set(said)
    assert "limit, fingers: 48 °C" in said
    assert "limit, amber drop: 100 °C" in said


def test_a_thinned_trace_keeps_its_peak(necklace: PiecePlan) -> None:
    """One warm moment in a long job is what the chart is for."""
    times = np.linspace(0, 3600, 50_001)
    trace = np.full(50_001, 25.0)
    trace[31_007] = 90.0
    order = replace(necklace.order, trace_time_s=times, trace_c={"fingers": trace}, limits=())
    sheet = traces_chart(replace(necklace, order=order))
    line = max((m for m in sheet.marks if isinstance(m, Path)), key=lambda m: len(m.points_mm))
    assert len(line.points_mm) < 3000
    low, high = line.points_mm[:, 1].max(), line.points_mm[:, 1].min()
    at = line.points_mm[line.points_mm[:, 1].argmin(), 0]
    assert high < low - 60
    left, right = line.points_mm[0, 0], line.points_mm[-1, 0]
    assert (at - left) / (right - left) == pytest.approx(31_007 / 50_000, abs=1e-3)


def test_every_chart_of_a_plan_is_written_twice_with_the_same_bytes(
    necklace_plan: Plan, tmp_path: File
) -> None:
    """PNG and SVG; no clock and no chance in either."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    one = write_charts(necklace_plan, tmp_path / "one")
    two = write_charts(necklace_plan, tmp_path / "two")
    names = {path.stem.split("-")[0] for path in one}
    assert names == {"heat", "temperatures", "what", "cost", "calendar"}
    assert {path.suffix for path in one} == {".png", ".svg"}
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


def test_hostile_names_stay_text_in_all_charts(necklace_plan: Plan, tmp_path: File) -> None:
    """Signs of mathematics and markup, control signs and very long names."""
    from xml.etree import ElementTree

    estimates = necklace_plan.estimates
    changed = {
        field: tuple(replace(line, piece=HOSTILE) for line in getattr(estimates, field))
        for field in ("costs", "calendar", "due", "drivers", "breaks")
    }
    first = necklace_plan.pieces[0]
    traces = {f"{HOSTILE}{name}": trace for name, trace in first.order.trace_c.items()}
    piece = replace(
        first,
        piece=replace(first.piece, name=HOSTILE),
        order=replace(first.order, trace_c=traces),
    )
    plan = replace(necklace_plan, pieces=(piece,), estimates=replace(estimates, **changed))
    paths = write_sheets(charts_of(plan), tmp_path)
    assert len(paths) == 10
    for path in paths:
        if path.suffix == ".svg":
            root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
            assert any("$x_1^2$" in (text or "") for text in root.itertext())


def test_plots_draw_into_the_axes_they_are_given(necklace: PiecePlan) -> None:
    """And return them; without axes they make their own."""
    from matplotlib.figure import Figure

    for plot in (plot_heat, plot_traces):
        axes: Any = Figure().subplots()
        assert plot(necklace, ax=axes) is axes
        assert any(necklace.piece.name in text.get_text() for text in axes.texts)


@pytest.mark.parametrize("hatch", sorted({*HATCHES} - {""}))
def test_hatches_stay_within_their_bars(hatch: str) -> None:
    """A line beyond its bar would belong to the neighbour."""
    sheet = Sheet(width_mm=100, height_mm=50, title="")
    draw_bars(sheet, np.array([(10.0, 5.0, 23.0, 7.0)]), Key("a", "#ffffff", hatch))
    lines = [mark for mark in sheet.marks if isinstance(mark, Path) and not mark.closed]
    points = np.concatenate([mark.points_mm for mark in lines])
    assert len(points) > 4
    assert (points >= (10 - 0.2, 5 - 1e-9)).all()
    assert (points <= (33 + 0.2, 12 + 1e-9)).all()


def test_looks_of_the_first_eleven_bars_all_differ() -> None:
    """Tone and hatch together tell each kind of bar apart, and so do the hatches of neighbours."""
    keys = [key_of(number, "") for number in range(len(TONES))]
    assert len({(key.tone, key.hatch) for key in keys}) == len(TONES)
    assert all(a.hatch != b.hatch for a, b in pairwise(keys))


def test_a_legend_takes_the_height_that_was_foreseen() -> None:
    """So that it never stands on the chart below it."""
    keys = [key_of(number, f"label number {number}") for number in range(11)]
    sheet = Sheet(width_mm=120, height_mm=50, title="")
    assert draw_legend(sheet, keys, 5.0, 5.0, 100.0) == legend_height(keys, 100.0)
    written = [mark for mark in sheet.marks if isinstance(mark, Text)]
    assert max(mark.y_mm for mark in written) <= 5.0 + legend_height(keys, 100.0)
    assert len(written) == 11


def test_scales_put_values_in_their_places() -> None:
    """Linear and logarithmic, y upwards."""
    sheet = Sheet(width_mm=100, height_mm=50, title="")
    frame = Frame(sheet, 10, 5, 80, 40, (1, 100), (0, 20), log_x=True)
    assert frame.x_mm(10.0) == pytest.approx(50)
    assert frame.y_mm(5.0) == pytest.approx(35)
    assert nice_ticks(0.0, 37.0, 5) == [0.0, 10.0, 20.0, 30.0]
