"""The short way for rows that a bench sheet wrote itself: one tap at one join, nothing beside it.

A log may hold a million of them. What is not exactly as a sheet writes it is left to the reader of
any row, which understands more and tells what is wrong; both give the same event for the same row.
"""

from __future__ import annotations

import re
from operator import itemgetter
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.model.workshop.bench_log import GUARDED
from chainplan.model.workshop.record import Event
from chainplan.record.reading.cells import KNOWN_COLUMNS, read_time

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from chainplan.model.workshop.record import KnownPiece, KnownPlan
    from chainplan.record.reading.cells import LogTable

ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_MINUTE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}")
_OFFSET = re.compile(r"[+-][0-9]{2}:[0-9]{2}")
_SECONDS = re.compile(r"[0-9]{1,6}(\.[0-9]{1,3})?")
_KINDS = frozenset(("done", "again", "later", "broken", "good", "bad"))
_WANTED = (
    "plan", "piece", "copy", "step", "ring", "result", "at", "work_s", "waited_s", "person", "id",
)  # fmt: skip
MOST_LETTERS = 500
"""Letters of a text that are kept."""
_PASSED_OVER = frozenset(("pass", "apart_s"))
_ALL_SECONDS = {f"{second:02d}": second for second in range(60)}


class PieceSteps:
    """Where the joins of a piece stand in the weld order, by ring."""

    def __init__(self, piece: KnownPiece) -> None:
        self.name, self.copies, self.rings = piece.name, piece.copies, piece.rings
        self.step = [0] * (piece.rings + 1)
        for step, ring in enumerate(piece.ring.tolist(), 1):
            self.step[ring] = step
        self.ring = piece.ring.tolist()


class Taps:
    """Reads the rows of one log that are plain taps."""

    def __init__(
        self,
        table: LogTable,
        plans: Mapping[str, KnownPlan],
        pieces: Mapping[str, PieceSteps],
        person: str,
        *,
        one_order: bool,
    ) -> None:
        """Take the table with its columns, what its rows may name, and whose they are."""
        at = {name: place for place, name in enumerate(table.columns)}
        self._whole = all(name in at for name in _WANTED) and len(at) == len(table.columns)
        self._wanted = itemgetter(*(at[name] for name in _WANTED)) if self._whole else None
        beside = KNOWN_COLUMNS - _PASSED_OVER - frozenset(_WANTED)
        empty = [at[name] for name in beside if name in at]
        # Each twice: of one name alone no tuple would come.
        self._beside: Callable[[Sequence[str]], tuple[str, ...]] = (
            itemgetter(*empty, *empty) if empty else lambda _: ()
        )
        self._nothing = ("",) * (2 * len(empty))
        self._columns = len(table.columns)
        self._file, self._person, self._one_order = table.file, person, one_order
        self._plans, self._pieces = plans, pieces
        self._numbers = {str(number): number for number in range(1, 10_000)}
        self._seconds: dict[str, float | None] = {"": None}
        self._minutes: dict[str, float] = {}
        self._people = {"": True}

    def event(self, line: int, cells: Sequence[str], earliest_s: float) -> Event | None:
        """Make the event of a row; None if it is no plain tap, or before the earliest time."""
        wanted = self._wanted
        if wanted is None or len(cells) != self._columns:
            return None
        mark, name, copy, step, ring, kind, when, work, waited, person, own = wanted(cells)
        known, piece = self._plans.get(mark), self._pieces.get(name)
        if known is None or piece is None or kind not in _KINDS or not ID.fullmatch(own):
            return None
        if self._beside(cells) != self._nothing or not self._plain(person):
            return None
        number = self._number(ring)
        of = self._number(copy)
        if not (0 < of <= piece.copies and 0 < number <= piece.rings):
            return None
        place = piece.step[number]
        if not place or (self._one_order and self._number(step) != place):
            return None
        at_s = self._time(when)
        if at_s is None or at_s < earliest_s:
            return None
        try:
            return Event(
                own, kind, when, at_s, known.key, name, of, number, person or self._person,
                self._span(work), self._span(waited), source=f"{self._file}:{line}",
            )  # fmt: skip
        except ValueError:
            return None

    def _plain(self, person: str) -> bool:
        """Whether a label is taken as it stands."""
        if person not in self._people:
            guarded = (
                person[:1] in GUARDED or person != person.strip() or len(person) > MOST_LETTERS
            )
            self._people[person] = not (person and guarded)
        return self._people[person]

    def _number(self, text: str) -> int:
        """Read a whole number from 1; 0 for all else."""
        found = self._numbers.get(text)
        if found is None:
            plain = text.isascii() and text.isdecimal() and len(text) < 9 and text[0] != "0"
            found = self._numbers[text] = int(text) if plain else 0
        return found

    def _span(self, text: str) -> float | None:
        """Read seconds; a ValueError for all that is not written plainly."""
        if text in self._seconds:
            return self._seconds[text]
        if not _SECONDS.fullmatch(text):
            raise ValueError(text)
        found = self._seconds[text] = float(text)
        return found

    def _time(self, text: str) -> float | None:
        """Read a time as a sheet writes it, such as 2027-03-01T10:00:00+01:00."""
        if len(text) != 25 or text[16] != ":":
            return None
        second = _ALL_SECONDS.get(text[17:19])
        if second is None:
            return None
        minute = text[:16] + text[19:]
        begins_s = self._minutes.get(minute)
        if begins_s is None:
            if not (_MINUTE.fullmatch(text[:16]) and _OFFSET.fullmatch(text[19:])):
                return None
            try:
                begins_s = read_time(f"{text[:16]}:00{text[19:]}")[1]
            except InputError:
                return None
            self._minutes[minute] = begins_s
        return begins_s + second
