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
from chainplan.model.kinds import CostItem, CostKind
from chainplan.report.charts.comparison import (
    comparison_chart,
    write_comparison,
)
from chainplan.report.charts.estimates import (
    GROUPS,
    calendar_chart,
    cost_chart,
    cost_group,
    what_if_chart,
)

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

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
        ("a", CostItem(CostKind.METAL, "Copper"), "30"),
        ("a", CostItem(CostKind.SCRAP, "Copper"), "-10"),
        ("a", CostItem(CostKind.LABOUR, "weld"), "25"),
        ("a", CostItem(CostKind.LABOUR, "rework"), "15"),
        ("b", CostItem(CostKind.ARGON), "5"),
    )
)


def a_calendar(*, dated: bool) -> Estimates:
    """Two pieces over two days, the second late."""
    start = datetime.datetime(2027, 1, 11, 9)
    lines = tuple(
        CalendarLine(
            piece=piece,
            station=station,
            person="Ann",
            start=start + datetime.timedelta(days=day) if dated else None,
            end=None,
            start_h=begin,
            end_h=end,
            hours=end - begin,
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


def texts(figure: Figure) -> list[str]:
    """Each text of a figure once, those of its axes and legends included."""
    from matplotlib.text import Text

    found = (text.get_text() for text in figure.findobj(Text))
    return [text for text in dict.fromkeys(found) if text]


def bars(figure: Figure, tone: str) -> list[float]:
    """Widths of all bars of one tone, in the units of their axes, left of the start below 0."""
    from matplotlib.colors import to_rgba

    return [
        float(bar.get_width())
        for ax in figure.axes
        for bars in ax.containers
        for bar in bars
        if bar.get_facecolor() == to_rgba(tone)
    ]


def test_a_tornado_has_two_ends_a_driver_of_its_own_piece() -> None:
    """The bars are as long as the input moves the cost."""
    figure = what_if_chart(Estimates(drivers=DRIVERS, currency="EUR"), "a")
    said = texts(figure)
    assert [text for text in said if text in ("metal price", "kerf")] == ["metal price", "kerf"]
    ends = {"low: 90.00", "high: 120.00", "high: 101.00"}
    assert {text for text in said if text.startswith(("low: ", "high: "))} == ends
    assert "as planned: 100.00" in said
    assert any("EUR" in text for text in said)
    assert bars(figure, "#fde0a0") == pytest.approx([-10, -10])
    assert bars(figure, "#6baed6") == pytest.approx([20, 1])


def test_texts_of_a_tornado_do_not_cover_each_other() -> None:
    """Names, numbers at the left end and at the right end each have a place of their own."""
    figure = what_if_chart(Estimates(drivers=DRIVERS, breaks=BREAKS, currency="EUR"), "a")
    figure.draw_without_rendering()
    ax = figure.axes[0]
    names = [text.get_window_extent() for text in ax.get_yticklabels()]
    ends = [text.get_window_extent() for text in ax.texts]
    two_mm = 2.0 / 25.4 * figure.dpi
    assert max(name.x1 for name in names) + two_mm < min(end.x0 for end in ends)
    assert min(name.x0 for name in names) >= 0
    assert max(end.x1 for end in ends) < figure.axes[1].get_window_extent().x0


def test_cost_and_price_are_drawn_over_the_copies() -> None:
    """Price and cost, each at every quantity, more copies nearer to each other."""
    figure = what_if_chart(Estimates(breaks=BREAKS, currency="EUR"), "a")
    figure.draw_without_rendering()
    assert {"1", "5", "10", "cost", "price before tax"} <= set(texts(figure))
    (ax,) = figure.axes
    price, cost = (line.get_ydata() for line in ax.lines)
    assert list(price) == [20.0] * 3
    assert list(cost) == [10.0] * 3
    places = ax.transData.transform(np.column_stack([ax.lines[0].get_xdata(), price]))[:, 0]
    assert np.diff(places)[0] > np.diff(places)[1]


def test_costs_stand_in_groups_that_add_up() -> None:
    """Scrap that comes back lowers the metal; the total stands at the end."""
    figure = cost_chart(Estimates(costs=COSTS, currency="EUR"))
    said = texts(figure)
    assert {"a", "b", "60.00", "5.00", "EUR"} <= set(said)
    assert {"metal, less scrap back", "welding", "gas, tips, blades, power"} <= set(said)
    assert "weaving" not in said
    assert bars(figure, "#6baed6") == pytest.approx([20])
    assert bars(figure, "#d4d4d4") == pytest.approx([40])
    assert bars(figure, "#c6dbef") == pytest.approx([5])


@pytest.mark.parametrize(
    "item",
    [
        CostItem(CostKind.CLASP),
        CostItem(CostKind.PACKING),
        CostItem(CostKind.HALLMARK),
        CostItem(CostKind.LABOUR, "unheard of"),
    ],
)
def test_an_item_of_no_group_is_not_lost(item: CostItem) -> None:
    """Every cost line is in the total."""
    assert cost_group(item) == GROUPS[-1]


def test_the_calendar_marks_days_and_says_what_is_late() -> None:
    """Stations in the order of the work, bars as long as the hours."""
    figure = calendar_chart(a_calendar(dated=True))
    said = texts(figure)
    assert "LATE 1 day: b" in said
    assert {"Mon 11 Jan", "Tue 12 Jan"} <= set(said)
    assert said.index("coil") < said.index("weld")
    assert bars(figure, "#6baed6") == pytest.approx([1])
    assert bars(figure, "#fde0a0") == pytest.approx([3, 3])


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
    figure = comparison_chart(a_comparison())
    said = texts(figure)
    assert {"12 ★", "20", "50", "weight, g", "price before tax, EUR"} <= set(said)
    assert "wanted: under 30 g" in said
    assert "cannot be made: rings too small" in said
    assert len(bars(figure, "#74c69d")) == 1
    assert len(bars(figure, "#f2f2f2")) == 4  # rings, weight, length, time: no cost, no price
    assert max(bars(figure, "#f2f2f2")) > bars(figure, "#74c69d")[0]


def test_more_alternatives_than_fit_are_counted() -> None:
    """The table has them all."""
    figure = comparison_chart(a_comparison(lines=(a_line(),) * 50))
    assert any("10 more in the table" in text for text in texts(figure))


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_comparison_is_written_the_same_twice(tmp_path: Path, ending: str) -> None:
    """No clock in the file, and names are no mathematics."""
    table = a_comparison(piece="cost $5_1 $" * 20)
    one = write_comparison(table, tmp_path / f"one.{ending}").read_bytes()
    two = write_comparison(table, tmp_path / f"two.{ending}").read_bytes()
    assert one == two
    assert len(one) > 1000


def test_another_ending_is_refused_by_name(tmp_path: Path) -> None:
    """A file of the wrong kind would be a riddle later."""
    with pytest.raises(InputError, match=r"\.png or \.svg"):
        write_comparison(a_comparison(), tmp_path / "chart.docx")
