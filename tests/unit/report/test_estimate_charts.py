"""Charts of the estimates: what is drawn, not how the pixels fall."""

from decimal import Decimal

import pytest

from chainplan.model.estimate import (
    Comparison,
    ComparisonLine,
    CostDriver,
    Estimates,
    QuantityBreak,
)
from chainplan.report.estimate_charts import (
    plot_breaks,
    plot_comparison,
    plot_drivers,
    write_comparison,
)

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


def a_line(**changes):
    usual = {
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


def texts(axis):
    return [text.get_text() for text in axis.texts]


def test_a_tornado_has_two_ends_a_driver_of_its_own_piece():
    axis = plot_drivers(Estimates(drivers=DRIVERS, currency="EUR"), "a")
    assert [label.get_text() for label in axis.get_yticklabels()] == ["metal price", "kerf"]
    assert texts(axis) == ["low: 90.00", "high: 120.00", "low: 90.00", "high: 101.00"]
    assert len(axis.patches) == 4
    assert "EUR" in axis.get_xlabel()


def test_cost_and_price_are_drawn_over_the_copies():
    axis = plot_breaks(Estimates(breaks=BREAKS, currency="EUR"), "a")
    lines = {line.get_label(): list(line.get_ydata()) for line in axis.get_lines()}
    assert lines == {"price each": [20, 20, 20], "cost each": [10, 10, 10]}


def test_the_best_alternative_carries_a_star_and_a_missing_price_no_bar():
    table = Comparison(
        piece="chain",
        currency="EUR",
        lines=(
            a_line(best_at=("mass_g",)),
            a_line(price=None, cost=None, mass_g=20.0),
            a_line(possible=False, fits=False, inner_mm=1.0),
        ),
        targets=("mass_g<30",),
    )
    figure = plot_comparison(table)
    by_title = {axis.get_title(): axis for axis in figure.axes}
    assert texts(by_title["mass, g"]) == [" 12 ★", " 20"]
    assert texts(by_title["price, EUR"]) == [" 50"]
    names = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert names[2].endswith("(cannot be made)")
    assert "mass_g<30" in figure.get_suptitle()


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_comparison_is_written_the_same_twice(tmp_path, ending):
    table = Comparison(piece="cost $5 $", currency="EUR", lines=(a_line(), a_line(mass_g=14.0)))
    one = write_comparison(table, tmp_path / f"one.{ending}").read_bytes()
    two = write_comparison(table, tmp_path / f"two.{ending}").read_bytes()
    assert one == two
    assert len(one) > 1000
