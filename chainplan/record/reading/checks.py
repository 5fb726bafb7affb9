"""Checks that need more than one row: joins done twice, and what an undo takes back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import Fault
from chainplan.record.kept.joins import DONE, STATE_OF_KIND, Places, place_numbers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.record import Event, KnownPlan
    from chainplan.record.kept.store import Record
    from chainplan.record.reading.logs import Log, Told

CHUNK = 500
"""Ids asked for in one question: SQLite allows 999 at least (SQLITE_MAX_VARIABLE_NUMBER)."""


@dataclass(frozen=True, slots=True)
class _Earlier:
    """An event of the record that is not taken back."""

    id: str
    kind: str
    at: str
    at_s: float
    piece: str
    copy: int
    ring: int
    person: str
    source: str


def known_ids(record: Record, events: Sequence[Event]) -> set[str]:
    """Which of some events the record has already."""
    found: set[str] = set()
    ids = [event.id for event in events]
    for start in range(0, len(ids), CHUNK):
        part = ids[start : start + CHUNK]
        marks = ", ".join("?" * len(part))
        found.update(
            row[0] for row in record.rows(f"SELECT id FROM event WHERE id IN ({marks})", part)
        )
    return found


def check_together(record: Record, plan: KnownPlan, logs: Sequence[Log]) -> set[str]:
    """Look at all logs and the record together; faults go to the logs.

    Returns
    -------
    set of str
        Ids of the events that the record has already.
    """
    told = [item for log in logs for item in log.told]
    known = known_ids(record, [item.event for item in told])
    earlier = _earlier(record, plan)
    fresh = [item for item in told if item.event.id not in known]
    faulty = _resolve_undo(record, fresh, earlier, logs)
    faulty |= _done_twice(plan, fresh, earlier, logs, faulty)
    if faulty:
        for log in logs:
            kept = [item for item in log.told if id(item) not in faulty]
            log.bad_rows += len(log.told) - len(kept)
            log.told = kept
    return known


def _earlier(record: Record, plan: KnownPlan) -> list[_Earlier]:
    kinds = ", ".join("?" * len(STATE_OF_KIND))
    rows = record.rows(
        "SELECT e.id, e.kind, e.at, e.at_s, e.piece, e.copy, e.ring, e.person, e.source "
        "FROM event_now AS e JOIN plan AS p ON p.key = e.plan "
        f"WHERE p.root = ? AND e.kind IN ({kinds}) ORDER BY e.seq",
        (plan.root or plan.key, *STATE_OF_KIND),
    )
    return [_Earlier(*row) for row in rows]


def _resolve_undo(
    record: Record, fresh: Sequence[Told], earlier: Sequence[_Earlier], logs: Sequence[Log]
) -> set[int]:
    """Find what each undo takes back: the event that it names, else the last one of its join."""
    if not any(item.event.kind == "undo" for item in fresh):
        return set()
    faulty: set[int] = set()
    by_file = {log.file: log for log in logs}
    stacks: dict[tuple[str, int | None, int | None], list[tuple[float, str]]] = {}
    for old in earlier:
        stacks.setdefault((old.piece, old.copy, old.ring), []).append((old.at_s, old.id))
    ids = {item.event.id for item in fresh}
    for item in sorted(fresh, key=lambda each: each.event.at_s):
        event = item.event
        stack = stacks.setdefault((event.piece, event.copy, event.ring), [])
        if event.kind != "undo":
            stack.append((event.at_s, event.id))
            continue
        target = event.undoes
        if target is None:
            before = [entry for entry in stack if entry[0] <= event.at_s]
            if before:
                stack.remove(before[-1])
                target = before[-1][1]
                log = by_file[item.file]
                at = next(k for k, other in enumerate(log.told) if other is item)
                log.told[at] = type(item)(event._replace(undoes=target), item.file, item.line)
                continue
            said = "takes back nothing: no event of this join stands before it"
        elif target in ids or record.rows("SELECT 1 FROM event WHERE id = ?", (target,)):
            for entries in stacks.values():
                entries[:] = [entry for entry in entries if entry[1] != target]
            continue
        else:
            said = f"takes back {target}, which the record does not have"
        by_file[item.file].faults.append(
            Fault(item.where, f"this undo {said}", "write it below what it takes back")
        )
        faulty.add(id(item))
    return faulty


def _done_twice(
    plan: KnownPlan,
    fresh: Sequence[Told],
    earlier: Sequence[_Earlier],
    logs: Sequence[Log],
    faulty: set[int],
) -> set[int]:
    """Tell every join that was done though it was done already."""
    current = {id(item): item for log in logs for item in log.told}
    taken_back = {item.event.undoes for item in current.values() if item.event.undoes}
    old = [event for event in earlier if event.id not in taken_back]
    new = [
        item
        for item in current.values()
        if item.event.kind in STATE_OF_KIND and item.event.id not in taken_back
    ]
    fresh_ids = {item.event.id for item in fresh}
    new = [item for item in new if item.event.id in fresh_ids and id(item) not in faulty]
    new = list({item.event.id: item for item in new}.values())  # a row that two files have is one
    rows: list[Event | _Earlier] = [*old, *(item.event for item in new)]
    if not new:
        return set()
    places = Places.of(plan.pieces)
    place = place_numbers(
        places, [r.piece for r in rows], [r.copy or 0 for r in rows], [r.ring or 0 for r in rows]
    )
    at_s = np.array([row.at_s for row in rows])
    done = np.array([STATE_OF_KIND[row.kind] == DONE for row in rows])
    order = np.lexsort((np.arange(len(rows)), at_s, place))
    same = place[order][1:] == place[order][:-1]
    twice = np.flatnonzero(same & done[order][1:] & done[order][:-1] & (place[order][1:] >= 0))
    by_file = {log.file: log for log in logs}
    found: set[int] = set()
    for at in twice.tolist():
        first, second = int(order[at]), int(order[at + 1])
        if second < len(old):
            if first < len(old):
                continue  # both stand in the record: told when the second came
            first, second = second, first
        item = new[second - len(old)]
        by_file[item.file].faults.append(_twice(item, rows[first]))
        found.add(id(item))
    return found


def _twice(item: Told, other: Event | _Earlier) -> Fault:
    event = item.event
    who = f" by {event.person}" if event.person else ""
    by = f" by {other.person}" if other.person else ""
    from_file, _, line = other.source.rpartition(":")
    place = f"{from_file} line {line}" if from_file else other.source or "the record"
    return Fault(
        item.where,
        f"ring {event.ring} of {event.piece!r}, copy {event.copy}, is done{who} at {event.at} and "
        f"was done already{by} at {other.at} ({place})",
        "a join is welded once; write 'again' before it if it was not good",
    )
