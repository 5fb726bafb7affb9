"""Working hours turned into dates: working days of the week, days off, hours a day."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.errors import InputError, did_you_mean

if TYPE_CHECKING:
    from chainplan.model.bench.calendar import CalendarSettings

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_DAY = datetime.timedelta(days=1)
_LONGEST_DAYS = 366 * 30


def read_working_days(text: str) -> frozenset[int]:
    """Read working days of the week, Monday 0, from words such as "Mon Tue Wed".

    Raises
    ------
    InputError
        If a word is no day, or no day is named.

    Examples
    --------
    >>> sorted(read_working_days("Mon, tuesday Sat"))
    [0, 1, 5]
    """
    found = set()
    for word in text.replace(",", " ").split():
        day = word.strip().lower()[:3]
        if day not in DAYS:
            hint = did_you_mean(word, [name.title() for name in DAYS])
            message = f"working days: {word!r} is no day of the week; {hint}"
            raise InputError(message)
        found.add(DAYS.index(day))
    if not found:
        message = "working days: none is named; write for example Mon Tue Wed Thu Fri"
        raise InputError(message)
    return frozenset(found)


def read_days_off(text: str) -> frozenset[datetime.date]:
    """Read days off written as dates, such as "2027-01-01 2027-01-02".

    Raises
    ------
    InputError
        If a word is no date.
    """
    found = set()
    for word in text.replace(",", " ").replace(";", " ").split():
        try:
            found.add(datetime.date.fromisoformat(word))
        except ValueError:
            message = f"days off: {word!r} is no date; write it as 2027-01-31"
            raise InputError(message) from None
    return frozenset(found)


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
