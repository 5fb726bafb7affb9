"""Solved repeats kept from one question to the next, for as long as a caller wants it.

A question about rings takes longer to load and run the solver than for all else, and most are asked
of the same few rings. What is kept was solved by this very code (its digest is part of the key),
from starts that are part of the key too, so that it is what would be solved again.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.store import ResultShelf

_shelf: ContextVar[_Shelf | None] = ContextVar("shelf of solved repeats", default=None)


class _Shelf:
    """A shelf, and whether anything was put on it, since only then it has to be tidied."""

    def __init__(self, shelf: ResultShelf) -> None:
        self.shelf, self.used = shelf, False


@contextmanager
def keeping(shelf: ResultShelf) -> Iterator[None]:
    """Take solved repeats from a shelf and keep new ones there, inside a ``with``."""
    ours = _Shelf(shelf)
    before = _shelf.set(ours)
    try:
        yield
    finally:
        _shelf.reset(before)
        if ours.used:
            shelf.tidy()


def recall(*parts: object) -> Any:
    """Return what was kept of a weave, state, sizes and ratio; None if nothing was."""
    ours = _shelf.get()
    return None if ours is None else ours.shelf.get(_key(parts))


def remember(found: object, *parts: object) -> None:
    """Keep what was solved."""
    ours = _shelf.get()
    if ours is not None:
        ours.shelf.put(_key(parts), found)
        ours.used = True


def _key(parts: tuple[object, ...]) -> str:
    from chainplan.store import key_of
    from chainplan.store.version import solving_version

    return key_of("solved", parts, solving_version())
