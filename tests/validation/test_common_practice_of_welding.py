"""First settings against what is commonly done at the bench.

Common practice, no source: these are checks on plausibility with wide bounds, not measurements.
"""

import pytest

from chainplan.estimate import first_setting
from chainplan.estimate.pulse.melting import spot_mm
from chainplan.model.bench import Bench
from chainplan.reference import find_metal

BENCH = Bench()


@pytest.mark.parametrize(
    ("metal", "wire_mm", "practice_j"),
    [
        ("sterling-silver", 1.2, 15.0),
        ("sterling-silver", 1.0, 10.0),
        ("copper", 1.0, 12.0),
        ("brass", 1.0, 8.0),
        ("stainless-304", 1.0, 6.0),
    ],
)
def test_one_pulse_is_within_half_of_what_is_commonly_set(metal, wire_mm, practice_j):
    """Figures of practice vary by half either way; the estimate's range must hold them."""
    line = first_setting(find_metal(metal), wire_mm, bench=BENCH)
    need = next(figure for figure in line.figures if figure.key == "pulse-power")
    assert line.setting.hits == 1
    assert 0.5 * practice_j <= line.setting.power_j <= 1.5 * practice_j
    assert need.low <= practice_j <= need.high


def test_good_conductors_need_more_than_poor_ones():
    """Practice: copper most, then silver, then brass and steel."""
    power = {
        metal: first_setting(find_metal(metal), 1.2, bench=BENCH).setting.power_j
        for metal in ("copper", "sterling-silver", "brass", "gold-18ct-yellow")
    }
    assert power["copper"] > power["sterling-silver"] > power["brass"] > power["gold-18ct-yellow"]


def test_spots_are_about_as_wide_as_is_commonly_seen():
    """At about 5 J just under 1 mm, at about 30 J roughly 1.5 mm (the profile is invented)."""
    assert 0.6 < spot_mm(5, BENCH.welder) < 1.0
    assert 1.3 < spot_mm(30, BENCH.welder) < 1.7


def test_heavy_silver_takes_two_pulses_from_opposite_sides():
    """Trade article: silver and gold heavier than about 1.3 mm."""
    assert first_setting(find_metal("sterling-silver"), 1.2, bench=BENCH).setting.hits == 1
    assert first_setting(find_metal("sterling-silver"), 1.4, bench=BENCH).setting.hits == 2


def test_what_is_too_thick_gets_groove_tacks_root_run_and_filler():
    """Then smoothed with the blunt tip at less power."""
    line = first_setting(find_metal("sterling-silver"), 4.0, bench=BENCH)
    text = " | ".join(line.steps)
    assert line.too_thick
    for word in ("V-groove", "tack", "root run", "same metal at about 45°", "blunt tip"):
        assert word in text
    assert line.setting.power_j == BENCH.welder.highest_power_j
    assert line.filler_g > 0


def test_a_torch_takes_a_dense_chain_weeks():
    """496 joins in rounds of a dozen, 25 minutes each: most of a working week and more."""
    from chainplan.estimate.price.torch import torch_rounds

    stations = BENCH.stations
    rounds = torch_rounds(496, stations.torch_joins_a_round)
    days = rounds * stations.torch_round_min / 60 / BENCH.calendar.hours_per_day
    assert rounds == 42
    assert days > 2.5


def test_a_cylinder_lasts_very_long():
    """4 L/min for 1.52 s is 0.1013 L; a 10 L cylinder gives 20 289 such puffs down to 5 bar.

    Computed with CoolProp from absolute pressures 200 and 5 bar, without leak or purge.
    """
    from dataclasses import replace

    from chainplan.estimate.pulse.pulses import puff_l, read_cylinder

    welder = replace(
        BENCH.welder,
        pulse_s=0.02,
        cylinder_now_bar=200 - 1.01325,
        cylinder_left_bar=5 - 1.01325,
    )
    bench = replace(BENCH, welder=welder, heat=replace(BENCH.heat, room_c=15.0))
    assert puff_l(welder) == pytest.approx(0.101333, abs=1e-6)
    state = read_cylinder(0.0, puff_l(welder), bench)
    assert state.joins_left == pytest.approx(20289, rel=3e-4)
