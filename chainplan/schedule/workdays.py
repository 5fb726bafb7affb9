"""Working hours turned into dates: working days of the week, days off, hours a day."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.model.workweek import read_days_off, read_working_days

if TYPE_CHECKING:
    from chainplan.model.bench.groups import CalendarSettings
    from chainplan.model.workshop.schedule import Person

SATURDAY = 5  # as datetime counts, from Monday 0
_DAY = datetime.timedelta(days=1)
_LONGEST_DAYS = 366 * 30  # a search for a working day that finds none in a lifetime of work ends


def weekdays_after(day: datetime.date, number: int) -> datetime.date:
    """Return the so-many-th weekday, Monday to Friday, after a day; the day itself for 0.

    Examples
    --------
    >>> weekdays_after(datetime.date(2027, 3, 5), 1)  # a Friday
    datetime.date(2027, 3, 8)
    """
    while number > 0:
        day += _DAY
        number -= day.weekday() < SATURDAY
    return day


def weekdays_before(day: datetime.date, number: int) -> datetime.date:
    """Return the last day from which so many weekdays are over by the end of a day.

    Examples
    --------
    >>> weekdays_before(datetime.date(2027, 3, 7), 1)  # a Sunday
    datetime.date(2027, 3, 4)
    """
    while number > 0:
        number -= day.weekday() < SATURDAY
        day -= _DAY
    return day


@dataclass(frozen=True)
class WorkDays:
    """Counts working hours from the first working day on."""

    start: datetime.date
    hours_per_day: float
    day_starts_h: float
    weekdays: frozenset[int]
    days_off: frozenset[datetime.date]

    @classmethod
    def of(cls, start: datetime.date, settings: CalendarSettings) -> WorkDays:
        """Take the bench's calendar from a first day on."""
        return cls(
            start=start,
            hours_per_day=settings.hours_per_day,
            day_starts_h=settings.day_starts_h,
            weekdays=read_working_days(settings.working_days),
            days_off=read_days_off(settings.days_off),
        )

    def of_person(self, person: Person) -> WorkDays:
        """Put a person's own hours and days in place of the workshop's; its days off stay off."""
        week = person.working_days
        return replace(
            self,
            hours_per_day=_own(person.hours_per_day, self.hours_per_day),
            day_starts_h=_own(person.day_starts_h, self.day_starts_h),
            weekdays=read_working_days(week) if week else self.weekdays,
            days_off=self.days_off | read_days_off(person.days_off),
        )

    def is_working(self, day: datetime.date) -> bool:
        """Whether work is done on a day."""
        return day.weekday() in self.weekdays and day not in self.days_off

    def working_day(self, number: int) -> datetime.date:
        """Return the date of a working day, counted from 0."""
        day, left = self.start, number
        for _ in range(_LONGEST_DAYS):
            if self.is_working(day):
                if left == 0:
                    return day
                left -= 1
            day += _DAY
        message = "the work does not end within thirty years; look at hours and days off"
        raise InputError(message)

    def moment(self, hours: float, *, ending: bool) -> datetime.datetime:
        """Turn working hours from the start into a date and time.

        The end of a day's work is that evening for work that ends, the next morning for work that
        starts.
        """
        number = math.floor(hours / self.hours_per_day + 1e-9)
        rest_h = max(hours - number * self.hours_per_day, 0.0)
        if ending and rest_h < 1e-6 and number > 0:
            number, rest_h = number - 1, self.hours_per_day
        day = self.working_day(number)
        morning = datetime.datetime.combine(day, datetime.time())
        seconds = round((self.day_starts_h + rest_h) * 3600)
        return morning + datetime.timedelta(seconds=seconds)

    def hours_until(self, due: datetime.date) -> float:
        """Working hours from the start to the end of a day; 0 before the start."""
        days = (due - self.start).days + 1
        worked = sum(self.is_working(self.start + k * _DAY) for k in range(max(days, 0)))
        return worked * self.hours_per_day


def _own(value: float | None, shared: float) -> float:
    return shared if value is None else value
