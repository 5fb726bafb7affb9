"""What a job has taken so far and what is still to come, station by station."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from chainplan.model.workshop.bench_log import STATIONS
from chainplan.record.progress import stations_finished

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.workshop.record import CopyProgress, KnownPlan, Progress
    from chainplan.record.kept.store import Record


class Minutes(NamedTuple):
    """Minutes at one station, all copies of all pieces together."""

    spent: float
    to_come: float


def minutes_of_job(record: Record, whole: KnownPlan, now: Progress) -> dict[str, Minutes]:
    """Add up every station's minutes: as told, else as planned where a copy has passed it.

    At the welder they are the seconds of the taps, pauses apart, and what is left at the pace so
    far. Second tries are among the welds, so what was planned for rework and is not told counts as
    to come only for joins that are still open.

    Parameters
    ----------
    record : Record
        The workshop's record.
    whole : KnownPlan
        The plan with every join of its work.
    now : Progress
        How far it is.
    """
    told = _told(record, whole)
    finished = stations_finished(record, whole)
    found = dict.fromkeys(STATIONS, Minutes(0.0, 0.0))
    for copy in now.pieces:
        piece = whole.piece(copy.name)
        if piece is None:
            continue
        passed = _passed(copy, finished.get((copy.name, copy.copy), set()))
        for station in STATIONS:
            spent, come = found[station]
            planned = piece.station_min.get(station, 0.0) / piece.copies
            known = told.get((copy.name, copy.copy, station))
            if station == "weld":
                spent += (copy.work_s + copy.waited_s) / 60
                come += copy.left_s / 60
            elif station == "rework":
                spent += known or 0.0
                come += planned * copy.left / max(copy.joins, 1)
            elif station in passed:
                spent += planned if known is None else known
            else:
                spent += known or 0.0
                come += max(planned - (known or 0.0), 0.0)
            found[station] = Minutes(spent, come)
    return {name: minutes for name, minutes in found.items() if any(minutes)}


def share_begun(now: Progress, finished: Mapping[tuple[str, int], set[str]]) -> dict[str, float]:
    """Share of each piece's copies that are begun, by wire cut or welded: material is spent."""
    found: dict[str, list[bool]] = {}
    for copy in now.pieces:
        begun = copy.done or copy.not_good or finished.get((copy.name, copy.copy))
        found.setdefault(copy.name, []).append(bool(begun))
    return {name: sum(copies) / len(copies) for name, copies in found.items()}


def _passed(copy: CopyProgress, finished: set[str]) -> set[str]:
    """Find the stations that a copy has behind it: whatever is welded has been woven."""
    last = max((STATIONS.index(name) for name in finished), default=-1)
    if copy.done or copy.not_good:
        last = max(last, STATIONS.index("weld") - 1)
    return set(STATIONS[: last + 1])


def _told(record: Record, whole: KnownPlan) -> dict[tuple[str, int, str], float]:
    """Minutes told for copies at stations."""
    rows = record.rows(
        "SELECT e.piece, e.copy, e.station, sum(e.minutes) FROM event_now AS e "
        "JOIN plan AS p ON p.key = e.plan WHERE p.root = ? AND e.kind = 'finished' "
        "AND e.minutes IS NOT NULL GROUP BY e.piece, e.copy, e.station",
        (whole.root or whole.key,),
    )
    return {(piece, copy, station): minutes for piece, copy, station, minutes in rows}
