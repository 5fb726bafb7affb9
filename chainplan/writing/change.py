"""Changes the files of a folder one by one under a journal, so that any end of it can be mended.

The journal says what the change consists of. While it is there the change has begun and has not
ended: whoever comes next finishes or undoes it. Every step looks at the files to see whether it is
done already, so both can be begun again at any point.
"""

from __future__ import annotations

import json
import os
import stat
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.writing.listing import LIST_NAME, digest_of, name_of_changes, read_listing
from chainplan.writing.place import find_obstacles
from chainplan.writing.syncing import sync_file, sync_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.writing.place import OutputPlace

FINISHING, UNDOING = "change.json", "undo.json"
"""Names of the journal; renaming it is what turns a change back, and needs no room on the disk."""
NOTE_NAME = "two-plans-mixed.txt"
NOTE = """chainplan is putting new files into this folder. If this note stays, that was interrupted
and files of two plans stand here side by side. The next 'chainplan plan' into this folder puts
that right before it does anything else; until then trust none of them at the bench.
"""


@dataclass(frozen=True, slots=True)
class Change:
    """What is to become of the files of a folder; names are relative, with forward slashes."""

    before: dict[str, str]
    """Digest of each file of ours that is replaced or removed."""
    after: dict[str, str]
    """Digest of each file that is put; one that is in ``before`` and not here is removed."""
    aside: dict[str, str]
    """Under which name each file of ours that the user changed is kept."""
    made: list[str]
    """Folders that are new, the outer ones first."""
    emptied: dict[str, int]
    """Folders that may be empty afterwards, with their mode, the inner ones first."""

    @property
    def removed(self) -> list[str]:
        """Files that go."""
        return [name for name in self.before if name not in self.after]


class FileHeld(Exception):
    """A file of the folder could not be changed."""

    def __init__(self, name: str, error: OSError) -> None:
        super().__init__(name)
        self.name = name
        self.error = error


def plan_change(place: OutputPlace, new: Path) -> Change:
    """Work out what has to change for the new files to stand in a folder.

    Raises
    ------
    InputError
        Naming everything in the way that is not ours.
    """
    target = place.target
    ours, coming = read_listing(target), read_listing(new)
    if faults := find_obstacles(place, [*coming, NOTE_NAME], ours | {NOTE_NAME: ""}):
        raise InputError(faults=faults)
    before: dict[str, str] = {}
    aside: dict[str, str] = {}
    after: dict[str, str] = {}
    for name in sorted({*ours, *coming}):
        path = target / name
        if _behind_link(target, name):
            continue  # A folder that the user has put in the place of ours; only removals get here.
        found = digest_of(path)
        if found is not None and found == coming.get(name):
            continue
        if name in coming:
            after[name] = coming[name]
        if found is not None and found == ours.get(name):
            before[name] = found
        elif os.path.lexists(path) and not (path.is_dir() and not path.is_symlink()):
            aside[name] = name_of_changes(path).relative_to(target).as_posix()
    list_digest = digest_of(target / LIST_NAME)
    if list_digest is not None:
        before[LIST_NAME] = list_digest
    after[LIST_NAME] = str(digest_of(new / LIST_NAME))
    left = _folders_of([name for name in {*before, *aside} if name not in coming])
    emptied = {
        folder: stat.S_IMODE((target / folder).stat().st_mode)
        for folder in reversed(left)
        if folder not in _folders_of(list(coming))
    }
    made = [folder for folder in _folders_of(list(after)) if not (target / folder).exists()]
    return Change(before, after, aside, made, emptied)


def _folders_of(names: list[str]) -> list[str]:
    """List the folders that some names lie in, the outer ones first."""
    parents = {p.as_posix() for name in names for p in PurePosixPath(name).parents}
    return sorted(parents - {"."}, key=lambda p: (p.count("/"), p))


def _behind_link(target: Path, name: str) -> bool:
    return any((target / folder).is_symlink() for folder in _folders_of([name]))


def begin(work: Path, change: Change) -> None:
    """Write the journal: from now on the change is to be finished or undone."""
    part = work / f"{FINISHING}.part"
    part.write_text(json.dumps(asdict(change)), encoding="utf-8")
    sync_file(part)
    part.replace(work / FINISHING)
    sync_folder(work)


def begun_change(work: Path) -> Change | None:
    """Read the journal, if there is one."""
    for journal in (work / UNDOING, work / FINISHING):
        with suppress(FileNotFoundError):
            return Change(**json.loads(journal.read_text(encoding="utf-8")))
    return None


def is_undoing(work: Path) -> bool:
    """Whether the change was being taken back."""
    return (work / UNDOING).exists()


def forget(work: Path) -> None:
    """Take the journal away: what was begun has ended."""
    (work / UNDOING).unlink(missing_ok=True)
    (work / FINISHING).unlink(missing_ok=True)
    sync_folder(work)


def finish(work: Path, target: Path, change: Change) -> None:
    """Bring a change to its end.

    Raises
    ------
    FileHeld
        Naming the file that could not be changed.
    """
    _write_note(target)
    for folder in change.made:
        (target / folder).mkdir(exist_ok=True)
    for name in sorted(change.after, key=lambda n: (n == LIST_NAME, n)):
        if name == LIST_NAME:
            _remove_old(work, target, change)
        with _naming(name):
            _put(work, target, change, name)
    _end(work, target, change)


