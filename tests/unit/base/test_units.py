"""Lengths, gauges and numbers as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan import units

# ASTM B258 as published in a 3-decimal gauge table (from memory for the standard itself).
AWG_TABLE_MM = {14: 1.628, 16: 1.291, 18: 1.024, 20: 0.812, 22: 0.644, 24: 0.511, 30: 0.255}
# BS 3737:1964, as printed in a published table, from memory for the standard itself.
SWG_TABLE_MM = {14: 2.032, 16: 1.626, 17: 1.422, 18: 1.219, 19: 1.016, 20: 0.914, 24: 0.559}


@pytest.mark.parametrize(("gauge", "diameter_mm"), AWG_TABLE_MM.items())
def test_american_gauge_agrees_with_the_published_table(gauge: int, diameter_mm: float) -> None:
    """Tolerance: half the last printed digit."""
    assert units.read_wire_mm(f"{gauge}AWG") == pytest.approx(diameter_mm, abs=0.0005)


@pytest.mark.parametrize(("gauge", "diameter_mm"), SWG_TABLE_MM.items())
def test_british_gauge_agrees_with_the_published_table(gauge: int, diameter_mm: float) -> None:
    """Tolerance: half the last printed digit."""
    assert units.read_wire_mm(f"SWG {gauge}") == pytest.approx(diameter_mm, abs=0.0005)


@pytest.mark.parametrize(
    ("wire_mm", "text"),
    [
        (1.2192, "1.22 mm (18 SWG)"),
        (1.22, "1.22 mm (18 SWG)"),
        (1.024, "1.02 mm (18 AWG)"),
        (0.812, "0.812 mm (20 AWG)"),
        (1.2, "1.2 mm"),
        (1.0, "1 mm"),
        (9.0, "9 mm"),
    ],
)
def test_a_wire_is_called_by_its_gauge_only_if_it_is_that_gauge(wire_mm: float, text: str) -> None:
    """Within half a per cent; 1.2 mm wire is 1.6 per cent off 18 SWG and is not that."""
    assert units.show_wire(wire_mm) == text


@pytest.mark.parametrize(
    "text", ["18", "18ga", "18 g", "3 AWG", "40 SWG", "", "thin", "1.0 furlong"]
)
def test_a_wire_that_can_mean_two_things_or_none_is_refused(text: str) -> None:
    """18 AWG and 18 SWG differ by a fifth, so the system is always asked for."""
    with pytest.raises(ValueError, match=r"."):
        units.read_wire_mm(text)


@pytest.mark.parametrize(
    ("text", "number"), [("3,5", 3.5), ("0,125", 0.125), (" 1 000 ", 1000.0), ("-2.5", -2.5)]
)
def test_a_decimal_comma_is_read_where_it_can_mean_only_one_thing(text: str, number: float) -> None:
    """Half of Europe writes 3,5 mm."""
    assert units.read_number(text) == number


@pytest.mark.parametrize(
    "text", ["1,000", "1,5,5", "1.000,5", "1,234.5", "nan", "inf", "1e999", "x"]
)
def test_a_number_that_can_be_read_in_two_ways_or_none_is_refused(text: str) -> None:
    """Better a question than a necklace a thousand times too long."""
    with pytest.raises(ValueError, match=r"."):
        units.read_number(text)


@given(st.floats(0.1, 1e5), st.sampled_from(["mm", "cm", "m", "in"]))
def test_a_length_is_the_same_in_every_unit(length_mm: float, unit: str) -> None:
    """Writing a length in another unit and reading it again keeps it."""
    factor = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}[unit]
    assert units.read_length_mm(f"{length_mm / factor!r}{unit}") == pytest.approx(length_mm)


@given(st.floats(0, 1e6))
def test_a_duration_is_shown_to_the_minute_or_better(seconds: float) -> None:
    """Rounding never loses more than half of the smallest unit shown."""
    words = units.show_duration(seconds).split()
    worth = {"s": 1, "min": 60, "h": 3600}
    shown = sum(int(n) * worth[u] for n, u in zip(words[::2], words[1::2], strict=True))
    assert abs(shown - seconds) <= (30 if seconds >= 299 else 0.5)
