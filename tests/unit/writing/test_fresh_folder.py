"""New files come to stand in a folder all together; what is not ours stays as it was."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import chainplan
from chainplan.errors import InputError
from chainplan.writing import change, fresh_folder, mend_folder
from chainplan.writing.listing import LIST_NAME, read_listing, write_listing
from chainplan.writing.place import find_place

if TYPE_CHECKING:
    from collections.abc import Callable


def write(target: Path, files: dict[str, str]) -> None:
    with fresh_folder(target) as place:
        for name, text in files.items():
            (place / name).parent.mkdir(exist_ok=True)
            (place / name).write_text(text)


def visible(target: Path) -> dict[str, str]:
    return {
        p.relative_to(target).as_posix(): p.read_text()
        for p in target.rglob("*")
        if p.is_file() and p.name != LIST_NAME
    }


def test_a_run_that_fails_leaves_the_previous_folder_whole(tmp_path: Path) -> None:
    """Nothing is touched before all new files are written."""
    target = tmp_path / "job"
    write(target, {"a.txt": "old a", "b.txt": "old b"})
    with pytest.raises(FileNotFoundError):
        write(target, {"a.txt": "new a", "no/such/folder": "fails"})
    assert visible(target) == {"a.txt": "old a", "b.txt": "old b"}
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_files_of_an_earlier_run_that_are_no_longer_written_go(tmp_path: Path) -> None:
    """A seventh page of an order that now has six would mislead; nor does its folder stay."""
    target = tmp_path / "job"
    write(target, {"page-1": "1", "page-2": "2", "charts/cost": "3"})
    write(target, {"page-1": "new"})
    assert visible(target) == {"page-1": "new"}
    assert sorted(p.name for p in target.iterdir()) == [LIST_NAME, "page-1"]
    assert list(read_listing(target)) == ["page-1"]


def test_a_folder_that_is_made_first_stands_at_once(tmp_path: Path) -> None:
    """Parents are made for it, and taken away again if nothing comes of it."""
    target = tmp_path / "a" / "b" / "job"
    with pytest.raises(ZeroDivisionError), fresh_folder(target):
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []
    write(target, {"plan.json": "1"})
    assert visible(target) == {"plan.json": "1"}
    plain = tmp_path / "plain"
    plain.mkdir()
    assert target.stat().st_mode == plain.stat().st_mode


def test_a_file_of_ours_that_the_user_changed_is_kept_under_another_name(tmp_path: Path) -> None:
    """Prices typed into the workbook must survive the next run, and the one after."""
    target = tmp_path / "job"
    write(target, {"plan.xlsx": "1", "cost.svg": "1"})
    (target / "plan.xlsx").write_text("my prices")
    (target / "cost.svg").write_text("my chart")
    write(target, {"plan.xlsx": "2"})
    write(target, {"plan.xlsx": "3"})
    assert visible(target) == {
        "plan.xlsx": "3",
        "plan-your-changes-1.xlsx": "my prices",
        "cost-your-changes-1.svg": "my chart",
    }


def test_an_unchanged_file_is_not_touched(tmp_path: Path) -> None:
    """Whoever follows the folder sees only what is new."""
    target = tmp_path / "job"
    write(target, {"same": "1", "other": "1"})
    before = (target / "same").stat()
    write(target, {"same": "1", "other": "2"})
    assert (target / "same").stat() == before


@pytest.mark.skipif(os.name == "nt", reason="modes, links and pipes as on Unix")
def test_the_user_s_things_stay_as_they_are(tmp_path: Path) -> None:
    """Empty folders, folders by link, broken links, pipes, linked files, and who may open them."""
    target = tmp_path / "job"
    write(target, {"plan.json": "1", "charts/cost": "1"})
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "photo").write_text("a photo")
    (target / "empty").mkdir(mode=0o711)
    (target / "charts" / "mine").mkdir()
    (target / "photos").symlink_to(elsewhere)
    (target / "photo").symlink_to(elsewhere / "photo")
    (target / "broken").symlink_to("nowhere")
    os.mkfifo(target / "pipe", 0o620)
    (target / "log.csv").write_text("mine")
    (target / "twice").hardlink_to(target / "log.csv")
    (target / "plan.json").chmod(0o640)
    target.chmod(0o2770)
    mine = [*(target / n for n in ("empty", "photos", "photo", "broken", "pipe")), target]
    mine += [target / "charts" / "mine", target / "log.csv", target / "twice", elsewhere / "photo"]

    def states() -> list[tuple[int, ...]]:
        found = [path.lstat() for path in mine]
        return [(s.st_ino, s.st_mode, s.st_uid, s.st_gid, s.st_nlink) for s in found]

    before = states()
    write(target, {"plan.json": "2", "joins.pdf": "2"})
    assert states() == before
    assert (target / "plan.json").read_text() == "2"
    assert stat.S_IMODE((target / "plan.json").stat().st_mode) == 0o640
    assert not (target / "charts" / "cost").exists()


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_target_that_is_a_link_is_written_where_it_leads(tmp_path: Path) -> None:
    """The link stays a link, also where the folder that it leads to is still to be made."""
    real, link = tmp_path / "drive" / "real", tmp_path / "link"
    link.symlink_to(real)
    write(link, {"plan.json": "1"})
    write(link, {"plan.json": "2"})
    assert link.is_symlink()
    assert visible(real) == {"plan.json": "2"}
    assert sorted(p.name for p in tmp_path.iterdir()) == ["drive", "link"]
    assert [p.name for p in (tmp_path / "drive").iterdir()] == ["real"]


@pytest.mark.parametrize("name", ["z*", "[ab]", "a?", "-x", "ü ring", "x" * 255])
def test_an_odd_name_is_a_name_and_not_a_pattern(tmp_path: Path, name: str) -> None:
    """What another folder's run has left is not ours to clear away."""
    others = [tmp_path / f".{n}.chainplan-change" for n in ("zz", "a", "b", "ax")]
    for other in others:
        (other / "new").mkdir(parents=True)
        (other / "new" / "plan.json").write_text("1")
    write(tmp_path / name, {"plan.json": "1"})
    write(tmp_path / name, {"plan.json": "2"})
    assert visible(tmp_path / name) == {"plan.json": "2"}
    assert all((other / "new" / "plan.json").exists() for other in others)
    assert len(list(tmp_path.iterdir())) == len(others) + 1


