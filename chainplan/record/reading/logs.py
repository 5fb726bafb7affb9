"""Turns the rows of a log into events, and tells every row that cannot be one."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from chainplan.bounds import BOUNDS
from chainplan.errors import (
    Fault,
    InputError,
    Refusal,
    near_words,
    quote,
    tell_known,
    unknown,
)
from chainplan.model.workshop.bench_log import STATIONS, unguarded
from chainplan.model.workshop.record import COOLING, EVENT_KINDS, MEASURED, Event
from chainplan.record.reading.cells import (
    KNOWN_COLUMNS,
    is_remark,
    read_number,
    read_rings,
    read_time,
    read_whole,
)
from chainplan.record.reading.taps import ID, MOST_LETTERS, PieceSteps, Taps

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from chainplan.model.workshop.record import KnownPlan
    from chainplan.record.reading.cells import LogTable

CLOCK_SLACK_S = 2.0
"""Seconds by which a tablet's clock may be put back without a word."""

_JOIN_KINDS = frozenset(kind for kind, spec in EVENT_KINDS.items() if "ring" in spec.needs)
_NUMBERS = (
    "work_s", "waited_s", "minutes", "power_j", "bar", "wire_mm", "mandrel_mm", "value",
)  # fmt: skip
_TEXTS = ("person", "station", "tip", "metal", "lot", "what", "note")
_MARK = re.compile(r"[0-9a-f]{12}")


class Told(NamedTuple):
    """An event as a file tells it, with the line where it stands; a tuple, as events are."""

    event: Event
    file: str
    line: int

    @property
    def where(self) -> str:
        """File and line, for messages."""
        return f"{self.file} line {self.line}"


@dataclass(slots=True)
class Log:
    """All that was found in one file."""

    file: str
    told: list[Told] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    bad_rows: int = 0


