"""Puts a whole set of files into a folder: the checks before, the writing, the mending."""

from __future__ import annotations

import errno
from contextlib import contextmanager
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.writing import change as changes
from chainplan.writing.change import FileHeld
from chainplan.writing.listing import read_listing, write_listing
from chainplan.writing.lock import clear, hold
from chainplan.writing.place import (
    OutputPlace,
    cannot_write,
    check_name,
    check_rights,
    check_space,
    find_obstacles,
    find_place,
    parents_of,
)
from chainplan.writing.syncing import sync_folder, sync_tree

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

LEAST_SPACE = 16_000_000
"""Bytes that must be free before planning: three times what a plan of one necklace takes."""
DISK_FAULTS = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO}


def check_folder(folder: str | Path, names: Sequence[str] = ()) -> None:
    """See whether files could be written into a folder, and mend what a killed run left there.

    Parameters
    ----------
    folder : str or Path
        Where they are to stand.
    names : sequence of str
        Names of the files, relative to the folder, as far as they are known.

    Raises
    ------
    InputError
        If no folder can stand there, it is closed to us, the disk is full, or something that is not
        ours stands where one of the files goes.
    """
    place = find_place(folder)
    for name in names:
        check_name(place.named / name)
    check_rights(place)
    with _work_on(place):
        ours = read_listing(place.target)
        if faults := find_obstacles(place, list(names), ours):
            raise InputError(faults=faults)
        old = sum(p.stat().st_size for p in (place.target / n for n in ours) if p.is_file())
        check_space(place, max(LEAST_SPACE, 2 * old))


def mend_folder(folder: str | Path) -> None:
    """Finish or undo a change of a folder that a killed run began; do nothing if there is none.

    Raises
    ------
    InputError
        If it cannot be mended now, because another program holds one of the files, say.
    """
    try:
        place = find_place(folder)
    except InputError:
        return  # Nothing can stand there, so nothing was begun there.
    for work in (place.work, place.other_work):
        if work is not None and changes.begun_change(work) is not None:
            with hold(place, work):
                _mend(place, work)


@contextmanager
def fresh_folder(folder: str | Path) -> Iterator[Path]:
    """Give a new empty folder to write into; if the block ends well its files go to their place.

    Parameters
    ----------
    folder : str or Path
        Where the files are to stand in the end. What stands there stays as it is until then.

    Yields
    ------
    Path
        The folder to write into, on the same disk.

    Raises
    ------
    InputError
        If the files cannot be written or put in place; the folder is then as it was.
    """
    place = find_place(folder)
    with _work_on(place) as work:
        new = work / "new"
        new.mkdir()
        try:
            yield new
            write_listing(new)
            sync_tree(new)
        except OSError as error:
            if error.errno in DISK_FAULTS:
                raise cannot_write(place.named, error) from error
            raise
        if place.is_there:
            _change_files(place, work)
            return
        try:
            new.rename(place.target)
            sync_folder(place.target.parent)
        except OSError as error:
            raise cannot_write(place.named, error) from error


@contextmanager
def _work_on(place: OutputPlace) -> Iterator[Path]:
    """Hold the working folder of a place, with everything mended that was left there."""
    with parents_of(place):
        if place.other_work is not None and place.other_work.exists():
            with hold(place, place.other_work):
                _mend(place, place.other_work)
        with hold(place, place.work):
            _mend(place, place.work)
            yield place.work


def _mend(place: OutputPlace, work: Path) -> None:
    """Finish the change that a killed run began, or undo it if it cannot be finished."""
    begun = changes.begun_change(work)
    if begun is not None:
        if not place.is_there:  # The user has moved or removed the folder since.
            changes.forget(work)
        elif changes.is_undoing(work):
            _undo(place, work, begun)
        else:
            try:
                changes.finish(work, place.target, begun)
            except (FileHeld, OSError):
                _undo(place, work, begun)
    clear(work)


def _change_files(place: OutputPlace, work: Path) -> None:
    """Put the new files in place; take all of it back if anything stops it."""
    change = changes.plan_change(place, work / "new")
    try:
        changes.begin(work, change)
        changes.finish(work, place.target, change)
    except BaseException as error:
        if changes.begun_change(work) is not None:
            _undo(place, work, change)
        if isinstance(error, FileHeld):
            why = error.error.strerror or str(error.error)
            message = (
                f"{place.named / error.name}: cannot be replaced ({why}); if another program has "
                "it open, close it there and plan again; the folder is as it was"
            )
            raise InputError(message) from error
        if isinstance(error, OSError):
            raise cannot_write(place.named, error) from error
        raise


def _undo(place: OutputPlace, work: Path, change: changes.Change) -> None:
    """Undo a change even if the user stops the program meanwhile.

    Raises
    ------
    InputError
        If a file cannot be put back now; the journal stays for the next run.
    """
    while True:
        try:
            changes.undo(work, place.target, change)
        except KeyboardInterrupt:
            continue
        except (FileHeld, OSError) as error:
            name = error.name if isinstance(error, FileHeld) else ""
            message = (
                f"{place.named / name}: cannot be put back; files of two plans stand in the "
                "folder until the next plan into it mends that: close other programs and plan again"
            )
            raise InputError(message) from error
        return
