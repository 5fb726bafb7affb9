"""The schedule of a batch: who does what when, at which machine; and what it is made from."""

from __future__ import annotations

import math
from dataclasses import field
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal, quote
from chainplan.frozen import frozen
from chainplan.model.workshop.bench_log import STATIONS
from chainplan.units import read_number

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Mapping
    from decimal import Decimal

    from chainplan.arrays import FloatArray, IntArray

WELDER = "welder"
TUMBLER = "tumbler"
SHARED_STATIONS = ("coil", "cut", "tumble")
"""Stations that a piece passes with all its copies together: its rings are made in one go."""
TUMBLING = "tumbling"
ASSAY = "assay office"
FITTING = "fitting"
"""Clasps, bails, stones and the like put on before the welding."""
LAST_FITTING = "last fitting"
"""The same after the welding and the assay."""
JOINED = -1
"""In place of a section's number: the sections of a copy are joined."""
MOST_MINUTES = 10_000.0
"""More for one copy at one station is a slip of the pen: a week of days and nights."""


@frozen
class Person:
    """Who works, when, at which stations and how quickly."""

    label: str
    hours_per_day: float | None = None  # as the workshop's if None, as are the next two
    day_starts_h: float | None = None
    working_days: str = ""
    days_off: str = ""  # beside the workshop's
    stations: str = ""  # all of them if empty
    pace: float = 1.0  # time over the usual time (no unit)
    wage_per_hour: Decimal | None = None  # as the bench's labour if None


@frozen
class LeftTask:
    """What is left of one line of a timetable."""

    piece: str
    copies: tuple[int, ...]  # those that it is still to be done for
    station: str
    person: str  # "": unattended
    machine: str
    start: datetime.datetime  # as planned
    work_s: float  # still to do; of what is unattended the time that it takes
    begun: bool  # whether something of its piece was done already


@frozen
class Stints:
    """The order of one copy cut at the waits that are worth putting the piece down for."""

    first_step: IntArray
    steps: IntArray
    seconds: FloatArray  # of work in the stint, small waits included
    rest_s: FloatArray  # wait before the stint


@frozen
class PieceWork:
    """One piece as the schedule sees it."""

    piece: str
    copies: int
    station_s: Mapping[str, float]  # usual time of all copies; welding by ``stints``
    stints: Stints  # of one copy
    weld_extra_s: float = 0.0  # filling grooves, grinding tips: of one copy, beside the order
    tumbling_s: float = 0.0  # unattended
    settings: tuple[str, ...] = ()  # settings at the welder in the order of welding
    spoilt_s: float = 0.0  # a ring spoilt at the welder, its price and making counted as time
    bought_for: frozenset[str] = frozenset()  # stations that wait for what is bought
    ordered: datetime.date | None = None  # when that was; on the first day if None
    fittings_days: Mapping[str, int] = field(default_factory=dict)  # station → weekdays it waits
    due: datetime.date | None = None
    late_weight: float = 1.0  # what a day late counts (no unit)
    hallmark_days: int = 0  # weekdays at the assay office, before the last fitting
    weave_shares: tuple[float, ...] = ()  # of weaving: each section, then joining them (no unit)

    @property
    def weld_s(self) -> float:
        """Welding of one copy in one go, waits included."""
        return math.fsum((*self.stints.seconds, *self.stints.rest_s, self.weld_extra_s))


@frozen
class Task:
    """One stretch of work: a piece, or some of its copies, at one station."""

    piece: str
    copy: int  # from 1; the first of ``copies``
    copies: int
    station: str
    person: str  # "" where nobody is needed
    machine: str  # "" where none is needed
    start_s: int  # from the midnight before the first day; working seconds without a first day
    end_s: int
    work_s: int  # working time of the person between start and end
    start: datetime.datetime | None
    end: datetime.datetime | None
    first_step: int = 0  # of the weld order, welding only
    steps: int = 0
    section: int = 0  # woven by itself, from 1; 0: the whole copy; −1: sections joined
    session: int = 0  # visit to the welder, from 1; 0 elsewhere


@frozen
class PieceReady:
    """When a piece is ready, and the earliest that any schedule allows."""

    piece: str
    due: datetime.date | None
    worked_s: int  # end of the last work, but for fitting after the assay
    worked: datetime.date | None
    ready: datetime.date | None  # back from the assay office and fitted
    late_days: int
    ready_s: int = 0
    late_weight: float = 1.0  # what a day late counts (no unit)
    earliest: datetime.date | None = None  # were it the only piece: no schedule is earlier
    earliest_worked: datetime.datetime | None = None  # end of the last work then
    least_late_days: int = 0  # by ``earliest``
    due_s: float = math.inf  # end of the day on which it is due
    chance_in_time: float | None = None
    hallmark_days: int = 0


