"""What a timetable is asked for: steps of work, who may do them, what they follow."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.schedule.hours import Hours


@frozen
class Step:
    """One stretch of work that one person does without leaving it but for the night."""

    piece: int
    takes_s: Mapping[int, int]  # number of a worker who may do it → seconds that it takes
    stations: tuple[str, ...] = ()  # one after another
    first: int = 1  # copy
    part: int = 0
    twin: int | None = None  # place of a step just like this one that begins no later
    after: tuple[int, ...] = ()  # places of the steps that have to be over
    from_s: int = 0  # not before this moment
    machine: str = ""  # kind of machine that it needs
    stays_s: int = 0  # afterwards at the machine by itself, night or day
    setting_before: str = ""  # of the welder, when the step begins
    setting_after: str = ""


@frozen
class Asked:
    """Steps, the hours of the people, dates, and until when a timetable may go on.

    ``late`` gives for each piece with a date what it costs to be ready on each day from the first
    one on, a number that never falls.
    """

    steps: tuple[Step, ...]
    hours: tuple[Hours, ...]  # of each worker
    horizon_s: int
    late: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    change_s: Mapping[str, int] = field(default_factory=dict)  # cost of turning to a setting
    machines: Mapping[str, int] = field(default_factory=dict)  # how many of a kind, where not one
    least: bool = False  # for a proof: whatever a good schedule may save is left out


@frozen
class Solved:
    """What came of it."""

    proved: bool  # nothing is better
    bound: int  # no timetable has less; 0: nothing is known
    value: int | None = None  # of the timetable found; None if none was
    start_s: tuple[int, ...] = ()  # of each step
    worker: tuple[int, ...] = ()
