"""What really happened in the workshop: events, the plans they belong to, and what follows."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any, NamedTuple

from chainplan.frozen import frozen

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.errors import Fault


@frozen
class EventKind:
    """One kind of event: what it says, and what it cannot do without."""

    means: str
    needs: tuple[str, ...] = ()


_JOIN = ("piece", "copy", "ring")

EVENT_KINDS: Mapping[str, EventKind] = {
    "done": EventKind(means="a join was welded and looks good", needs=_JOIN),
    "again": EventKind(means="a join is not good and is to be welded again", needs=_JOIN),
    "later": EventKind(means="a join was left for later", needs=_JOIN),
    "broken": EventKind(
        means="a ring broke and was replaced: its join is to be welded anew", needs=_JOIN
    ),
    "opened": EventKind(
        means="a ring was opened to replace its neighbour: its join is to be welded anew",
        needs=_JOIN,
    ),
    "note": EventKind(means="a note only", needs=("note",)),
    "waited": EventKind(means="a wait on its own", needs=("waited_s",)),
    "setting": EventKind(means="the welder was set to another power, hits or tip"),
    "reground": EventKind(means="the electrode's tip was ground anew"),
    "new tip": EventKind(means="the electrode was changed"),
    "cylinder": EventKind(means="what the cylinder's gauge shows", needs=("bar",)),
    "new cylinder": EventKind(
        means="a cylinder was connected; what its gauge shows", needs=("bar",)
    ),
    "wire lot": EventKind(
        means="rings of another lot of wire from here on", needs=("metal", "wire_mm", "lot")
    ),
    "begins": EventKind(means="a person begins work", needs=("person",)),
    "ends": EventKind(means="a person ends work", needs=("person",)),
    "begun": EventKind(means="a copy was begun at a station", needs=("piece", "copy", "station")),
    "finished": EventKind(
        means="a copy was finished at a station, with the minutes that it took",
        needs=("piece", "copy", "station"),
    ),
    "good": EventKind(means="a join was checked and is good", needs=_JOIN),
    "bad": EventKind(means="a join was checked and is bad: it is to be welded again", needs=_JOIN),
    "measured": EventKind(means="something was measured", needs=("what", "value")),
    "undo": EventKind(means="an earlier event is taken back", needs=("undoes",)),
}
"""Every kind of event by its name, as logs, record and people write it."""

JOIN_STATE_KINDS = ("done", "again", "later", "broken", "opened", "bad")
"""The kinds that say in which state a join is; the last of them counts."""

TRIES = ("done", "again")
"""The kinds that tell of one weld each: one good, one not."""

MEASURED = {
    "rings per cm": "rings per cm counted on a finished piece",
    "inner mm": "inner diameter of a ring wound on a mandrel",
    "temperature c": "temperature of a warm piece that cools in still air, one row a reading, °C",
    "room c": "temperature of the room beside it, °C",
}
"""What ``measured`` can be about."""

COOLING = "temperature c"
"""Readings of a cooling curve among them."""


class Event(NamedTuple):
    """One thing that happened; a tuple, because a workshop has millions of them.

    Empty is None or "": what a kind needs stands in :data:`EVENT_KINDS`. Copies, rings, steps count
    from 1. ``at`` is the time as it was told, with its offset from UTC; ``at_s`` the same in
    seconds since 1970 UTC. ``plan`` is the key of the plan it was told from, "" for what belongs to
    the whole workshop. ``source`` says where it was read: file and line.
    """

    id: str
    kind: str
    at: str
    at_s: float
    plan: str = ""
    piece: str = ""
    copy: int | None = None
    ring: int | None = None
    person: str = ""
    work_s: float | None = None
    waited_s: float | None = None
    station: str = ""
    minutes: float | None = None
    power_j: float | None = None
    hits: int | None = None
    tip: str = ""
    bar: float | None = None
    metal: str = ""
    wire_mm: float | None = None
    mandrel_mm: float | None = None
    lot: str = ""
    what: str = ""
    value: float | None = None
    note: str = ""
    undoes: str | None = None
    source: str = ""


@frozen
class KnownSection:
    """A stretch of a piece in one weave, ring and metal, as a plan had it."""

    weave: str
    metal: str
    wire_mm: float
    inner_mm: float
    mandrel_mm: float | None
    rings: int
    links: int


@frozen
class KnownPiece:
    """One piece of a plan as the record keeps it; arrays are in the order of welding."""

    name: str
    copies: int
    rings: int
    sections: tuple[KnownSection, ...]
    ring: IntArray  # (k,) from 1
    pass_number: IntArray  # (k,) from 1
    section: IntArray  # (k,) from 1
    power_j: FloatArray  # (k,)
    hits: IntArray  # (k,)
    tip: tuple[str, ...]  # (k,)
    pace_s: FloatArray  # (k,) planned seconds of each join without its wait
    wait_s: FloatArray  # (k,) planned wait before it
    metal: tuple[str, ...] = ()  # (k,) where a section has several; () or "": the section's own
    station_min: Mapping[str, float] = field(default_factory=dict)  # all copies together

    @property
    def joins(self) -> int:
        """Joins of one copy that are welded in place."""
        return len(self.ring)

    def metal_of(self, at: int) -> str:
        """Return the metal of the join at a place of the order, from 0."""
        own = self.metal[at] if self.metal else ""
        return own or self.sections[int(self.section[at]) - 1].metal


class Turn(NamedTuple):
    """A stint of the batch: a stretch of steps of one copy."""

    piece: str
    copy: int
    first_step: int
    steps: int


class KnownTask(NamedTuple):
    """One line of a plan's schedule: who does what when, at which machine."""

    piece: str
    copy: int
    copies: int
    station: str
    person: str  # "": unattended
    machine: str
    start: str  # ISO 8601, local time
    end: str
    work_s: float
    first_step: int  # of welding, from 0
    steps: int


