"""Checks that look at each piece for itself: some pieces at a time, and side by side.

They take most of the examiner's time, and what they simulate of a piece is megabytes. So they get a
few pieces at once, in this process or another, and what was simulated goes with them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import Teller
from chainplan.examine.passed import WatchedFiles, watch
from chainplan.examine.registry import CHECKS
from chainplan.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from chainplan.examine.reading import PlanFiles

    Hands = Callable[[Callable[[Any], Any], Sequence[Any]], list[Any]]
    """Runs a function on every task, and returns the results in the order of the tasks."""

AT_ONCE = 12
"""Pieces of a task. Judgement: some 8 MB of simulations each, a tenth of a second each, so a
worker has a second to do for what is sent to it."""
UNREADABLE = (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError)
"""What a check meets where a file holds another kind of thing than it should."""


@dataclass(frozen=True, slots=True)
class ToldOfPieces:
    """What a check told of some pieces, and what it read of the files to do so."""

    teller: Teller
    read: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Some:
    """Some pieces of a plan, and the checks that they are to go through."""

    files: PlanFiles
    names: tuple[str, ...]
    watched: bool


def one_by_one(function: Callable[[Any], Any], tasks: Sequence[Any]) -> list[Any]:
    """Run a function on every task in this process."""
    return [function(task) for task in tasks]


def examine_apart(
    files: PlanFiles, names: Sequence[str], *, watched: bool, hands: Hands
) -> dict[str, ToldOfPieces]:
    """Run checks on some pieces at a time.

    Parameters
    ----------
    files : PlanFiles
        The files of a plan.
    names : sequence of str
        The checks, in the order of the list of all.
    watched : bool
        Whether what they read is noted.
    hands : callable
        Who does it.

    Returns
    -------
    dict
        Of each check what it told of all pieces, in their order.
    """
    tasks = [_Some(some, tuple(names), watched) for some in _parts(files)] if names else []
    every: list[list[ToldOfPieces]] = hands(_examine_some, tasks)
    found = {}
    for k, name in enumerate(names):
        parts = [of_some[k] for of_some in every]
        teller = Teller(name)
        for part in parts:
            teller.take(part.teller)
        found[name] = ToldOfPieces(teller, frozenset().union(*(part.read for part in parts)))
    return found


def _parts(files: PlanFiles) -> Iterator[PlanFiles]:
    """Divide the pieces; what else is in the files goes along where it is not of single pieces."""
    whole = files.plan
    plan = {key: value for key, value in whole.items() if key not in {"pieces", "schedule"}}
    plan["order"] = {key: value for key, value in whole["order"].items() if key != "pieces"}
    plan["estimates"] = {"sources": whole["estimates"]["sources"]}
    for first in range(0, len(files.pieces), AT_ONCE):
        some = files.pieces[first : first + AT_ONCE]
        yield replace(files, plan=plan, sheet={}, pieces=some, broken=(), simulated={})


@one_thread
def _examine_some(some: _Some) -> list[ToldOfPieces]:
    import chainplan.examine.every  # noqa: F401  (enters the checks, in a process of its own)

    run_of = dict(CHECKS)
    return [run_check(name, run_of[name], some.files, watched=some.watched) for name in some.names]


def run_check(
    name: str, run: Callable[[PlanFiles, Teller], None], files: PlanFiles, *, watched: bool
) -> ToldOfPieces:
    """Run one check; what it cannot read is a finding, so that the others still run."""
    teller = Teller(name)
    looked = watch(files) if watched else files
    try:
        with np.errstate(all="ignore"):  # what is no number is told as a finding
            run(looked, teller)
    except UNREADABLE as error:
        teller.tell("plan", "all of it", f"cannot be read: {error!r}", "a plan")
    read = looked.read if isinstance(looked, WatchedFiles) else frozenset()
    return ToldOfPieces(teller, frozenset(read))
