"""The schedule and the due dates: hours, dates, people, and the chance of being in time."""

from __future__ import annotations

import datetime
import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.days.schedule import check_schedule, first_day
from chainplan.examine.findings import as_number
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles


LAST = "last fitting"
"""The one station after the assay office."""


@check("the schedule can be worked")
def check_calendar(files: PlanFiles, teller: Teller) -> None:
    """People, machines, copies, hours and material of the schedule; calendar and dates."""
    for text in check_schedule(files.plan):
        teller.tell(PLAN, "schedule", text, "a schedule that can be worked")
    if not files.plan["schedule"]["hours"]:
        _check_lengths(files, teller)
    _check_clock(files, teller)
    _check_bound(files, teller)
    ready: dict[str, float] = {}
    away = {row["piece"] for row in files.estimates("due") if row["hallmark_days"]}
    for line in files.estimates("calendar"):
        if line["station"] == LAST and line["piece"] in away:
            continue
        ready[line["piece"]] = max(ready.get(line["piece"], 0.0), line["end_h"])
    _check_due(files, ready, teller)


def _since_start_h(files: PlanFiles, moment: str) -> float:
    """Hours from the first midnight of the job's start date to a date and time."""
    start = datetime.datetime.fromisoformat(first_day(files.plan))
    return (datetime.datetime.fromisoformat(moment) - start).total_seconds() / 3600


def _check_clock(files: PlanFiles, teller: Teller) -> None:
    """Compare dates with hours, of tasks and of the calendar, and both with each other."""
    tasks = files.plan["schedule"]["tasks"]
    people = files.plan["schedule"]["people"]
    for number, task in enumerate(tasks, 1):
        place = f"schedule, tasks, {number}"
        known = task["person"] in (*people, "")
        teller.true(PLAN, f"{place}, person", known, task["person"], people)
        if task["station"] != "weld":
            for name in ("first_step", "steps"):
                teller.same(PLAN, f"{place}, {name}", task[name], 0)
        if not task["person"]:
            teller.same(PLAN, f"{place}, work_s", task["work_s"], 0)
        if files.plan["start_date"] is None:
            continue
        for end in ("start", "end"):
            hours = _since_start_h(files, task[end])
            off = 3e-4 + 1e-5 * hours
            teller.near(PLAN, f"{place}, {end}_h", task[f"{end}_h"], hours, off=off)
    if files.plan["start_date"] is None:
        return
    _check_work(files, teller)
    offset: dict[tuple[str, str], float] = {}
    nights = {
        line["person"]
        for line in files.estimates("calendar")
        if line["start"][:10] < line["end"][:10]
    }
    told_hours = all(re.fullmatch(r"person \d+", name) for name in people)  # those of the bench
    for line in files.estimates("calendar"):
        place = f"estimates, calendar, {line['piece']}, {line['station']}"
        own = [
            task
            for task in tasks
            if (task["person"], task["piece"], task["station"])
            == (line["person"], line["piece"], line["station"])
        ]
        for end in ("start", "end"):
            # A task that goes on over night has a line a day.
            known = any(task["start"] <= line[end] <= task["end"] for task in own)
            teller.true(PLAN, f"{place}, {end}", known, line[end], "within a task of theirs")
            # Within one shift a person's working hours go with the clock; it may go over midnight.
            since_h = _since_start_h(files, line[end])
            shift = line[end][:10] if not told_hours else _shift(files, since_h, late=end == "end")
            away = line[f"{end}_h"] - since_h
            if not told_hours and line["person"] in nights:
                continue  # nothing here says when such a person's shift begins
            first = offset.setdefault((line["person"], shift), away)
            off = 6e-4 + 1e-5 * line[f"{end}_h"]
            teller.near(PLAN, f"{place}, {end}_h", away, first, off=off)


def _shift(files: PlanFiles, since_h: float, *, late: bool) -> str:
    """Tell the day's shift in which a moment lies, by the hour at which the bench begins."""
    begins_h = files.value("bench.calendar.day_starts_h")
    days = (since_h - begins_h) / 24
    return str(math.ceil(days - 1e-6) - 1 if late else math.floor(days + 1e-6))


