"""Working days and hours: dates, nights, weekends, days off."""

import datetime

import pytest

from chainplan.errors import InputError
from chainplan.model.bench.groups import CalendarSettings
from chainplan.model.workshop.schedule import Person
from chainplan.schedule.hours import DAY_S, Hours
from chainplan.schedule.workdays import (
    WorkDays,
    read_days_off,
    read_working_days,
    weekdays_after,
    weekdays_before,
)

DAY = datetime.date


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


def test_the_last_day_to_send_a_piece_off_is_the_last_from_which_it_comes_back_in_time():
    """Tried for every day of three weeks."""
    for day in (DAY(2027, 3, 1) + datetime.timedelta(days=k) for k in range(21)):
        for away in range(7):
            last = weekdays_before(day, away)
            assert weekdays_after(last, away) <= day
            assert weekdays_after(last + datetime.timedelta(days=1), away) > day


def test_work_goes_on_the_next_working_morning():
    """Thursday 9 to 15 h, Friday, then Monday; seconds from Thursday's midnight."""
    hours = Hours(week())
    assert hours.next_s(0) == 9 * 3600
    assert hours.after_s(9 * 3600, 6 * 3600) == 15 * 3600
    assert hours.after_s(9 * 3600, 6 * 3600 + 1) == DAY_S + 9 * 3600 + 1
    assert hours.next_s(DAY_S + 15 * 3600) == 4 * DAY_S + 9 * 3600
    assert hours.split(14 * 3600, DAY_S + 10 * 3600) == [
        (14 * 3600, 15 * 3600),
        (DAY_S + 9 * 3600, DAY_S + 10 * 3600),
    ]


def test_work_done_and_the_moment_when_it_is_done_agree():
    hours = Hours(week(days_off="2027-03-09"))
    for work_s in range(1, 40 * 3600, 1777):
        end = hours.after_s(hours.next_s(0), work_s)
        assert hours.worked_s(end) == work_s


def test_a_person_has_hours_and_days_off_of_his_or_her_own():
    """Ill on Friday, beside the workshop's days off; three hours from eleven."""
    person = Person(label="Ann", hours_per_day=3, day_starts_h=11, days_off="2027-03-05")
    hours = Hours(week(days_off="2027-03-08").of_person(person))
    assert hours.next_s(0) == 11 * 3600
    assert hours.next_s(14 * 3600) == 5 * DAY_S + 11 * 3600
