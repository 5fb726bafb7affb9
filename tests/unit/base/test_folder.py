"""A folder is replaced whole or not at all, and nothing of the user's is lost."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan import folder
from chainplan.errors import InputError


def write(target: Path, files: dict[str, str]) -> None:
    with folder.fresh_folder(target) as place:
        for name, text in files.items():
            (place / name).write_text(text)


def visible(target: Path) -> dict[str, str]:
    return {p.name: p.read_text() for p in target.iterdir() if not p.name.startswith(".")}


def test_a_run_that_fails_leaves_the_previous_folder_whole(tmp_path: Path) -> None:
    """The new files are seen all together or not at all."""
    target = tmp_path / "job"
    write(target, {"a.txt": "old a", "b.txt": "old b"})
    with pytest.raises(FileNotFoundError):
        write(target, {"a.txt": "new a", "no-such-folder/b.txt": "fails"})
    assert visible(target) == {"a.txt": "old a", "b.txt": "old b"}
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_files_of_an_earlier_run_that_are_no_longer_written_go(tmp_path: Path) -> None:
    """A seventh page of an order that now has six would mislead."""
    target = tmp_path / "job"
    write(target, {"page-1": "1", "page-2": "2"})
    write(target, {"page-1": "new"})
    assert visible(target) == {"page-1": "new"}


def test_a_file_that_the_user_put_there_stays(tmp_path: Path) -> None:
    """The exported bench log may lie in the output folder."""
    target = tmp_path / "job"
    write(target, {"plan.json": "1"})
    (target / "log.csv").write_text("mine")
    write(target, {"plan.json": "2"})
    assert visible(target) == {"plan.json": "2", "log.csv": "mine"}


def test_a_file_of_ours_that_the_user_changed_is_kept_under_another_name(tmp_path: Path) -> None:
    """Prices typed into the workbook must survive the next run, and the one after."""
    target = tmp_path / "job"
    write(target, {"plan.xlsx": "1"})
    (target / "plan.xlsx").write_text("my prices")
    write(target, {"plan.xlsx": "2"})
    write(target, {"plan.xlsx": "3"})
    assert visible(target) == {"plan.xlsx": "3", "plan-your-changes-1.xlsx": "my prices"}


@pytest.mark.parametrize("killed_between", [True, False])
def test_without_an_exchange_in_one_step_the_next_run_mends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, killed_between: bool
) -> None:
    """Where the system has no exchange, two renames do it, and a kill between them is mended."""
    monkeypatch.setattr(folder, "_exchange", lambda *_: False)
    target = tmp_path / "job"
    write(target, {"a": "old"})
    write(target, {"a": "newer"})
    assert visible(target) == {"a": "newer"}
    if killed_between:
        target.rename(tmp_path / ".job.previous")
    write(target, {"b": "newest"})
    assert visible(target) == {"b": "newest"}
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_what_a_killed_run_left_an_hour_ago_is_cleared_away(tmp_path: Path) -> None:
    """Half-written folders must not pile up; one that may still be in use is left alone."""
    old, new = tmp_path / ".job.new-old", tmp_path / ".job.new-busy"
    old.mkdir()
    new.mkdir()
    long_ago = time.time() - 2 * folder.STALE_S
    os.utime(old, (long_ago, long_ago))
    write(tmp_path / "job", {"a": "1"})
    assert not old.exists()
    assert new.exists()


def test_a_file_where_the_folder_should_be_is_refused(tmp_path: Path) -> None:
    """Nothing is overwritten that is not a folder of output."""
    (tmp_path / "job").write_text("precious")
    with pytest.raises(InputError, match="is a file"):
        write(tmp_path / "job", {"a": "1"})
    assert (tmp_path / "job").read_text() == "precious"


@given(st.text(max_size=120))
def test_a_safe_name_never_leaves_its_folder(name: str) -> None:
    """Whatever the user calls a job, it is one plain folder name."""
    safe = folder.safe_name(name)
    assert safe
    assert not set(safe) & set('/\\:*?"<>|=\0\n')
    assert not safe.startswith((".", "-"))
    assert (Path("output") / safe).parent == Path("output")
    assert folder.safe_name(safe) == safe
