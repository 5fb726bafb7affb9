"""The examine stage: reads a finished plan as it was written, and looks for contradictions.

It knows the files' columns and keys and nothing of how they were made: it has its own geometry, its
own heat simulation and its own sums.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.examine.findings import Examination, Finding
from chainplan.examine.passed import Passed
from chainplan.examine.reading import read_folder
from chainplan.examine.registry import CHECKS
from chainplan.workers import ALONE, Workers, side_by_side

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

__all__ = ["Examination", "Finding", "Passed", "examine_folder"]


def examine_folder(
    folder: Path,
    *,
    without: Collection[str] = (),
    passed: Passed | None = None,
    workers: Workers = ALONE,
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
    workers : Workers
        So many processes of this machine look side by side; what is found is the same.

    Raises
    ------
    InputError
        If the folder holds no plan.
    """
    import uuid

    import chainplan.examine.every  # noqa: F401 - enters all checks into the list
    from chainplan.examine.parts import (
        FILES,
        findings_of,
        look_at,
        no_collection,
        parts_of,
        put_together,
    )

    with no_collection():
        files = read_folder(folder)
    findings: list[Finding] = list(files.broken)
    notes: list[str] = []
    names = [name for name, _ in CHECKS if name not in without]
    before = passed.of(files) if passed is not None and files.whole else None
    again = []
    if files.whole:
        known = {} if before is None else {name: before.notes_of(name) for name in names}
        again = [name for name in names if known.get(name) is not None]
        left = [name for name in names if name not in again]
        examination = uuid.uuid4().hex
        FILES[examination] = files
        try:
            parts = parts_of(folder, examination, left, files, watched=before is not None)
            hands = Workers(count=workers.count)
            looked = put_together(side_by_side(look_at, parts, hands, own_from_end=True))
        finally:
            FILES.clear()
        for name in names:
            if name in again:
                notes += known[name] or ()
                continue
            told = findings_of(looked[name])
            findings += told
            notes += looked[name].notes
            if before is not None and not told:
                before.keep(name, looked[name].read, [*looked[name].notes])
    return Examination(
        folder=str(folder),
        checks=tuple(names),
        findings=tuple(findings),
        notes=tuple(notes),
        passed_before=tuple(again),
    )
