"""The dispatch rule: who does what next, and what it must never do."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import replace

import pytest

from chainplan.errors import InputError
from chainplan.examine.days.schedule import check_schedule
from chainplan.model.workshop.schedule import Person
from chainplan.schedule import batch_of
from chainplan.schedule.turns import schedule_warnings

DAY = datetime.date
COOLING = ((0, 120), (600, 120), (600, 120))


def stations(schedule, **wanted):
    return [
        (task.piece, task.copy, task.station)
        for task in schedule.tasks
        if task.person and all(getattr(task, key) == value for key, value in wanted.items())
    ]


def test_one_person_takes_a_copy_through_its_stations(workshop, a_work):
    schedule = workshop().schedule(a_work("chain"))
    assert [station for _, _, station in stations(schedule)] == [
        "coil", "cut", "tumble", "weave", "set up", "weld", "rework", "clean", "inspect", "finish",
    ]  # fmt: skip


def test_while_rings_tumble_another_piece_is_begun(workshop, a_work):
    """Nobody stands beside the tumbler."""
    schedule = workshop().schedule(a_work("first"), a_work("second"))
    tumbling = next(task for task in schedule.tasks if task.station == "tumbling")
    assert (tumbling.person, tumbling.machine) == ("", "tumbler")
    busy = [
        task for task in schedule.tasks
        if task.person and tumbling.start_s <= task.start_s < tumbling.end_s
    ]  # fmt: skip
    assert {task.piece for task in busy} == {"second"}


def test_all_copies_lie_woven_before_one_person_welds(workshop, a_work):
    schedule = workshop().schedule(a_work("chain", copies=3))
    order = [station for _, _, station in stations(schedule) if station in ("weave", "weld")]
    assert order == ["weave"] * 3 + ["weld"] * 3


def test_two_people_weave_different_copies_at_once(workshop, a_work):
    schedule = workshop(people=()).schedule(a_work("chain", copies=2))
    alone = max(task.end_s for task in schedule.tasks)
    two = workshop(people=[Person(label="Ann"), Person(label="Ben")])
    schedule = two.schedule(a_work("chain", copies=2))
    weaving = [task for task in schedule.tasks if task.station == "weave"]
    assert {task.person for task in weaving} == {"Ann", "Ben"}
    assert weaving[0].start_s == weaving[1].start_s
    assert max(task.end_s for task in schedule.tasks) < alone


def test_the_piece_due_first_is_ready_first_with_two_people(workshop, a_work):
    works = [a_work("later", due=DAY(2027, 3, 19)), a_work("soon", due=DAY(2027, 3, 8))]
    two = workshop(people=[Person(label="Ann"), Person(label="Ben")])
    schedule = two.schedule(*works)
    assert not schedule.late
    ready = {each.piece: each.worked_s for each in schedule.pieces}
    assert ready["soon"] <= ready["later"]


def test_pieces_of_one_setting_are_welded_together(workshop, a_work):
    """Silver and copper by turns in the file: one change, not three."""
    works = [
        a_work(f"{metal} {k}", settings=(metal,)) for k in (1, 2) for metal in ("silver", "copper")
    ]
    schedule = workshop().schedule(*works)
    welded = [piece.split()[0] for piece, _, _ in stations(schedule, station="weld")]
    assert schedule.changes == 1
    assert len(list(itertools.groupby(welded))) == 2


def test_a_date_is_worth_a_change_of_setting(workshop, a_work):
    """The copper piece is wanted today; silver before and after it."""
    today, later = DAY(2027, 3, 4), DAY(2027, 3, 31)
    works = [
        a_work("silver 1", settings=("silver",), due=today, weave_h=0.5, tumbling_s=0.0),
        a_work("copper", settings=("copper",), due=today, weave_h=0.5, tumbling_s=0.0),
        a_work("silver 2", settings=("silver",), due=later, weave_h=5.0, tumbling_s=0.0),
    ]
    schedule = workshop().schedule(*works)
    assert not schedule.late
    assert [piece for piece, _, _ in stations(schedule, station="weld")][-1] == "silver 2"


def test_woven_copies_are_welded_in_turns_while_one_cools(workshop, a_work):
    works = [a_work("chain", copies=3, weld=COOLING)]
    shop = workshop()
    schedule = shop.schedule(*works)
    batch = batch_of(schedule, works, shop.shop)
    assert batch.interleaved
    assert batch.bench_time_s < batch.one_after_another_s - 600
    assert "saves" in batch.note
    weave_end = max(task.end_s for task in schedule.tasks if task.station == "weave")
    assert all(task.start_s >= weave_end for task in schedule.tasks if task.station == "weld")


def test_a_rest_is_never_cut_short(workshop, a_work):
    works = [a_work("a", copies=2, weld=COOLING), a_work("b", weld=((0, 300), (200, 90)))]
    shop = workshop()
    schedule = shop.schedule(*works)
    hours = shop.shop.hours
    rests = {"a": {0: 0, 10: 600, 20: 600}, "b": {0: 0, 10: 200}}
    last = {}
    for task in schedule.tasks:
        if task.station == "weld":
            key = (task.piece, task.copy)
            if key in last:
                rest_s = hours.worked_s(task.start_s) - hours.worked_s(last[key])
                assert rest_s >= rests[task.piece][task.first_step]
            last[key] = task.end_s


def test_pieces_of_other_settings_are_not_welded_in_turns(workshop, a_work):
    works = [
        a_work("silver", weld=COOLING, settings=("silver",)),
        a_work("copper", weld=COOLING, settings=("copper",)),
    ]
    shop = workshop()
    schedule = shop.schedule(*works)
    assert not batch_of(schedule, works, shop.shop).interleaved
    assert schedule.changes == 1


def test_one_piece_after_another_if_the_bench_asks_for_it(workshop, a_work):
    works = [a_work("chain", copies=3, weld=COOLING)]
    shop = workshop(pace={"interleave": False})
    batch = batch_of(shop.schedule(*works), works, shop.shop)
    assert not batch.interleaved
    assert batch.copy.tolist() == [1, 2, 3]
    assert batch.bench_time_s == pytest.approx(batch.one_after_another_s)


def test_wire_that_is_bought_is_coiled_when_it_has_come(workshop, a_work):
    """Two weekdays after Thursday is Monday; the piece from the shelf is made meanwhile."""
    works = [a_work("bought", bought_for=frozenset({"coil"})), a_work("shelf")]
    schedule = workshop(delivery_days=2).schedule(*works)
    begun = {}
    for task in schedule.tasks:
        begun.setdefault(task.piece, task.start.date())
    assert begun == {"shelf": DAY(2027, 3, 4), "bought": DAY(2027, 3, 8)}


def test_who_cannot_weld_does_not(workshop, a_work):
    people = [
        Person(label="Ann", stations="coil, cut, tumble, weave, clean, inspect, finish"),
        Person(label="Ben", stations="pre-close, set up, weld, rework, weave"),
    ]
    schedule = workshop(people=people).schedule(a_work("chain", copies=4))
    for task in schedule.tasks:
        if task.person == "Ann":
            assert task.machine != "welder"
        elif task.person == "Ben":
            assert task.station in ("pre-close", "set up", "weld", "rework", "weave")


def test_a_station_that_nobody_does_is_refused(workshop, a_work):
    with pytest.raises(InputError, match="nobody does weld"):
        workshop(people=[Person(label="Ann", stations="coil,cut,tumble,weave,clean,inspect,finish")]
                 ).schedule(a_work("chain"))  # fmt: skip


def test_a_slow_hand_takes_longer_and_a_quick_one_does_not_hurry_the_heat(workshop, a_work):
    def at(pace):
        shop = workshop(people=[Person(label="Ann", pace=pace)])
        return {task.station: task.work_s for task in shop.schedule(a_work("chain")).tasks}

    usual, slow, quick = at(1.0), at(1.5), at(0.5)
    assert slow["weave"] == 1.5 * usual["weave"]
    assert quick["weave"] == 0.5 * usual["weave"]
    assert slow["weld"] == 1.5 * usual["weld"]
    assert quick["weld"] == usual["weld"]


def test_a_late_piece_is_named_with_what_is_proved(workshop, a_work):
    """Thirty hours of weaving for Thursday: a week of six-hour days at the least."""
    due = DAY(2027, 3, 4)
    schedule = workshop().schedule(a_work("late", weave_h=30, due=due))
    (late,) = schedule.late
    assert late.late_days == late.least_late_days == schedule.bound.late_days == 7
    assert schedule.gap.late_days == 0
    text = " ".join(schedule_warnings(schedule, due, [due]))
    assert "late: late by 7 days" in text
    assert "no schedule can finish late before Thu 2027-03-11 10:52" in text
    assert "proved" in text


def test_no_schedule_ends_before_its_bound(workshop, a_work):
    for copies, people in itertools.product((1, 4), (1, 2, 3)):
        shop = workshop(people=[Person(label=f"P{k}") for k in range(people)])
        schedule = shop.schedule(a_work("a", copies=copies), a_work("b", weave_h=2.5))
        assert schedule.bound.end_s <= max(task.end_s for task in schedule.tasks)
        assert schedule.gap.end_share >= 0


def test_without_a_start_date_hours_are_counted_and_dates_are_not(workshop, a_work):
    due = DAY(2027, 3, 4)
    schedule = workshop(start=None).schedule(a_work("chain", due=due))
    assert schedule.tasks[0].start is None
    assert schedule.tasks[0].start_s == 0
    (piece,) = schedule.pieces
    assert (piece.ready, piece.late_days, piece.chance_in_time) == (None, 0, None)
    assert "no start date" in schedule_warnings(schedule, None, [due])[0]


def test_a_piece_with_a_hallmark_is_ready_when_it_is_back(workshop, a_work):
    """Work ends on Thursday; five weekdays at the assay office end on the Thursday after."""
    work = a_work("chain", due=DAY(2027, 3, 11), hallmark_days=5)
    (piece,) = workshop().schedule(work).pieces
    assert (piece.worked, piece.ready, piece.late_days) == (DAY(2027, 3, 4), DAY(2027, 3, 11), 0)
    assert piece.chance_in_time > 0.9
    hurried = a_work("chain", due=DAY(2027, 3, 10), hallmark_days=5)
    (piece,) = workshop().schedule(hurried).pieces
    assert (piece.late_days, piece.chance_in_time) == (1, 0.0)


def test_what_is_fitted_last_is_fitted_when_the_pieces_are_back(workshop, a_work):
    """Two copies go to the assay office together, and come back together."""
    work = a_work("stone", copies=2, hallmark_days=5, due=DAY(2027, 3, 19))
    work = replace(
        work, station_s={**work.station_s, "fitting": 360.0, "last fitting": 720.0},
        fittings_days={"fitting": 1},
    )  # fmt: skip
    shop = workshop(people=[Person(label="Ann"), Person(label="Ben", stations="weave, fitting")])
    schedule = shop.schedule(work)
    by_station = {}
    for task in schedule.tasks:
        by_station.setdefault(task.station, []).append(task)
    assert min(task.start.date() for task in by_station["fitting"]) == DAY(2027, 3, 5)
    assert len(by_station["fitting"]) == 2
    (away,) = by_station["assay office"]
    assert (away.copies, away.person, away.machine) == (2, "", "")
    assert away.start_s == max(task.end_s for task in by_station["finish"])
    (last,) = by_station["last fitting"]
    assert (last.start_s >= away.end_s, last.person, last.work_s) == (True, "Ann", 720)
    (piece,) = schedule.pieces
    assert (piece.worked, piece.ready) == (away.start.date(), last.end.date())
    assert schedule.gap.end_share < 0.5
    assert check_schedule(shop.written(schedule, [work])) == ()


def test_sections_of_one_copy_are_woven_at_once_and_joined(workshop, a_work):
    """Forty and fifty-five hundredths of the weaving beside each other, then the seam."""
    work = a_work("long", weave_h=10.0, weave_shares=(0.4, 0.55, 0.05))
    alone = workshop().schedule(work)
    assert [task.section for task in alone.tasks if task.station == "weave"] == [0]
    shop = workshop(people=[Person(label="Ann"), Person(label="Ben")])
    schedule = shop.schedule(work)
    woven = {task.section: task for task in schedule.tasks if task.station == "weave"}
    assert sorted(woven) == [-1, 1, 2]
    assert {woven[1].person, woven[2].person} == {"Ann", "Ben"}
    assert woven[1].start_s == woven[2].start_s
    assert woven[-1].start_s >= max(woven[1].end_s, woven[2].end_s)
    assert sum(task.work_s for task in woven.values()) == 36000
    assert schedule.pieces[0].worked_s < alone.pieces[0].worked_s
    assert check_schedule(shop.written(schedule, [work])) == ()


def test_the_sum_of_copies_is_taken_in_their_order(workshop, a_work):
    """Names come in another order out of a set in each process; the last digit must be the same."""
    odd_s = [100 / 3, 1000 / 7, 10000 / 11, 10 / 13, 1e4 / 17, 1e3 / 19, 1e2 / 23, 1e4 / 29]
    works = [a_work(f"piece {k}", weld=((0, seconds),)) for k, seconds in enumerate(odd_s)]
    shop = workshop()
    batch = batch_of(shop.schedule(*works), works, shop.shop)
    expected_s = 0.0
    for name in dict.fromkeys(batch.piece):
        expected_s += odd_s[int(name[-1])]
    expected_s += shop.shop.change_piece_s * (len(works) - 1)
    assert batch.one_after_another_s == expected_s
