"""Brings what was written to the disk itself, so that a power cut finds either all or nothing."""

from __future__ import annotations

import os
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def sync_file(path: Path) -> None:
    """Wait until a file's content is on the disk."""
    handle = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(path: Path) -> None:
    """Wait until a folder's names are on the disk, where the system can do that."""
    if os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        with suppress(OSError):  # Some network disks cannot.
            os.fsync(handle)
    finally:
        os.close(handle)


def sync_tree(folder: Path) -> None:
    """Wait until a folder and all in it are on the disk."""
    for path in folder.rglob("*"):
        if path.is_dir():
            sync_folder(path)
        else:
            sync_file(path)
    sync_folder(folder)
