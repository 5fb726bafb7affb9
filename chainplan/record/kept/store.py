"""The workshop's record as a file: opening it safely, adding to it, reading it back."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.model.workshop.record import Event
from chainplan.record.kept.schema import APPLICATION_ID, EVENT_COLUMNS, MIGRATIONS, VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from chainplan.model.workshop.record import KnownPlan

BUSY_S = 60.0
"""Seconds to wait for another process that writes."""

CACHE_KB = 131_072
"""Memory for pages of the file: a million ids, which come in no order, stay in it."""

_MAGIC = b"SQLite format 3\x00"
_HEADER = 100
"""Bytes of a file's head (SQLite file format, section 1.3)."""
_ADD = (
    f"INSERT INTO event ({', '.join(EVENT_COLUMNS)}) VALUES ({', '.join('?' * len(EVENT_COLUMNS))})"
)
_PLAN_PLACE = EVENT_COLUMNS.index("plan")


class Record:
    """An open record. Use it as a context manager; it belongs to the thread that opened it."""

    def __init__(self, path: str | Path, *, read_only: bool = False, check: bool = True) -> None:
        """Open a record, and make it if it is not there yet.

        Parameters
        ----------
        path : str or Path
            The file.
        read_only : bool
            Never write; the file must be there.
        check : bool
            Look through the whole file for damage first.

        Raises
        ------
        InputError
            If it is no record, is newer than this program or damaged; it is left as it is then.
        """
        self.path = Path(path)
        self._read_only = read_only
        _look_at_header(self.path, must_exist=read_only)
        with self._told():
            if read_only and not _journal_of(self.path).exists():
                uri = f"{self.path.resolve().as_uri()}?mode=ro"
                self._db = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=BUSY_S)
            else:
                self.path.parent.mkdir(parents=True, exist_ok=True)
                self._db = sqlite3.connect(self.path, isolation_level=None, timeout=BUSY_S)
        try:
            with self._told():
                self._set_up(check=check)
        except BaseException:
            self._db.close()
            raise

    @classmethod
    def empty(cls) -> Record:
        """Give a record without a file and without events, to be read only."""
        record = cls.__new__(cls)
        record.path, record._read_only = Path("nothing recorded yet"), False
        record._db = sqlite3.connect(":memory:", isolation_level=None)
        record._set_up(check=False)
        return record

    def __enter__(self) -> Record:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def _set_up(self, *, check: bool) -> None:
        db = self._db
        for pragma in (
            "foreign_keys = ON", "recursive_triggers = ON", "synchronous = FULL",
            "trusted_schema = OFF", f"cache_size = -{CACHE_KB}",
        ):  # fmt: skip
            db.execute(f"PRAGMA {pragma}")
        if check:
            found = db.execute("PRAGMA quick_check(1)").fetchone()[0]
            if found != "ok":
                raise InputError(_damaged(self.path, found))
        if _pragma(db, "user_version") == VERSION and _pragma(db, "application_id") == (
            APPLICATION_ID
        ):
            return
        if self._read_only:
            self._check_version()
            return
        with self._write():
            self._check_version()
            for version in range(_pragma(db, "user_version"), VERSION):
                for statement in MIGRATIONS[version]:
                    db.execute(statement)
                db.execute(f"PRAGMA user_version = {version + 1}")
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")

    def _check_version(self) -> None:
        """Refuse what another program or a newer one of ours wrote."""
        version, application = (
            _pragma(self._db, name) for name in ("user_version", "application_id")
        )
        empty = self._db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
        if application != APPLICATION_ID and not (empty and version == 0 and application == 0):
            raise InputError(_no_record(self.path))
        if version > VERSION:
            raise InputError(_newer(self.path, version))
        if self._read_only and version < VERSION:
            message = (
                f"{self.path}: was written by an earlier chainplan (version {version} of its "
                f"tables, now {VERSION}); any command that records brings it up to date"
            )
            raise InputError(message)

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        """Turn what the database complains of into words."""
        try:
            yield
        except sqlite3.IntegrityError as error:
            message = f"{self.path}: {error}; nothing of this was recorded"
            raise InputError(message) from error
        except sqlite3.OperationalError as error:
            if error.sqlite_errorname in ("SQLITE_BUSY", "SQLITE_LOCKED"):
                said = f"another process has been writing for {BUSY_S:g} s; try again"
            elif error.sqlite_errorname in ("SQLITE_CANTOPEN", "SQLITE_READONLY"):
                said = "cannot be opened for writing; look at the folder and its rights"
            else:
                said = f"cannot be used ({error}); nothing of this was recorded"
            message = f"{self.path}: {said}"
            raise InputError(message) from error
        except sqlite3.DatabaseError as error:
            raise InputError(_damaged(self.path, str(error))) from error

    @contextlib.contextmanager
    def _write(self) -> Iterator[None]:
        """One transaction: all of it or nothing; begun as a writing one, so that it can wait."""
        db = self._db
        db.execute("BEGIN IMMEDIATE")
        try:
            yield
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise

    def add(self, events: Sequence[Event], *, plan: KnownPlan | None = None) -> int:
        """Record events, in the order given, all or none; those that are there stay once.

        When this returns, the events are on the disk. ``plan`` is made known first, in the same
        transaction, if the record does not know it yet.

        Returns
        -------
        int
            How many were new.

        Raises
        ------
        InputError
            If an id names another event already, or an event lacks what its kind needs.
        """
        with self._told(), self._write():
            if plan is not None:
                self._keep_plan(plan)
            before = self._db.total_changes
            self._db.executemany(_ADD, map(_row, events))
            return self._db.total_changes - before

    def keep_plan(self, plan: KnownPlan) -> None:
        """Make a plan known; nothing happens if it is."""
        with self._told(), self._write():
            self._keep_plan(plan)

    def _keep_plan(self, plan: KnownPlan) -> None:
        db = self._db
        if db.execute("SELECT 1 FROM plan WHERE key = ?", (plan.key,)).fetchone():
            return
        follows, root = plan.follows or None, plan.root or plan.key
        db.execute(
            "INSERT INTO plan (key, mark, stamp, job, currency, follows, root) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (plan.key, plan.mark, plan.stamp, plan.job, plan.currency, follows, root),
        )
        for number, piece in enumerate(plan.pieces, 1):
            db.execute(
                "INSERT INTO plan_piece VALUES (?, ?, ?, ?, ?, ?)",
                (plan.key, number, piece.name, piece.copies, piece.rings, piece.joins),
            )
            db.executemany(
                "INSERT INTO plan_section VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    (plan.key, number, k, s.weave, s.metal, s.wire_mm, s.inner_mm, s.mandrel_mm,
                     s.rings, s.links)
                    for k, s in enumerate(piece.sections, 1)
                ),
            )  # fmt: skip
            columns = (
                piece.ring, piece.pass_number, piece.section, piece.power_j, piece.hits,
            )  # fmt: skip
            rows = zip(
                *(column.tolist() for column in columns), piece.tip, piece.pace_s.tolist(),
                piece.wait_s.tolist(), piece.metal or [""] * piece.joins, strict=True,
            )  # fmt: skip
            db.executemany(
                "INSERT INTO plan_join VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                ((plan.key, number, step, *row) for step, row in enumerate(rows, 1)),
            )
            db.executemany(
                "INSERT INTO plan_station VALUES (?, ?, ?, ?)",
                ((plan.key, number, *item) for item in piece.station_min.items()),
            )
        db.executemany(
            "INSERT INTO plan_turn VALUES (?, ?, ?, ?, ?, ?)",
            ((plan.key, number, *turn) for number, turn in enumerate(plan.turns, 1)),
        )
        db.executemany(
            "INSERT INTO plan_task VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            ((plan.key, number, *task) for number, task in enumerate(plan.tasks, 1)),
        )
        db.executemany(
            "INSERT INTO plan_setting VALUES (?, ?, ?)",
            ((plan.key, name, json.dumps(value)) for name, value in plan.bench.items()),
        )

    def rows(self, query: str, values: Iterable[Any] = ()) -> list[tuple[Any, ...]]:
        """Answer a query; for the other modules of this folder."""
        with self._told():
            return self._db.execute(query, tuple(values)).fetchall()

    def events(self) -> list[Event]:
        """Every event in the order in which it was recorded."""
        names = ", ".join(EVENT_COLUMNS)
        found = self.rows(f"SELECT {names} FROM event ORDER BY seq")
        at = _PLAN_PLACE
        return [Event._make((*row[:at], row[at] or "", *row[at + 1 :])) for row in found]

    def events_after(self, root: str, seq: int, most: int) -> list[tuple[int, Event]]:
        """Events of one work behind a number, at most so many, each with its own number."""
        names = ", ".join(f"e.{name}" for name in EVENT_COLUMNS)
        found = self.rows(
            f"SELECT e.seq, {names} FROM event AS e JOIN plan AS p ON p.key = e.plan "
            "WHERE e.seq > ? AND p.root = ? ORDER BY e.seq LIMIT ?",
            (seq, root, most),
        )
        return [(int(number), Event._make(row)) for number, *row in found]

    def copy_to(self, path: str | Path) -> None:
        """Write a safe copy, also while others record."""
        with self._told(), contextlib.closing(sqlite3.connect(path)) as other:
            self._db.backup(other)


