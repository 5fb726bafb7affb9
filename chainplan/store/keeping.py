"""Small results that are kept while a caller wants it: solved repeats, solved timetables.

Each is what a function of its arguments comes to, found deep inside a stage, so the shelf is not
handed down to it; whoever wants it puts a ``with keeping(shelf)`` around the whole.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.store.shelf import ResultShelf


class _Shelf:
    """A shelf, and whether anything was put on it, since only then it has to be tidied."""

    def __init__(self, shelf: ResultShelf) -> None:
        self.shelf, self.used = shelf, False


_shelf: ContextVar[_Shelf | None] = ContextVar("shelf of small results", default=None)


@contextmanager
def keeping(shelf: ResultShelf) -> Iterator[None]:
    """Take small results from a shelf and keep new ones there, inside a ``with``."""
    ours = _Shelf(shelf)
    before = _shelf.set(ours)
    try:
        yield
    finally:
        _shelf.reset(before)
        if ours.used:
            shelf.tidy()


def is_keeping() -> bool:
    """Whether anything is kept; if not, no key is needed."""
    return _shelf.get() is not None


def recall(key: str) -> Any:
    """Return what was kept under a key; None if nothing was."""
    ours = _shelf.get()
    return None if ours is None else ours.shelf.get(key)


def remember(key: str, found: object) -> None:
    """Keep something under a key."""
    ours = _shelf.get()
    if ours is not None:
        ours.shelf.put(key, found)
        ours.used = True
