"""The folder of kept results: where it is, what it costs, what damage does to it."""

from __future__ import annotations

import multiprocessing
import os
from pathlib import Path

import pytest

from chainplan.store import ResultShelf, default_folder, key_of


def test_what_was_put_is_found(shelf: ResultShelf) -> None:
    """And nothing is found before."""
    assert shelf.get(key_of("a")) is None
    shelf.put(key_of("a"), (1, 2))
    assert shelf.get(key_of("a")) == (1, 2)
    assert shelf.get(key_of("b")) is None


def test_a_damaged_file_is_as_if_it_were_not_there(shelf: ResultShelf) -> None:
    """Cut off, overwritten, a folder in its place: the next result is simply kept anew."""
    key = key_of("a")
    shelf.put(key, (1, 2))
    (path,) = shelf.folder.rglob("*.kept")
    for broken in (b"", path.read_bytes()[:-3], b"\0" * 500):
        path.write_bytes(broken)
        assert shelf.get(key) is None
    shelf.put(key, (3,))
    assert shelf.get(key) == (3,)


def test_a_folder_that_cannot_be_written_stops_nothing(tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "file").write_text("here already")
    shelf = ResultShelf(folder=tmp_path / "file" / "shelf")
    shelf.put(key_of("a"), 1)
    assert shelf.get(key_of("a")) is None
    shelf.tidy()


def test_what_was_not_used_for_longest_goes_first(tmp_path: Path) -> None:
    """Until four fifths of the limit are left."""
    shelf = ResultShelf(folder=tmp_path, most_bytes=3000)
    keys = [key_of(number) for number in range(8)]
    for number, key in enumerate(keys):
        shelf.put(key, "x" * 400)
        os.utime(shelf._path(key), (number, number))
    assert shelf.get(keys[0]) is not None  # used again, so it is the youngest now
    shelf.tidy()
    left = [key for key in keys if shelf.get(key) is not None]
    assert keys[0] in left
    assert keys[1] not in left
    assert left[1:] == keys[-len(left) + 1 :]
    assert sum(path.stat().st_size for path in tmp_path.rglob("*.kept")) <= 2400


def test_what_was_used_since_a_moment_is_forgotten(shelf: ResultShelf) -> None:
    """What was kept or taken after it; what lay there untouched stays."""
    for name in "abc":
        shelf.put(key_of(name), name)
    for path in shelf.folder.rglob("*.kept"):
        os.utime(path, (1000.0, 1000.0))
    shelf.get(key_of("b"))
    shelf.put(key_of("c"), "again")
    shelf.forget(2000.0)
    assert [shelf.get(key_of(name)) for name in "abc"] == ["a", None, None]


def test_a_large_result_is_not_kept(tmp_path: Path) -> None:
    """It would push out all others."""
    shelf = ResultShelf(folder=tmp_path, most_of_one=1000)
    shelf.put(key_of("a"), "x" * 2000)
    assert shelf.get(key_of("a")) is None


@pytest.mark.parametrize(
    ("system", "variables", "expected"),
    [
        ("linux", {"XDG_CACHE_HOME": "/kept"}, "/kept/chainplan"),
        (
            "linux",
            {"XDG_CACHE_HOME": "not/absolute", "HOME": "/home/a"},
            "/home/a/.cache/chainplan",
        ),
        ("darwin", {"HOME": "/Users/a"}, "/Users/a/Library/Caches/chainplan"),
        ("win32", {"LOCALAPPDATA": "/local"}, "/local/chainplan/cache"),
        ("linux", {"CHAINPLAN_CACHE": "/mine", "XDG_CACHE_HOME": "/kept"}, "/mine"),
    ],
)
def test_it_stands_where_the_system_keeps_such_things(
    system: str, variables: dict[str, str], expected: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By each system's own convention, or where the user says."""
    for name in ("CHAINPLAN_CACHE", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("sys.platform", system)
    assert default_folder() == Path(expected)


def _put_and_get(folder: str, number: int) -> bool:
    shelf = ResultShelf(folder=Path(folder), most_bytes=30_000)
    good = True
    for turn in range(60):
        key = key_of(turn % 7)
        value = (turn % 7, "x" * 2000)
        shelf.put(key, value)
        found = shelf.get(key)
        good = good and found in (None, value)
        if turn % 10 == number:
            shelf.tidy()
    return good


def test_several_runs_at_once(tmp_path: Path) -> None:
    """They write, read and tidy the same files; each finds what is right, or nothing."""
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        found = pool.starmap(_put_and_get, [(str(tmp_path), number) for number in range(4)])
    assert all(found)
    assert not list(tmp_path.rglob("*.part"))