@pytest.mark.parametrize(
    ("name", "kind"),
    [("plan.json", "file"), ("plan.json", "folder"), ("charts", "file"), ("charts", "link")],
)
def test_what_is_not_ours_is_never_replaced(tmp_path: Path, name: str, kind: str) -> None:
    """A file, folder or link of the user's where one of ours goes is named, and all stays."""
    target = tmp_path / "job"
    write(target, {"rings.csv": "1"})
    (tmp_path / "elsewhere").mkdir()
    if kind == "file":
        (target / name).write_text("mine")
    elif kind == "folder":
        (target / name).mkdir()
    else:
        (target / name).symlink_to(tmp_path / "elsewhere")
    before = (target / name).lstat()
    with pytest.raises(InputError) as told:
        write(target, {"rings.csv": "2", "plan.json": "2", "charts/cost": "2"})
    assert [fault.where for fault in told.value.faults] == [str(target / name)]
    assert (target / name).lstat() == before
    assert (target / "rings.csv").read_text() == "1"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["elsewhere", "job"]


def test_a_folder_put_in_the_place_of_ours_by_a_link_is_not_emptied(tmp_path: Path) -> None:
    """The names in our list are ours only in a folder of ours."""
    target = tmp_path / "job"
    write(target, {"plan.json": "1", "charts/cost": "1"})
    (target / "charts").rename(tmp_path / "charts")
    (target / "charts").symlink_to(tmp_path / "charts")
    write(target, {"plan.json": "2"})
    assert (tmp_path / "charts" / "cost").read_text() == "1"
    assert (target / "charts").is_symlink()


def test_a_list_with_names_outside_the_folder_removes_nothing_there(tmp_path: Path) -> None:
    """The list may come from anywhere."""
    target = tmp_path / "job"
    write(target, {"plan.json": "1"})
    (tmp_path / "mine").write_text("mine")
    digest = read_listing(target)["plan.json"]
    (target / LIST_NAME).write_text(f'{{"../mine": "{digest}", "{tmp_path}/mine": "{digest}"}}')
    assert read_listing(target) == {}
    (target / LIST_NAME).write_text("[1")
    assert read_listing(target) == {}


