"""Working hours and days off."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarSettings:
    """When the workshop works."""

    hours_per_day: float = setting("calendar", "hours_per_day")
    working_days: str = setting("calendar", "working_days")
    day_starts_h: float = setting("calendar", "day_starts_h")
    people: int = setting("calendar", "people")
    trials: int = setting("calendar", "trials")
    hallmark_days: int = setting("calendar", "hallmark_days")
    delivery_days: int = setting("calendar", "delivery_days")
    days_off: str = setting("calendar", "days_off")
