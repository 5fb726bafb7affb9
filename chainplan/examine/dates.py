"""The calendar and the due dates: hours, dates, people, and the chance of being in time."""

from __future__ import annotations

import datetime
import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import as_number
from chainplan.examine.money.costing import STATIONS
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

_TRIALS = 20_000
_LONGEST_OFF_DAYS = 60
"""Days off after the start date before the first working day."""


@check("the calendar can be worked")
def check_calendar(files: PlanFiles, teller: Teller) -> None:
    """Stints as long as their stations take, one after another; dates that fit the hours."""
    lines = files.estimates("calendar")
    minutes = {(row["piece"], row["station"]): row["usual_min"] for row in files.estimates("times")}
    people = round(files.value("bench.calendar.people"))
    seen: set[tuple[str, str]] = set()
    ready: dict[str, float] = {}
    busy: dict[str, float] = {}
    events: list[tuple[float, int]] = []
    for line in lines:
        key = (line["piece"], line["station"])
        place = f"estimates, calendar, {line['piece']}, {line['station']}"
        teller.true(PLAN, place, key in minutes and key not in seen, key, "a station once")
        seen.add(key)
        off = 2e-5 * line["end_h"] + 1e-6
        length = line["end_h"] - line["start_h"]
        teller.near(PLAN, f"{place}, end_h", length, minutes.get(key, 0.0) / 60, off=off)
        late = line["start_h"] >= ready.get(line["piece"], 0.0) - off
        free = line["start_h"] >= busy.get(line["station"], 0.0) - off
        teller.true(
            PLAN, f"{place}, start_h", late and free, line["start_h"], "after what is before"
        )
        ready[line["piece"]] = busy[line["station"]] = line["end_h"]
        events += [(line["start_h"] + off, 1), (line["end_h"] - off, -1)]
    left = {key for key, value in minutes.items() if value > 0} - seen
    teller.true(
        PLAN, "estimates, calendar", not left, f"left out: {sorted(left)[:3]}", "every station"
    )
    at_work = np.cumsum([step for _, step in sorted(events)])
    most = int(at_work.max(initial=0))
    teller.true(PLAN, "estimates, calendar", most <= people, f"{most} at once", f"{people} people")
    if people == 1 and lines:
        whole = sum(minutes.values()) / 60
        teller.near(
            PLAN, "estimates, calendar, end_h", max(ready.values()), whole, off=2e-4 * whole
        )
    days = _check_dates(files, lines, teller)
    _check_due(files, ready, days, teller)


def _check_dates(
    files: PlanFiles, lines: list[dict[str, Any]], teller: Teller
) -> dict[int, datetime.date]:
    """Working hours and dates agree; the same working day is always the same date."""
    a_day = files.value("bench.calendar.hours_per_day")
    morning = files.value("bench.calendar.day_starts_h")
    days: dict[int, datetime.date] = {}
    for line in lines:
        for end in ("start", "end"):
            if line[end] is None:
                continue
            place = f"estimates, calendar, {line['piece']}, {line['station']}, {end}"
            try:
                moment = datetime.datetime.fromisoformat(line[end])
            except ValueError:
                teller.tell(PLAN, place, line[end], "a date and time")
                continue
            clock = (
                moment - datetime.datetime.combine(moment.date(), datetime.time())
            ).total_seconds()
            worked = clock / 3600 - morning
            hours = line[f"{end}_h"]
            number = round((hours - worked) / a_day)
            good = abs(hours - worked - number * a_day) < 2e-3 + 2e-5 * hours
            good &= -1e-3 <= worked <= a_day + 1e-3 and number >= 0
            teller.true(PLAN, place, good, line[end], f"{hours:.4f} working hours from the start")
            day = days.setdefault(number, moment.date())
            teller.true(PLAN, place, day == moment.date(), moment.date(), day)
    start = files.plan.get("start_date")
    if start is not None and 0 in days:
        off = (days[0] - datetime.date.fromisoformat(start)).days
        text = f"the first working day is {days[0]}"
        teller.true(PLAN, "start_date", 0 <= off <= _LONGEST_OFF_DAYS, start, text)
    ordered = [days[number] for number in sorted(days)]
    rising = all(a < b for a, b in itertools.pairwise(ordered))
    teller.true(PLAN, "estimates, calendar", rising, "days out of order", "rising")
    return days