@frozen
class KnownPlan:
    """A plan as the record keeps it: enough to count joins and pace when its folder is gone."""

    key: str  # of stamp and order, so that the same plan is known once
    mark: str  # the first 12 digits of its input's hash, as the bench log has it
    stamp: str
    job: str
    pieces: tuple[KnownPiece, ...]
    turns: tuple[Turn, ...]
    tasks: tuple[KnownTask, ...] = ()  # none for a job without dates
    bench: Mapping[str, Any]  # settings by "group.name"
    currency: str = ""
    follows: str = ""  # key of the plan that this one replaced
    root: str = ""  # key of the first plan of the same work

    @property
    def seed(self) -> int:
        """The seed that the plan was made with."""
        return int(self.stamp.rpartition("seed ")[2] or 0)

    @property
    def aql_percent(self) -> float:
        """Acceptance quality limit of its checks; plans of an earlier version name none."""
        return float(self.bench.get("sheet.aql_percent", 1.0))

    def piece(self, name: str) -> KnownPiece | None:
        """Return one piece by its name, or None."""
        return next((piece for piece in self.pieces if piece.name == name), None)


@frozen
class FileRecorded:
    """What became of one log."""

    file: str
    recorded: int
    known: int  # rows that the record had already
    skipped: int  # rows left out because of faults
    faults: tuple[Fault, ...] = ()


