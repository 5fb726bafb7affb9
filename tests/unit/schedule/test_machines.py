"""Machines: several welders, stations with a machine of their own, days on which one stands."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import replace

import pytest

from chainplan.examine.days.schedule import check_schedule
from chainplan.model.workshop.machines import Machine, MachineStation
from chainplan.model.workshop.schedule import Person
from chainplan.schedule import batch_of
from chainplan.schedule.turns import calendar_of

TWO = (Person(label="Ann"), Person(label="Ben"))
WELDERS = Machine(label="welder", station=MachineStation.WELD, number=2)
DAY = datetime.date


def only(a_work, name, *, weld, copies=1, **more):
    """A piece that is welded and nothing else."""
    stations = {"coil": 0, "cut": 0, "tumble": 0, "weave": 0, "set up": 60.0, "rework": 0,
                "clean": 0, "inspect": 0, "finish": 0}  # fmt: skip
    return a_work(name, station_s=stations, weld=weld, copies=copies, tumbling_s=0.0, **more)


def test_two_people_weld_at_once_only_at_two_welders(workshop, a_work):
    works = [only(a_work, name, weld=((0, 3600),)) for name in ("a", "b")]
    one = workshop(people=TWO).schedule(*works)
    shop = workshop(people=TWO, machines=[WELDERS])
    two = shop.schedule(*works)
    welded = [task for task in two.tasks if task.station == "weld"]
    assert {task.machine for task in welded} == {"welder 1", "welder 2"}
    assert welded[0].start_s == welded[1].start_s
    assert max(t.end_s for t in two.tasks) < max(t.end_s for t in one.tasks) - 3000
    assert two.gap.end_share == pytest.approx(0.0, abs=1e-3)
    assert check_schedule(shop.written(two, works)) == ()


def test_each_welder_is_set_up_for_what_is_welded_at_it(workshop, a_work):
    """Two copies of one piece at two welders: the second set-up is counted as a cost."""
    works = [only(a_work, "chain", weld=((0, 7200),), copies=2)]
    shop = workshop(people=TWO, machines=[WELDERS])
    schedule = shop.schedule(*works)
    set_up = {task.machine for task in schedule.tasks if task.station == "set up"}
    assert set_up == {"welder 1", "welder 2"}
    assert (schedule.changes, schedule.further_set_ups) == (0, 1)
    assert schedule.change_costs_s == {"chain": 60.0}
    assert check_schedule(shop.written(schedule, works)) == ()


def test_one_person_keeps_a_setting_at_each_welder(workshop, a_work):
    """Silver at one and copper at the other: nothing is ever changed."""
    works = [
        only(a_work, f"{metal} {k}", weld=((0, 600),), settings=(metal,))
        for k in (1, 2) for metal in ("silver", "copper")
    ]  # fmt: skip
    assert workshop().schedule(*works).changes == 1
    schedule = workshop(machines=[WELDERS]).schedule(*works)
    assert schedule.changes == 0
    at = {(task.piece.split()[0], task.machine) for task in schedule.tasks if task.machine}
    assert at == {("silver", "welder 1"), ("copper", "welder 2")}


def test_nobody_works_at_a_machine_on_its_day_off(workshop, a_work):
    """The welder is away on Friday: what does not fit into Thursday is welded on Monday."""
    friday = Machine(label="welder", station=MachineStation.WELD, days_off="2027-03-05")
    works = [
        only(a_work, "first", weld=((0, 4 * 3600),)), only(a_work, "second", weld=((0, 4 * 3600),)),
        a_work("woven", weave_h=7.0),
    ]  # fmt: skip
    shop = workshop(machines=[friday])
    schedule = shop.schedule(*works)
    days = {task.start.date() for task in schedule.tasks if task.machine == "welder"}
    assert days == {DAY(2027, 3, 4), DAY(2027, 3, 8)}
    assert all(
        task.start.date() == task.end.date() for task in schedule.tasks if task.station == "weld"
    )
    assert any(task.end.date() == DAY(2027, 3, 5) for task in schedule.tasks)
    assert check_schedule(shop.written(schedule, works)) == ()


def test_work_longer_than_any_stretch_waits_at_the_machine(workshop, a_work):
    """Ten hours of welding, and the welder is there every other day: nobody can do otherwise."""
    off = "2027-03-05 2027-03-09 2027-03-11"
    machine = Machine(label="welder", station=MachineStation.WELD, days_off=off)
    works = [only(a_work, "long", weld=((0, 10 * 3600),))]
    shop = workshop(machines=[machine])
    schedule = shop.schedule(*works)
    lines = calendar_of(schedule, shop.shop)
    days = {line.start.date() for line in lines if line.station == "weld"}
    assert not days & {DAY(2027, 3, 5), DAY(2027, 3, 9), DAY(2027, 3, 11)}
    assert sum(line.hours for line in lines if line.station == "weld") == pytest.approx(10.0)
    assert check_schedule(shop.written(schedule, works)) == ()


def test_rings_do_not_turn_in_a_tumbler_that_stands(workshop, a_work):
    """Filled shortly before a day on which it is lent, they turn on after it."""
    machine = Machine(label="barrel", station=MachineStation.TUMBLE, days_off="2027-03-05")
    works = [a_work("chain", tumbling_s=20 * 3600.0)]
    shop = workshop(machines=[machine])
    schedule = shop.schedule(*works)
    (tumbling,) = [task for task in schedule.tasks if task.station == "tumbling"]
    assert tumbling.machine == "barrel"
    assert tumbling.end.date() == DAY(2027, 3, 6)
    assert check_schedule(shop.written(schedule, works)) == ()


def test_a_station_with_a_machine_of_its_own_is_for_one_at_a_time(workshop, a_work):
    works = [a_work(f"piece {k}", tumbling_s=0.0) for k in range(3)]
    saw = Machine(label="saw", station=MachineStation.CUT)
    shop = workshop(people=TWO, machines=[saw])
    schedule = shop.schedule(*works)
    cuts = sorted((t.start_s, t.end_s) for t in schedule.tasks if t.station == "cut")
    assert all(one[1] <= two[0] for one, two in itertools.pairwise(cuts))
    assert {task.machine for task in schedule.tasks if task.station == "cut"} == {"saw"}
    assert check_schedule(shop.written(schedule, works)) == ()


def test_the_calendar_names_the_machine_only_where_there_is_a_choice(workshop, a_work):
    works = [*(only(a_work, name, weld=((0, 3600),)) for name in "ab"), a_work("woven")]
    one, two = workshop(people=TWO), workshop(people=TWO, machines=[WELDERS])
    for shop, wanted in ((one, {""}), (two, {"welder 1", "welder 2"})):
        lines = calendar_of(shop.schedule(*works), shop.shop)
        assert {line.machine for line in lines if line.station == "weld"} == wanted
        assert {line.machine for line in lines if line.station == "weave"} == {""}


def test_faults_at_machines_are_found(workshop, a_work):
    friday = Machine(label="welder", station=MachineStation.WELD, days_off="2027-03-05", number=2)
    works = [a_work("a", copies=2), a_work("b")]
    shop = workshop(people=TWO, machines=[friday])
    plan = shop.written(shop.schedule(*works), works)
    assert check_schedule(plan) == ()

    def changed(words, **wanted):
        task = next(
            t for t in plan["schedule"]["tasks"] if all(t[k] == v for k, v in wanted.items())
        )
        kept = task["machine"]
        for machine in words:
            task["machine"] = machine
            assert any(words[machine] in fault for fault in check_schedule(plan)), machine
        task["machine"] = kept

    changed({"": "at no machine", "tumbler": "no machine for it"}, station="weld")
    changed({"welder 1": "no machine for it"}, station="tumbling")
    plan["schedule"]["machines"][0]["days_off"] = "2027-03-04"
    assert any("works" in fault or "outside the hours" in fault for fault in check_schedule(plan))
    plan["schedule"]["machines"][0]["days_off"] = "2027-03-05"
    plan["schedule"]["machines"][1]["days_off"] = "2027-03-04"
    assert any("stands on 2027-03-04" in fault for fault in check_schedule(plan))


COOLING = ((0, 240), *(((900, 240),) * 5))


def test_other_settings_are_welded_in_turns_only_if_it_is_well_worth_it(workshop, a_work):
    """Fifteen minutes of cooling five times, against ten changes of half a minute."""
    works = [only(a_work, name, weld=COOLING, settings=(name,)) for name in ("silver", "copper")]
    for times, woven in ((3.0, True), (50.0, False)):
        shop = workshop(pace={"turns_worth_changes": times})
        schedule = shop.schedule(*works)
        batch = batch_of(schedule, works, shop.shop)
        assert batch.interleaved == woven, times
        assert schedule.changes == (11 if woven else 1)
        assert check_schedule(shop.written(schedule, works)) == ()
    dear = [replace(work, spoilt_s=3600.0) for work in works]
    shop = workshop()
    assert not batch_of(shop.schedule(*dear), dear, shop.shop).interleaved
