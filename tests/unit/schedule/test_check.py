"""The checker of written schedules finds nothing in ours, and every fault that is put in."""

from __future__ import annotations

import copy
import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.examine.days.schedule import check_schedule
from chainplan.model.workshop.machines import Machine, MachineStation
from chainplan.model.workshop.schedule import Person

PEOPLE = (
    (),
    (Person(label="Ann"), Person(label="Ben", pace=1.3, days_off="2027-03-05")),
    (
        Person(label="Ann", hours_per_day=4, day_starts_h=8, working_days="Mon Tue Wed Thu"),
        Person(label="Ben", stations="weave, clean, inspect, finish"),
        Person(label="Cleo", day_starts_h=12, pace=0.8),
    ),
)
MACHINES = (
    (),
    (Machine(label="welder", station=MachineStation.WELD, number=2),),
    (
        Machine(label="old welder", station=MachineStation.WELD, days_off="2027-03-05 2027-03-08"),
        Machine(label="new welder", station=MachineStation.WELD, days_off="2027-03-08"),
        Machine(label="saw", station=MachineStation.CUT, days_off="2027-03-04"),
        Machine(label="barrel", station=MachineStation.TUMBLE, number=2, days_off="2027-03-09"),
        Machine(label="bath", station=MachineStation.CLEAN),
    ),
)
CUTS = (((0, 600),), ((0, 120), (600, 120), (600, 120)), ((0, 900), (300, 200)))

BOUGHT = (frozenset(), frozenset({"coil"}), frozenset({"finish"}))
DATES = (None, datetime.date(2027, 3, 5), datetime.date(2027, 3, 16))


@st.composite
def jobs(draw):
    count = draw(st.integers(1, 5))
    return [
        {
            "weave_h": draw(st.sampled_from((0.0, 0.3, 2.0, 9.0))),
            "copies": draw(st.integers(1, 4)),
            "weld": draw(st.sampled_from(CUTS)),
            "settings": draw(st.sampled_from((("silver",), ("copper",), ("silver", "steel")))),
            "spoilt_s": draw(st.sampled_from((0.0, 300.0))),
            "tumbling_s": draw(st.sampled_from((0.0, 3600.0, 40000.0))),
            "bought_for": draw(st.sampled_from(BOUGHT)),
            "due": draw(st.sampled_from(DATES)),
            "hallmark_days": draw(st.sampled_from((0, 5))),
            "weave_shares": draw(st.sampled_from(((), (0.3, 0.6, 0.1)))),
            "fittings_days": draw(st.sampled_from(({}, {"finish": 1}))),
            "late_weight": draw(st.sampled_from((1.0, 3.0))),
        }
        for _ in range(count)
    ]  # fmt: skip


@settings(max_examples=40)
@given(
    jobs(),
    st.sampled_from(PEOPLE),
    st.sampled_from(MACHINES),
    st.sampled_from((1.0, 3.0, 1000.0)),
    st.sampled_from(({}, {"start": None}, {"days_off": "2027-03-09", "delivery_days": 1})),
)
def test_every_schedule_is_sound_and_no_better_than_its_bound(
    workshop, a_work, wanted, people, machines, worth, options
):
    works = [a_work(f"piece {k}", **given) for k, given in enumerate(wanted)]
    pace = {"turns_worth_changes": worth}
    shop = workshop(people=people, machines=machines, pace=pace, **options)
    schedule = shop.schedule(*works, trials=10, limit=0.02)
    assert check_schedule(shop.written(schedule, works)) == ()
    assert schedule.gap.late_days >= 0
    assert schedule.gap.end_share >= 0
    assert shop.schedule(*works, trials=10, limit=0.02) == schedule


@pytest.fixture(scope="module")
def sound(workshop, a_work):
    works = [
        a_work("chain", copies=2, weld=CUTS[1], bought_for=frozenset({"coil"})),
        a_work("cuff", settings=("18 J",)),
    ]
    shop = workshop(people=PEOPLE[1])
    return shop.written(shop.schedule(*works), works)


def first(plan, **wanted):
    return next(
        task for task in plan["schedule"]["tasks"]
        if all(task[key] == value for key, value in wanted.items())
    )  # fmt: skip


def moved(task, hours):
    """Move a task in time."""
    task["start_h"] += hours
    task["end_h"] += hours
    for key in ("start", "end"):
        moment = datetime.datetime.fromisoformat(task[key]) + datetime.timedelta(hours=hours)
        task[key] = moment.isoformat()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda p: moved(first(p, piece="cuff", station="finish"), -0.02), "two things at once"),
        (lambda p: moved(first(p, station="clean"), -1.0), "begins before"),
        (lambda p: moved(first(p, station="finish"), 12.0), "outside the hours"),
        (lambda p: moved(first(p, piece="chain", station="coil"), -24.0), "before its material"),
        (lambda p: first(p, station="weave").update(work_s=60), "works 60 s"),
        (lambda p: first(p, station="weld").update(first_step=1), "comes after step"),
        (lambda p: p["order"]["batch"]["piece"].reverse(), "turns of the batch"),
        (lambda p: p["estimates"]["calendar"].pop(), "calendar"),
        (lambda p: p["estimates"]["due"][0].update(worked="2027-03-01"), "last task"),
        (lambda p: first(p, station="weave").update(copy=7), "there is no copy 7"),
    ],
)  # fmt: skip
def test_every_fault_is_found(sound, change, words):
    assert check_schedule(sound) == ()
    plan = copy.deepcopy(sound)
    change(plan)
    assert any(words in fault for fault in check_schedule(plan)), check_schedule(plan)