def _check_work(files: PlanFiles, teller: Teller) -> None:
    """Hold each task to its person's lines of the calendar between its beginning and end."""
    spans: dict[str, list[tuple[float, float]]] = {}
    for line in files.estimates("calendar"):
        span = (_since_start_h(files, line["start"]), _since_start_h(files, line["end"]))
        spans.setdefault(line["person"], []).append(span)
    for number, task in enumerate(files.plan["schedule"]["tasks"], 1):
        if not task["person"]:
            continue
        start_h, end_h = (_since_start_h(files, task[end]) for end in ("start", "end"))
        lines = np.array(spans.get(task["person"], [(0.0, 0.0)]))
        inside = np.minimum(lines[:, 1], end_h) - np.maximum(lines[:, 0], start_h)
        long_s = 3600 * float(np.maximum(inside, 0.0).sum())
        place = f"schedule, tasks, {number}, work_s"
        teller.near(PLAN, place, task["work_s"], long_s, off=0.5)


def _check_bound(files: PlanFiles, teller: Teller) -> None:
    """Compare the bound of the schedule, and the gap to it, with what is planned."""
    schedule = files.plan["schedule"]
    bound, gap = schedule["bound"], schedule["gap"]
    late = sum(row["late_days"] * row["late_weight"] for row in files.estimates("due"))
    good = 0 <= bound["late_days"] <= late
    teller.true(PLAN, "schedule, bound, late_days", good, bound["late_days"], f"up to {late}")
    less = late - bound["late_days"]
    teller.same(PLAN, "schedule, gap, late_days", gap["late_days"], less)
    if files.plan["start_date"] is None or not schedule["tasks"] or bound["end"] is None:
        return
    hours = _since_start_h(files, bound["end"])
    teller.same(PLAN, "schedule, bound, end_s", bound["end_s"], round(3600 * hours))
    last = max(_since_start_h(files, task["end"]) for task in schedule["tasks"] if task["person"])
    share = last / hours - 1 if hours > 0 else 0.0
    teller.near(PLAN, "schedule, gap, end_share", gap["end_share"], share, off=1e-4)


def _check_evening(files: PlanFiles, place: str, row: dict[str, Any], teller: Teller) -> None:
    """Hours until a date lie after all work of the days up to it, and before that of later ones."""
    last = _weekdays_before(datetime.date.fromisoformat(row["due"]), row["hallmark_days"])
    lines = [line for line in files.estimates("calendar") if line["start"]]
    before = [line["end_h"] for line in lines if line["end"][:10] <= last.isoformat()]
    after = [line["start_h"] for line in lines if line["start"][:10] > last.isoformat()]
    low, high = max(before, default=0.0), min(after, default=math.inf)
    good = low - 1e-3 <= row["due_h"] <= high + 1e-3
    teller.true(PLAN, f"{place}, due_h", good, row["due_h"], f"{low:g} to {high:g} h")


def _check_lengths(files: PlanFiles, teller: Teller) -> None:
    """Work at each station is as long as the station takes; welding as its orders and more."""
    worked: dict[tuple[str, str], float] = {}
    for task in files.plan["schedule"]["tasks"]:
        if task["person"]:
            key = (task["piece"], task["station"])
            worked[key] = worked.get(key, 0.0) + task["work_s"] / 60
    for row in files.estimates("times"):
        key = (row["piece"], row["station"])
        place = f"schedule, {row['piece']}, {row['station']}"
        found = worked.get(key, 0.0)
        if files.rest and found == 0:  # passed before the plan was made again
            continue
        if row["station"] in ("weld", "set up"):  # in turns, and with a change of setting before
            good = found >= row["usual_min"] - 0.1 or "weld" in key
            teller.true(PLAN, place, good, found, f"{row['usual_min']:.3f} min or more")
            continue
        teller.near(PLAN, place, found, row["usual_min"], off=0.02 * _copies(files, key[0]))


def _copies(files: PlanFiles, name: str) -> int:
    """Return the copies of a piece."""
    return int(next(p.record["quantity"] for p in files.pieces if p.name == name))


