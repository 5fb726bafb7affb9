"""Who did what so far, and who is at what now."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.record import PersonProgress

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray
    from chainplan.model.workshop.record import KnownPlan
    from chainplan.record.kept.store import Record
    from chainplan.record.kept.welds import Welds

LEAST_JOINS = 10
"""Timed joins before a person's pace is told."""
_LAST = """SELECT e.person, e.kind, e.piece, e.copy, e.station, e.at, max(e.at_s)
FROM event_now AS e LEFT JOIN plan AS p ON p.key = e.plan
WHERE (p.root = ? OR e.plan IS NULL) AND e.person <> '' AND {where} GROUP BY e.person"""
"""The last event of each person: beside max(), SQLite gives the columns of the row that has it."""


def people_of(
    record: Record, plan: KnownPlan, welds: Welds, apart: BoolArray
) -> tuple[PersonProgress, ...]:
    """Count joins and pace by person, and say where each was last.

    Parameters
    ----------
    record : Record
        The workshop's record.
    plan : KnownPlan
        The plan.
    welds : Welds
        Every try of its work.
    apart : array of shape (n,)
        Which of them hold a pause.
    """
    root = (plan.root or plan.key,)
    last = {row[0]: row for row in record.rows(_LAST.format(where="1"), root)}
    at = {row[0]: row for row in record.rows(_LAST.format(where="e.piece <> ''"), root)}
    shift = {
        row[0]: row[1] == "begins"
        for row in record.rows(_LAST.format(where="e.kind IN ('begins', 'ends')"), root)
    }
    number = {name: k for k, name in enumerate(welds.people)}
    found = []
    for name in sorted(last):
        rows = welds.person == number.get(name, -1)
        timed = rows & ~np.isnan(welds.work_s) & ~np.isnan(welds.pace_s) & ~apart
        planned_s = float(np.where(welds.good, welds.pace_s, 0.0)[timed].sum())
        work_s = float(welds.work_s[timed].sum())
        _, kind, piece, copy, station, *_ = at.get(name, (name, "", "", None, "", ""))
        found.append(
            PersonProgress(
                person=name,
                joins=int((rows & welds.good).sum()),
                second_tries=int((rows & ~welds.good).sum()),
                work_s=work_s,
                pace=work_s / planned_s if timed.sum() >= LEAST_JOINS and planned_s > 0 else None,
                here=shift.get(name),
                piece=piece,
                copy=copy,
                station=station or ("weld" if piece and kind != "note" else ""),
                since=last[name][5],
            )
        )
    return tuple(found)
