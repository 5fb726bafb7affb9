"""Charts of a plan: what is drawn, not how the pixels fall."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from chainplan.report.charts import write_charts
from chainplan.report.charts.figures import (
    HATCHES,
    NAME_MM,
    TEXT_PT,
    TONES,
    Series,
    add_legend,
    bar_series,
    chart_style,
    legend_columns,
    legend_height,
    new_figure,
    write_chart,
)
from chainplan.report.charts.heat import HEAT_TONES, heat_chart, traces_chart
from chainplan.report.paper.lettering import text_width_mm
from chainplan.units import show_duration

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

    from chainplan.model.plan import PiecePlan, Plan

HOSTILE = "$x_1^2$ {\\frac} <b>&amp; \x07" + "very long " * 30


def texts(figure: Figure) -> list[str]:
    """Each text of a figure once, those of its axes and legends included."""
    from matplotlib.text import Text

    found = (text.get_text() for text in figure.findobj(Text))
    return [text for text in dict.fromkeys(found) if text]


def tones(ax: Any) -> np.ndarray:
    """Colours of the rings of a panel: those of the far halves, which are drawn first."""
    return np.asarray(ax.collections[1].get_colors())


@pytest.fixture(scope="module")
def necklace(necklace_plan: Plan) -> PiecePlan:
    """The one piece of the sample necklace."""
    return necklace_plan.pieces[0]


def test_heat_shows_every_ring_before_its_own_weld_in_one_scale(necklace: PiecePlan) -> None:
    """Equal temperatures look equal in both panels: the order must not look better than it is."""
    from matplotlib import colormaps

    figure, order = heat_chart(necklace), necklace.order
    assert order.end_to_end is not None
    shown = (order.interpass_high_c, order.end_to_end.before_c)
    low, high = min(each.min() for each in shown), max(each.max() for each in shown)
    for ax, before in zip(figure.axes[:-1], shown, strict=True):
        wanted = colormaps[HEAT_TONES]((before - low) / (high - low))
        assert np.allclose(tones(ax)[order.ring], wanted, atol=0.02)
    said = texts(figure)
    for before, seconds in zip(
        shown, (order.bench_time_s, order.end_to_end.bench_time_s), strict=True
    ):
        (title,) = [text for text in said if f"{show_duration(seconds)}; at most" in text]
        assert f"rings before their weld {before.max():.0f} °C" in title
        assert "fingers" in title
        assert "spring clasp" in title


def test_end_to_end_keeps_the_same_limits_in_its_own_time(fair_plan: Plan) -> None:
    """The lower panel is what people would do instead, and it waits: nothing may be too warm."""
    for piece in fair_plan.pieces:
        order = piece.order
        if order.end_to_end is None:
            continue
        limits = {check.name: check.limit_c for check in order.limits}
        aside = {item.name for item in order.set_aside}  # no order keeps these
        for name, warmest in order.end_to_end.warmest_c.items():
            if name in aside:
                continue
            assert warmest <= limits[name] + 0.5, (piece.piece.name, name)
        assert order.ring_limit_c is not None
        room = order.ring_limit_c[order.ring] - order.end_to_end.before_c
        assert room.min() >= -0.5, piece.piece.name
        named = {each.name: each.bench_time_s for each in order.comparisons}
        assert order.end_to_end.bench_time_s == pytest.approx(named["end to end"])


def test_the_same_temperatures_give_two_equal_panels(necklace: PiecePlan) -> None:
    """If the end-to-end order were as good, nothing would tell the panels apart."""
    assert necklace.order.end_to_end is not None
    ends = replace(necklace.order.end_to_end, before_c=necklace.order.interpass_high_c)
    figure = heat_chart(replace(necklace, order=replace(necklace.order, end_to_end=ends)))
    one, two = figure.axes[:-1]
    assert np.array_equal(tones(one), tones(two))


def test_heat_stays_on_the_sheet_beside_its_scale(fair_plan: Plan) -> None:
    """Long, wide and short pieces all fit, dots and all, beside the scale of colours."""
    for piece in fair_plan.pieces:
        figure = heat_chart(piece)
        figure.draw_without_rendering()
        scale_left = figure.axes[-1].get_window_extent().x0
        for ax in figure.axes[:-1]:
            drawn = ax.dataLim.transformed(ax.transData)
            assert drawn.x0 > 0, piece.piece.name
            assert drawn.x1 < scale_left, piece.piece.name
            assert drawn.y0 > 0, piece.piece.name
            assert drawn.y1 < figure.bbox.y1, piece.piece.name


def test_the_upper_edge_of_a_piece_is_drawn_above(build: Any) -> None:
    """The picture is the piece's front, not its mirror image; lines are read from the top."""
    plan = build.piece("sheet", build.sheet(3, 8), stride=3)
    ax = heat_chart(plan).axes[0]
    middles = [np.nanmean(line, axis=0) for line in (
        np.concatenate(pair) for pair in zip(
            ax.collections[0].get_segments(), ax.collections[2].get_segments(), strict=True
        )
    )]  # fmt: skip
    y = np.array(middles)[:, 1]
    assert np.corrcoef(y, plan.layout.centre_mm[:, 1])[0, 1] > 0.99


