"""What the schedule is made from: hours, settings, sections, deliveries, the price of a ring."""

import datetime
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest
from hand_plans import a_plan

from chainplan.estimate import works_of
from chainplan.estimate.take import take_of
from chainplan.estimate.works import _weave_shares, with_schedule
from chainplan.model.job import StockItem
from chainplan.model.kinds import StockKind
from chainplan.model.order import Pass, WeldSetting
from chainplan.model.piece.fittings import Fitted, Fitting, FittingKind
from chainplan.model.workshop.schedule import FITTING, LAST_FITTING, Stints

RING_G = 10.36e-3 * np.pi**2 * 1.0**2 * 5.0 / 4
"""A ring of 1 mm sterling wire, 4 mm inside: volume of the torus, 10.36 g/cm³."""


def whole(plan):
    """One stint: the order is not cut."""
    return Stints(
        first_step=np.zeros(1, dtype=np.int32),
        steps=np.array([25], dtype=np.int32),
        seconds=np.array([plan.order.bench_time_s]),
        rest_s=np.zeros(1),
    )


def work_of(job, *plans):
    """What the schedule is told of some plans."""
    return works_of(job, plans, [whole(plan) for plan in plans])


def passes(*settings):
    """Passes with these powers, pulses and tips, one after another."""
    return tuple(
        Pass(
            number=k, text="", face="front", first_step=0, joins=1, seconds=5.0, wait_s=0.0,
            setting=WeldSetting(power_j=power, hits=hits, tip=tip, source="estimate"),
        )
        for k, (power, hits, tip) in enumerate(settings, 1)
    )  # fmt: skip


def shelf(*items):
    """A shelf with some wire in metres or mandrels."""
    return tuple(
        StockItem(kind=StockKind.MANDREL, size_mm=size, amount=1)
        if metres is None
        else StockItem(
            kind=StockKind.WIRE, metal="sterling-silver", temper="annealed", size_mm=size,
            amount=metres,
        )
        for size, metres in items
    )  # fmt: skip


def test_a_piece_comes_with_its_copies_date_and_weight(a_job):
    due = datetime.date(2027, 3, 8)
    plan = a_plan(due=due, quantity=3)
    plan = replace(plan, piece=replace(plan.piece, late_weight=2.5))
    (work,) = work_of(a_job(), plan)
    assert (work.piece, work.copies, work.due, work.late_weight) == ("chain", 3, due, 2.5)
    assert work.stints.seconds.tolist() == [300.0]


def test_hours_at_a_station_are_of_all_copies_and_welding_stands_in_the_stints(a_job):
    """30 rings and 29 links a copy; the weld order says how long welding takes."""
    job = a_job(
        bench={"stations": {"weave_ring_s": 10.0, "weave_link_s": 4.0, "learning_percent": 100.0}}
    )
    (work,) = work_of(job, a_plan(quantity=2))
    assert work.station_s["weave"] == pytest.approx(2 * (30 * 10 + 29 * 4))
    assert "weld" not in work.station_s
    assert all(seconds > 0 for seconds in work.station_s.values())


def test_a_piece_without_a_join_to_weld_has_no_welding_beyond_its_order(a_job, monkeypatch):
    """Regrinding and filler come on top of the order's seconds; without a station nothing does."""
    taken = []

    def take(*args, **keys):
        found = take_of(*args, **keys)
        times = tuple(time for time in found.times if time.station != "weld")
        taken.append(replace(found, counts=replace(found.counts, weld_s=0.0), times=times))
        return taken[-1]

    monkeypatch.setattr("chainplan.estimate.works.take_of", take)
    (work,) = work_of(a_job(), a_plan(quantity=2))
    assert len(taken) == 1
    assert work.weld_extra_s == 0.0


def test_the_tumbler_runs_once_for_every_load_begun(a_job):
    """Rings with their spares, as many at once as it holds; nobody stands by."""
    job = a_job(bench={"stations": {"tumble_rings": 40, "tumbling_min": 90.0}})
    plan = a_plan(quantity=2)
    (work,) = work_of(job, plan)
    (one,) = work_of(
        a_job(bench={"stations": {"tumble_rings": 10_000, "tumbling_min": 90.0}}), plan
    )
    assert one.tumbling_s == 90 * 60
    assert work.tumbling_s == 2 * 90 * 60  # 60 rings and some spares are two loads of 40


def cut_rings(job, *plans):
    """Rings that are cut for each of some plans, spares and all: a tumbler that holds one tells."""
    stations = replace(job.bench.stations, tumble_rings=1, tumbling_min=1.0)
    job = replace(job, bench=replace(job.bench, stations=stations))
    return [work.tumbling_s / 60 for work in work_of(job, *plans)]


