"""The examination in parts, which run side by side: some checks each, or some pieces of a few.

What is found does not depend on who runs a part: the parts are the same for any number of workers.
"""

from __future__ import annotations

import gc
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.findings import MOST_OF_A_CHECK, Finding, Teller
from chainplan.examine.passed import WatchedFiles, watch
from chainplan.examine.reading import PlanFiles, read_folder
from chainplan.examine.registry import CHECKS
from chainplan.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

BY_PIECE = ("limits hold at the peaks", "chances are those of the ranges")
"""Checks that take longest and look at one piece after another: they are dealt out by pieces. They
stay together, as the second goes on from what the first has simulated."""
SHARES = 6
"""Parts of either kind, at most: enough for them to take about as long as each other. Judgement."""
_UNREADABLE = (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError)
"""What a check meets where a file holds another kind of thing than it should."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of one examination."""

    folder: Path
    examination: str  # which one: files that were read for it are read once in each process
    checks: tuple[str, ...]
    pieces: slice
    watched: bool  # whether it is noted what each check reads


@dataclass(frozen=True, slots=True)
class Looked:
    """What one check came to in one part."""

    check: str
    findings: tuple[Finding, ...]
    more: int  # findings that are not listed
    notes: tuple[str, ...]
    read: frozenset[str]


FILES: dict[str, PlanFiles] = {}
"""The files of the examination that this process is at."""


def parts_of(
    folder: Path, examination: str, names: Sequence[str], pieces: int, *, watched: bool
) -> list[Part]:
    """Deal checks out; those by pieces come first, as they take longest."""
    by_piece = tuple(name for name in names if name in BY_PIECE)
    others = [name for name in names if name not in BY_PIECE]
    edges = np.linspace(0, pieces, min(SHARES, pieces) + 1).round().astype(int).tolist()
    shares = [slice(*pair) for pair in pairwise(edges)] if by_piece else []
    dealt = [tuple(others[first::SHARES]) for first in range(min(SHARES, len(others)))]
    every = slice(None)
    return [
        *(Part(folder, examination, by_piece, share, watched) for share in shares),
        *(Part(folder, examination, checks, every, watched) for checks in dealt),
    ]


@contextmanager
def no_collection() -> Iterator[None]:
    """Look for no rings of objects meanwhile: of some hundred thousand values none holds itself."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


@one_thread
@no_collection()
def look_at(part: Part) -> list[Looked]:
    """Run the checks of a part."""
    import chainplan.examine.every  # noqa: F401 - enters all checks into the list

    if part.examination not in FILES:
        FILES.clear()
        FILES[part.examination] = read_folder(part.folder)
    files = FILES[part.examination]
    if part.pieces != slice(None):
        files = replace(files, pieces=files.pieces[part.pieces], simulated={})
    return [
        _look(name, run, files, watched=part.watched) for name, run in CHECKS if name in part.checks
    ]


def _look(
    name: str, run: Callable[[PlanFiles, Teller], None], files: PlanFiles, *, watched: bool
) -> Looked:
    """Run one check."""
    teller = Teller(name)
    seen = watch(files) if watched else files
    try:
        with np.errstate(all="ignore"):  # what is no number is told as a finding
            run(seen, teller)
    except _UNREADABLE as error:
        # What one check cannot read is a finding; the others still run.
        teller.tell("plan", "all of it", f"cannot be read: {error!r}", "a plan")
    read = frozenset(seen.read) if isinstance(seen, WatchedFiles) else frozenset()
    return Looked(name, tuple(teller.findings), teller.more, tuple(teller.notes), read)


def put_together(looked: Iterable[Sequence[Looked]]) -> dict[str, Looked]:
    """Put together what each check came to in the parts, in their order."""
    whole: dict[str, Looked] = {}
    for one in (one for part in looked for one in part):
        before = whole.get(one.check)
        if before is None:
            whole[one.check] = one
            continue
        found = (*before.findings, *one.findings)
        whole[one.check] = Looked(
            one.check,
            found[:MOST_OF_A_CHECK],
            before.more + one.more + len(found[MOST_OF_A_CHECK:]),
            (*before.notes, *one.notes),
            before.read | one.read,
        )
    return whole


def findings_of(looked: Looked) -> tuple[Finding, ...]:
    """List the findings of a check, with the number of those that are not listed."""
    return Teller(looked.check, findings=[*looked.findings], more=looked.more).close()
