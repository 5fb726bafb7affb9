"""Argon, tips and electricity."""

from dataclasses import replace

import pytest

from chainplan.estimate.pulse.pulses import (
    extra_tries,
    gas_of_a_join_l,
    puff_l,
    read_cylinder,
    use_of_pulses,
)
from chainplan.model.bench import Bench
from chainplan.reference.gas import contents_l

BENCH = Bench()


def a_bench(**welder):
    return replace(BENCH, welder=replace(BENCH.welder, **welder))


def test_the_pressure_falls_by_what_was_used():
    """Contents before less contents after is what the work took, at room temperature."""
    state = read_cylinder(300.0, 0.1, BENCH)
    before = contents_l(10.0, 150.0 + 1.01325, 21.0)
    after = contents_l(10.0, state.after_bar + 1.01325, 21.0)
    assert state.lasts
    assert state.cylinders == 0
    assert before - after == pytest.approx(300.0, rel=1e-9)


def test_a_cylinder_that_does_not_last_is_named_with_how_many_to_buy():
    state = read_cylinder(5000.0, 0.1, BENCH)
    fresh = contents_l(10.0, 201.01325) - contents_l(10.0, 6.01325, 21.0)
    assert not state.lasts
    assert state.after_bar == 0.0
    assert state.cylinders == -(-(5000.0 - state.usable_l) // fresh)


def test_an_empty_cylinder_has_no_joins_left():
    bench = a_bench(cylinder_now_bar=3.0, cylinder_left_bar=5.0)
    state = read_cylinder(0.0, 0.1, bench)
    assert state.joins_left == 0
    assert state.usable_l == 0.0


def test_joins_left_are_litres_left_over_litres_a_join():
    state = read_cylinder(0.0, 0.25, BENCH)
    assert state.joins_left == int(state.usable_l / 0.25)


def test_pulses_are_hits_and_smoothing_and_second_tries(a_piece):
    """100 joins of 2 hits and 1 smoothing pulse at a yield of 80 %: 375 pulses expected."""
    bench = replace(a_bench(smoothing_hits=1), wire=replace(BENCH.wire, join_yield=0.8))
    use = use_of_pulses(a_piece(group={"hits": 2}), bench)
    assert use.pulses_low == 300
    assert use.pulses == pytest.approx(375)
    assert use.pulses_high == pytest.approx(450)
    assert use.gas_low_l < use.gas_l < use.gas_high_l


def test_expected_tries_follow_the_geometric_law():
    """Each try succeeds with the same chance: 1/y tries in all."""
    assert extra_tries(0.8) == pytest.approx(sum(0.2**k for k in range(1, 60)))
    assert extra_tries(1.0) == 0.0


def test_tips_are_pulses_over_pulses_of_a_tip(a_piece):
    bench = replace(
        a_bench(pulses_per_regrind=10, regrinds_per_tip=5, regrind_min=2.0),
        wire=replace(BENCH.wire, join_yield=1.0),
    )
    use = use_of_pulses(a_piece(quantity=2), bench)
    assert use.regrinds == 20
    assert use.regrind_min == 40.0
    assert use.tips == 4.0


def test_electricity_is_pulse_energy_from_the_mains_and_idling(a_piece):
    """100 pulses of 10 J at half efficiency: 2000 J; 600 s of 40 W: 24 kJ."""
    bench = replace(BENCH, wire=replace(BENCH.wire, join_yield=1.0))
    use = use_of_pulses(a_piece(), bench)
    assert use.electricity_kwh == pytest.approx(26000 / 3.6e6)


def test_gas_of_a_join_is_a_mean_over_the_job(a_piece):
    bench = replace(BENCH, wire=replace(BENCH.wire, join_yield=1.0))
    pieces = [a_piece(), a_piece(piece="b", group={"hits": 3})]
    assert gas_of_a_join_l(pieces, bench) == pytest.approx(2 * puff_l(bench.welder))
    assert gas_of_a_join_l([], bench) == puff_l(bench.welder)