def test_the_risk_of_running_short_is_shared_by_all_sizes_of_ring(a_job):
    """A piece of another size takes its share of the risk, so spares grow; joins of things that are
    no rings of this bench take none."""
    job = a_job(bench={"wire": {"short_risk": 0.05}})
    chain, other = a_plan("chain", 40), a_plan("other", 40)
    sections = tuple(replace(section, made_of_rings=False) for section in other.piece.sections)
    things = replace(other, piece=replace(other.piece, sections=sections))
    (alone,) = cut_rings(job, chain)
    assert cut_rings(job, chain, things) == [alone, 0]
    assert cut_rings(job, chain, other)[0] > alone > 40 * 30


def test_finished_rings_on_the_shelf_are_taken_once(a_job):
    """What the first piece takes is gone for the second; nothing is tumbled for it."""
    rings = StockItem(
        kind=StockKind.RINGS, metal="sterling-silver", temper="annealed", size_mm=1.0,
        inner_mm=4.0, amount=40,
    )  # fmt: skip
    first, second = cut_rings(a_job(stock=(rings,)), a_plan("first", 1), a_plan("second", 1))
    assert first == 0
    assert second > 15


def test_settings_are_those_of_the_passes_each_change_once(a_job):
    """The metals stand beside, since a tip goes with them; the same again in a row is no change."""
    plan = a_plan()
    sharp, blunt = (10.0, 1, "sharp"), (12.5, 2, "blunt")
    plan = replace(plan, order=replace(plan.order, passes=passes(sharp, sharp, blunt, sharp)))
    (work,) = work_of(a_job(), plan)
    assert work.settings == (
        "10 J, 1 x, sharp, sterling-silver",
        "12.5 J, 2 x, blunt, sterling-silver",
        "10 J, 1 x, sharp, sterling-silver",
    )


def test_a_spoilt_ring_counts_its_metal_and_its_making(a_job):
    """Cutting, weaving and rework of one ring, and its grams at the job's price, in wages."""
    job = a_job(
        bench={
            "stations": {"cut_s": 2.0, "weave_ring_s": 10.0, "weave_link_s": 4.0, "rework_s": 60.0},
            "money": {"labour_per_hour": Decimal(30)},
        }
    )
    (work,) = work_of(job, a_plan())
    made_s = 2 + 10 + 60 + 4 * 29 / 30
    assert work.spoilt_s == pytest.approx(made_s + 3600 * RING_G * 1.00 / 30, rel=2e-3)
    (unpriced,) = work_of(replace(job, prices=()), a_plan())
    assert unpriced.spoilt_s == pytest.approx(made_s)
    free = replace(job.bench, money=replace(job.bench.money, labour_per_hour=Decimal(0)))
    (unpaid,) = work_of(replace(job, bench=free), a_plan())
    assert unpaid.spoilt_s == pytest.approx(made_s)


def test_coiling_waits_for_wire_that_is_not_on_the_shelf(a_job):
    """With wire and mandrel at hand, and no clasp, nothing waits."""
    plan = a_plan()
    plan = replace(plan, piece=replace(plan.piece, clasp_length_mm=0.0))
    for items, waits in (
        (((3.9, None),), {"coil"}),
        (((3.9, None), (1.0, 0.2)), {"coil"}),
        (((1.0, 5.0),), {"coil"}),
        (((3.9, None), (1.0, 5.0)), set()),
    ):
        (work,) = work_of(a_job(stock=shelf(*items)), plan)
        assert work.bought_for == waits, items


def test_a_clasp_is_bought_for_the_finish(a_job):
    (work,) = work_of(a_job(stock=shelf((3.9, None), (1.0, 5.0))), a_plan())
    assert work.bought_for == {"finish"}


def test_what_is_on_the_shelf_goes_to_the_piece_that_is_due_first(a_job):
    """The wire is enough for one of the two; pieces without a date come last."""
    plain = a_plan("first", 1)
    (need,) = take_of_wire(a_job(), plain)
    job = a_job(stock=shelf((3.9, None), (1.0, 1.5 * need.wire_length_m)))
    late, soon = datetime.date(2027, 4, 1), datetime.date(2027, 3, 10)

    def waits(first, second):
        plans = [a_plan("first", 1, due=first), a_plan("second", 1, due=second)]
        return ["coil" in work.bought_for for work in work_of(job, *plans)]

    assert waits(late, soon) == [True, False]
    assert waits(soon, late) == [False, True]
    assert waits(None, late) == [True, False]


def take_of_wire(job, plan):
    """The wire that one plan takes, by itself."""
    from chainplan.estimate.counts import count_piece, first_settings

    lines = first_settings(job, plan.layout)
    counts = count_piece(plan.piece, plan.layout, plan.joins, plan.order, lines, job.bench)
    return take_of(counts, job).wire


