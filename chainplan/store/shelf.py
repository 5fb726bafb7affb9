"""The folder of kept results: one file a result, the ones not used for longest go first."""

from __future__ import annotations

import os
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from chainplan.frozen import frozen
from chainplan.store.packing import NotReadable, pack, unpack

FOLDER_VARIABLE = "CHAINPLAN_CACHE"
"""Environment variable that names another folder."""
MOST_BYTES = 500_000_000
"""What all files together may take. Judgement: some thousand pieces of a few hundred rings."""
MOST_OF_ONE = 50_000_000
"""What one may take: larger pieces are planned anew. Judgement: a piece of 50 000 rings."""
KEPT_SHARE = 0.8
"""Share of the limit that is left once it was passed, so that not every run tidies up."""
ENDING = ".kept"


def default_folder() -> Path:
    """Say where results are kept: the user's cache folder, as the system has it.

    Linux: ``$XDG_CACHE_HOME`` or ``~/.cache`` (XDG Base Directory Specification 0.8), macOS:
    ``~/Library/Caches``, Windows: ``%LOCALAPPDATA%``; anywhere ``$CHAINPLAN_CACHE`` if that is set.
    """
    own = os.environ.get(FOLDER_VARIABLE)
    if own:
        return Path(own)
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "chainplan"
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA")
        return (Path(local) if local else Path.home() / "AppData" / "Local") / "chainplan" / "cache"
    given = os.environ.get("XDG_CACHE_HOME", "")
    base = Path(given) if Path(given).is_absolute() else Path.home() / ".cache"
    return base / "chainplan"


@frozen
class ResultShelf:
    """Kept results in a folder. Whatever goes wrong with it, a plan only takes longer."""

    folder: Path
    most_bytes: int = MOST_BYTES
    most_of_one: int = MOST_OF_ONE

    def get(self, key: str) -> Any:
        """Return what was kept under a key; None if there is nothing, or nothing readable."""
        path = self._path(key)
        try:
            value = unpack(path.read_bytes())
        except (OSError, NotReadable):
            return None
        with suppress(OSError):
            os.utime(path)  # used again: it stays for longer
        return value

    def holds(self, key: str) -> bool:
        """Say whether anything is kept under a key, readable or not."""
        return self._path(key).is_file()

    def put(self, key: str, value: object) -> None:
        """Keep a result. Another run may do the same at the same time: either file will do."""
        data = pack(value)
        if len(data) > self.most_of_one:
            return
        path = self._path(key)
        with suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            number, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
            part = Path(name)
            try:
                with os.fdopen(number, "wb") as file:
                    file.write(data)
                part.replace(path)
            except OSError:
                part.unlink(missing_ok=True)

    def tidy(self) -> None:
        """Throw away what was not used for longest, once all together takes more than it may."""
        found = []
        with suppress(OSError):
            for path in self.folder.glob(f"??/*{ENDING}"):
                with suppress(OSError):
                    told = path.stat()
                    found.append((told.st_mtime, told.st_size, path))
        total = sum(size for _, size, _ in found)
        if total <= self.most_bytes:
            return
        for _, size, path in sorted(found):
            with suppress(OSError):
                path.unlink()
                total -= size
            if total <= KEPT_SHARE * self.most_bytes:
                return

    def forget(self, since: float) -> None:
        """Throw away what was kept or used since a moment, in seconds of the system's clock."""
        with suppress(OSError):
            for path in self.folder.glob(f"??/*{ENDING}"):
                with suppress(OSError):
                    if path.stat().st_mtime >= since:
                        path.unlink()

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / f"{key}{ENDING}"
