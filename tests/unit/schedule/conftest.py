"""Builders for schedules: pieces of work without any geometry, and the plan as it is written."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from chainplan.examine.days.schedule import check_schedule
from chainplan.model.bench import Bench
from chainplan.model.bench.groups import CalendarSettings, PaceSettings, StationSettings
from chainplan.model.workshop.machines import machines_there
from chainplan.model.workshop.schedule import PieceWork, Stints
from chainplan.report.text.record import plain, schedule_record
from chainplan.schedule import Shop, batch_of, make_schedule
from chainplan.schedule.turns import calendar_of, due_of

START = datetime.date(2027, 3, 4)  # a Thursday


def _stints(*parts):
    """Build stints from pairs of seconds of rest and of work; ten joins each."""
    rests, seconds = zip(*parts, strict=True)
    return Stints(
        first_step=np.arange(len(parts), dtype=np.int32) * 10,
        steps=np.full(len(parts), 10, dtype=np.int32),
        seconds=np.array(seconds, dtype=float),
        rest_s=np.array(rests, dtype=float),
    )


def _work(name, *, weave_h=1.0, copies=1, weld=((0, 600),), **changes):
    usual = {
        "piece": name,
        "copies": copies,
        "station_s": {
            "coil": 600.0, "cut": 300.0, "tumble": 300.0, "weave": 3600.0 * weave_h * copies,
            "set up": 600.0, "rework": 60.0 * copies, "clean": 240.0 * copies,
            "inspect": 120.0 * copies, "finish": 360.0 * copies,
        },
        "stints": _stints(*weld),
        "settings": ("8 J",),
        "tumbling_s": 3600.0,
    }  # fmt: skip
    return PieceWork(**(usual | changes))


class Workshop:
    """A calendar, a pace and people; schedules works and writes what is checked."""

    def __init__(self, *, start=START, people=(), machines=(), pace=None, **calendar):
        self.calendar = CalendarSettings(**calendar)
        self.start, self.people, self.machines = start, tuple(people), tuple(machines)
        self.pace = PaceSettings(**(pace or {}))
        self.shop = Shop.of(start, self.calendar, self.pace, self.people, self.machines)

    def schedule(self, *works, trials=50, seed=0, **options):
        return make_schedule(
            works, self.shop, stations=StationSettings(), trials=trials, seed=seed, **options
        )

    def written(self, schedule, works):
        """What ``plan.json`` would hold of it, as far as it is checked."""
        return {
            "start_date": plain(self.start),
            "bench": {**plain(Bench()), "calendar": plain(self.calendar)},
            "pieces": [{"name": work.piece, "quantity": work.copies} for work in works],
            "order": {
                "pieces": [
                    {"piece": work.piece, "joins": int(work.stints.steps.sum())} for work in works
                ],
                "batch": plain(batch_of(schedule, works, self.shop)),
            },
            "schedule": {
                **schedule_record(schedule),
                "hours": plain(self.people),
                "machines": plain(machines_there(self.machines)),
            },
            "estimates": {
                "calendar": plain(calendar_of(schedule, self.shop)),
                "due": plain(due_of(schedule, self.shop)),
            },
        }

    def faults(self, *works):
        schedule = self.schedule(*works)
        return check_schedule(self.written(schedule, works))


@pytest.fixture(scope="session")
def stints():
    return _stints


@pytest.fixture(scope="session")
def a_work():
    return _work


@pytest.fixture(scope="session")
def workshop():
    return Workshop
