"""What all tablets of one sharing have in common: taps, who has taken what, who is there."""

from __future__ import annotations

import asyncio
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from chainplan.share.bounds import (
    CLAIMS,
    ELSEWHERE_S,
    EVENTS_A_JOIN,
    EVENTS_A_PAGE,
    EVENTS_MORE,
    TOGETHER_S,
)
from chainplan.share.taps import DEVICE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.workshop.record import Event
    from chainplan.share.on_show import Book, OnShow, Outcome
    from chainplan.share.pass_words import PassWords

OPENING = ("again", "broken", "opened", "bad")
THERE_S = 20.0
"""A tablet that was not heard of for so long counts as away: four heartbeats."""


@dataclass(slots=True)
class _Batch:
    events: Sequence[Event]
    done: asyncio.Future[dict[str, Outcome]]


@dataclass
class Desk:
    """Keeps the record and everybody who is connected in step. It belongs to one event loop.

    ``open_book`` is called in the one thread that then uses the record.
    """

    shown: OnShow
    words: PassWords
    open_book: Callable[[], Book]
    tell: Callable[[str], None]
    events: list[dict[str, Any]] = field(default_factory=list)  # as tablets get them, by number
    people: dict[str, tuple[str, float]] = field(default_factory=dict)  # device → label, last heard
    version: int = 0  # counts changes of what is taken and who is there
    over: bool = False

    def __post_init__(self) -> None:
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="record")
        self._pending: list[_Batch] = []
        self._news = asyncio.Event()
        self._work: set[asyncio.Task[None]] = set()
        self._book: Book | None = None
        self._writing = False
        self._progress: tuple[float, dict[str, Any]] | None = None
        self._undone: set[str] = set()

    # ---- The record ---------------------------------------------------------------------------

    async def open(self) -> None:
        """Open the record and read what it has of this work."""
        self._book = await self._run(self.open_book)
        await self._catch_up()

    def end(self) -> None:
        """Let every stream end."""
        self.over = True
        self._wake()

    async def close(self) -> None:
        """Close the record; what was promised is in it."""
        self.end()
        book, self._book = self._book, None
        close = getattr(book, "close", None)
        if close is not None:
            await self._run(close)
        self._thread.shutdown(wait=True)

    async def _run(self, work: Callable[..., Any], *values: Any) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._thread, work, *values)

    @property
    def seq(self) -> int:
        """Number of the last event that everybody may know."""
        return int(self.events[-1]["seq"]) if self.events else 0

    @property
    def full(self) -> bool:
        """Whether so much was told that it cannot be work any more."""
        return len(self.events) > EVENTS_A_JOIN * self.shown.joins + EVENTS_MORE

    async def add(self, events: Sequence[Event]) -> dict[str, Outcome]:
        """Record the taps of one request; when this returns they are on the disk.

        Requests that come while the disk is busy go into the next write together.
        """
        batch = _Batch(events, asyncio.get_running_loop().create_future())
        self._pending.append(batch)
        if not self._writing:
            self._writing = True
            task = asyncio.create_task(self._write())
            self._work.add(task)
            task.add_done_callback(self._work.discard)
        return await batch.done

    async def _write(self) -> None:
        try:
            while self._pending:
                batches, self._pending = self._pending, []
                together = [event for batch in batches for event in batch.events]
                book = self._book
                try:
                    if book is None:
                        message = "the record is closed"
                        raise RuntimeError(message)
                    found = await self._run(book.add, together)
                except Exception as error:
                    for batch in batches:
                        if not batch.done.done():
                            batch.done.set_exception(error)
                    continue
                for batch in batches:
                    if not batch.done.done():
                        batch.done.set_result({e.id: found[e.id] for e in batch.events})
                await self._catch_up()
        finally:
            self._writing = False

    async def _catch_up(self) -> None:
        """Take in what is new in the record, whoever put it there."""
        book = self._book
        while book is not None:
            rows = await self._run(book.after, self.seq, EVENTS_A_PAGE)
            for seq, event in rows:
                self.events.append(_told(seq, event))
                if event.undoes:
                    self._undone.add(event.undoes)
            if rows:
                self._wake()
            if len(rows) < EVENTS_A_PAGE:
                return

    async def watch(self) -> None:
        """Look from time to time for what another program put into the record."""
        while not self.over:
            await asyncio.sleep(ELSEWHERE_S)
            if not self._writing:
                await self._catch_up()

    async def progress(self) -> dict[str, Any]:
        """Say how far the work is; worked out at most every other second."""
        now = time.monotonic()
        if self._progress is None or now - self._progress[0] > ELSEWHERE_S:
            book = self._book
            self._progress = now, {} if book is None else await self._run(book.progress)
        return self._progress[1]

    # ---- News ---------------------------------------------------------------------------------

    def _wake(self) -> None:
        self._news.set()
        self._news = asyncio.Event()

    async def wait_for_news(self, seconds: float) -> bool:
        """Wait until something is new, and a moment longer for what comes with it."""
        news = self._news
        try:
            await asyncio.wait_for(news.wait(), seconds)
        except TimeoutError:
            return False
        await asyncio.sleep(TOGETHER_S)
        return True

    def after(self, seq: int) -> tuple[list[dict[str, Any]], bool]:
        """List events behind a number, and whether there are more."""
        low, high = 0, len(self.events)
        while low < high:
            middle = (low + high) // 2
            if self.events[middle]["seq"] <= seq:
                low = middle + 1
            else:
                high = middle
        return self.events[low : low + EVENTS_A_PAGE], low + EVENTS_A_PAGE < len(self.events)

    def twice(self) -> list[dict[str, Any]]:
        """List joins that two devices welded without one of them calling it not good."""
        done: dict[tuple[str, int, int], dict[str, Any]] = {}
        found: dict[tuple[str, int, int], dict[str, Any]] = {}
        for event in self.events:
            if event["id"] in self._undone or event["ring"] is None:
                continue
            place = (event["piece"], event["copy"], event["ring"])
            other = done.get(place)
            if event["result"] == "done":
                if other is not None and other["device"] != event["device"]:
                    found[place] = {
                        "piece": place[0], "copy": place[1], "ring": place[2],
                        "people": [other["person"], event["person"]],
                        "at": [other["at"], event["at"]],
                    }  # fmt: skip
                done[place] = event
            elif event["result"] in OPENING:
                done.pop(place, None)
                found.pop(place, None)
        return list(found.values())

    # ---- People -------------------------------------------------------------------------------

    def heard(self, device: str, person: str, address: str) -> None:
        """Note that a device is there, and under which label."""
        known = self.people.get(device)
        if person and (known is None or known[0] != person):
            self.tell(f"{address} works as {person!r}")
        if known is None and len(self.people) > CLAIMS:
            return
        self.people[device] = (person or (known[0] if known else ""), time.monotonic())

    def there(self) -> list[str]:
        """Labels of the people whose tablets were heard of lately."""
        now = time.monotonic()
        return sorted({label for label, at in self.people.values() if now - at < THERE_S and label})

    @property
    def taken(self) -> list[dict[str, Any]]:
        """Stretches that somebody has taken."""
        return self.words.taken

    def take(self, claim: dict[str, Any]) -> str | None:
        """Take a stretch; the label of whoever has some of it already, None if it worked."""
        for other in self.taken:
            same = other["piece"] == claim["piece"] and other["copy"] == claim["copy"]
            meet = (
                other["first"] < claim["first"] + claim["steps"]
                and claim["first"] < other["first"] + other["steps"]
            )
            if same and meet and other["device"] != claim["device"]:
                return str(other["person"])
        if claim not in self.taken and len(self.taken) < CLAIMS:
            self.words.taken = [*self.taken, claim]
            self._changed()
        return None

    def give(self, piece: int, copy: int, first: int, device: str | None) -> None:
        """Give a stretch back; without a device whoever has it (from the board)."""
        left = [
            each
            for each in self.taken
            if (each["piece"], each["copy"], each["first"]) != (piece, copy, first)
            or device not in (None, each["device"])
        ]
        if len(left) < len(self.taken):
            self.words.taken = left
            self._changed()

    def _changed(self) -> None:
        self.words.keep()
        self.version += 1
        self._wake()


def _told(seq: int, event: Event) -> dict[str, Any]:
    device = event.source.removeprefix(DEVICE)[:36] if event.source.startswith(DEVICE) else ""
    return {
        "seq": seq, "id": event.id, "result": event.kind, "piece": event.piece, "copy": event.copy,
        "ring": event.ring, "person": event.person, "at": event.at, "ms": round(event.at_s * 1000),
        "work_s": event.work_s, "waited_s": event.waited_s, "note": event.note,
        "undoes": event.undoes, "device": device,
    }  # fmt: skip
