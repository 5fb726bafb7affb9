"""The workshop as the schedule sees it: people with their hours, cost of a change, deliveries."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import Person, read_stations
from chainplan.schedule.hours import DAY_S, Hours
from chainplan.schedule.machinery import WELD, Place, places_of
from chainplan.schedule.workdays import WorkDays, weekdays_after

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench.groups import CalendarSettings, PaceSettings
    from chainplan.model.workshop.machines import Machine
    from chainplan.model.workshop.schedule import PieceWork


@dataclass(frozen=True, eq=False, kw_only=True)
class Worker:
    """A person with the hours that he or she works."""

    label: str
    hours: Hours
    stations: frozenset[str]  # empty: all of them
    pace: float

    def can(self, station: str) -> bool:
        """Whether the person does this station."""
        return not self.stations or station in self.stations

    def takes_s(self, usual_s: float) -> int:
        """Return the seconds that the person needs for work of a usual length."""
        return round(usual_s * self.pace)

    def welds_s(self, usual_s: float) -> int:
        """Return the seconds for welding: never quicker than the order, for the sake of heat."""
        return round(usual_s * max(self.pace, 1.0))


@dataclass(frozen=True, eq=False, kw_only=True)
class Shop:
    """People, hours, and the settings that the schedule rests on."""

    workers: tuple[Worker, ...]
    hours: Hours
    start: datetime.date | None
    delivery_days: int
    change_setting_s: float
    change_piece_s: float
    spoilt_share: float
    interleave: bool
    turns_worth_changes: float
    places: tuple[Place, ...]
    _joint: dict[tuple[Hours, str], Hours] = field(default_factory=dict, repr=False)

    @classmethod
    def of(
        cls,
        start: datetime.date | None,
        settings: CalendarSettings,
        pace: PaceSettings,
        people: Sequence[Person] = (),
        machines: Sequence[Machine] = (),
    ) -> Shop:
        """Take the bench's calendar from a first day on, and the job's people and machines.

        Raises
        ------
        InputError
            If working days or days off cannot be read.
        """
        listed = people or [Person(label=f"person {k + 1}") for k in range(settings.people)]

        def days(person: Person | None) -> Hours:
            if start is None:
                return Hours(None)
            own = WorkDays.of(start, settings)
            return Hours(own if person is None else own.of_person(person))

        shared = days(None)
        return cls(
            workers=tuple(
                Worker(
                    label=person.label,
                    hours=days(person),
                    stations=frozenset(read_stations(person.stations)),
                    pace=person.pace,
                )
                for person in listed
            ),
            hours=shared,
            start=start,
            delivery_days=settings.delivery_days,
            change_setting_s=pace.change_setting_s,
            change_piece_s=pace.change_piece_s,
            spoilt_share=pace.spoilt_percent / 100,
            interleave=pace.interleave,
            turns_worth_changes=pace.turns_worth_changes,
            places=places_of(machines, start),
        )

    def welders(self) -> int:
        """Return how many welders there are."""
        return sum(place.kind == WELD for place in self.places)

    def hours_at(self, worker: Worker, place: Place | None) -> Hours:
        """Return the hours in which somebody can work at a machine: it may stand on some days."""
        days = worker.hours.days
        if place is None or place.hours is None or days is None:
            return worker.hours
        key = worker.hours, place.label
        if key not in self._joint:
            off = days.days_off | place.days_off
            self._joint[key] = Hours(replace(days, days_off=off))
        return self._joint[key]

    def place(self, label: str) -> Place | None:
        """Return the machine of a label; None for none."""
        return next((place for place in self.places if place.label == label), None)

    def delivered_s(self, work: PieceWork) -> int:
        """When what is bought for a piece has come; at once where no dates are known."""
        return self.after_weekdays_s(self.delivery_days, work)

    def after_weekdays_s(self, days: int, work: PieceWork) -> int:
        """Return the midnight before the day so many weekdays after the order for a piece.

        At once without dates, or if that day is past.
        """
        if self.start is None or days == 0:
            return 0
        come = weekdays_after(work.ordered or self.start, days)
        return max((come - self.start).days, 0) * DAY_S

    def material_s(self, work: PieceWork, station: str) -> int:
        """Return when all that a station needs for a piece has come."""
        bought_s = self.delivered_s(work) if station in work.bought_for else 0
        return max(bought_s, self.after_weekdays_s(work.fittings_days.get(station, 0), work))

    def moment(self, second: int) -> datetime.datetime | None:
        """Turn seconds from the first midnight into a date and time."""
        if self.start is None:
            return None
        midnight = datetime.datetime.combine(self.start, datetime.time())
        return midnight + datetime.timedelta(seconds=second)

    def day(self, second: int) -> datetime.date | None:
        """Return the day on which work ends that ends at a second."""
        moment = self.moment(max(second - 1, 0))
        return None if moment is None else moment.date()

    def assayed_s(self, done_s: int, weekdays: int) -> int:
        """Return when what was done at a moment is back after weekdays at the assay office.

        It goes away in the evening and is back on the evening of the last of them.
        """
        day = self.day(done_s)
        if day is None or not weekdays or self.start is None:
            return done_s
        return ((weekdays_after(day, weekdays) - self.start).days + 1) * DAY_S

    def end_of_day_s(self, day: datetime.date) -> float:
        """Return the second at which a day ends; negative before the first day."""
        return ((day - self.start).days + 1) * DAY_S if self.start is not None else float("inf")