def _check_due(
    files: PlanFiles, ready: dict[str, float], days: dict[int, datetime.date], teller: Teller
) -> None:
    counts = {row["piece"]: row for row in files.estimates("counts")}
    ends = {
        line["piece"]: line["end"][:10]
        for line in files.estimates("calendar")
        if line["end"] is not None
    }
    a_day = files.value("bench.calendar.hours_per_day")
    for row in files.estimates("due"):
        place = f"estimates, due, {row['piece']}"
        teller.same(PLAN, f"{place}, due", row["due"], counts[row["piece"]]["due"])
        done = ready.get(row["piece"], 0.0)
        teller.near(PLAN, f"{place}, done_h", row["done_h"], done, off=1e-9)
        teller.same(PLAN, f"{place}, worked", row["worked"], ends.get(row["piece"]))
        late = 0
        if row["worked"] is not None:
            day = _weekdays_after(datetime.date.fromisoformat(row["worked"]), row["hallmark_days"])
            teller.same(PLAN, f"{place}, done", row["done"], day.isoformat())
            if row["due"] is not None:
                late = max(0, (day - datetime.date.fromisoformat(row["due"])).days)
        teller.same(PLAN, f"{place}, late_days", row["late_days"], late)
        allowed = {0, round(files.value("bench.calendar.hallmark_days"))}
        days_off = row["hallmark_days"] in allowed
        teller.true(
            PLAN, f"{place}, hallmark_days", days_off, row["hallmark_days"], sorted(allowed)
        )
        due_h = row["due_h"]
        if due_h is not None:
            whole = abs(due_h / a_day - round(due_h / a_day)) < 1e-4
            teller.true(PLAN, f"{place}, due_h", whole, due_h, f"whole days of {a_day:g} h")
            fits = (due_h >= row["done_h"] - 1e-6) == (row["late_days"] == 0)
            weekend = row["late_days"] > 0 and row["hallmark_days"] > 0
            teller.true(
                PLAN, f"{place}, due_h", fits or weekend, due_h, f"late {row['late_days']} days"
            )
            _check_known_days(row, days, a_day, place, teller)
    _check_chances(files, teller)


def _check_known_days(
    row: dict[str, Any], days: dict[int, datetime.date], a_day: float, place: str, teller: Teller
) -> None:
    """Working hours until the due day: no fewer than the working days of the calendar before it."""
    last = datetime.date.fromisoformat(row["due"])
    left = row["hallmark_days"]
    while left > 0:
        left -= last.weekday() < 5
        last -= datetime.timedelta(days=1)
    start = days.get(0)
    if start is None:
        return
    worked = [number for number, day in days.items() if day <= last]
    least = (max(worked) + 1) * a_day if worked else 0.0
    most = max((last - start).days + 1, 0) * a_day
    good = least - 1e-3 <= row["due_h"] <= most + 1e-3
    teller.true(PLAN, f"{place}, due_h", good, row["due_h"], f"{least:g} to {most:g} h")


def _weekdays_after(day: datetime.date, number: int) -> datetime.date:
    while number > 0:
        day += datetime.timedelta(days=1)
        number -= day.weekday() < 5
    return day


def _check_chances(files: PlanFiles, teller: Teller) -> None:
    """Chance of being in time, by trials of the examiner's own; one person only."""
    rows = files.estimates("due")
    for row in rows:
        chance = row["chance_in_time"]
        good = chance is None if row["due_h"] is None else 0 <= as_number(chance) <= 1
        place = f"estimates, due, {row['piece']}, chance_in_time"
        teller.true(PLAN, place, good, chance, "a share from 0 to 1 where there is a due date")
    if round(files.value("bench.calendar.people")) != 1 or not any(r["due_h"] for r in rows):
        return
    quick, slow = (files.value(f"bench.stations.{n}_share") for n in ("quick", "slow"))
    draw = np.random.default_rng(12345)
    if not quick < 1 < slow:
        return
    factor = draw.triangular(quick, 1.0, slow, size=(_TRIALS, len(STATIONS)))
    minutes = {(r["piece"], r["station"]): r["usual_min"] for r in files.estimates("times")}
    order = list(dict.fromkeys(line["piece"] for line in files.estimates("calendar")))
    done, total = {}, np.zeros(_TRIALS)
    for piece in order:
        hours = np.array([minutes.get((piece, name), 0.0) / 60 for name in STATIONS])
        total = total + factor @ hours
        done[piece] = total
    trials = max(files.value("bench.calendar.trials"), 1.0)
    for row in rows:
        if row["due_h"] is None or row["piece"] not in done:
            continue
        chance = float((done[row["piece"]] <= row["due_h"] + 1e-9).mean())
        off = 4.5 * math.sqrt(max(chance * (1 - chance), 1.0 / trials) / trials) + 0.004
        place = f"estimates, due, {row['piece']}, chance_in_time"
        teller.near(PLAN, place, row["chance_in_time"], chance, off=off)
