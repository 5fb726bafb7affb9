"""The hidden folder in which work on an output folder goes on, held by one run at a time.

It holds a lock that the system takes back when a run ends in whatever way, so that what a dead run
left can be told from what a living one is about.
"""

from __future__ import annotations

import os
import shutil
import time
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.writing.place import cannot_write

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from chainplan.writing.place import OutputPlace

LOCK_NAME = "lock"
OURS = frozenset({LOCK_NAME, "new", "old", "change.json", "change.json.part", "undo.json"})
"""What such a folder may hold; one that holds anything else is not ours."""
PATIENCE_S = 60.0
"""How long a second run waits. Writing takes some seconds, half a minute for the largest plans."""
LOOK_AGAIN_S = 0.1
"""Seconds between two looks: shorter than anybody waits for with impatience."""


@contextmanager
def hold(place: OutputPlace, work: Path) -> Iterator[Path]:
    """Hold a working folder alone; it is gone afterwards.

    Raises
    ------
    InputError
        If another run holds it for longer than a minute, it cannot be made, or it is not ours.
    """
    try:
        handle = _take(place, work)
    except OSError as error:
        raise cannot_write(place.named, error) from error
    try:
        yield work
    finally:
        _give_back(work, handle)


def _take(place: OutputPlace, work: Path) -> int:
    give_up = time.monotonic() + PATIENCE_S
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
    while True:
        with suppress(FileExistsError):
            work.mkdir(mode=0o700)
        try:
            _check_ours(place, work)
            handle = os.open(work / LOCK_NAME, flags, 0o600)
        except FileNotFoundError:
            continue  # Another run has just taken its working folder away.
        if _lock(handle) and _is_still(work / LOCK_NAME, handle):
            return handle
        os.close(handle)
        if time.monotonic() > give_up:
            message = (
                f"{place.named}: another run of chainplan is writing there; start again when it "
                "has ended"
            )
            raise InputError(message)
        time.sleep(LOOK_AGAIN_S)


def _check_ours(place: OutputPlace, work: Path) -> None:
    if work.is_symlink() or {path.name for path in work.iterdir()} - OURS:
        message = (
            f"{work}: has the name under which chainplan works on {place.named}, but was not "
            "made by it; move it elsewhere or choose another folder"
        )
        raise InputError(message)


def _lock(handle: int) -> bool:
    """Lock an open file; False if another run has it."""
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True  # Some network disks know no locks; one run at a time is then up to the user.
    return True


def _is_still(path: Path, handle: int) -> bool:
    """Whether the path still is the file that was opened, and not one made after it was removed."""
    try:
        return os.path.samestat(path.stat(), os.fstat(handle))
    except FileNotFoundError:
        return False


def clear(work: Path) -> None:
    """Remove what a run wrote into its working folder, all but the lock."""
    for name in ("new", "old"):
        shutil.rmtree(work / name, ignore_errors=True)
    (work / "change.json.part").unlink(missing_ok=True)


def _give_back(work: Path, handle: int) -> None:
    """Take the working folder away unless it holds a change that is still to be mended."""
    if (work / "change.json").exists() or (work / "undo.json").exists():
        os.close(handle)
        return
    clear(work)
    if os.name == "nt":  # There an open file cannot be removed.
        os.close(handle)
    with suppress(OSError):
        (work / LOCK_NAME).unlink()
        work.rmdir()
    if os.name != "nt":
        os.close(handle)
