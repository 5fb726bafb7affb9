"""The examination in parts, which run side by side: some checks each, or some pieces of a few.

What is found does not depend on who runs a part: the parts are the same for any number of workers.
"""

from __future__ import annotations

import gc
import math
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.findings import MOST_OF_A_CHECK, Finding, Teller
from chainplan.examine.passed import WatchedFiles, watch
from chainplan.examine.reading import PlanFiles, read_folder
from chainplan.examine.registry import APART, CHECKS
from chainplan.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

SHARES = 6
"""Parts of either kind, at least, if there are pieces enough: enough for them to take about as long
as each other. Judgement."""
AT_ONCE = 12
"""Most pieces of a part. Judgement: some 8 MB of simulations each, a tenth of a second each, so a
worker has a second to do for what is sent to it."""
MOST_READ_ANEW = 60
"""Pieces up to which other processes read the whole folder too, for checks that look at all of it:
of a catalogue, its files take longer to read and more memory than these checks. Judgement."""
_UNREADABLE = (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError)
"""What a check meets where a file holds another kind of thing than it should."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of one examination."""

    folder: Path
    examination: str  # which one: files that were read for it are read once in each process
    checks: tuple[str, ...]
    some: PlanFiles | None  # some pieces alone; None: all that is in the folder
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
    folder: Path, examination: str, names: Sequence[str], files: PlanFiles, *, watched: bool
) -> list[Part]:
    """Deal checks out; those that look at each piece for itself come first, as they take longest.

    Those of one piece stay together, as some go on from what others have simulated.
    """
    apart = tuple(name for name in names if name in APART)
    others = [name for name in names if name not in APART]
    shares = 1 if len(files.pieces) > MOST_READ_ANEW else SHARES
    dealt = [tuple(others[first::shares]) for first in range(min(shares, len(others)))]
    return [
        *(Part(folder, examination, apart, some, watched) for some in _some_pieces(files) if apart),
        *(Part(folder, examination, checks, None, watched) for checks in dealt),
    ]


def _some_pieces(files: PlanFiles) -> Iterator[PlanFiles]:
    """Divide the pieces; what else is in the files goes along where it is not of single pieces."""
    whole = files.plan
    plan = {key: value for key, value in whole.items() if key not in {"pieces", "schedule"}}
    plan["order"] = {key: value for key, value in whole["order"].items() if key != "pieces"}
    plan["estimates"] = {"sources": whole["estimates"]["sources"]}
    at_once = min(AT_ONCE, math.ceil(len(files.pieces) / SHARES))
    for first in range(0, len(files.pieces), at_once):
        some = files.pieces[first : first + at_once]
        yield replace(files, plan=plan, sheet={}, pieces=some, broken=(), simulated={})


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

    files = part.some
    if files is None:
        if part.examination not in FILES:
            FILES.clear()
            FILES[part.examination] = read_folder(part.folder)
        files = FILES[part.examination]
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
