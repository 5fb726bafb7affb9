"""Solved repeats kept from one question to the next, for as long as a caller wants it.

A question about rings takes longer to load and run the solver than for all else, and most are asked
of the same few rings. What is kept was solved by this very code (its digest is part of the key),
from starts that are part of the key too, so that it is what would be solved again.
"""

from __future__ import annotations

from typing import Any

from chainplan.store import keeping, key_of


def recall(*parts: object) -> Any:
    """Return what was kept of a weave, state, sizes and ratio; None if nothing was."""
    return keeping.recall(_key(parts)) if keeping.is_keeping() else None


def remember(found: object, *parts: object) -> None:
    """Keep what was solved."""
    if keeping.is_keeping():
        keeping.remember(_key(parts), found)


def _key(parts: tuple[object, ...]) -> str:
    from chainplan.store.version import solving_version

    return key_of("solved", parts, solving_version())
