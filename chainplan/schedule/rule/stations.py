"""What can be laid into a schedule: stations, items of work, and the tasks they become."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import (
    FITTING,
    LAST_FITTING,
    SHARED_STATIONS,
    Task,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop

MOST_LOTS = 900
"""Copies of a job up to which each goes its own way; beyond, some go together. Judgement: nobody
follows more single copies on a list."""
STATIONS = (
    *SHARED_STATIONS, "pre-close", "weave", FITTING, "weld", "clean", "inspect", "finish",
    LAST_FITTING,
)  # fmt: skip
"""Stations as the rule knows them: set up and rework are parts of a visit to the welder."""
AFTER_SHARED = STATIONS[len(SHARED_STATIONS) :]
AT_THE_WELDER = frozenset({"pre-close", "weld"})


@dataclass(frozen=True, slots=True, order=True)
class Item:
    """Something that can be done: sorts by rank of the piece, station, copy."""

    rank: int
    station: int
    first: int  # copy, from 1
    piece: int
    copies: int
    part: int = 0  # section of a copy that is woven by itself; 0: the whole copy


_Row = tuple[Item, str, str, str, tuple[int, int, int], tuple[int, int], int]
"""Item, station, person, machine; start, end, work; first step, steps; visit to the welder."""


@dataclass
class Laid:
    """What a ranking of the pieces leads to."""

    rows: list[_Row] = field(default_factory=list)
    done_s: list[int] = field(default_factory=list)  # last work on each piece before the assay
    ready_s: list[int] = field(default_factory=list)  # back from the assay, fitted
    changes: int = 0
    change_cost_s: float = 0.0
    change_costs_s: dict[int, float] = field(default_factory=dict)  # by piece
    weld_s: int = 0
    further_set_ups: int = 0  # of another welder for a piece that one is set up for
    further_s: float = 0.0  # seconds that they take

    def count_cost(self, piece: int, cost_s: float) -> None:
        """Count what turning the welder to a piece costs."""
        self.change_cost_s += cost_s
        self.change_costs_s[piece] = self.change_costs_s.get(piece, 0.0) + cost_s

    @property
    def end_s(self) -> int:
        """End of the last work that anybody does."""
        return max((row[4][1] for row in self.rows if row[2]), default=0)


def lots_of(works: Sequence[PieceWork]) -> list[list[tuple[int, int]]]:
    """Group the copies of each piece: first copy and number of copies of each lot."""
    size = max(-(-sum(work.copies for work in works) // MOST_LOTS), 1)
    return [
        [
            (first, min(size, work.copies - first + 1))
            for first in range(1, work.copies + 1, size)
        ]
        for work in works
    ]  # fmt: skip


def needed(work: PieceWork, station: str) -> bool:
    """Whether a piece passes a station."""
    if station == "weld":
        beside = any(work.station_s.get(name, 0.0) > 0 for name in ("set up", "rework"))
        return beside or bool(work.stints.steps.sum())
    return usual_s(work, station, work.copies) > 0


def usual_s(work: PieceWork, station: str, copies: int, part: int = 0) -> float:
    """Return the usual seconds of some copies, or of a section of one, at a station."""
    share = 1.0
    if part:
        share = work.weave_shares[part - 1 if part > 0 else -1]
    return share * work.station_s.get(station, 0.0) * copies / work.copies


def parts_of(work: PieceWork, station: str, copies: int) -> tuple[int, ...]:
    """List the sections of a copy that several people can weave at once, from 1; none if not so."""
    if station != "weave" or copies > 1 or len(work.weave_shares) < 3:
        return ()
    return tuple(range(1, len(work.weave_shares)))


def stations_of(works: Sequence[PieceWork]) -> tuple[str, ...]:
    """List the stations that pieces need, as the rule knows them."""
    return tuple(name for name in STATIONS if any(needed(work, name) for work in works))


def tasks_of(laid: Laid, works: Sequence[PieceWork], shop: Shop) -> tuple[Task, ...]:
    """Write what was laid as tasks, by start."""
    return tuple(
        Task(
            piece=works[item.piece].piece,
            copy=item.first,
            copies=item.copies,
            section=item.part,
            station=station,
            person=person,
            machine=machine,
            start_s=start_s,
            end_s=end_s,
            work_s=work_s,
            start=shop.moment(start_s),
            end=shop.moment(end_s),
            first_step=first_step,
            steps=steps,
            session=session,
        )
        for item, station, person, machine, (start_s, end_s, work_s), (first_step, steps), session
        in sorted(laid.rows, key=lambda row: row[4][:2])
    )  # fmt: skip
