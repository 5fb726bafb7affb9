"""The examine stage: reads a finished plan as it was written, and looks for contradictions.

It knows the files' columns and keys and nothing of how they were made: it has its own geometry, its
own heat simulation and its own sums.
"""

from __future__ import annotations

import gc
from contextlib import contextmanager
from typing import TYPE_CHECKING

from chainplan.examine.apart import examine_apart, one_by_one, run_check
from chainplan.examine.findings import Examination, Finding
from chainplan.examine.passed import Passed
from chainplan.examine.reading import read_folder
from chainplan.examine.registry import APART, CHECKS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator
    from pathlib import Path

    from chainplan.examine.apart import Hands

__all__ = ["Examination", "Finding", "Passed", "examine_folder"]


def examine_folder(
    folder: Path,
    *,
    without: Collection[str] = (),
    passed: Passed | None = None,
    hands: Hands = one_by_one,
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
    hands : callable, optional
        Who goes through the pieces, some at a time, where a check looks at each for itself.

    Raises
    ------
    InputError
        If the folder holds no plan.
    """
    with _no_collection():
        return _examine(folder, without, passed, hands)


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


def _examine(
    folder: Path, without: Collection[str], passed: Passed | None, hands: Hands
) -> Examination:
    import chainplan.examine.every  # noqa: F401

    files = read_folder(folder)
    findings: list[Finding] = list(files.broken)
    notes: list[str] = []
    checks = [item for item in CHECKS if item[0] not in without]
    before = passed.of(files) if passed is not None and files.whole else None
    again = []
    if files.whole:
        known = {name: before.notes_of(name) for name, _ in checks} if before is not None else {}
        new = [name for name, _ in checks if known.get(name) is None]
        apart = examine_apart(
            files,
            [name for name in new if name in APART],
            watched=before is not None,
            hands=hands,
        )
        for name, run in checks:
            passed_notes = known.get(name)
            if passed_notes is not None:
                again.append(name)
                notes += passed_notes
                continue
            told = apart.get(name) or run_check(name, run, files, watched=before is not None)
            found = told.teller.close()
            findings += found
            notes += told.teller.notes
            if before is not None and not found:
                before.keep(name, told.read, told.teller.notes)
    return Examination(
        folder=str(folder),
        checks=tuple(name for name, _ in checks),
        findings=tuple(findings),
        notes=tuple(notes),
        passed_before=tuple(again),
    )