def _row(event: Event) -> tuple[Any, ...]:
    at = _PLAN_PLACE
    return event if event.plan else (*event[:at], None, *event[at + 1 :])


def _pragma(db: sqlite3.Connection, name: str) -> int:
    return int(db.execute(f"PRAGMA {name}").fetchone()[0])


def _journal_of(path: Path) -> Path:
    return path.with_name(f"{path.name}-journal")


def _look_at_header(path: Path, *, must_exist: bool) -> None:
    """Refuse what is plainly no record before the database can touch it."""
    if not path.exists():
        if must_exist:
            message = f"{path}: there is no record yet; 'chainplan record' makes it"
            raise InputError(message)
        return
    if not path.is_file():
        message = f"{path}: is a folder; name the file of the record"
        raise InputError(message)
    try:
        with path.open("rb") as file:
            head = file.read(_HEADER)
    except OSError as error:
        message = f"{path}: cannot be read ({error.strerror})"
        raise InputError(message) from None
    if not head and not must_exist:
        return  # what is left of a run that died before it wrote anything
    if len(head) < _HEADER or not head.startswith(_MAGIC):
        raise InputError(_no_record(path))
    if _journal_of(path).exists():
        return  # the header may be half written; the database puts it right first
    version, application = (int.from_bytes(head[at : at + 4], "big") for at in (60, 68))
    if application != APPLICATION_ID:
        raise InputError(_no_record(path))
    if version > VERSION:
        raise InputError(_newer(path, version))


def _no_record(path: Path) -> str:
    return f"{path}: is no record of a workshop; it was left as it is. Name another with --record"


def _newer(path: Path, version: int) -> str:
    return (
        f"{path}: was written by a newer chainplan (version {version} of its tables, this program "
        f"knows {VERSION}); update the program. The file was left as it is"
    )


def _damaged(path: Path, found: str) -> str:
    said = " ".join(found.split())[:160]
    return (
        f"{path}: is damaged ({said}); it was left as it is. Go back to a copy of it, and hand the "
        "logs over again: what it has already is not taken twice"
    )
