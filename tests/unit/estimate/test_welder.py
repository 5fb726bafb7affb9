"""First settings: on the profile's steps, replaced by what the user recorded."""

from dataclasses import replace

import pytest

from chainplan.errors import InputError
from chainplan.estimate import first_setting
from chainplan.estimate.pulse.welder import TRY_ON_SCRAP, nearest_step_j
from chainplan.model.bench import Bench
from chainplan.model.job import RecordedSetting
from chainplan.reference import find_metal, metals

BENCH = Bench()
SILVER = find_metal("sterling-silver")


def a_bench(**welder):
    return replace(BENCH, welder=replace(BENCH.welder, **welder))


@pytest.mark.parametrize("step", [0.5, 1.0, 3.0])
def test_the_power_stands_on_a_step_between_the_ends(step):
    bench = a_bench(power_step_j=step)
    for wire in (0.4, 0.8, 1.0, 1.6, 2.4):
        power = first_setting(SILVER, wire, bench=bench).setting.power_j
        steps = (power - bench.welder.lowest_power_j) / step
        assert bench.welder.lowest_power_j <= power <= bench.welder.highest_power_j
        assert power == bench.welder.highest_power_j or abs(steps - round(steps)) < 1e-6


def test_steps_that_do_not_meet_the_highest_power_end_there():
    welder = replace(BENCH.welder, lowest_power_j=2, highest_power_j=10, power_step_j=3)
    assert [nearest_step_j(p, welder) for p in (0, 3.4, 3.6, 9.4, 99)] == [2, 2, 5, 8, 10]


def test_what_the_user_recorded_replaces_the_estimate():
    good = RecordedSetting(
        metal="sterling-silver", wire_mm=1.0, power_j=13.0, hits=2, tip="blunt", note="mine"
    )
    line = first_setting(SILVER, 1.004, bench=BENCH, recorded=[good])
    assert (line.setting.power_j, line.setting.hits, line.setting.tip) == (13.0, 2, "blunt")
    assert line.setting.source == "recorded by the user"
    assert line.setting.spot_mm > 0


def test_a_record_of_another_wire_scales_the_estimate_and_says_so():
    plain = first_setting(SILVER, 1.2, bench=a_bench(power_step_j=0.01)).setting.power_j
    at_one = first_setting(SILVER, 1.0, bench=a_bench(power_step_j=0.01)).setting.power_j
    good = RecordedSetting(metal="sterling-silver", wire_mm=1.0, power_j=1.25 * at_one)
    line = first_setting(SILVER, 1.2, bench=a_bench(power_step_j=0.01), recorded=[good])
    assert line.setting.power_j == pytest.approx(1.25 * plain, rel=5e-3)
    assert "scaled by 1.25" in line.setting.note


def test_a_record_of_another_metal_changes_nothing():
    good = RecordedSetting(metal="copper", wire_mm=1.0, power_j=39.0)
    assert first_setting(SILVER, 1.0, bench=BENCH, recorded=[good]) == first_setting(
        SILVER, 1.0, bench=BENCH
    )


def test_thicker_wire_never_needs_less_heat():
    for metal in metals().values():
        lines = [first_setting(metal, w / 10, bench=BENCH) for w in range(4, 50, 3)]
        heat = [line.setting.power_j * line.setting.hits for line in lines]
        thick = [line.too_thick for line in lines]
        assert heat == sorted(heat), metal.key
        assert thick == sorted(thick), metal.key  # once too thick, always


def test_every_setting_says_to_try_on_scrap_first():
    for metal in metals().values():
        line = first_setting(metal, 1.0, bench=BENCH)
        assert line.cautions[0] == TRY_ON_SCRAP
        assert line.steps


def test_an_awkward_metal_says_why():
    text = " ".join(first_setting(find_metal("brass"), 1.0, bench=BENCH).cautions)
    assert "zinc" in text
    assert "fume" in text


def test_a_metal_that_must_not_be_welded_is_refused():
    never = replace(find_metal("copper"), weldability="never", weld_note="its coat is cadmium")
    with pytest.raises(InputError, match="must not be welded: its coat is cadmium"):
        first_setting(never, 1.0, bench=BENCH)


def test_wire_too_thin_for_the_lowest_power_is_warned_of():
    line = first_setting(SILVER, 0.4, bench=a_bench(lowest_power_j=5.0))
    assert any("lowest power may be too much" in text for text in line.cautions)


def test_a_weak_welder_turns_to_two_sides_before_it_gives_up():
    line = first_setting(SILVER, 1.2, bench=a_bench(highest_power_j=9.0))
    assert line.setting.hits == 2
    assert not line.too_thick
    assert any("use two" in text for text in line.cautions)


def test_more_arc_share_needs_less_power():
    good = replace(BENCH, heat=replace(BENCH.heat, arc_share_usual=0.8))
    fine = {"power_step_j": 0.01}
    low = first_setting(SILVER, 1.2, bench=replace(good, welder=replace(BENCH.welder, **fine)))
    usual = first_setting(SILVER, 1.2, bench=a_bench(**fine))
    assert low.setting.power_j < usual.setting.power_j


def test_smoothing_pulses_come_with_the_blunt_tip():
    line = first_setting(SILVER, 1.0, bench=a_bench(smoothing_hits=3))
    assert line.steps[-1].startswith("smooth: 3 pulses")
    assert "blunt tip" in line.steps[-1]


def test_a_record_that_needs_more_power_makes_the_groove_deeper():
    """What the user found on thin wire also says how deep a pulse goes in thick wire."""
    usual = first_setting(SILVER, 1.0, bench=a_bench(power_step_j=0.01)).setting.power_j
    weak = RecordedSetting(metal="sterling-silver", wire_mm=1.0, power_j=2 * usual)
    plain = first_setting(SILVER, 4.0, bench=BENCH)
    scaled = first_setting(SILVER, 4.0, bench=BENCH, recorded=[weak])
    assert scaled.too_thick
    assert scaled.filler_g > plain.filler_g
    thick = first_setting(SILVER, 2.6, bench=BENCH, recorded=[weak])
    assert thick.too_thick
    assert thick.filler_g > 0
