"""Writes a whole folder at once: the old one stays whole until the new one is complete.

Everything is written into a fresh folder beside the target; then the two change places in one
step where the system can do that (Linux), else by two renames that the next run mends if it was
killed between them. Files that are not ours stay; a file of ours that the user changed is kept
under another name.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import json
import os
import re
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

LIST_NAME = ".written-by-chainplan.json"
STALE_S = 3600.0
_RESERVED = {"con", "prn", "aux", "nul", *(f"{p}{n}" for p in ("com", "lpt") for n in range(1, 10))}


def safe_name(name: str) -> str:
    """Turn any text into a name that stays inside its folder on every common system.

    Letters and digits of any script are kept, all else becomes "-".

    Examples
    --------
    >>> safe_name("../../etc/passwd"), safe_name("=Anna's 1/2"), safe_name("CON"), safe_name("…")
    ('etc-passwd', 'Anna-s-1-2', 'CON-', 'unnamed')
    """
    kept = re.sub(r"[^\w.]+", "-", name, flags=re.UNICODE).strip("-._ ")
    kept = re.sub(r"\.{2,}", ".", kept)[:80].rstrip("-._ ") or "unnamed"
    return f"{kept}-" if kept.split(".")[0].lower() in _RESERVED else kept


def file_names(names: Sequence[str]) -> list[str]:
    """Turn names into different file names, alike on systems that do not tell capitals apart.

    Examples
    --------
    >>> file_names(["Collar 1/2", "collar 1:2", "belt"])
    ['Collar-1-2', 'collar-1-2-2', 'belt']
    """
    taken: set[str] = set()
    found = []
    for name in names:
        safe = base = safe_name(name)
        number = 1
        while safe.lower() in taken:
            number += 1
            safe = f"{base}-{number}"
        taken.add(safe.lower())
        found.append(safe)
    return found


@contextlib.contextmanager
def fresh_folder(target: Path) -> Iterator[Path]:
    """Give a new empty folder to write into, which replaces ``target`` if the block ends well.

    Parameters
    ----------
    target : Path
        Where the files are to stand in the end. An earlier folder there stays as it is until then.

    Yields
    ------
    Path
        The folder to write into, on the same disk.

    Raises
    ------
    InputError
        If ``target`` is a file, or cannot be written.
    """
    target = Path(target)
    if target.exists() and not target.is_dir():
        message = f"{target}: is a file; name a folder to write into"
        raise InputError(message)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _mend(target)
        staging = Path(tempfile.mkdtemp(prefix=f".{target.name}.new-", dir=target.parent))
    except OSError as error:
        message = (
            f"{target}: cannot be written ({error.strerror}); choose another folder with --out"
        )
        raise InputError(message) from None
    try:
        staging.chmod(0o755)
        yield staging
        written = sorted(
            p.relative_to(staging).as_posix() for p in staging.rglob("*") if p.is_file()
        )
        if target.exists():
            _carry_over(target, staging, written)
        listing = {name: _digest(staging / name) for name in written}
        (staging / LIST_NAME).write_text(json.dumps(listing, indent=0), encoding="utf-8")
        _swap(staging, target)
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _carry_over(old: Path, new: Path, written: list[str]) -> None:
    """Keep what is not ours, and what the user changed of ours, from the old folder."""
    try:
        ours = json.loads((old / LIST_NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        ours = {}
    for path in sorted(p for p in old.rglob("*") if p.is_file()):
        name = path.relative_to(old).as_posix()
        if name == LIST_NAME or ours.get(name) == _digest(path):
            continue
        place = new / name
        if name in written or name in ours:
            if name in written and _digest(place) == _digest(path):
                continue
            place = _free_name(place, old)
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(path, place)


def _free_name(place: Path, old: Path) -> Path:
    number = 1
    while True:
        other = place.with_name(f"{place.stem}-your-changes-{number}{place.suffix}")
        if not other.exists() and not (old / other.name).exists():
            return other
        number += 1


def _exchange(first: Path, second: Path) -> bool:
    """Let two folders change places in one step; False where the system cannot."""
    if not sys.platform.startswith("linux"):
        return False
    at_working_folder, exchange_flag = -100, 2
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    here = os.fsencode(first)
    there = os.fsencode(second)
    return bool(call(at_working_folder, here, at_working_folder, there, exchange_flag) == 0)


def _previous(target: Path) -> Path:
    return target.with_name(f".{target.name}.previous")


def _mend(target: Path) -> None:
    """Put right what a killed run left: a renamed previous folder, half a new one."""
    for left in target.parent.glob(f".{target.name}.new-*"):
        if time.time() - left.stat().st_mtime > STALE_S:
            shutil.rmtree(left, ignore_errors=True)
    previous = _previous(target)
    if not previous.exists():
        return
    if target.exists():
        shutil.rmtree(previous, ignore_errors=True)
    else:
        previous.rename(target)


def _swap(staging: Path, target: Path) -> None:
    if not target.exists():
        staging.rename(target)
        return
    if _exchange(staging, target):
        return
    previous = _previous(target)
    target.rename(previous)
    staging.rename(target)
    shutil.rmtree(previous, ignore_errors=True)
