"""The examine stage: reads a finished plan as it was written, and looks for contradictions.

It knows the files' columns and keys and nothing of how they were made: it has its own geometry, its
own heat simulation and its own sums.
"""

from __future__ import annotations

import gc
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.findings import Examination, Finding, Teller
from chainplan.examine.passed import Passed, WatchedFiles, watch
from chainplan.examine.reading import read_folder
from chainplan.examine.registry import CHECKS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator
    from pathlib import Path

_UNREADABLE = (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError)
"""What a check meets where a file holds another kind of thing than it should."""

__all__ = ["Examination", "Finding", "Passed", "examine_folder"]


def examine_folder(
    folder: Path, *, without: Collection[str] = (), passed: Passed | None = None
) -> Examination:
    """Run the checks on the files of a plan and report all findings together.

    Parameters
    ----------
    folder : Path
        Where the files of a plan stand.
    without : collection of str
        Names of checks that are left out.
    passed : Passed, optional
        What the same content has passed before; such checks are not run again.

    Raises
    ------
    InputError
        If the folder holds no plan.
    """
    with _no_collection():
        return _examine(folder, without, passed)


@contextmanager
def _no_collection() -> Iterator[None]:
    """Look for no rings of objects meanwhile: of some hundred thousand values none holds itself."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def _examine(folder: Path, without: Collection[str], passed: Passed | None) -> Examination:
    # Importing a module enters its checks into the list.
    from chainplan.examine import rest_of_plan  # noqa: F401
    from chainplan.examine.days import appointments, dates  # noqa: F401
    from chainplan.examine.heat import chance, limits, networks, waits  # noqa: F401
    from chainplan.examine.money import buying, figures, prices, takes, words  # noqa: F401
    from chainplan.examine.papers import by_hand, charts, joins, quotes, weaving_pages  # noqa: F401
    from chainplan.examine.piece import counts, fittings, lengths, masses  # noqa: F401
    from chainplan.examine.printed import paper, week, workbook  # noqa: F401
    from chainplan.examine.space import poses, reach  # noqa: F401
    from chainplan.examine.told import (  # noqa: F401
        at_bench,
        bench_sheet,
        gained,
        numbers,
        sampled,
        sentences,
        weaving,
    )
    from chainplan.examine.welding import earthed, orders, pulses  # noqa: F401

    files = read_folder(folder)
    findings: list[Finding] = list(files.broken)
    notes: list[str] = []
    checks = [item for item in CHECKS if item[0] not in without]
    before = passed.of(files) if passed is not None and files.whole else None
    again = []
    if files.whole:
        for name, run in checks:
            known = None if before is None else before.notes_of(name)
            if known is not None:
                again.append(name)
                notes += known
                continue
            teller = Teller(name)
            watched = files if before is None else watch(files)
            try:
                with np.errstate(all="ignore"):  # what is no number is told as a finding
                    run(watched, teller)
            except _UNREADABLE as error:
                # What one check cannot read is a finding; the others still run.
                teller.tell("plan", "all of it", f"cannot be read: {error!r}", "a plan")
            told = teller.close()
            findings += told
            notes += teller.notes
            if before is not None and isinstance(watched, WatchedFiles) and not told:
                before.keep(name, watched, teller.notes)
    return Examination(
        folder=str(folder),
        checks=tuple(name for name, _ in checks),
        findings=tuple(findings),
        notes=tuple(notes),
        passed_before=tuple(again),
    )
