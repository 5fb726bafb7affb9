"""The record's file: nothing is lost, changed or taken twice, and nothing else is touched."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from chainplan.errors import InputError
from chainplan.model.workshop.record import EVENT_KINDS, Event
from chainplan.record.kept import schema
from chainplan.record.kept.schema import APPLICATION_ID, EVENT_COLUMNS, MIGRATIONS, VERSION
from chainplan.record.kept.store import Record
from chainplan.record.reading.plan_folder import read_plan_folder

if TYPE_CHECKING:
    from pathlib import Path


def event(number: int, kind: str = "note", **more: object) -> Event:
    values = {"note": "n", **more} if kind == "note" else more
    identity = f"00000000-0000-0000-0000-{number:012d}"
    return Event(id=identity, kind=kind, at="2027-01-11T09:00:00+01:00", at_s=1.8e9 + number,
                 **values)  # type: ignore[arg-type]  # fmt: skip


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "workshop.sqlite"


def test_recording_twice_changes_nothing(path: Path) -> None:
    events = [event(1), event(2), event(3)]
    with Record(path) as record:
        assert record.add(events) == 3
        assert record.add(events) == 0
        assert record.events() == events
    with Record(path) as record:
        assert record.add([event(2), event(4)]) == 1
        assert len(record.events()) == 4


def test_an_id_that_names_another_event_is_refused_and_takes_all_back(path: Path) -> None:
    with Record(path) as record:
        record.add([event(1)])
        with pytest.raises(InputError, match="this id already names another event"):
            record.add([event(5), event(1, "cylinder", bar=100.0)])
        assert record.events() == [event(1)]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET note = 'x'",
        "DELETE FROM event",
        "INSERT OR REPLACE INTO event (seq, id, kind, at, at_s, piece, person, station, tip, metal,"
        " lot, what, note, source) VALUES (1, '99999999-0000-0000-0000-000000000001', 'note', '',"
        " 0, '', '', '', '', '', '', '', 'x', '')",
        "INSERT OR REPLACE INTO event (id, kind, at, at_s, piece, person, station, tip, metal, lot,"
        " what, note, source) VALUES ('00000000-0000-0000-0000-000000000001', 'begins', '',"
        " 0, '', 'x', '', '', '', '', '', 'x', '')",
        "UPDATE plan SET job = 'x'",
        "DELETE FROM plan_join",
        "INSERT OR REPLACE INTO plan SELECT key, mark, stamp, 'x', currency, follows, root"
        " FROM plan",
        "INSERT OR REPLACE INTO plan_join SELECT plan, piece, step, ring + 1, pass, section,"
        " power_j, hits, tip, pace_s, wait_s, metal FROM plan_join",
    ],
)
def test_nothing_recorded_can_be_changed(path: Path, folder: Path, statement: str) -> None:
    """Also from another program with the database's own defaults."""
    with Record(path) as record:
        record.add([event(1)], plan=read_plan_folder(folder))
        before = record.events(), record.rows("SELECT * FROM plan_join")
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as other,
        pytest.raises(sqlite3.IntegrityError, match=r"append-only|another event"),
    ):
        other.execute(statement)
    with Record(path) as record:
        assert (record.events(), record.rows("SELECT * FROM plan_join")) == before


@pytest.mark.parametrize("kind", [kind for kind, spec in EVENT_KINDS.items() if spec.needs])
def test_the_file_itself_refuses_an_event_without_what_it_needs(path: Path, kind: str) -> None:
    with Record(path) as record, pytest.raises(InputError, match="CHECK constraint failed"):
        record.add([Event(id="0" * 36, kind=kind, at="", at_s=0.0)])


def test_an_undo_names_an_event_that_is_there_and_is_no_undo(path: Path) -> None:
    with Record(path) as record:
        record.add([event(1)])
        with pytest.raises(InputError, match="FOREIGN KEY"):
            record.add([event(2, "undo", undoes=event(9).id)])
        record.add([event(3, "undo", undoes=event(1).id)])
        with pytest.raises(InputError, match="an undo is not taken back"):
            record.add([event(4, "undo", undoes=event(3).id)])
        assert record.rows("SELECT count(*) FROM event_now") == [(0,)]


