"""Working days, the schedule, lateness and chances."""

import datetime
import itertools
import math
import random

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.estimate.calendar import calendar_warnings, plan_calendar
from chainplan.estimate.schedule import (
    PieceWork,
    best_order,
    chances_in_time,
    done_hours,
    lay_stints,
    triangular,
)
from chainplan.estimate.stations import STATIONS
from chainplan.estimate.take import take_of
from chainplan.estimate.workdays import (
    WorkDays,
    read_days_off,
    read_working_days,
    weekdays_after,
    weekdays_before,
)
from chainplan.model.bench.calendar import CalendarSettings

DAY = datetime.date


def a_work(name, hours, due_h=math.inf, station=4):
    """Build a piece that needs one station only."""
    line = [0.0] * len(STATIONS)
    line[station] = hours
    return PieceWork(piece=name, hours=tuple(line), due_h=due_h)


def week(**settings):
    """Build a calendar of six hours a day from Thursday 4 March 2027."""
    return WorkDays.of(DAY(2027, 3, 4), CalendarSettings(**settings))


def test_hours_turn_into_dates_over_a_weekend():
    """Thursday and Friday, then Monday."""
    days = week()
    assert days.moment(0.0, ending=False) == datetime.datetime(2027, 3, 4, 9)
    assert days.moment(7.5, ending=True) == datetime.datetime(2027, 3, 5, 10, 30)
    assert days.moment(12.5, ending=True) == datetime.datetime(2027, 3, 8, 9, 30)


def test_work_that_ends_at_closing_time_ends_that_day_and_the_next_starts_next_morning():
    days = week()
    assert days.moment(6.0, ending=True) == datetime.datetime(2027, 3, 4, 15)
    assert days.moment(6.0, ending=False) == datetime.datetime(2027, 3, 5, 9)


def test_days_off_and_the_working_week_are_kept():
    days = week(days_off="2027-03-05, 2027-03-08", working_days="Mon, Thu Friday")
    assert [days.working_day(k) for k in range(3)] == [
        DAY(2027, 3, 4),
        DAY(2027, 3, 11),
        DAY(2027, 3, 12),
    ]


def test_hours_until_a_date_are_whole_working_days():
    days = week(days_off="2027-03-08")
    assert days.hours_until(DAY(2027, 3, 3)) == 0.0
    assert days.hours_until(DAY(2027, 3, 4)) == 6.0
    assert days.hours_until(DAY(2027, 3, 9)) == 18.0


def test_hours_until_a_date_and_the_date_of_an_hour_agree():
    """Work that takes as long as there is until a day ends on that day."""
    days = week(days_off="2027-03-10 2027-03-11")
    for k in range(40):
        day = DAY(2027, 3, 4) + datetime.timedelta(days=k)
        if days.is_working(day):
            assert days.moment(days.hours_until(day), ending=True).date() == day


@pytest.mark.parametrize(("text", "words"), [("Mon Blursday", "Blursday"), ("", "none is named")])
def test_a_working_week_that_cannot_be_read_is_refused(text, words):
    with pytest.raises(InputError, match=words):
        read_working_days(text)


def test_a_day_off_that_is_no_date_is_refused():
    with pytest.raises(InputError, match="2027-31-01"):
        read_days_off("2027-01-01 2027-31-01")


def test_a_workshop_that_is_always_closed_is_refused():
    days = WorkDays(DAY(2027, 3, 4), 6.0, 9.0, frozenset(), frozenset())
    with pytest.raises(InputError, match="thirty years"):
        days.working_day(0)


def test_earliest_due_date_first_is_as_little_late_as_any_order():
    """One person: against every order of up to six pieces with random times and dates."""
    draw = random.Random(3)
    for _ in range(30):
        works = [
            a_work(str(k), draw.uniform(0.1, 5), draw.uniform(0, 15))
            for k in range(draw.randint(1, 6))
        ]

        def worst(order, works=works):
            done, _ = done_hours(np.array([[w.hours for w in works]]), order, 1)
            return max(done[0, k] - work.due_h for k, work in enumerate(works))

        best = min(worst(order) for order in itertools.permutations(range(len(works))))
        assert worst(best_order(works, 1)) == pytest.approx(best, abs=1e-9)


def test_pieces_without_a_date_come_last_in_the_order_of_the_file():
    works = [a_work("a", 1), a_work("b", 1, 9.0), a_work("c", 1)]
    assert best_order(works, 1) == (1, 0, 2)


def test_one_person_does_one_thing_at_a_time():
    works = [PieceWork(piece=str(k), hours=(0.5,) * len(STATIONS), due_h=9.0 + k) for k in range(3)]
    stints = sorted(lay_stints(works, best_order(works, 1), 1), key=lambda s: s.start_h)
    assert all(b.start_h >= a.end_h - 1e-9 for a, b in itertools.pairwise(stints))
    assert stints[-1].end_h == pytest.approx(3 * 0.5 * len(STATIONS))


@pytest.mark.parametrize("people", [2, 3])
def test_more_people_never_share_a_station_and_never_work_twice_at_once(people):
    draw = random.Random(people)
    works = [
        PieceWork(piece=str(k), hours=tuple(draw.uniform(0, 2) for _ in STATIONS), due_h=20.0 * k)
        for k in range(5)
    ]
    stints = lay_stints(works, best_order(works, people), people)
    for station in range(len(STATIONS)):
        own = sorted((s.start_h, s.end_h) for s in stints if s.station == station)
        assert all(b[0] >= a[1] - 1e-9 for a, b in itertools.pairwise(own))
    for piece in range(len(works)):
        own = [s for s in stints if s.piece == piece]
        assert [s.station for s in own] == sorted(s.station for s in own)
        assert all(b.start_h >= a.end_h - 1e-9 for a, b in itertools.pairwise(own))
    moments = sorted(s.start_h for s in stints)
    for moment in moments:
        busy = sum(s.start_h <= moment + 1e-9 < s.end_h - 1e-9 for s in stints)
        assert busy <= people