@pytest.mark.parametrize("held", ["a.txt", "b/c.txt", "gone.txt", LIST_NAME])
def test_a_file_that_another_program_holds_stops_the_change_with_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, held: str
) -> None:
    """As an office program does on Windows; everything stands then as it stood."""
    target = tmp_path / "job"
    write(target, {"a.txt": "1", "b/c.txt": "1", "gone.txt": "1", "d/only.txt": "1"})
    (target / "a.txt").write_text("mine") if held == "b/c.txt" else None
    before, listed = visible(target), read_listing(target)
    replace = Path.replace

    def replace_unless_held(path: Path, to: Path) -> Path:
        if target / held in (path, Path(to)):
            raise PermissionError(13, "the file is in use")
        return replace(path, to)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", replace_unless_held)
        with pytest.raises(InputError, match=held) as told:
            write(target, {"a.txt": "2", "b/c.txt": "2", "new/e.txt": "2"})
    assert "as it was" in str(told.value)
    assert visible(target) == before
    assert read_listing(target) == listed
    assert not (target / "new").exists()
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_a_change_that_can_neither_end_nor_be_taken_back_is_mended_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The note stays in the folder as long as files of two plans stand there."""
    target = tmp_path / "job"
    write(target, {"a.txt": "1", "b.txt": "1"})
    put = change._put

    def stop(work: Path, folder: Path, planned: change.Change, name: str) -> None:
        if name == "b.txt":
            raise PermissionError(13, "the file is in use")
        put(work, folder, planned, name)

    def held(*_: object) -> None:
        raise PermissionError(13, "the file is in use")

    with monkeypatch.context() as patched:
        patched.setattr(change, "_put", stop)
        patched.setattr(change, "_put_back", held)
        with pytest.raises(InputError, match="two plans"):
            write(target, {"a.txt": "2", "b.txt": "2"})
    assert (target / change.NOTE_NAME).read_text() == change.NOTE
    mend_folder(target)
    assert visible(target) == {"a.txt": "1", "b.txt": "1"}
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_ctrl_c_during_the_change_takes_it_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even when it is pressed again while the files are put back."""
    target = tmp_path / "job"
    write(target, {"a.txt": "1", "b.txt": "1"})
    undo, presses = change.undo, iter(range(3))

    def press(*_: object) -> None:
        raise KeyboardInterrupt

    def undo_under_presses(*args: object) -> None:
        if next(presses, None) is not None:
            raise KeyboardInterrupt
        undo(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(change, "_remove_old", press)
    monkeypatch.setattr(change, "undo", undo_under_presses)
    with pytest.raises(KeyboardInterrupt):
        write(target, {"a.txt": "2", "b.txt": "2"})
    assert visible(target) == {"a.txt": "1", "b.txt": "1"}
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_disks_without_hard_links_are_changed_by_moving(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Memory cards and some network drives know none."""
    target = tmp_path / "job"
    write(target, {"a.txt": "1"})

    def no_links(*_: object) -> None:
        raise OSError(1, "no links here")

    monkeypatch.setattr(Path, "hardlink_to", no_links)
    write(target, {"a.txt": "2"})
    assert visible(target) == {"a.txt": "2"}


def test_a_folder_moved_away_in_the_middle_is_left_alone(tmp_path: Path) -> None:
    """The journal of a change whose folder is gone is forgotten."""
    target = tmp_path / "job"
    write(target, {"a.txt": "1"})
    work = tmp_path / ".job.chainplan-change"
    (work / "new").mkdir(parents=True)
    change.begin(work, change.Change({}, {"a.txt": "0"}, {}, [], {}))
    target.rename(tmp_path / "moved")
    write(target, {"a.txt": "2"})
    assert visible(target) == {"a.txt": "2"}
    assert visible(tmp_path / "moved") == {"a.txt": "1"}
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job", "moved"]


@pytest.mark.parametrize(
    "read",
    [
        lambda folder: chainplan.check_order("job.toml", folder / "weld-order.csv"),
        lambda folder: chainplan.progress(folder),
        lambda folder: chainplan.record_logs([], folder),
        lambda folder: chainplan.replan(folder, record=folder.parent / "none.sqlite"),
    ],
    ids=["check_order", "progress", "record_logs", "replan"],
)
def test_whoever_reads_a_folder_mends_it_first(
    tmp_path: Path, read: Callable[[Path], None]
) -> None:
    """A run killed during the change is finished before anything is read."""
    target = tmp_path / "job"
    write(target, {"a.txt": "1"})
    place = find_place(target)
    new = place.work / "new"
    new.mkdir(parents=True)
    (new / "a.txt").write_text("2")
    write_listing(new)
    planned = change.plan_change(place, new)
    change.begin(place.work, planned)
    with pytest.raises(InputError):  # There is no job, nor a plan in the folder.
        read(target)
    assert visible(target) == {"a.txt": "2"}
    assert not place.work.exists()
