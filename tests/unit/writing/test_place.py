"""Where a plan can stand is found out before planning, with one clear message where it cannot."""

from __future__ import annotations

import errno
import os
import shutil
from collections import namedtuple
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import chainplan
from chainplan.errors import InputError
from chainplan.report import FILES
from chainplan.writing import check_folder, fresh_folder, names, place

Usage = namedtuple("Usage", ["total", "used", "free"])


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("/", "top of the disk"),
        ("file", "is a file"),
        ("file/below", "cannot be written"),
        ("loop", "cannot be written"),
        ("x" * 300, "cannot be written"),
        ("caf\udce9", "no letter"),
        ("a\0b", "no letter"),
    ],
)
def test_a_place_that_cannot_be_is_refused_with_the_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, said: str
) -> None:
    """And nothing is made or changed there."""
    monkeypatch.chdir(tmp_path)
    Path("file").write_text("precious")
    Path("loop").symlink_to("loop")
    for use in (check_folder, lambda folder: fresh_folder(folder).__enter__()):
        with pytest.raises(InputError, match=said):
            use(name)
    assert Path("file").read_text() == "precious"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "loop"]


@pytest.mark.parametrize("name", [".", "..", "", "./", "../inner"])
def test_the_folder_that_one_is_in_can_be_written_into(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Only files of ours are touched, so it is no worse than any other."""
    inner = tmp_path / "outer" / "inner"
    inner.mkdir(parents=True)
    (inner / "mine").write_text("mine")
    monkeypatch.chdir(inner)
    check_folder(name)
    with fresh_folder(name) as new:
        (new / "plan.json").write_text("1")
    assert (Path(name) / "plan.json").read_text() == "1"
    assert (inner / "mine").read_text() == "mine"
    assert [p.name for p in tmp_path.iterdir()] == ["outer"]
    assert [p.name for p in (tmp_path / "outer").iterdir() if p.name.startswith(".job")] == []


def test_the_check_leaves_nothing_behind(tmp_path: Path) -> None:
    """Neither in a folder that is there nor where one is still to be made."""
    check_folder(tmp_path / "a" / "b")
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "there").mkdir()
    check_folder(tmp_path / "there", ["plan.json", "charts/"])
    assert [p.name for p in tmp_path.rglob("*")] == ["there"]


def test_everything_in_the_way_is_told_at_once(tmp_path: Path) -> None:
    """A folder called plan.json, and a file called charts."""
    (tmp_path / "plan.json").mkdir()
    (tmp_path / "charts").write_text("mine")
    (tmp_path / "rings.csv").write_text("mine")
    with pytest.raises(InputError) as told:
        check_folder(tmp_path, FILES)
    where = {Path(fault.where).name for fault in told.value.faults}
    assert where == {"plan.json", "charts", "rings.csv"}


def test_a_full_disk_is_told_before_planning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With how much is free and how much may be needed."""
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(1e9, 1e9, 1.2e6))
    with pytest.raises(InputError, match="1 MB are free"):
        check_folder(tmp_path / "job")
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fills_up_while_writing_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    """The new files were never in it."""
    with fresh_folder(tmp_path / "job") as new:
        (new / "a").write_text("1")

    def write_until_full() -> None:
        with fresh_folder(tmp_path / "job") as new:
            (new / "a").write_text("2")
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(InputError, match="No space"):
        write_until_full()
    assert (tmp_path / "job" / "a").read_text() == "1"
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_another_error_of_the_system_is_no_fault_of_the_disk(tmp_path: Path) -> None:
    """A file of ours that is missing, say, is a fault of ours and not told as the user's."""
    with pytest.raises(FileNotFoundError), fresh_folder(tmp_path / "job") as new:
        (new / "absent").read_text()


@pytest.mark.parametrize("closed", ["the folder", "the one above"])
def test_a_closed_folder_is_refused_unless_it_can_be_worked_in_from_inside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, closed: str
) -> None:
    """Where the folder above is closed to us, the work goes on inside the folder itself."""
    target = tmp_path / "job"
    target.mkdir()
    if closed == "the folder":

        def no_file(**_: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(place.tempfile, "TemporaryFile", no_file)
        with pytest.raises(InputError, match="Permission denied"):
            check_folder(target)
        return
    monkeypatch.setattr(place.os, "access", lambda path, _: Path(path) != tmp_path)
    with fresh_folder(target) as new:
        assert new.is_relative_to(target)
        (new / "a").write_text("1")
    with fresh_folder(target) as new:
        (new / "a").write_text("2")
    assert (target / "a").read_text() == "2"
    assert not (target / place.INSIDE_NAME).exists()


def test_the_names_to_be_written_are_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the language setting knows no letters beyond ASCII, files cannot be called Kätchen."""
    encode = os.fsencode

    def ascii_only(name: object) -> bytes:
        str(name).encode("ascii")
        return encode(str(name))

    monkeypatch.setattr(place.os, "fsencode", ascii_only)
    with pytest.raises(InputError, match="UTF-8"):
        check_folder(tmp_path, ["charts/Kätchen"])
    with pytest.raises(InputError, match=r"K\\xe4tchen"):
        check_folder(tmp_path / "Kätchen")


def test_the_public_check_knows_what_a_plan_writes(tmp_path: Path, samples: Path) -> None:
    """The file that stands in the way is named before minutes of planning."""
    job = chainplan.read_job(samples / "necklace.toml")
    chainplan.check_folder(tmp_path / "job", job)
    (tmp_path / "weld-order.pdf").write_text("mine")
    with pytest.raises(InputError, match=r"weld-order\.pdf"):
        chainplan.check_folder(tmp_path, job)


@given(st.text(max_size=120))
def test_a_safe_name_never_leaves_its_folder(name: str) -> None:
    """Whatever the user calls a job, it is one plain folder name."""
    safe = names.safe_name(name)
    assert safe
    assert not set(safe) & set('/\\:*?"<>|=\0\n')
    assert not safe.startswith((".", "-"))
    assert (Path("output") / safe).parent == Path("output")
    assert names.safe_name(safe) == safe