class LogReader:
    """Reads logs against a plan and the earlier plans of the same work."""

    def __init__(self, plan: KnownPlan, earlier: tuple[KnownPlan, ...] = ()) -> None:
        """Take the plan, with every join of its work, and the plans before it.

        Steps are checked against the order only where there is one plan: they have other numbers
        in each, and the ring says it all.
        """
        self.plan = plan
        self._plans = {known.mark: known for known in (*earlier, plan)}
        self._one_order = not earlier
        self._pieces = {piece.name: PieceSteps(piece) for piece in plan.pieces}
        self._times: dict[str, tuple[str, float]] = {}

    def read(self, table: LogTable, *, person: str = "") -> Log:
        """Read one log; what is wrong with a row is told, and the row left out."""
        log = Log(table.file)
        at = {name: place for place, name in enumerate(table.columns) if name in KNOWN_COLUMNS}
        missing = [name for name in ("result", "at") if name not in at]
        if missing:
            log.faults.append(
                Fault(
                    f"{table.file} line {table.heading_line}",
                    f"the column {missing[0]!r} is missing",
                    "a bench sheet's log and the starter for one typed by hand have it",
                )
            )
            return log
        others: dict[str, list[int]] = {}
        seen: dict[str, int] = {}
        last_at, last_s = "", float("-inf")
        taps = Taps(table, self._plans, self._pieces, person, one_order=self._one_order)
        for line, cells in table.rows:
            event = taps.event(line, cells, last_s - CLOCK_SLACK_S)
            if event is not None:
                log.told.append(Told(event, table.file, line))
                last_at, last_s = event.at, event.at_s
                continue
            if is_remark(cells) or not any(cell.strip() for cell in cells):
                continue
            row = {
                name: unguarded(cells[place]).strip()
                for name, place in at.items()
                if place < len(cells) and cells[place]
            }
            mark = row.get("plan", "")
            if mark and mark not in self._plans:
                others.setdefault(mark, []).append(line)
                continue
            try:
                when, at_s = self._time(row.get("at", ""), last_at, last_s)
                if at_s < last_s - CLOCK_SLACK_S:
                    said = f"the time {when} is before that of the row above ({last_at})"
                    allowed = "rows stand in the order in which things happened"
                    raise InputError(Refusal(said, allowed))
                for event in self._events(row, when, at_s, person, f"{table.file}:{line}", seen):
                    log.told.append(Told(event, table.file, line))
                last_at, last_s = when, at_s
            except InputError as error:
                log.bad_rows += 1
                if len(log.faults) < BOUNDS.faults:
                    log.faults.append(error.at(f"{table.file} line {line}"))
        self._tell_others(log, others)
        return log

    def _tell_others(self, log: Log, others: dict[str, list[int]]) -> None:
        for mark, lines in others.items():
            more = f" and {len(lines) - 1} more rows" if len(lines) > 1 else ""
            said = f"another plan's ({mark[:40]})" if _MARK.fullmatch(mark) else f"{mark[:40]!r}"
            log.faults.append(
                Fault(
                    f"{log.file} line {lines[0]}{more}",
                    f"the mark of the plan is {said}",
                    f"the plan given has {self.plan.mark} (job {self.plan.job!r}); name the folder "
                    "that the bench sheet came from with --plan",
                )
            )
            log.bad_rows += len(lines)

    def _time(self, text: str, last_at: str, last_s: float) -> tuple[str, float]:
        if not text:
            if not last_at:
                allowed = "the first row needs one, such as 2027-03-01 14:05"
                raise InputError(Refusal("the time is missing", allowed))
            return last_at, last_s
        found = self._times.get(text)
        if found is None:
            found = self._times[text] = read_time(text)
        return found

    def _events(
        self, row: dict[str, str], when: str, at_s: float, person: str, source: str,
        seen: dict[str, int],
    ) -> Iterator[Event]:  # fmt: skip
        kind = row.get("result", "").casefold()
        if kind not in EVENT_KINDS:
            raise InputError(unknown(kind, EVENT_KINDS, what="the result"))
        values = self._values(row, kind)
        mark = row.get("plan") or self.plan.mark
        known = self._plans[mark]
        values["person"] = values.get("person") or person
        rings = self._place(row, kind, values)
        for name in EVENT_KINDS[kind].needs:
            if values.get(name) in (None, "") and name not in ("ring", "undoes"):
                raise InputError(Refusal(f"{name} is missing", f"{kind!r} needs it"))
        if values.get("what") == COOLING and kind == "measured" and not values.get("piece"):
            raise InputError(Refusal("piece is missing", "say which piece it is that cools"))
        named = row.get("id", "").lower()
        if named and not ID.fullmatch(named):
            allowed = "leave the column id as it was"
            raise InputError(Refusal("is none", allowed, quote(named), "the id"))
        for ring in rings or (None,):
            values["ring"] = ring
            event = Event(
                id="", kind=kind, at=when, at_s=at_s, plan=known.key, source=source, **values
            )
            base = row.get("plan") or self.plan.root
            yield event._replace(id=named or _derived_id(event, base, seen))

    def _values(self, row: dict[str, str], kind: str) -> dict[str, Any]:
        values: dict[str, Any] = {}
        for name in _NUMBERS:
            if row.get(name):
                values[name] = read_number(row[name], name)
        if row.get("hits"):
            values["hits"] = read_whole(row["hits"], "hits")
        for name in _TEXTS:
            if row.get(name):
                values[name] = row[name][:MOST_LETTERS]
        if row.get("undoes"):
            values["undoes"] = row["undoes"].lower()
        station = str(values.get("station", "")).casefold()
        if station and station not in STATIONS:
            raise InputError(unknown(station, STATIONS, what="the station"))
        if station:
            values["station"] = station
        if kind == "measured" and values.get("what") not in MEASURED:
            said = unknown(str(values.get("what", "")), MEASURED, what="what was measured,")
            raise InputError(said)
        return values

    def _place(self, row: dict[str, str], kind: str, values: dict[str, Any]) -> list[int]:
        """Find piece, copy and rings of a row; empty: no ring."""
        name = row.get("piece", "")
        if not name:
            return []
        piece = self._pieces.get(name)
        if piece is None:
            said = f"the plan has no piece {quote(name, BOUNDS.name_letters)}"
            raise InputError(
                Refusal(said, tell_known(self._pieces), hint=near_words(name, self._pieces))
            )
        values["piece"] = name
        if row.get("copy"):
            copy = read_whole(row["copy"], "copy")
        elif piece.copies == 1:
            copy = 1
        elif kind in _JOIN_KINDS or "copy" in EVENT_KINDS[kind].needs:
            allowed = f"{name!r} has copies 1 to {piece.copies}"
            raise InputError(Refusal("the copy is missing", allowed))
        else:
            copy = 0
        if copy > piece.copies:
            made = f"copies 1 to {piece.copies}" if piece.copies > 1 else "one copy only"
            raise InputError(Refusal(f"copy {copy} of {name!r}", f"this plan has {made}"))
        values["copy"] = copy or None
        return self._rings(row, kind, piece)

    def _rings(self, row: dict[str, str], kind: str, piece: PieceSteps) -> list[int]:
        step = read_whole(row["step"], "step") if row.get("step") else 0
        if not row.get("ring"):
            if step and self._one_order and step <= len(piece.ring):
                return [piece.ring[step - 1]]
            if kind in _JOIN_KINDS:
                allowed = f"{piece.name!r} has rings 1 to {piece.rings}"
                raise InputError(Refusal("the ring is missing", allowed))
            return []
        rings = read_rings(row["ring"], piece.rings)
        for ring in rings:
            if not (1 <= ring <= piece.rings and piece.step[ring]):
                said = f"ring {ring} of {piece.name!r} is none to weld in this plan"
                allowed = (
                    f"its joins are at rings 1 to {piece.rings} without those closed beforehand"
                )
                raise InputError(Refusal(said, allowed))
        if step and self._one_order and piece.step[rings[0]] != step:
            said = f"step {step} of {piece.name!r} is not ring {rings[0]} in this plan"
            allowed = "leave the columns step and ring of a log as they were"
            raise InputError(Refusal(said, allowed))
        return rings


def _derived_id(event: Event, base: str, seen: dict[str, int]) -> str:
    """Make the id of an event that came without one, from all that it says.

    The same row of the same plan always gets the same id, whichever file it stands in; a second
    row that says the very same in one file gets another.
    """
    said = "\x1f".join(
        "" if value is None else f"{value:.3f}" if isinstance(value, float) else str(value)
        for value in (
            base, event.kind, event.at_s, event.piece, event.copy, event.ring, event.work_s,
            event.waited_s, event.station, event.minutes, event.power_j, event.hits, event.tip,
            event.bar, event.metal, event.wire_mm, event.mandrel_mm, event.lot, event.what,
            event.value, event.note, event.undoes,
        )
    )  # fmt: skip
    number = seen[said] = seen.get(said, 0) + 1
    digest = hashlib.sha256(f"{said}\x1f{number}".encode()).hexdigest()
    return f"{digest[:8]}-{digest[8:12]}-{digest[12:16]}-{digest[16:20]}-{digest[20:32]}"


def read_logs(
    tables: Sequence[Callable[[], LogTable]], reader: LogReader, *, person: str = ""
) -> list[Log]:
    """Read several logs; a file that cannot be opened is a fault of its own."""
    logs = []
    for open_one in tables:
        try:
            logs.append(reader.read(open_one(), person=person))
        except InputError as error:
            fault = error.at("log", otherwise="look at the file")
            logs.append(Log(fault.where, faults=[fault]))
    return logs
