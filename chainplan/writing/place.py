"""Where a plan is to stand, looked at before anything is written."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import Fault, InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

LONGEST_NAME = 150
"""Bytes of a folder's name that its hidden neighbour repeats; systems allow 255 in all."""
INSIDE_NAME = ".chainplan-change"


@dataclass(frozen=True, slots=True)
class OutputPlace:
    """A folder to write into: as it was named, where it really is, and where work on it goes on."""

    named: Path
    target: Path
    work: Path
    other_work: Path | None
    """Where an earlier run may have worked instead: inside the folder."""

    @property
    def is_there(self) -> bool:
        """Whether the folder exists already."""
        return self.target.is_dir()


def find_place(folder: str | Path) -> OutputPlace:
    """Follow links to the real folder and choose where beside it the work goes on.

    Work goes on in the folder that holds the target. Where that is closed to us or lies on another
    disk, so that files cannot be moved over in one step, it goes on inside the target.

    Raises
    ------
    InputError
        If no folder can stand there.
    """
    named = Path(folder)
    check_name(named)
    try:
        target = Path(os.path.realpath(named))
        there = _is_something(target)
        if there and not target.is_dir():
            message = f"{named}: is a file; name a folder to write into"
            raise InputError(message)
        if target.parent == target:
            message = f"{named}: is the top of the disk; name a folder of its own to write into"
            raise InputError(message)
        beside = target.with_name(_work_name(target.name))
        inside = target / INSIDE_NAME
        if there and not _can_work_beside(target):
            return OutputPlace(named, target, inside, beside)
        return OutputPlace(named, target, beside, inside if there else None)
    except OSError as error:
        raise cannot_write(named, error) from error


def _is_something(target: Path) -> bool:
    try:
        target.stat()
    except FileNotFoundError:
        return False
    return True


def check_name(named: Path) -> None:
    """Refuse a name that cannot be written on this system.

    Raises
    ------
    InputError
        If a byte of it is no letter, or its letters have no bytes here.
    """
    text = str(named)
    shown = text.encode("ascii", "backslashreplace").decode()
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        message = f"{shown}: a byte of this name is no letter; name another folder"
        raise InputError(message)
    try:
        os.fsencode(text)
    except UnicodeEncodeError as error:
        message = (
            f"{shown}: letters of this name cannot be written where the language setting is "
            f"{error.encoding}; set LANG to one that ends in UTF-8, or name another folder"
        )
        raise InputError(message) from error


def _work_name(name: str) -> str:
    if len(os.fsencode(name)) <= LONGEST_NAME:
        return f".{name}.chainplan-change"
    return f".{hashlib.sha256(os.fsencode(name)).hexdigest()[:32]}.chainplan-change"


def _can_work_beside(target: Path) -> bool:
    parent = target.parent
    same_disk = parent.stat().st_dev == target.stat().st_dev and not os.path.ismount(target)
    return same_disk and os.access(parent, os.W_OK | os.X_OK)


def cannot_write(named: Path, error: OSError) -> InputError:
    """Make the error that tells why a folder cannot be written."""
    why = error.strerror or str(error)
    return InputError(f"{named}: cannot be written ({why}); choose another folder")


@contextmanager
def parents_of(place: OutputPlace) -> Iterator[None]:
    """Make the folders above the target; take those away again that stay empty."""
    missing = []
    folder = place.target.parent
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    try:
        for folder in reversed(missing):
            folder.mkdir(exist_ok=True)
    except OSError as error:
        _remove_empty(missing)
        raise cannot_write(place.named, error) from error
    try:
        yield
    finally:
        _remove_empty(missing)


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


def check_rights(place: OutputPlace) -> None:
    """Try to write into a folder that is there, leaving nothing behind.

    Raises
    ------
    InputError
        If it is closed to us.
    """
    if not place.is_there:
        return
    try:
        with tempfile.TemporaryFile(dir=place.target):
            pass
    except OSError as error:
        raise cannot_write(place.named, error) from error


def check_space(place: OutputPlace, needed: int) -> None:
    """Refuse a disk without room.

    Parameters
    ----------
    needed : int
        Bytes that must be free.

    Raises
    ------
    InputError
        If fewer are free.
    """
    try:
        free = shutil.disk_usage(place.target if place.is_there else place.target.parent).free
    except OSError:
        return  # Some network disks do not tell.
    if free < needed:
        message = (
            f"{place.named}: {free / 1e6:.0f} MB are free on this disk; a plan may need "
            f"{needed / 1e6:.0f} MB; make room or choose another folder"
        )
        raise InputError(message)


def find_obstacles(place: OutputPlace, names: list[str], ours: dict[str, str]) -> list[Fault]:
    """List what stands where a file of ours is to go and is not ours to replace.

    Parameters
    ----------
    names : list of str
        Files to be written, relative to the folder, with forward slashes; folders end in one.
    ours : dict
        Files that an earlier plan wrote there.
    """
    faults: dict[Path, Fault] = {}
    for name in names:
        path = place.target / name
        parents = list(reversed(Path(name).parents))[1:]
        folders = [place.target / parent for parent in parents]
        if name.endswith("/"):
            folders.append(path)
        blocked = [folder for folder in folders if _no_folder(folder)]
        if blocked:
            found = "a link or a file stands where a folder of the plan goes"
            faults.setdefault(blocked[0], _obstacle(place, blocked[0], found))
        elif name.endswith("/"):
            continue
        elif path.is_dir() and not path.is_symlink():
            found = "a folder stands where a file of the plan goes"
            faults.setdefault(path, _obstacle(place, path, found))
        elif os.path.lexists(path) and (name not in ours or _is_special(path)):
            found = "a file that chainplan did not write stands where one of the plan goes"
            faults.setdefault(path, _obstacle(place, path, found))
    return list(faults.values())


def _no_folder(path: Path) -> bool:
    return path.is_symlink() or (path.exists() and not path.is_dir())


def _is_special(path: Path) -> bool:
    return not (path.is_symlink() or path.is_file())


def _obstacle(place: OutputPlace, path: Path, found: str) -> Fault:
    where = str(place.named / path.relative_to(place.target))
    return Fault(where, found, "move it elsewhere or choose another folder")