@frozen
class Way:
    """Something that raises the chance of a piece."""

    text: str
    chance: float  # of the piece, with it (no unit)
    moved: str = ""  # the piece that is left for last
    moved_chance: float | None = None  # that piece's own chance then


@frozen
class Advice:
    """A piece whose chance of being in time is low, and what would raise it."""

    piece: str
    chance: float  # as scheduled (no unit)
    ways: tuple[Way, ...]


@frozen
class Bound:
    """What no schedule of the same work can do better."""

    late_days: float  # of all pieces together, each by its weight
    end_s: int
    end: datetime.datetime | None
    words: tuple[str, ...] = ()


@frozen
class Gap:
    """How far the schedule may be from the best possible."""

    late_days: float  # by their weights
    end_share: float  # length of the schedule over its bound, less 1 (no unit)


@frozen
class Schedule:
    """One schedule for people and machines: paper, bench sheet, calendar and dates follow it."""

    tasks: tuple[Task, ...] = ()  # by start
    late: tuple[PieceReady, ...] = ()  # every piece that is not ready on its date
    bound: Bound = field(default_factory=lambda: Bound(late_days=0, end_s=0, end=None))
    gap: Gap = field(default_factory=lambda: Gap(late_days=0, end_share=0.0))
    pieces: tuple[PieceReady, ...] = ()
    people: tuple[str, ...] = ()
    changes: int = 0  # of the welder's setting
    change_cost_s: float = 0.0  # seconds that they take, spoilt rings counted as time
    change_costs_s: Mapping[str, float] = field(default_factory=dict)  # the same by piece
    further_set_ups: int = 0  # of another welder for a piece that one was set up for
    delivered: datetime.date | None = None  # day on whose morning what is bought is there
    deliveries: Mapping[str, Mapping[str, datetime.date]] = field(
        default_factory=dict
    )  # piece → station → day on whose morning its fittings are there
    waits: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # piece → stations that wait
    advice: tuple[Advice, ...] = ()  # for the pieces least likely to be in time
    way: str = ""  # how the schedule was found
    weld_s: float = 0.0  # at the welder, set up and rework apart
    weld_alone_s: float = 0.0  # the same, one copy after another


def read_minutes(text: str) -> tuple[tuple[str, float], ...]:
    """Read minutes that one copy takes at stations: "weave 45, finish 10".

    Raises
    ------
    InputError
        If a station is none, or is welding, whose time the weld order gives; if one stands twice
        or minutes are no number from 0 to 10000.

    Examples
    --------
    >>> read_minutes("Weave 45, set up 7.5 min")
    (('weave', 45.0), ('set up', 7.5))
    """
    allowed = "write it like weave 45, finish 10; welding takes what the weld order says"
    found: dict[str, float] = {}
    for part in (part.strip() for part in text.split(",") if part.strip()):
        words = part.removesuffix("min").split()
        name = " ".join(words[:-1]).casefold()
        if name not in STATIONS or name == "weld" or name in found:
            trouble = "is no station, or stands twice"
            raise InputError(Refusal(trouble, allowed, quote(part), what="minutes"))
        minutes = read_number(words[-1])
        if not 0 <= minutes <= MOST_MINUTES:
            trouble = f"is not within 0 to {MOST_MINUTES:g}"
            raise InputError(Refusal(trouble, allowed, quote(part), what="minutes"))
        found[name] = minutes
    return tuple(found.items())


def write_minutes(minutes: Iterable[tuple[str, float]]) -> str:
    """Write minutes as they are read."""
    return ", ".join(f"{name} {each:.10g}" for name, each in minutes)


def read_stations(text: str) -> tuple[str, ...]:
    """Read the stations that a person does, with commas between them.

    Raises
    ------
    InputError
        If one is no station.

    Examples
    --------
    >>> read_stations("Weave,  set up ")
    ('weave', 'set up')
    """
    names = tuple(" ".join(part.split()).casefold() for part in text.split(",") if part.strip())
    for name in names:
        if name not in STATIONS:
            allowed = f"stations are {', '.join(STATIONS)}"
            trouble = f"hold {quote(name)}, which is no station"
            raise InputError(Refusal(trouble, allowed, what="stations"))
    return names
