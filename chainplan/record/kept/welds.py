"""Every weld of the record with what its plan promised, as columns of arrays."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.record import TRIES
from chainplan.record.kept.lineage import known_plan, plan_keys

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.model.workshop.record import KnownPiece, KnownPlan
    from chainplan.record.kept.store import Record

PAUSE_TIMES = 10.0
PAUSE_LEAST_S = 120.0
"""A tap that came so late was a pause and no work: judgement, told in words by the rule below."""
PAUSE_RULE = (
    "a join that took more than two minutes and more than ten times the middle time of its piece "
    "holds a pause: its time is set apart"
)
"""The rule by which time asleep or away is told from work."""
STINT_GAP_S = 1800.0
"""Seconds without a tap after which another stint begins."""
LEAST_STINTS = 5
"""Stints from which intervals are taken between stints: fewer tell nothing of how they differ."""
RUN = 20
"""Joins of one run, where there are too few stints to compare."""


@dataclass(frozen=True)
class Welds:
    """One row a try: arrays of shape (n,), in the order of the record."""

    piece: IndexArray  # number of (plan, piece) in ``pieces``
    copy: IndexArray
    ring: IndexArray
    good: BoolArray  # done, else to be welded again
    at_s: FloatArray
    work_s: FloatArray  # nan: not timed
    waited_s: FloatArray
    person: IndexArray  # number in ``people``
    pace_s: FloatArray  # planned, nan: not in the plan
    wait_s: FloatArray
    power_j: FloatArray
    hits: IndexArray
    tip: IndexArray  # 0 sharp, 1 blunt
    section: IndexArray  # from 0
    pass_number: IndexArray
    opens_pass: BoolArray  # the first join of a pass, where turning and setting are counted
    pieces: tuple[tuple[KnownPlan, KnownPiece], ...]
    people: tuple[str, ...]

    def pick(self, rows: BoolArray) -> Welds:
        """Keep some rows."""
        columns = {
            item.name: getattr(self, item.name)[rows]
            for item in fields(self)
            if item.name not in ("pieces", "people")
        }
        return Welds(**columns, pieces=self.pieces, people=self.people)

    def __len__(self) -> int:
        return len(self.ring)


_SQL = f"""SELECT e.plan, e.piece, e.copy, e.ring, e.kind = 'done', e.at_s, e.work_s, e.waited_s,
e.person, e.power_j, e.hits, e.tip FROM event_now AS e
WHERE e.kind IN ({", ".join(repr(kind) for kind in TRIES)}) AND e.plan IS NOT NULL"""


def read_welds(record: Record, plans: Sequence[KnownPlan] | None = None) -> Welds:
    """Read every try of some plans, or of all that the record knows."""
    if plans is None:
        plans = [known_plan(record, key) for key in plan_keys(record)]
    keys = [plan.key for plan in plans]
    rows = record.rows(f"{_SQL} AND e.plan IN ({', '.join('?' * len(keys))}) ORDER BY e.seq", keys)
    pieces = tuple((plan, piece) for plan in plans for piece in plan.pieces)
    number = {(plan.key, piece.name): k for k, (plan, piece) in enumerate(pieces)}
    rows = [row for row in rows if (row[0], row[1]) in number]
    columns = list(zip(*rows, strict=True)) or [()] * 12
    which = np.array([number[key, name] for key, name in zip(columns[0], columns[1], strict=True)],
                     dtype=np.intp)  # fmt: skip
    names = dict.fromkeys(columns[8])
    person = {name: k for k, name in enumerate(names)}
    ring = np.array(columns[3], dtype=np.intp)
    given = {
        "power_j": _floats(columns[9]),
        "hits": _floats(columns[10]),
        "tip": np.array(
            [{"sharp": 0.0, "blunt": 1.0}.get(tip, np.nan) for tip in columns[11]], dtype=float
        ),
    }
    at_s = np.array(columns[5], dtype=float)
    planned = _planned(pieces, which, ring)
    _settings(record, pieces, which, at_s, given)
    for name, values in given.items():
        planned[name] = np.where(np.isnan(values), planned[name], values)
    return Welds(
        piece=which,
        copy=np.array(columns[2], dtype=np.intp),
        ring=ring,
        good=np.array(columns[4], dtype=bool),
        at_s=at_s,
        work_s=_floats(columns[6]),
        waited_s=np.nan_to_num(_floats(columns[7])),
        person=np.array([person[name] for name in columns[8]], dtype=np.intp),
        pace_s=planned["pace_s"],
        wait_s=planned["wait_s"],
        power_j=planned["power_j"],
        hits=np.nan_to_num(planned["hits"], nan=1.0).astype(np.intp),
        tip=np.nan_to_num(planned["tip"]).astype(np.intp),
        section=np.nan_to_num(planned["section"]).astype(np.intp),
        pass_number=np.nan_to_num(planned["pass"]).astype(np.intp),
        opens_pass=planned["opens"] == 1.0,
        pieces=pieces,
        people=tuple(names),
    )


def _floats(values: Sequence[float | None]) -> FloatArray:
    found: FloatArray = np.array(values, dtype=float)  # None becomes nan
    return found


def _planned(
    pieces: Sequence[tuple[KnownPlan, KnownPiece]], which: IndexArray, ring: IndexArray
) -> dict[str, FloatArray]:
    """Look up what the plans gave for every join, by name."""
    names = ("pace_s", "wait_s", "power_j", "hits", "tip", "section", "pass", "opens")
    found = {name: np.full(len(ring), np.nan) for name in names}
    for k, (_, piece) in enumerate(pieces):
        rows = np.flatnonzero(which == k)
        if not len(rows):
            continue
        step = np.full(piece.rings + 1, -1)
        step[piece.ring] = np.arange(piece.joins)
        at = step[np.minimum(ring[rows], piece.rings)]
        rows, at = rows[at >= 0], at[at >= 0]
        opens = np.ones(piece.joins)
        opens[1:] = piece.pass_number[1:] != piece.pass_number[:-1]
        columns: tuple[FloatArray, ...] = (
            piece.pace_s, piece.wait_s, piece.power_j, piece.hits.astype(float),
            np.array([tip == "blunt" for tip in piece.tip], dtype=float),
            (piece.section - 1).astype(float),
            piece.pass_number.astype(float), opens,
        )  # fmt: skip
        for name, column in zip(names, columns, strict=True):
            found[name][rows] = column[at]
    return found


def _settings(
    record: Record,
    pieces: Sequence[tuple[KnownPlan, KnownPiece]],
    which: IndexArray,
    at_s: FloatArray,
    given: dict[str, FloatArray],
) -> None:
    """Fill in what the welder was set to when, where a tap does not say it itself."""
    told = record.rows(
        "SELECT e.piece, p.root, e.at_s, e.power_j, e.hits, e.tip FROM event_now AS e "
        "LEFT JOIN plan AS p ON p.key = e.plan WHERE e.kind = 'setting' ORDER BY e.at_s, e.seq"
    )
    if not told:
        return
    for k, (plan, piece) in enumerate(pieces):
        here = [
            row for row in told
            if (row[0] == piece.name and row[1] in (None, plan.root)) or not row[0]
        ]  # fmt: skip
        rows = np.flatnonzero(which == k)
        if not here or not len(rows):
            continue
        last = np.searchsorted(np.array([row[2] for row in here]), at_s[rows], side="right") - 1
        rows, last = rows[last >= 0], last[last >= 0]
        columns = {
            "power_j": _floats([row[3] for row in here]),
            "hits": _floats([row[4] for row in here]),
            "tip": _floats([{"sharp": 0.0, "blunt": 1.0}.get(row[5]) for row in here]),
        }
        for name, values in columns.items():
            own = given[name][rows]
            given[name][rows] = np.where(np.isnan(own), values[last], own)


def materials(welds: Welds) -> tuple[IndexArray, tuple[tuple[str, float], ...]]:
    """Tell metal and wire of each try: a number, and what each number stands for."""
    most = max((len(piece.sections) for _, piece in welds.pieces), default=1)
    known: dict[tuple[str, float], int] = {}
    of = np.zeros((len(welds.pieces), most), dtype=np.intp)
    for k, (_, piece) in enumerate(welds.pieces):
        for s, section in enumerate(piece.sections):
            of[k, s] = known.setdefault((section.metal, section.wire_mm), len(known))
    found: IndexArray = of[welds.piece, np.minimum(welds.section, most - 1)]
    for k, (_, piece) in enumerate(welds.pieces):
        if not piece.metal:
            continue
        by_ring = np.zeros(piece.rings + 1, dtype=np.intp)
        for at, ring in enumerate(piece.ring.tolist()):
            wire_mm = piece.sections[int(piece.section[at]) - 1].wire_mm
            by_ring[ring] = known.setdefault((piece.metal_of(at), wire_mm), len(known))
        own = welds.piece == k
        found[own] = by_ring[np.minimum(welds.ring[own], piece.rings)]
    return found, tuple(known)


def pauses(welds: Welds) -> BoolArray:
    """Which tries hold a pause, by :data:`PAUSE_RULE`."""
    apart = np.zeros(len(welds), dtype=bool)
    for k in np.unique(welds.piece).tolist():
        rows = np.flatnonzero((welds.piece == k) & ~np.isnan(welds.work_s))
        if len(rows):
            middle = float(np.median(welds.work_s[rows]))
            apart[rows] = welds.work_s[rows] > max(PAUSE_LEAST_S, PAUSE_TIMES * middle)
    return apart


def stretches(welds: Welds) -> tuple[IndexArray, bool]:
    """Give each try the number of its stretch of work, by which intervals are made.

    Returns
    -------
    tuple of array and bool
        Numbers of whole stints where there are at least :data:`LEAST_STINTS` of them, and True.
        Else numbers of runs of :data:`RUN` joins, and False: the differences from day to day are
        not known then, and no interval holds them.
    """
    stint = stints(welds)
    if len(np.unique(stint)) >= LEAST_STINTS:
        return stint, True
    order = np.lexsort((welds.at_s, stint))
    begins = np.ones(len(order), dtype=bool)
    begins[1:] = stint[order][1:] != stint[order][:-1]
    start = np.maximum.accumulate(np.where(begins, np.arange(len(order)), 0))
    within = np.arange(len(order)) - start
    found = np.empty(len(order), dtype=np.intp)
    found[order] = np.cumsum(within % RUN == 0) - 1
    return found, False


def stints(welds: Welds) -> IndexArray:
    """Give each try the number of its stint: one person at one piece without a long gap."""
    order = np.lexsort((welds.at_s, welds.piece, welds.person))
    person, piece, at_s = welds.person[order], welds.piece[order], welds.at_s[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = (
        (person[1:] != person[:-1]) | (piece[1:] != piece[:-1]) | (np.diff(at_s) > STINT_GAP_S)
    )
    found = np.empty(len(order), dtype=np.intp)
    found[order] = np.cumsum(new) - 1
    return found
