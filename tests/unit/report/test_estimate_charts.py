"""Charts of the estimates: what is drawn, not how the pixels fall."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.model.estimate import (
    CalendarLine,
    Comparison,
    ComparisonLine,
    CostDriver,
    CostLine,
    DueLine,
    Estimates,
    QuantityBreak,
)
from chainplan.report.charts.comparison import (
    comparison_chart,
    plot_comparison,
    write_comparison,
)
from chainplan.report.charts.estimates import (
    GROUPS,
    breaks_chart,
    calendar_chart,
    cost_chart,
    cost_group,
    drivers_chart,
    plot_breaks,
    plot_calendar,
    plot_cost,
    plot_drivers,
)
from chainplan.report.paper.sheet import Path, Sheet, Text

if TYPE_CHECKING:
    from pathlib import Path as File

DRIVERS = tuple(
    CostDriver(
        piece=piece,
        driver=name,
        low_input="low",
        high_input="high",
        cost_low_each=Decimal(90),
        cost_usual_each=Decimal(100),
        cost_high_each=Decimal(high),
    )
    for piece, name, high in (("a", "metal price", 120), ("a", "kerf", 101), ("b", "kerf", 150))
)
BREAKS = tuple(
    QuantityBreak(piece="a", quantity=n, cost_each=Decimal(10), price_each=Decimal(20))
    for n in (1, 5, 10)
)
COSTS = tuple(
    CostLine(
        piece=piece,
        item=item,
        quantity=Decimal(1),
        unit="each",
        rate=Decimal(amount),
        amount=Decimal(amount),
    )
    for piece, item, amount in (
        ("a", "metal: Copper", "30"),
        ("a", "scrap back: Copper", "-10"),
        ("a", "labour: weld", "25"),
        ("a", "labour: rework", "15"),
        ("b", "argon", "5"),
    )
)


def a_calendar(*, dated: bool) -> Estimates:
    """Two pieces over two days, the second late."""
    start = datetime.datetime(2027, 1, 11, 9)
    lines = tuple(
        CalendarLine(
            piece=piece,
            station=station,
            start=start + datetime.timedelta(days=day) if dated else None,
            end=None,
            start_h=begin,
            end_h=end,
        )
        for piece, station, begin, end, day in (
            ("a", "weld", 1.0, 4.0, 0),
            ("a", "coil", 0.0, 1.0, 0),
            ("b", "weld", 6.0, 9.0, 1),
        )
    )
    due = (DueLine(piece="b", due=start.date(), done=start.date(), late_days=1),)
    return Estimates(calendar=lines, due=due, currency="EUR")


def a_line(**changes: Any) -> ComparisonLine:
    """One alternative."""
    usual: dict[str, Any] = {
        "weave": "single-link",
        "metal": "copper",
        "wire_mm": 1.0,
        "inner_mm": 4.0,
        "aspect_ratio": 4.0,
        "rings": 100,
        "length_mm": 400.0,
        "mass_g": 12.0,
        "weld_min": 9.0,
        "bench_h": 1.0,
        "cost": Decimal(30),
        "price": Decimal(50),
        "working_days": 0.2,
    }
    return ComparisonLine(**(usual | changes))


def texts(sheet: Sheet) -> list[str]:
    """All texts of a sheet."""
    return [mark.text for mark in sheet.marks if isinstance(mark, Text)]


def bars(sheet: Sheet, fill: str) -> list[float]:
    """Widths of all upright boxes of one tone, in mm."""
    found: list[float] = []
    for mark in sheet.marks:
        if isinstance(mark, Path) and mark.closed and mark.fill == fill:
            corners = mark.points_mm.reshape(-1, 4, 2)
            found += np.ptp(corners[:, :, 0], axis=1).tolist()
    return found


def test_a_tornado_has_two_ends_a_driver_of_its_own_piece() -> None:
    """The bars are as long as the input moves the cost."""
    sheet = drivers_chart(Estimates(drivers=DRIVERS, currency="EUR"), "a")
    said = texts(sheet)
    assert [text for text in said if text in ("metal price", "kerf")] == ["metal price", "kerf"]
    ends = ["low: 90.00", "high: 120.00", "low: 90.00", "high: 101.00"]
    assert [text for text in said if ": " in text and text[:3] in ("low", "hig")] == ends
    assert "as planned: 100.00" in said
    assert any("EUR" in text for text in said)
    lows, highs = bars(sheet, "#fde0a0"), bars(sheet, "#6baed6")
    assert highs[0] == pytest.approx(2 * lows[0])
    assert highs[1] == pytest.approx(0.1 * lows[1])


def test_cost_and_price_are_drawn_over_the_copies() -> None:
    """Price above cost, each at every quantity."""
    sheet = breaks_chart(Estimates(breaks=BREAKS, currency="EUR"), "a")
    assert {"1", "5", "10", "cost", "price before tax"} <= set(texts(sheet))
    dots = [m for m in sheet.marks if isinstance(m, Path) and m.closed and m.first.sum() == 3]
    price, cost = (dot.points_mm.reshape(3, -1, 2).mean(axis=1) for dot in dots)
    assert (price[:, 1] < cost[:, 1] - 10).all()
    assert np.diff(cost[:, 0])[0] > np.diff(cost[:, 0])[1]


def test_costs_stand_in_groups_that_add_up() -> None:
    """Scrap that comes back lowers the metal; the total stands at the end."""
    sheet = cost_chart(Estimates(costs=COSTS, currency="EUR"))
    said = texts(sheet)
    assert {"a", "b", "60.00", "5.00", "EUR"} <= set(said)
    assert {"metal, less scrap back", "welding", "gas, tips, blades, power"} <= set(said)
    assert "weaving" not in said
    metal, welding = bars(sheet, "#6baed6"), bars(sheet, "#d4d4d4")
    assert max(welding) == pytest.approx(2 * max(metal), rel=1e-6)


@pytest.mark.parametrize("item", ["clasp", "packing", "something new", "labour: unheard of"])
def test_an_item_of_no_group_is_not_lost(item: str) -> None:
    """Every cost line is in the total."""
    assert cost_group(item) == GROUPS[-1]


def test_the_calendar_marks_days_and_says_what_is_late() -> None:
    """Stations in the order of the work, bars as long as the hours."""
    sheet = calendar_chart(a_calendar(dated=True))
    said = texts(sheet)
    assert "LATE 1 day: b" in said
    assert {"Mon 11 Jan", "Tue 12 Jan"} <= set(said)
    assert said.index("coil") < said.index("weld")
    coil, weld = bars(sheet, "#6baed6"), bars(sheet, "#fde0a0")
    assert max(weld) == pytest.approx(3 * max(coil))


def test_the_calendar_without_a_start_date_names_no_day() -> None:
    """Hours only."""
    said = texts(calendar_chart(a_calendar(dated=False)))
    assert not any("Jan" in text for text in said)
    assert "working hours from the start" in said


def a_comparison(**changes: Any) -> Comparison:
    """Three alternatives: the best, one without a price, one that cannot be made."""
    usual: dict[str, Any] = {
        "piece": "chain",
        "currency": "EUR",
        "lines": (
            a_line(best_at=("mass_g",)),
            a_line(price=None, cost=None, mass_g=20.0, fits=False),
            a_line(possible=False, fits=False, inner_mm=1.0, reason="rings too small"),
        ),
        "targets": ("under 30 g",),
    }
    return Comparison(**(usual | changes))


def test_the_best_alternative_carries_a_star_and_a_missing_price_no_bar() -> None:
    """And what cannot be made says why."""
    sheet = comparison_chart(a_comparison())
    said = texts(sheet)
    assert {"12 ★", "20", "50", "weight, g", "price before tax, EUR"} <= set(said)
    assert "wanted: under 30 g" in said
    assert "cannot be made: rings too small" in said
    assert len(bars(sheet, "#74c69d")) == 1
    assert len(bars(sheet, "#f2f2f2")) == 4  # rings, weight, length, time: no cost, no price
    assert max(bars(sheet, "#f2f2f2")) > bars(sheet, "#74c69d")[0]


def test_more_alternatives_than_fit_are_counted() -> None:
    """The table has them all."""
    sheet = comparison_chart(a_comparison(lines=(a_line(),) * 50))
    assert any("10 more in the table" in text for text in texts(sheet))


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_comparison_is_written_the_same_twice(tmp_path: File, ending: str) -> None:
    """No clock in the file, and names are no mathematics."""
    table = a_comparison(piece="cost $5_1 $" * 20)
    one = write_comparison(table, tmp_path / f"one.{ending}").read_bytes()
    two = write_comparison(table, tmp_path / f"two.{ending}").read_bytes()
    assert one == two
    assert len(one) > 1000


def test_another_ending_is_refused_by_name(tmp_path: File) -> None:
    """A file of the wrong kind would be a riddle later."""
    with pytest.raises(InputError, match=r"\.png or \.svg"):
        write_comparison(a_comparison(), tmp_path / "chart.docx")


def test_plots_draw_into_the_axes_they_are_given() -> None:
    """And return them."""
    from matplotlib.figure import Figure

    calendar = a_calendar(dated=True)
    money = Estimates(costs=COSTS, drivers=DRIVERS, breaks=BREAKS, currency="EUR")
    for draw in (
        lambda ax: plot_cost(money, ax=ax),
        lambda ax: plot_calendar(calendar, ax=ax),
        lambda ax: plot_drivers(money, "a", ax=ax),
        lambda ax: plot_breaks(money, "a", ax=ax),
        lambda ax: plot_comparison(a_comparison(), ax=ax),
    ):
        axes: Any = Figure().subplots()
        assert draw(axes) is axes
        assert axes.texts