def test_scale_of_tones_grows_lighter_so_that_grey_tells_the_same() -> None:
    """Weights of red, green and blue as the eye has them, ITU-R BT.709 (from memory)."""
    from matplotlib import colormaps

    rgb = colormaps[HEAT_TONES](np.linspace(0, 1, 33))[:, :3]
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
    (ax,) = traces_chart(replace(necklace, order=order)).axes
    x, y = ax.lines[0].get_data()
    assert len(x) < 3000
    assert y.max() == 90.0
    assert x[y.argmax()] == pytest.approx(times[31_007] / 60)


def test_every_chart_of_a_plan_is_written_twice_with_the_same_bytes(
    necklace_plan: Plan, tmp_path: Path
) -> None:
    """PNG and SVG; no clock and no chance in either."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    one = write_charts(necklace_plan, tmp_path / "one", png=True)
    two = write_charts(necklace_plan, tmp_path / "two", png=True)
    names = {path.stem.split("-")[0] for path in one}
    assert names == {"heat", "temperatures", "doubt", "what", "cost", "calendar", "people"}
    assert {path.suffix for path in one} == {".png", ".svg"}
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


def test_hostile_names_stay_text_in_all_charts(necklace_plan: Plan, tmp_path: Path) -> None:
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
    paths = write_charts(plan, tmp_path, png=True)
    assert len(paths) == 14
    assert write_charts(plan, tmp_path) == [path for path in paths if path.suffix == ".svg"]
    for path in paths:
        if path.suffix == ".svg":
            root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
            assert any("$x_1^2$" in (text or "") for text in root.itertext())


def test_the_last_digits_of_the_machine_do_not_show(necklace: PiecePlan, tmp_path: Path) -> None:
    """They differ with the number of threads; the files must not."""
    order = necklace.order
    assert order.end_to_end is not None
    layout = replace(necklace.layout, centre_mm=necklace.layout.centre_mm * (1 + 1e-13))
    noisy = replace(
        order,
        interpass_high_c=order.interpass_high_c * (1 + 1e-13),
        end_to_end=replace(order.end_to_end, before_c=order.end_to_end.before_c * (1 + 1e-13)),
        trace_c={name: trace * (1 + 1e-13) for name, trace in order.trace_c.items()},
    )
    other = replace(necklace, layout=layout, order=noisy)
    for chart in (heat_chart, traces_chart):
        one = write_chart(chart(necklace), tmp_path / "one.svg").read_bytes()
        assert one == write_chart(chart(other), tmp_path / "two.svg").read_bytes()


def test_charts_leave_the_settings_of_the_caller_alone(necklace: PiecePlan, tmp_path: Path) -> None:
    """Neither our style nor a figure of ours is found in the caller's matplotlib, nor the other
    way round.
    """
    import matplotlib as mpl
    import matplotlib.pyplot as plt

    usual = write_chart(traces_chart(necklace), tmp_path / "usual.svg").read_bytes()
    with mpl.rc_context({"font.size": 30.0, "axes.facecolor": "red", "svg.fonttype": "path"}):
        before = dict(mpl.rcParams)
        other = write_chart(traces_chart(necklace), tmp_path / "other.svg").read_bytes()
        assert dict(mpl.rcParams) == before
    assert other == usual
    assert plt.get_fignums() == []


def test_looks_of_the_first_eleven_bars_all_differ() -> None:
    """Tone and hatch together tell each kind of bar apart, and so do the hatches of neighbours."""
    looks = [bar_series(number, "") for number in range(len(TONES))]
    assert len({(look.tone, look.hatch) for look in looks}) == len(TONES)
    assert all(a.hatch != b.hatch for a, b in pairwise(looks))
    assert len(HATCHES) == len(TONES)


@pytest.mark.parametrize("width_mm", [60.0, 100.0, 198.0])
def test_a_legend_keeps_within_its_place_and_is_read_line_by_line(width_mm: float) -> None:
    """So that it never stands on the chart below it, nor off the sheet."""
    looks = [bar_series(number, f"label number {number}" + "!" * number) for number in range(11)]
    with chart_style():
        figure = new_figure("", 100.0)
        add_legend(figure, looks, 5.0, 5.0, width_mm)
        figure.draw_without_rendering()
    (legend,) = figure.legends
    drawn = legend.get_window_extent()
    mm = 25.4 / figure.dpi
    assert drawn.width * mm <= width_mm + 0.5
    assert drawn.height * mm <= legend_height(looks, width_mm) + 0.5
    assert drawn.x0 * mm == pytest.approx(5.0, abs=0.5)
    placed = {text.get_text(): text.get_window_extent() for text in legend.get_texts()}
    reading = sorted(placed, key=lambda name: (-round(placed[name].y0), placed[name].x0))
    assert reading == [look.label for look in looks]


def test_long_names_are_shortened_in_a_legend() -> None:
    """One endless name must not push the others off the sheet."""
    look = Series("endless " * 40, "#ffffff")
    assert legend_columns([look, look, look], 198.0) == 3
    figure = new_figure("", 100.0)
    add_legend(figure, [look], 5.0, 5.0, 100.0)
    (text,) = figure.legends[0].get_texts()
    assert text_width_mm(text.get_text(), TEXT_PT) <= NAME_MM
