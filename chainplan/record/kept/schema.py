"""The record's tables, as SQL: documented for whoever reads the file with another tool.

``plan``, ``plan_piece``, ``plan_section``, ``plan_join``, ``plan_station``, ``plan_turn``,
``plan_task`` (the schedule) and ``plan_setting`` keep what a plan promised: enough to count joins
and compare times when its folder is gone. ``event`` holds what really happened, one row an event.
Nothing is ever changed or taken out; a mistake is taken back by an event of kind ``undo`` that
names the other's id. The views ``event_now`` (events not taken back), ``join_now`` (the last state
of every join that was touched) and ``piece_now`` (joins done and not good by copy) answer the usual
questions in one line.

Times: ``at`` as it was told, with its offset from UTC, ``at_s`` the same in seconds since 1970 UTC.
Units stand in the names. Copies, rings and steps count from 1. Text that is not there is '',
numbers that are not there are NULL. Integers ``application_id`` and ``user_version`` of the file's
header say that it is a workshop's record, and which version of these tables it holds.
"""

from __future__ import annotations

from chainplan.model.workshop.record import EVENT_KINDS, JOIN_STATE_KINDS

APPLICATION_ID = int.from_bytes(b"chpl", "big")
"""Says in the header of the file that it is a workshop's record."""

_KINDS = ", ".join(f"'{kind}'" for kind in EVENT_KINDS)
_STATES = ", ".join(f"'{kind}'" for kind in JOIN_STATE_KINDS)
_TEXTS = ("piece", "person", "station", "note", "metal", "lot", "what")
"""Fields that are '' when they are not there; the others are NULL."""


def _needs(kind: str, names: tuple[str, ...]) -> str:
    """Check that a kind has what it cannot do without."""
    there = (f"{name} <> ''" if name in _TEXTS else f"{name} IS NOT NULL" for name in names)
    return f"CHECK (kind <> '{kind}' OR ({' AND '.join(there)}))"


_NEEDS = ", ".join(_needs(kind, spec.needs) for kind, spec in EVENT_KINDS.items() if spec.needs)

EVENT_COLUMNS = (
    "id", "kind", "at", "at_s", "plan", "piece", "copy", "ring", "person", "work_s", "waited_s",
    "station", "minutes", "power_j", "hits", "tip", "bar", "metal", "wire_mm", "mandrel_mm", "lot",
    "what", "value", "note", "undoes", "source",
)  # fmt: skip
"""Columns of ``event`` behind ``seq``, as the fields of an event."""

_TELLING = (
    "kind", "at_s", "piece", "copy", "ring", "station", "minutes", "bar", "lot", "what",
    "value", "undoes",
)  # fmt: skip
"""What two rows of one id must agree in to be the same event."""
_SAME = " AND ".join(f"{name} IS NEW.{name}" for name in _TELLING)
_KEPT_TABLES = (
    "plan", "plan_piece", "plan_section", "plan_join", "plan_station", "plan_turn", "plan_setting",
    "event",
)  # fmt: skip


def _append_only(table: str) -> tuple[str, str]:
    refuse = f"SELECT RAISE(ABORT, 'the record is append-only: {table}')"
    return (
        f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} BEGIN {refuse}; END",
        f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} BEGIN {refuse}; END",
    )


def _no_second(table: str, keys: tuple[str, ...]) -> str:
    """Refuse a row whose key is there, before INSERT OR REPLACE could take the old one out."""
    same = " AND ".join(f"{key} = NEW.{key}" for key in keys)
    return (
        f"CREATE TRIGGER {table}_no_second BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) "
        f"BEGIN SELECT RAISE(ABORT, 'the record is append-only: {table}'); END"
    )