def _put(work: Path, target: Path, change: Change, name: str) -> None:
    source, path = work / "new" / name, target / name
    if not source.exists():
        return
    if os.path.lexists(path):
        if _is_known(path, change, name):
            _keep_old(path, work / "old" / name)
            _take_on_rights(source, (work / "old" / name).stat())
        else:
            _set_aside(target, change, name)
    elif not (work / "old" / name).exists():
        _take_on_group(source, path.parent.stat())
    source.replace(path)


def _remove_old(work: Path, target: Path, change: Change) -> None:
    for name in change.removed:
        path = target / name
        if digest_of(path) == change.before[name]:
            with _naming(name):
                kept = work / "old" / name
                kept.parent.mkdir(parents=True, exist_ok=True)
                path.replace(kept)
    for name in change.aside:
        if name not in change.after and os.path.lexists(target / name):
            with _naming(name):
                _set_aside(target, change, name)
    for folder in change.emptied:
        with suppress(OSError):
            (target / folder).rmdir()


def undo(work: Path, target: Path, change: Change) -> None:
    """Take a change back.

    Raises
    ------
    FileHeld
        Naming the file that could not be changed.
    """
    if not is_undoing(work):
        (work / FINISHING).replace(work / UNDOING)
        sync_folder(work)
    _write_note(target)
    for folder, mode in reversed(change.emptied.items()):
        if not (target / folder).exists():
            (target / folder).mkdir()
            (target / folder).chmod(mode)
    for name in {**change.before, **change.after, **change.aside}:
        with _naming(name):
            _put_back(work, target, change, name)
    for folder in reversed(change.made):
        with suppress(OSError):
            (target / folder).rmdir()
    _end(work, target, change)


def _is_known(path: Path, change: Change, name: str) -> bool:
    """Whether a file is the old or the new one, and not something of the user's."""
    found = digest_of(path)
    return found is not None and found in (change.before.get(name), change.after.get(name))


def _put_back(work: Path, target: Path, change: Change, name: str) -> None:
    source, kept, path = work / "new" / name, work / "old" / name, target / name
    found = digest_of(path)
    if found is not None and found == change.before.get(name):
        return  # It was never replaced; the program that holds it would not let us do it again.
    if kept.exists():
        if os.path.lexists(path) and not _is_known(path, change, name):
            path.rename(name_of_changes(path))
        kept.replace(path)
    elif found is not None and found == change.after.get(name) and not source.exists():
        source.parent.mkdir(parents=True, exist_ok=True)
        path.replace(source)
    if name in change.aside:
        changed = target / change.aside[name]
        if os.path.lexists(changed) and not os.path.lexists(path):
            changed.rename(path)


def _end(work: Path, target: Path, change: Change) -> None:
    """Sync everything, take the note away, and last the journal."""
    for folder in ("", *_folders_of([*change.before, *change.after, *change.aside])):
        if (target / folder).is_dir():
            sync_folder(target / folder)
    note = target / NOTE_NAME
    if digest_of(note) is not None and NOTE.encode().startswith(note.read_bytes()):
        note.unlink()
    forget(work)


def _write_note(target: Path) -> None:
    note = target / NOTE_NAME
    if os.path.lexists(note):
        return
    with suppress(OSError):  # On a full disk a change can be taken back without a note.
        note.write_bytes(NOTE.encode())
        _take_on_group(note, target.stat())
        sync_folder(target)


def _set_aside(target: Path, change: Change, name: str) -> None:
    """Keep under another name what the user made of a file of ours."""
    planned = target / change.aside.get(name, name)
    free = name_of_changes(target / name) if os.path.lexists(planned) else planned
    (target / name).rename(free)


def _keep_old(path: Path, kept: Path) -> None:
    """Keep a file that is about to be replaced; readers go on seeing it where disks know links."""
    if kept.exists():
        return
    kept.parent.mkdir(parents=True, exist_ok=True)
    try:
        kept.hardlink_to(path)
    except OSError:
        path.replace(kept)


def _take_on_rights(source: Path, old: os.stat_result) -> None:
    """Give a new file the mode and, where we may, the owner of the one that it replaces."""
    if os.name == "nt":
        return
    ours = source.stat()
    if (ours.st_uid, ours.st_gid) != (old.st_uid, old.st_gid):
        with suppress(PermissionError):
            os.chown(source, old.st_uid, old.st_gid)
        with suppress(PermissionError):
            os.chown(source, -1, old.st_gid)
    source.chmod(stat.S_IMODE(old.st_mode))


def _take_on_group(path: Path, folder: os.stat_result) -> None:
    """Give a new file the group of a folder that hands its group on."""
    if folder.st_mode & stat.S_ISGID and os.name != "nt":
        with suppress(PermissionError):
            os.chown(path, -1, folder.st_gid)


@contextmanager
def _naming(name: str) -> Iterator[None]:
    """Turn an error of the system into one that names the file."""
    try:
        yield
    except OSError as error:
        raise FileHeld(name, error) from error
