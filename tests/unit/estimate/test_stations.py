"""Minutes at each station worked by hand; units and ends that figures and drivers name."""

import math
from dataclasses import replace

import pytest

from chainplan.estimate import estimate_counts
from chainplan.estimate.price.buying import buy_list, wire_on_shelf_m
from chainplan.estimate.price.drivers import cost_drivers
from chainplan.estimate.price.pricing import PriceBook
from chainplan.estimate.pulse.groove import plan_groove
from chainplan.estimate.pulse.melting import spot_mm
from chainplan.estimate.pulse.pulses import read_cylinder
from chainplan.estimate.take import take_of
from chainplan.estimate.tuning import tuning
from chainplan.model.bench import Bench
from chainplan.model.job import StockItem
from chainplan.reference import find_metal

UNITS = {"1", "each", "min", "EUR", "J", "bar", "g", "h", "kWh", "l", "m", "m3", "mm", "s"}


def minutes(take):
    """Usual minutes by station."""
    return {time.station: time.usual_min for time in take.times}


def test_a_second_hit_takes_its_own_seconds_before_weaving_too(a_job, a_piece):
    """Sixty rings at 20 s and one further hit at 4 s, three copies: 60·24·3 s."""
    job = a_job(bench={"pace": {"handle_s": 20.0, "extra_hit_s": 4.0}})
    group = {"rings": 100, "joins_in_place": 40, "joins_beforehand": 60, "hits": 2}
    take = take_of(a_piece(group=group, quantity=3), job)
    assert minutes(take)["pre-close"] == pytest.approx(60 * 24 * 3 / 60)


def test_each_station_takes_its_minutes_worked_by_hand(a_job, a_piece):
    stations = {
        "cut_s": 2.0, "tumble_rings": 100, "tumble_min": 7.0, "clean_min": 3.0, "finish_min": 5.0,
        "inspect_s": 6.0, "set_up_min": 11.0, "coil_min": 4.0, "learning_percent": 100.0,
        "weave_ring_s": 10.0, "weave_link_s": 20.0,
    }  # fmt: skip
    job = a_job(bench={"stations": stations})
    take = take_of(a_piece(quantity=2), job)  # 100 rings, 99 links and 100 joins a copy
    (need,) = take.wire
    cut = need.rings + need.spare_rings
    found = minutes(take)
    assert found["coil"] == 4.0 * need.coils
    assert found["cut"] == pytest.approx(2.0 * cut / 60)
    assert found["tumble"] == 7.0 * math.ceil(cut / 100)
    assert found["weave"] == pytest.approx((100 * 10 + 99 * 20) * 2 / 60)
    assert found["set up"] == 11.0
    assert found["clean"] == 3.0 * 2
    assert found["inspect"] == pytest.approx(200 * 6 / 60)
    assert found["finish"] == 5.0 * 2


def test_what_is_counted_is_said_in_the_right_number(a_job, a_piece):
    """One load, two loads; one copy, two copies."""
    basis = {
        copies: {time.station: time.basis for time in take_of(a_piece(quantity=copies), job).times}
        for job in (a_job(bench={"stations": {"tumble_rings": 100}}),)
        for copies in (1, 2)
    }
    assert basis[1]["clean"].startswith("1 copy ×")
    assert basis[2]["clean"].startswith("2 copies ×")
    one = take_of(a_piece(), a_job(bench={"stations": {"tumble_rings": 1000}}))
    assert next(t.basis for t in one.times if t.station == "tumble").startswith("1 load of")
    assert basis[2]["tumble"][1:].startswith(" loads of")


def test_every_figure_has_a_unit_that_people_write(a_job, a_piece):
    """A unit that nobody writes would stand in workbook and JSON alike."""
    for figures in estimate_counts(a_job(), [a_piece()]).figures.values():
        assert {figure.unit for figure in figures} <= UNITS


def test_the_counts_go_with_the_estimates(a_job, a_piece):
    """The workbook's formulas begin at them."""
    piece = a_piece()
    assert estimate_counts(a_job(), [piece]).counts == (piece,)


def test_drivers_are_those_of_the_batch_as_it_is_welded(a_job, a_piece):
    """An interleaved batch welds in half the time: its drivers start from that cost."""
    job, piece = a_job(), a_piece()
    estimates = estimate_counts(job, [piece], weld_share=0.5)
    assert estimates.drivers == cost_drivers(piece, job, lines=1, weld_share=0.5)
    assert {line.cost_usual_each for line in estimates.drivers} == {estimates.quotes[0].cost_each}
    assert {line.driver for line in estimates.drivers} == {
        "metal price", "labour rate", "weaving time", "welding time", "join yield", "kerf",
    }  # fmt: skip


def test_the_root_run_covers_the_chord_that_the_groove_leaves():
    """Wire of 4 mm cut 1.2 mm deep leaves a chord of 2·√(2² − 0.8²) mm to run along, twice."""
    metal = find_metal("sterling-silver")
    bench = replace(Bench(), welder=replace(Bench().welder, highest_power_j=12.0))
    plan = plan_groove(metal, 4.0, bench)
    left_mm = 2.0 - plan.groove_depth_mm
    chord_mm = 2 * math.sqrt(2.0**2 - left_mm**2)
    steps = math.ceil(chord_mm / (tuning().advance * spot_mm(12.0, bench.welder)))
    assert plan.groove_depth_mm > 0
    assert plan.root_hits == 2 * steps


def listed(job, *takes):
    """The buy list, by the first word of the item."""
    cylinder = read_cylinder(1.0, 0.1, job.bench)
    lines = buy_list(takes, job, PriceBook.of(job), cylinder)
    return {line.item.split()[0]: line for line in lines}


def test_wire_that_nobody_sells_in_packs_is_bought_by_the_metre(a_job, a_piece):
    """Without a pack on the shelf an amount is rounded up to whole metres; kerf is told."""
    job = a_job(bench={"wire": {"kerf_mm": 0.3}})
    take = take_of(a_piece(), job)
    (need,) = take.wire
    line = listed(job, take)["wire"]
    assert (line.to_buy, line.packs) == (math.ceil(need.wire_length_m), math.ceil(line.to_buy))
    assert listed(job, take)["saw"].note == "kerf 0.3 mm"


def test_wires_that_differ_by_less_than_a_tenth_of_a_micron_are_one_line(a_job, a_piece):
    """Millimetres made from inches differ in the last digits."""
    job = a_job()
    takes = [
        take_of(a_piece(piece=name, group={"wire_mm": wire_mm}), job)
        for name, wire_mm in (("a", 1.02362), ("b", 1.02364))
    ]
    cylinder = read_cylinder(1.0, 0.1, job.bench)
    wires = [
        line
        for line in buy_list(takes, job, PriceBook.of(job), cylinder)
        if line.item.startswith("wire")
    ]
    assert len(wires) == 1
    assert wires[0].needed == pytest.approx(sum(t.wire[0].wire_length_m for t in takes))


def test_the_shelf_serves_each_metre_once(a_job, a_piece):
    """Two needs of two metres and three metres on the shelf: two, then one."""
    stock = (StockItem(kind="wire", metal="sterling-silver", size_mm=1.0, amount=3.0),)
    job = a_job(stock=stock)
    (need,) = take_of(a_piece(), job).wire
    need = replace(need, wire_length_m=2.0)
    spent: dict[int, float] = {}
    assert [wire_on_shelf_m(need, job, spent) for _ in range(3)] == [2.0, 1.0, 0.0]
    assert wire_on_shelf_m(replace(need, metal="copper"), job, {}) == 0.0
