"""Machines as the schedule sees them: when each is there, and what lies at it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from chainplan.model.workshop.machines import MachineStation, machines_there
from chainplan.model.workweek import read_days_off
from chainplan.schedule.hours import Hours
from chainplan.schedule.workdays import WorkDays

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping, Sequence

    from chainplan.model.workshop.machines import Machine

WELD = str(MachineStation.WELD)
_AT = {"pre-close": WELD, "set up": WELD, "weld": WELD, "rework": WELD}


def kind_of(station: str) -> str:
    """Return the station whose machine is needed at a station: pre-closing needs the welder's."""
    return _AT.get(station, station)


@dataclass(frozen=True, eq=False, kw_only=True)
class Place:
    """One machine, at which one thing at a time is done."""

    label: str
    kind: str  # the station that needs it, as ``kind_of`` names it
    days_off: frozenset[datetime.date] = frozenset()
    hours: Hours | None = None  # day and night but for days off; None: always there

    def later_s(self, moment_s: int, seconds: int) -> int:
        """Return when something is over that lies at the machine by itself for so long."""
        return moment_s + seconds if self.hours is None else self.hours.after_s(moment_s, seconds)


def places_of(machines: Sequence[Machine], start: datetime.date | None) -> tuple[Place, ...]:
    """List the machines of a workshop one by one, from a first day on."""
    found = []
    for machine in machines_there(tuple(machines)):
        off = read_days_off(machine.days_off) if start is not None else frozenset()
        hours = None
        if off and start is not None:
            hours = Hours(WorkDays(start, 24.0, 0.0, frozenset(range(7)), off))
        found += [
            Place(label=label, kind=str(machine.station), days_off=off, hours=hours)
            for label in machine.labels
        ]
    return tuple(found)


def all_standing(places: Sequence[Place]) -> dict[str, Place]:
    """Return a machine of each kind that stands only on days on which all of that kind do."""
    found: dict[str, Place] = {}
    for kind in {place.kind for place in places}:
        own = [place for place in places if place.kind == kind]
        off = frozenset.intersection(*(place.days_off for place in own))
        hours = own[0].hours
        if off and hours is not None and hours.days is not None:
            hours = Hours(replace(hours.days, days_off=off))
            found[kind] = Place(label=f"every {kind}", kind=kind, days_off=off, hours=hours)
    return found


@dataclass(eq=False)
class Stand:
    """A machine in one run of the rule: until when it is taken, and what it is set to."""

    place: Place
    free_s: int = 0
    setting: str = ""
    last_lot: tuple[int, int] = (-1, -1)
    set_up: set[int] = field(default_factory=set)  # pieces that the welder was set up for

    def is_free(self, now_s: int) -> bool:
        """Whether it is there and nothing is on it."""
        hours = self.place.hours
        return self.free_s <= now_s and (hours is None or hours.next_s(now_s) == now_s)

    def next_s(self, now_s: int) -> int:
        """Return the next moment at which it may be free: another day, or when it is done."""
        hours = self.place.hours
        if hours is None:
            return self.free_s
        back_s = hours.next_s(max(self.free_s, now_s))
        return back_s if back_s > now_s else hours.next_s(hours.shut_s(now_s))


def stands_of(places: Sequence[Place]) -> Mapping[str, list[Stand]]:
    """Put the machines of each station together."""
    found: dict[str, list[Stand]] = {}
    for place in places:
        found.setdefault(place.kind, []).append(Stand(place))
    return found