def _check_due(files: PlanFiles, ready: dict[str, float], teller: Teller) -> None:
    counts = {row["piece"]: row for row in files.estimates("counts")}
    hallmark = {row["piece"]: row["hallmark_days"] for row in files.estimates("due")}
    ends = {
        line["piece"]: line["end"][:10]
        for line in files.estimates("calendar")
        if line["end"] is not None and (line["station"] != LAST or not hallmark.get(line["piece"]))
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
            ready_day = datetime.date.fromisoformat(row["done"])
            fitted = row["hallmark_days"] > 0 and any(
                task["station"] == LAST and task["piece"] == row["piece"]
                for task in files.plan["schedule"]["tasks"]
            )
            good = ready_day == day or (fitted and ready_day > day)
            teller.true(PLAN, f"{place}, done", good, row["done"], day.isoformat())
            if row["due"] is not None:
                late = max(0, (ready_day - datetime.date.fromisoformat(row["due"])).days)
        teller.same(PLAN, f"{place}, late_days", row["late_days"], late)
        allowed = {0, round(files.value("bench.calendar.hallmark_days"))}
        days_off = row["hallmark_days"] in allowed
        teller.true(
            PLAN, f"{place}, hallmark_days", days_off, row["hallmark_days"], sorted(allowed)
        )
        due_h = row["due_h"]
        if due_h is not None:
            if all(re.fullmatch(r"person \d+", name) for name in files.plan["schedule"]["people"]):
                whole = abs(due_h / a_day - round(due_h / a_day)) < 1e-4
                teller.true(PLAN, f"{place}, due_h", whole, due_h, f"whole days of {a_day:g} h")
            _check_evening(files, place, row, teller)
            fits = (due_h >= row["done_h"] - 1e-6) or row["late_days"] > 0
            weekend = row["late_days"] > 0 and row["hallmark_days"] > 0
            teller.true(
                PLAN, f"{place}, due_h", fits or weekend, due_h, f"late {row['late_days']} days"
            )
    _check_chances(files, teller)
    _check_late(files, teller)
    chances = {row["piece"]: row["chance_in_time"] for row in files.estimates("due")}
    for advice in files.plan["schedule"]["advice"]:
        place = f"schedule, advice, {advice['piece']}"
        teller.same(PLAN, f"{place}, chance", advice["chance"], chances.get(advice["piece"]))
        for way in advice["ways"]:
            good = advice["chance"] < way["chance"] <= 1
            teller.true(PLAN, f"{place}, {way['text']}", good, way["chance"], "a better chance")


def _weekdays_before(day: datetime.date, number: int) -> datetime.date:
    while number > 0:
        number -= day.weekday() < 5
        day -= datetime.timedelta(days=1)
    return day


def _weekdays_after(day: datetime.date, number: int) -> datetime.date:
    while number > 0:
        day += datetime.timedelta(days=1)
        number -= day.weekday() < 5
    return day


def _check_late(files: PlanFiles, teller: Teller) -> None:
    """Compare what the schedule says of late pieces with the dates, and with what is proved."""
    rows = {row["piece"]: row for row in files.estimates("due") if row["late_days"]}
    late = {row["piece"]: row for row in files.plan["schedule"]["late"]}
    teller.same(PLAN, "schedule, late", sorted(late), sorted(rows))
    words = " ".join(files.plan["schedule"]["bound"]["words"])
    for name in sorted(late.keys() & rows.keys()):
        own, row, place = late[name], rows[name], f"schedule, late, {name}"
        same = ("due", "worked", "late_days", "late_weight", "hallmark_days", "chance_in_time")
        for key in same:
            teller.same(PLAN, f"{place}, {key}", own[key], row[key])
        teller.same(PLAN, f"{place}, ready", own["ready"], row["done"])
        midnight_s = 3600 * _since_start_h(files, f"{own['due']}T00:00:00") + 86400
        teller.near(PLAN, f"{place}, due_s", own["due_s"], midnight_s, off=10.0)
        ends_s = [
            round(3600 * _since_start_h(files, task["end"]))
            for task in files.plan["schedule"]["tasks"]
            if task["piece"] == name
        ]
        teller.same(PLAN, f"{place}, ready_s", own["ready_s"], max(ends_s))
        teller.true(
            PLAN, f"{place}, worked_s", own["worked_s"] in ends_s, own["worked_s"], "an end"
        )
        day = datetime.date.fromisoformat(own["earliest_worked"][:10])
        back = _weekdays_after(day, own["hallmark_days"])
        teller.same(PLAN, f"{place}, earliest", own["earliest"], back.isoformat())
        least = max(0, (back - datetime.date.fromisoformat(own["due"])).days)
        teller.same(PLAN, f"{place}, least_late_days", own["least_late_days"], least)
        if least:
            moment = datetime.datetime.fromisoformat(own["earliest_worked"])
            told = f"no schedule can finish {name} before {moment:%a %Y-%m-%d %H:%M}"
            teller.true(PLAN, f"{place}, earliest_worked", told in words, words, told)
            wanted = f"it is wanted by {own['due']}"
            teller.true(PLAN, f"{place}, due", wanted in words, words, wanted)


def _check_chances(files: PlanFiles, teller: Teller) -> None:
    """Chance of being in time: a share where there is a date, none where there is not."""
    rows = files.estimates("due")
    for row in rows:
        chance = row["chance_in_time"]
        good = chance is None if row["due_h"] is None else 0 <= as_number(chance) <= 1
        place = f"estimates, due, {row['piece']}, chance_in_time"
        teller.true(PLAN, place, good, chance, "a share from 0 to 1 where there is a due date")
