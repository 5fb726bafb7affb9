"""Working hours and days off."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarSettings:
    """When the workshop works."""

    hours_per_day: float = setting(
        6.0, unit="h", means="bench hours in a working day", source=INVENTED, low=0.25, high=24
    )
    working_days: str = setting(
        "Mon Tue Wed Thu Fri", means="working days of the week", source=INVENTED
    )
    day_starts_h: float = setting(
        9.0, unit="h", means="hour of the day at which work begins", source=INVENTED, low=0, high=23
    )
    people: int = setting(1, means="people who work at once", source=INVENTED, low=1, high=20)
    trials: int = setting(
        1000,
        means="trials for the chance of being done in time",
        source=INVENTED,
        low=10,
        high=10000,
    )
    hallmark_days: int = setting(
        5,
        unit="days",
        means="weekdays away at the assay office, for pieces that need a hallmark",
        source=INVENTED,
        low=0,
        high=365,
    )
    delivery_days: int = setting(
        2,
        unit="days",
        means="weekdays until what the buy list orders on the first day has come",
        source=INVENTED,
        low=0,
        high=365,
    )
    days_off: str = setting(
        "", means="days off as dates, separated by spaces (2027-01-01 …)", source=INVENTED
    )