def test_the_header_says_whose_file_it_is(path: Path) -> None:
    with Record(path):
        pass
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
        assert db.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert db.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        tables = db.execute(
            "SELECT name FROM pragma_table_list WHERE type = 'table' AND schema = 'main' "
            "AND NOT strict AND name NOT LIKE 'sqlite_%'"
        ).fetchall()
        assert tables == []


def test_synchronous_and_foreign_keys_are_on(path: Path) -> None:
    with Record(path) as record:
        assert record.rows("PRAGMA synchronous") == [(2,)]
        assert record.rows("PRAGMA foreign_keys") == [(1,)]
        assert record.rows("PRAGMA recursive_triggers") == [(1,)]


@pytest.mark.parametrize("version", range(1, VERSION))
def test_a_file_of_an_earlier_version_is_brought_up_to_date(path: Path, version: int) -> None:
    """Its events are still there, word for word."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        for step in range(version):
            for statement in MIGRATIONS[step]:
                db.execute(statement)
        names = ", ".join(EVENT_COLUMNS)
        marks = ", ".join("?" * len(EVENT_COLUMNS))
        old = event(1)._replace(plan=None)  # type: ignore[arg-type]
        db.execute(f"INSERT INTO event ({names}) VALUES ({marks})", old)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {version}")
    before = path.read_bytes()
    with pytest.raises(InputError, match="earlier chainplan"):
        Record(path, read_only=True)
    assert path.read_bytes() == before
    with Record(path) as record:
        assert record.events() == [event(1)]
        assert record.rows("PRAGMA user_version") == [(VERSION,)]
        assert record.rows("SELECT count(*) FROM piece_now") == [(0,)]


def _foreign(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("CREATE TABLE accounts (a)")


def _newer(path: Path) -> None:
    with Record(path):
        pass
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {VERSION + 1}")


def _filled(path: Path) -> bytes:
    with Record(path) as record:
        record.add([event(k, note="x" * 200) for k in range(1, 400)])
    return path.read_bytes()


def _cut(path: Path) -> None:
    data = _filled(path)
    path.write_bytes(data[: len(data) // 2])


def _spoilt(path: Path) -> None:
    data = bytearray(_filled(path))
    data[8192:49152] = b"\xa5" * (49152 - 8192)
    path.write_bytes(bytes(data))


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda path: path.write_text("piece,ring\n" * 50), "is no record of a workshop"),
        (_foreign, "is no record of a workshop"),
        (_newer, "newer chainplan"),
        (_cut, "is damaged"),
        (_spoilt, "is damaged"),
    ],
)
@pytest.mark.parametrize("read_only", [True, False])
def test_what_is_no_whole_record_is_told_and_left_alone(
    path: Path, make: object, said: str, read_only: bool
) -> None:
    make(path)  # type: ignore[operator]
    before = path.read_bytes()
    with pytest.raises(InputError, match=said):
        Record(path, read_only=read_only)
    assert path.read_bytes() == before
    assert [item.name for item in path.parent.iterdir()] == [path.name]


def test_a_record_that_is_not_there_is_not_made_by_reading(path: Path) -> None:
    with pytest.raises(InputError, match="there is no record yet"):
        Record(path, read_only=True)
    assert not path.exists()


def test_a_copy_of_an_open_record_is_whole(path: Path, tmp_path: Path) -> None:
    with Record(path) as record:
        record.add([event(1)])
        record.copy_to(tmp_path / "copy.sqlite")
    with Record(tmp_path / "copy.sqlite", read_only=True) as copy:
        assert copy.events() == [event(1)]


def test_every_table_and_column_is_spoken_of_where_the_schema_is_explained() -> None:
    """People query the file with other tools: the page names each table and view."""
    statements = " ".join(statement for step in MIGRATIONS for statement in step)
    for name in re.findall(r"CREATE (?:TABLE|VIEW) (\w+)", statements):
        assert f"``{name}``" in str(schema.__doc__), name