_FIRST = (
    """CREATE TABLE plan (
  key TEXT PRIMARY KEY CHECK (length(key) = 16),  -- hash of stamp and order
  mark TEXT NOT NULL CHECK (length(mark) = 12),   -- of the input, as bench logs have it
  stamp TEXT NOT NULL, job TEXT NOT NULL, currency TEXT NOT NULL,
  follows TEXT REFERENCES plan (key),             -- the plan that it replaced
  root TEXT NOT NULL REFERENCES plan (key)        -- the first plan of the same work
) STRICT""",
    """CREATE TABLE plan_piece (
  plan TEXT NOT NULL REFERENCES plan (key), number INTEGER NOT NULL, name TEXT NOT NULL,
  copies INTEGER NOT NULL, rings INTEGER NOT NULL, joins INTEGER NOT NULL,
  PRIMARY KEY (plan, number)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE plan_section (
  plan TEXT NOT NULL, piece INTEGER NOT NULL, number INTEGER NOT NULL, weave TEXT NOT NULL,
  metal TEXT NOT NULL, wire_mm REAL NOT NULL, inner_mm REAL NOT NULL, mandrel_mm REAL,
  rings INTEGER NOT NULL, links INTEGER NOT NULL,
  PRIMARY KEY (plan, piece, number), FOREIGN KEY (plan, piece) REFERENCES plan_piece (plan, number)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE plan_join (
  plan TEXT NOT NULL, piece INTEGER NOT NULL, step INTEGER NOT NULL, ring INTEGER NOT NULL,
  pass INTEGER NOT NULL, section INTEGER NOT NULL, power_j REAL NOT NULL, hits INTEGER NOT NULL,
  tip TEXT NOT NULL,
  pace_s REAL NOT NULL,                           -- planned seconds without the wait
  wait_s REAL NOT NULL,                           -- planned wait before it
  PRIMARY KEY (plan, piece, step), FOREIGN KEY (plan, piece) REFERENCES plan_piece (plan, number)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE plan_station (
  plan TEXT NOT NULL, piece INTEGER NOT NULL, station TEXT NOT NULL, minutes REAL NOT NULL,
  PRIMARY KEY (plan, piece, station),
  FOREIGN KEY (plan, piece) REFERENCES plan_piece (plan, number)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE plan_turn (
  plan TEXT NOT NULL REFERENCES plan (key), number INTEGER NOT NULL, piece TEXT NOT NULL,
  copy INTEGER NOT NULL, first_step INTEGER NOT NULL, steps INTEGER NOT NULL,
  PRIMARY KEY (plan, number)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE plan_setting (
  plan TEXT NOT NULL REFERENCES plan (key), name TEXT NOT NULL,
  value TEXT NOT NULL,                            -- JSON
  PRIMARY KEY (plan, name)
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE event (
  seq INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
  kind TEXT NOT NULL CHECK (kind IN ({_KINDS})),
  at TEXT NOT NULL, at_s REAL NOT NULL,
  plan TEXT REFERENCES plan (key),
  piece TEXT NOT NULL, copy INTEGER CHECK (copy >= 1), ring INTEGER CHECK (ring >= 1),
  person TEXT NOT NULL, work_s REAL CHECK (work_s >= 0), waited_s REAL CHECK (waited_s >= 0),
  station TEXT NOT NULL, minutes REAL CHECK (minutes >= 0),
  power_j REAL CHECK (power_j > 0), hits INTEGER CHECK (hits >= 1), tip TEXT NOT NULL,
  bar REAL CHECK (bar >= 0), metal TEXT NOT NULL, wire_mm REAL CHECK (wire_mm > 0),
  mandrel_mm REAL CHECK (mandrel_mm > 0), lot TEXT NOT NULL, what TEXT NOT NULL, value REAL,
  note TEXT NOT NULL, undoes TEXT REFERENCES event (id), source TEXT NOT NULL,
  CHECK (kind = 'undo' OR undoes IS NULL), {_NEEDS}
) STRICT""",
    "CREATE INDEX event_undoes ON event (undoes) WHERE undoes IS NOT NULL",
    f"""CREATE TRIGGER event_same_id BEFORE INSERT ON event
WHEN EXISTS (SELECT 1 FROM event WHERE id = NEW.id OR seq = NEW.seq)
BEGIN SELECT CASE WHEN EXISTS (SELECT 1 FROM event WHERE id = NEW.id AND {_SAME})
THEN RAISE(IGNORE) ELSE RAISE(ABORT, 'this id already names another event') END; END""",
    """CREATE TRIGGER event_undo_once BEFORE INSERT ON event WHEN NEW.kind = 'undo'
AND NOT EXISTS (SELECT 1 FROM event WHERE id = NEW.id)
AND EXISTS (SELECT 1 FROM event WHERE id = NEW.undoes AND kind = 'undo')
BEGIN SELECT RAISE(ABORT, 'an undo is not taken back: tell what happened anew'); END""",
    _no_second("plan", ("key",)),
    _no_second("plan_piece", ("plan", "number")),
    _no_second("plan_section", ("plan", "piece", "number")),
    _no_second("plan_join", ("plan", "piece", "step")),
    _no_second("plan_station", ("plan", "piece", "station")),
    _no_second("plan_turn", ("plan", "number")),
    _no_second("plan_setting", ("plan", "name")),
    *(statement for table in _KEPT_TABLES for statement in _append_only(table)),
)

_VIEWS = (
    """CREATE VIEW event_now AS SELECT * FROM event AS e WHERE kind <> 'undo'
AND NOT EXISTS (SELECT 1 FROM event AS u WHERE u.undoes = e.id)""",
    f"""CREATE VIEW join_now AS SELECT job, root, piece, copy, ring, kind AS state, at, person, plan
FROM (SELECT e.*, p.job, p.root, row_number() OVER (
  PARTITION BY p.root, e.piece, e.copy, e.ring ORDER BY e.at_s DESC, e.seq DESC) AS age
  FROM event_now AS e JOIN plan AS p ON p.key = e.plan WHERE e.kind IN ({_STATES}))
WHERE age = 1""",
    """CREATE VIEW piece_now AS SELECT job, root, piece, copy, sum(state = 'done') AS done,
sum(state IN ('again', 'broken', 'opened', 'bad')) AS not_good
FROM join_now GROUP BY root, piece, copy""",
)

_METALS = (
    # where the rings of a section are of several metals; '': the section's own
    "ALTER TABLE plan_join ADD COLUMN metal TEXT NOT NULL DEFAULT ''",
    """CREATE TABLE plan_task (
  plan TEXT NOT NULL REFERENCES plan (key), number INTEGER NOT NULL, piece TEXT NOT NULL,
  copy INTEGER NOT NULL, copies INTEGER NOT NULL,  -- the first one and how many
  station TEXT NOT NULL, person TEXT NOT NULL,     -- '' where it runs unattended
  machine TEXT NOT NULL, start TEXT NOT NULL, "end" TEXT NOT NULL, work_s REAL NOT NULL,
  first_step INTEGER NOT NULL, steps INTEGER NOT NULL,
  PRIMARY KEY (plan, number)
) STRICT, WITHOUT ROWID""",
    _no_second("plan_task", ("plan", "number")),
    *_append_only("plan_task"),
)

MIGRATIONS: tuple[tuple[str, ...], ...] = (_FIRST, _VIEWS, _METALS)
"""Statements that lead from each version of the tables to the next; the file's is ``user_version``.

A published step is never changed: what is new comes as a further step, with a test that brings a
file of the step before up to date.
"""

VERSION = len(MIGRATIONS)
