"""Argon contents against CoolProp (Tegeler, Span and Wagner) and against printed factors."""

import random

import pytest

from chainplan.errors import InputError
from chainplan.reference.gas import (
    compressibility,
    contents_l,
    oxygen_after_percent,
    pressure_of_contents_bar,
    smallest_room_m3,
)

coolprop = pytest.importorskip("CoolProp.CoolProp")


@pytest.mark.parametrize(
    ("pressure_bar", "z"),
    [(50, 0.96701), (100, 0.94390), (137, 0.93480), (150, 0.93338), (200, 0.93677),
     (230, 0.94523), (300, 0.98079)],
)  # fmt: skip
def test_compressibility_at_15_c_is_that_of_the_facts_page(pressure_bar, z):
    """CoolProp 8.0.0 values; the table is interpolated to 2e-4."""
    assert compressibility(pressure_bar) == pytest.approx(z, abs=2e-4)


def test_compressibility_follows_coolprop_at_any_state():
    """Two hundred states between the table's rows, −10 to 40 °C, 1 to 300 bar."""
    draw = random.Random(5)
    for _ in range(200):
        bar, c = draw.uniform(1, 300), draw.uniform(-10, 40)
        z = coolprop.PropsSI("Z", "T", c + 273.15, "P", bar * 1e5, "Argon")
        assert compressibility(bar, c) == pytest.approx(z, abs=8e-4)


@pytest.mark.parametrize(
    ("capacity_l", "pressure_bar", "m3"),
    [(10, 200, 2.1055), (10, 201.01325, 2.1157), (10, 300, 3.0165), (10, 150, 1.5849),
     (10, 230, 2.3996), (1, 200, 0.2105), (2, 200, 0.4211), (5, 200, 1.0527), (20, 200, 4.2109),
     (50, 200, 10.528)],
)  # fmt: skip
def test_contents_of_cylinders_at_15_c(capacity_l, pressure_bar, m3):
    """Worked examples with CoolProp; the ideal gas would give 1.9738 m³ for the first."""
    assert contents_l(capacity_l, pressure_bar) / 1000 == pytest.approx(m3, rel=3e-4)


@pytest.mark.parametrize(
    ("c", "bar"), [(-10, 173.1), (0, 183.9), (10, 194.6), (30, 216.1), (40, 226.7)]
)
def test_pressure_of_a_full_cylinder_follows_its_temperature(c, bar):
    """200 bar at 15 °C, warmed and cooled at constant density (CoolProp)."""
    fill = contents_l(10, 200)
    assert pressure_of_contents_bar(10, fill, c) == pytest.approx(bar, abs=0.2)


def test_method_agrees_with_the_factors_printed_for_other_gases():
    """Printed for 200 bar: oxygen 1.07, nitrogen 0.96, helium 0.91; the same ratio for argon."""

    def factor(gas: str) -> float:
        real = coolprop.PropsSI("D", "T", 288.15, "P", 200e5, gas)
        thin = coolprop.PropsSI("D", "T", 288.15, "P", 1e5, gas)
        return real / thin / 200

    for gas, printed in (("Oxygen", 1.07), ("Nitrogen", 0.96), ("Helium", 0.91)):
        assert factor(gas) == pytest.approx(printed, abs=0.01)
    ours = contents_l(1, 200) / contents_l(1, 1) / 200
    assert ours == pytest.approx(factor("Argon"), rel=3e-4)


@pytest.mark.parametrize(("bar", "c"), [(301, 15), (-1, 15), (100, -20), (100, 60)])
def test_a_state_outside_the_table_is_refused(bar, c):
    with pytest.raises(InputError, match="the table goes from"):
        compressibility(bar, c)


def test_argon_let_out_into_a_room_leaves_the_oxygen_that_was_worked_out():
    """Well mixed: 2.14 m³ into 30 m³ leaves 19.51 %, 10.7 m³ leaves 14.7 %; limit 0.0717·V."""
    assert oxygen_after_percent(2140, 30) == pytest.approx(19.51, abs=5e-3)
    assert oxygen_after_percent(10700, 30) == pytest.approx(14.7, abs=0.05)
    assert smallest_room_m3(0.0717 * 20_000) == pytest.approx(20.0, rel=1e-3)
    assert oxygen_after_percent(2105.5, smallest_room_m3(2105.5)) == pytest.approx(19.5)