@frozen
class Recorded:
    """What became of the logs that were handed over."""

    record: str
    plan: str
    files: tuple[FileRecorded, ...]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault of every file."""
        return tuple(fault for item in self.files for fault in item.faults)


@frozen
class CopyProgress:
    """How far one copy of a piece is; done and left together are its joins."""

    name: str
    copy: int
    joins: int
    done: int
    left: int  # not_good and later among them
    not_good: int
    later: int
    second_tries: int
    work_s: float
    waited_s: float
    apart_s: float  # pauses: in no pace
    planned_s: float  # what the plan gives for the joins that are done
    left_s: float  # welding still to come, at the pace so far
    people: tuple[str, ...]
    finish: datetime.datetime | None  # of what is left, by the schedule where there is one
    planned: datetime.datetime | None = None  # when the plan has it ready


@frozen
class PersonProgress:
    """What one person did, and is at."""

    person: str
    joins: int  # good ones
    second_tries: int
    work_s: float
    pace: float | None  # seconds needed over seconds planned; None: too few joins
    here: bool | None  # by "begins" and "ends"; None: neither was told
    piece: str  # last at work on; "" if nothing of it was told
    copy: int | None
    station: str
    since: str  # time of the last event of this person


@frozen
class Progress:
    """How far a job is."""

    job: str
    plan: str
    now: datetime.datetime
    last_event: str
    pieces: tuple[CopyProgress, ...]
    pace: float | None  # seconds needed over seconds planned; None: too little done
    pace_low: float | None
    pace_high: float | None
    finish: datetime.datetime | None
    cylinder_bar: float | None
    cylinder_l: float | None
    cylinder_joins: int | None  # joins that the gas still does
    people: tuple[PersonProgress, ...] = ()
    by_schedule: bool = False  # whether finishing follows the plan's schedule
    planned: datetime.datetime | None = None  # when the plan has all ready
    notes: tuple[str, ...] = ()


@frozen
class Learned:
    """One figure that the record says something about."""

    key: str  # bench setting "group.name", or what else it goes into
    title: str
    unit: str
    old: float | None
    new: float
    low: float
    high: float
    n: int
    groups: int  # independent stretches behind it: stints, copies, readings
    enough: bool
    basis: str
    group: str = ""  # piece, weave, metal … where it is one of several


@frozen
class WorkingSetting:
    """A welder setting with what it gave."""

    metal: str
    wire_mm: float
    power_j: float
    hits: int
    tip: str
    tries: int
    good: int
    yield_share: float
    low: float
    high: float
    best: bool  # of this metal and wire, with enough tries


@frozen
class Lesson:
    """All that was learnt from a record."""

    record: str
    events: int
    level: float  # of every interval
    figures: tuple[Learned, ...]
    settings: tuple[WorkingSetting, ...]
    notes: tuple[str, ...] = ()


@frozen
class TraceLine:
    """One thing that happened to a join."""

    at: str
    kind: str
    person: str
    power_j: float | None
    hits: int | None
    tip: str
    work_s: float | None
    note: str
    source: str


@frozen
class JoinTrace:
    """All that is known of one join of one copy."""

    job: str
    piece: str
    copy: int
    ring: int
    state: str  # "done", "not good", "left for later", "not welded yet"
    metal: str
    wire_mm: float
    lot: str  # of the wire; "" if none was told
    power_j: float | None  # of the weld that holds
    hits: int | None
    tip: str
    person: str
    at: str
    tries: int
    checks: tuple[str, ...]
    lines: tuple[TraceLine, ...]


@frozen
class SampleDraw:
    """The joins of one lot that are to be checked, and what the checks say so far."""

    lot: str  # metal and wire, with the wire lot where one was told
    joins: int
    aql_percent: float
    size: int
    accept: int
    reject: int
    drawn: tuple[tuple[str, int, int], ...]  # piece, copy, ring
    found: tuple[str, ...]  # of each drawn: "good", "bad" or "" for not checked yet
    good: int
    bad: int
    verdict: str  # "accept", "reject", "go on checking"
    next_step: str
    source: str


@frozen
class ReviewLine:
    """One quantity of a job as it was planned and as it was."""

    what: str
    unit: str
    planned: float | None
    actual: float | None
    basis: str


@frozen
class Review:
    """A job looked back at."""

    job: str
    plan: str
    joins: int
    done: int
    lines: tuple[ReviewLine, ...]
    wrong: tuple[str, ...]  # where the plan was wrong, the farthest first
    samples: tuple[SampleDraw, ...]
    learnt: tuple[Learned, ...] = ()  # from the record of all jobs: what goes into bench settings