def test_a_station_waits_for_the_last_of_its_fittings(a_job):
    """One without days of its own comes with all that is bought; one at hand waits for none."""

    def fitting(name, days, fitted):
        return Fitting(
            piece="chain", name=name, kind=FittingKind.CHARM, place="start", delivery_days=days,
            fitted=fitted,
        )  # fmt: skip

    fittings = (
        fitting("bail", 7, Fitted.BEFORE), fitting("ring", 3, Fitted.BEFORE),
        fitting("stone", None, Fitted.AFTER), fitting("tag", 0, Fitted.AFTER),
    )  # fmt: skip
    plan = a_plan()
    plan = replace(plan, piece=replace(plan.piece, fittings=fittings))
    job = a_job(bench={"calendar": {"delivery_days": 4}})
    (work,) = work_of(job, plan)
    assert work.fittings_days == {FITTING: 7, LAST_FITTING: 4}
    at_hand = replace(plan, piece=replace(plan.piece, fittings=fittings[3:]))
    assert work_of(job, at_hand)[0].fittings_days == {}


@pytest.mark.parametrize(("country", "days"), [("UK", 9), ("", 0)])
def test_the_assay_office_is_waited_for_where_the_law_asks_for_it(a_job, country, days):
    """A heavy chain of silver, in the United Kingdom (from 7.78 g) and where none is named."""
    plan = a_plan()
    layout = replace(plan.layout, mean_radius_mm=plan.layout.mean_radius_mm * 4)
    job = a_job(bench={"money": {"country": country}, "calendar": {"hallmark_days": 9}})
    (work,) = work_of(job, replace(plan, layout=layout))
    assert work.hallmark_days == days


def test_time_beside_the_order_is_of_one_copy(a_job):
    """Grinding tips is work at the welder that no weld order has."""
    quick = a_job(bench={"welder": {"regrind_min": 0.0}})
    slow = a_job(bench={"welder": {"regrind_min": 30.0, "pulses_per_regrind": 10}})
    assert work_of(slow, a_plan())[0].weld_extra_s > work_of(quick, a_plan())[0].weld_extra_s >= 0


def test_sections_share_the_weaving_by_their_rings_and_links(a_group, a_piece, a_job):
    """Joining two sections is one ring and its two links; what nothing links is not woven."""
    stations = a_job(bench={"stations": {"weave_ring_s": 10.0, "weave_link_s": 4.0}}).bench.stations
    long = a_group(section=0, rings=20, links=19)
    short = a_group(section=1, rings=10, links=9)
    loose = a_group(section=2, rings=3, links=0)
    join_s, long_s, short_s = 10 + 2 * 4, 20 * 10 + 19 * 4, 10 * 10 + 9 * 4
    total_s = long_s + short_s
    rest = 1 - join_s / total_s
    found = _weave_shares(replace(a_piece(), groups=(long, short, loose)), stations)
    assert found == pytest.approx(
        (rest * long_s / total_s, rest * short_s / total_s, join_s / total_s)
    )
    assert sum(found) == pytest.approx(1.0)
    assert _weave_shares(replace(a_piece(), groups=(long, loose)), stations) == ()
    ring = a_group(section=0, rings=1, links=1)
    other = a_group(section=1, rings=0, links=1)
    assert _weave_shares(replace(a_piece(), groups=(ring, other)), stations) == ()


def test_wages_above_the_labour_are_shared_out_over_all_who_work_on_a_piece(a_job, a_piece):
    """Labour 30 an hour; Ada has 36 and works an hour, Bo 42 and three, Cy as the labour four."""
    job = a_job(bench={"money": {"labour_per_hour": Decimal(30)}})
    wages = {"Ada": Decimal(36), "Bo": Decimal(42), "Cy": None}
    people = [SimpleNamespace(label=name, wage_per_hour=wage) for name, wage in wages.items()]
    tasks = [
        SimpleNamespace(person=person, piece=piece, work_s=3600 * hours)
        for person, piece, hours in (
            ("Ada", "chain", 1), ("Bo", "chain", 3), ("Bo", "other", 9), ("Cy", "chain", 4),
            ("", "chain", 20),
        )
    ]  # fmt: skip
    schedule = SimpleNamespace(tasks=tasks, change_costs_s={"chain": 1800.0, "other": 7.0})
    counts = with_schedule(a_piece(), schedule, people, job.bench)
    assert counts.piece == "chain"
    assert counts.wage_above_per_hour == Decimal("5.25")  # (1 × 6 + 3 × 12 + 4 × 0) / 8
    assert counts.change_h == 0.5


def test_a_piece_that_nobody_works_on_has_no_wage_above(a_job, a_piece):
    schedule = SimpleNamespace(tasks=[], change_costs_s={})
    counts = with_schedule(a_piece(), schedule, [], a_job().bench)
    assert (counts.wage_above_per_hour, counts.change_h) == (Decimal(0), 0.0)