def test_two_people_are_done_earlier_than_one():
    works = [
        PieceWork(piece=str(k), hours=(1.0,) * len(STATIONS), due_h=math.inf) for k in range(4)
    ]

    def length(people):
        return max(s.end_h for s in lay_stints(works, best_order(works, people), people))

    assert length(2) < 0.7 * length(1)


def test_the_chance_is_that_of_the_triangle_for_one_piece_at_one_station():
    """Ten hours, 0.8 to 1.4 times; in time up to 10.5 h: 1 − (1.4 − 1.05)²/(0.6·0.4)."""
    exact = 1 - (1.4 - 1.05) ** 2 / (0.6 * 0.4)
    (chance,) = chances_in_time(
        [a_work("a", 10.0, 10.5)],
        [0],
        1,
        quick_share=0.8,
        slow_share=1.4,
        trials=40_000,
        seed=1,
    )
    assert chance == pytest.approx(exact, abs=0.01)


def test_the_same_seed_gives_the_same_chances():
    works = [a_work("a", 10.0, 10.5), a_work("b", 3.0, 14.0)]
    options = {"quick_share": 0.8, "slow_share": 1.4, "trials": 200}
    one = chances_in_time(works, [0, 1], 1, **options, seed=7)
    assert one == chances_in_time(works, [0, 1], 1, **options, seed=7)


def test_a_triangle_has_its_ends_its_peak_and_its_mean():
    """Mean of a triangular law: a third of the sum of its ends and its peak."""
    shares = (np.arange(100_000) + 0.5) / 100_000
    values = triangular(shares, 0.8, 1.4)
    assert values.min() == pytest.approx(0.8, abs=2e-3)
    assert values.max() == pytest.approx(1.4, abs=2e-3)
    assert values.mean() == pytest.approx((0.8 + 1.0 + 1.4) / 3, abs=1e-4)
    assert np.all(triangular(shares, 1.0, 1.0) == 1.0)


def test_a_late_piece_is_named_with_its_days(a_job, a_piece):
    """Six hours of work a day; a piece due on the first day that takes three."""
    job = a_job(bench={"calendar": {"hallmark_days": 0}})
    late = a_piece(piece="late", quantity=18, due=DAY(2027, 3, 4))
    lines, due = plan_calendar([take_of(late, job)], job, seed=0)
    assert due[0].done == lines[-1].end.date()
    assert due[0].late_days == (due[0].done - DAY(2027, 3, 4)).days > 0
    assert due[0].chance_in_time == 0.0
    assert due[0].due_h == 6.0 < due[0].done_h == lines[-1].end_h
    text = " ".join(calendar_warnings(due, job))
    assert f"late: late by {due[0].late_days} day" in text
    assert "no other order" in text


def test_a_piece_with_a_hallmark_is_ready_when_it_is_back(a_job, a_piece):
    """Work ends on Thursday; five weekdays at the assay office end on the Thursday after."""
    job = a_job()
    take = take_of(a_piece(due=DAY(2027, 3, 11)), job)
    _, (line,) = plan_calendar([take], job, seed=0)
    assert (line.worked, line.hallmark_days) == (DAY(2027, 3, 4), 5)
    assert (line.done, line.late_days) == (DAY(2027, 3, 11), 0)
    assert line.due_h == 6.0  # it must leave on the first day
    assert line.chance_in_time > 0.9
    _, (hurried,) = plan_calendar([take_of(a_piece(due=DAY(2027, 3, 10)), job)], job, seed=0)
    assert (hurried.late_days, hurried.chance_in_time) == (1, 0.0)
    assert "with 5 weekdays at the assay office" in calendar_warnings([hurried], job)[0]


def test_a_piece_without_a_hallmark_does_not_wait_for_the_assay_office(a_job, a_piece):
    job = a_job()
    take = take_of(a_piece(group={"metal": "copper"}, due=DAY(2027, 3, 5)), job)
    _, (line,) = plan_calendar([take], job, seed=0)
    assert (line.done, line.hallmark_days) == (line.worked, 0)


def test_the_last_day_to_send_a_piece_off_is_the_last_from_which_it_comes_back_in_time():
    """Tried for every day of three weeks."""
    for day in (DAY(2027, 3, 1) + datetime.timedelta(days=k) for k in range(21)):
        for away in range(7):
            last = weekdays_before(day, away)
            assert weekdays_after(last, away) <= day
            assert weekdays_after(last + datetime.timedelta(days=1), away) > day


def test_without_a_start_date_hours_are_counted_and_dates_are_not(a_job, a_piece):
    job = a_job(start_date=None)
    take = take_of(a_piece(due=DAY(2027, 3, 4)), job)
    lines, due = plan_calendar([take], job, seed=0)
    assert lines[0].start is None
    assert lines[-1].end_h == pytest.approx(sum(t.usual_min for t in take.times) / 60)
    assert (due[0].done, due[0].late_days, due[0].chance_in_time) == (None, 0, None)
    assert "no start date" in calendar_warnings(due, job)[0]
