"""A job looked back at: planned against actual."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.record import Review, ReviewLine
from chainplan.record.gas import gauge_contents_l, puff_l
from chainplan.record.kept.joins import DONE, join_states
from chainplan.record.kept.lineage import same_work
from chainplan.record.kept.welds import pauses, read_welds
from chainplan.record.learning.learn import learn_from
from chainplan.record.sample import draw_samples
from chainplan.record.trace import trace_joins

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from chainplan.arrays import BoolArray
    from chainplan.model.workshop.record import KnownPlan
    from chainplan.record.kept.store import Record
    from chainplan.record.kept.welds import Welds

WRONG_FROM = 0.10
"""Share by which a quantity must differ to be called wrong."""
FEW = 3.0
"""A count must differ by so many too: one ring more or less is no news."""


def review_of(
    record: Record, plan: KnownPlan, whole: KnownPlan, *, aql_percent: float, seed: int
) -> Review:
    """Compare a job with its plan: minutes, gas, yield, replaced rings and labour cost.

    What was planned is counted for what was done only, so that a job can be looked at half way.
    """
    places, state = join_states(record, whole)
    welds = read_welds(record, (*same_work(record, plan), plan))
    apart = pauses(welds)
    done = {
        (piece.name, copy): state[places.rings(piece, copy)][piece.ring - 1] == DONE
        for piece in whole.pieces
        for copy in range(1, piece.copies + 1)
    }
    lines = [
        *_minutes(record, whole, welds, apart, done),
        *_gas(record, whole, welds, done),
        *_quality(record, whole, welds),
    ]
    lines.append(_labour(whole, lines))
    lines += _quoted(record, whole, lines[-1])
    traces = trace_joins(record, whole, piece=None, copy=None, ring=None)
    rings = {piece.name: piece.rings for piece in whole.pieces}
    samples = draw_samples(traces, whole.job, rings, aql_percent=aql_percent, seed=seed)
    return Review(
        job=plan.job,
        plan=plan.stamp,
        joins=sum(len(part) for part in done.values()),
        done=sum(int(part.sum()) for part in done.values()),
        lines=tuple(lines),
        wrong=tuple(_wrong(lines)),
        samples=samples,
        learnt=tuple(item for item in learn_from(record).figures if not item.group),
    )


def _minutes(
    record: Record,
    whole: KnownPlan,
    welds: Welds,
    apart: BoolArray,
    done: Mapping[tuple[str, int], BoolArray],
) -> Iterator[ReviewLine]:
    """Minutes by station, of the copies and joins that were done there."""
    planned_s = sum(
        float((piece.pace_s + piece.wait_s)[done[piece.name, copy]].sum())
        for piece in whole.pieces
        for copy in range(1, piece.copies + 1)
    )
    timed = ~np.isnan(welds.work_s) & ~apart
    spent_s = float((welds.work_s + welds.waited_s)[timed].sum())
    told = defaultdict(list)
    for name, station, minutes in record.rows(
        "SELECT e.piece, e.station, e.minutes FROM event_now AS e JOIN plan AS p ON p.key = e.plan "
        "WHERE p.root = ? AND e.kind = 'finished' AND e.minutes IS NOT NULL",
        (whole.root or whole.key,),
    ):
        told[station].append((name, minutes))
    for station in STATIONS:
        if station == "weld":
            if timed.any():
                basis = "joins done, pauses apart, second tries among it"
                yield ReviewLine(what="weld", unit="min", planned=planned_s / 60,
                                 actual=spent_s / 60, basis=basis)  # fmt: skip
        elif told[station]:
            planned = 0.0
            for name, _ in told[station]:
                piece = whole.piece(name)
                if piece is not None:
                    planned += piece.station_min.get(station, 0.0) / piece.copies
            yield ReviewLine(
                what=station, unit="min", planned=planned,
                actual=sum(minutes for _, minutes in told[station]),
                basis=f"{len(told[station])} copies finished there",
            )  # fmt: skip


def _gas(
    record: Record, whole: KnownPlan, welds: Welds, done: Mapping[tuple[str, int], BoolArray]
) -> Iterator[ReviewLine]:
    planned = sum(
        int(piece.hits[done[piece.name, copy]].sum())
        for piece in whole.pieces
        for copy in range(1, piece.copies + 1)
    )
    if not len(welds):
        return
    pulses = int(welds.hits.sum())
    yield ReviewLine(what="pulses", unit="", planned=float(planned), actual=float(pulses),
                     basis="joins done, second tries among the actual")  # fmt: skip
    each_l = puff_l(whole.bench)
    first_s, last_s = float(welds.at_s.min()), float(welds.at_s.max())
    rows = record.rows(
        "SELECT at_s, bar, kind FROM event_now WHERE kind IN ('cylinder', 'new cylinder') "
        "ORDER BY at_s, seq"
    )
    before = [row for row in rows if row[0] <= first_s][-1:]
    after = [row for row in rows if row[0] >= last_s][:1]
    between = [row for row in rows if first_s < row[0] < last_s]
    used: float | None = None
    if before and after:
        capacity = float(whole.bench["welder.cylinder_l"])
        used, held = 0.0, before[0][1]
        for _, bar, kind in (*between, *after):
            if kind == "cylinder":
                used += gauge_contents_l(capacity, held) - gauge_contents_l(capacity, bar)
            held = bar
    basis = "cylinder readings" if used is not None else "no readings around the job"
    yield ReviewLine(what="argon", unit="L", planned=planned * each_l, actual=used, basis=basis)


def _quality(record: Record, whole: KnownPlan, welds: Welds) -> Iterator[ReviewLine]:
    if not len(welds):
        return
    place = (welds.piece * (int(welds.copy.max()) + 1) + welds.copy) * (
        int(welds.ring.max()) + 1
    ) + welds.ring
    joins, bad = len(np.unique(place)), len(np.unique(place[~welds.good]))
    yield ReviewLine(
        what="joins good at first try", unit="%",
        planned=100 * float(whole.bench["wire.join_yield"]), actual=100 * (1 - bad / joins),
        basis=f"{bad} of {joins} joins welded again",
    )  # fmt: skip
    ((broken,),) = record.rows(
        "SELECT count(*) FROM event_now AS e JOIN plan AS p ON p.key = e.plan "
        "WHERE p.root = ? AND e.kind = 'broken'",
        (whole.root or whole.key,),
    )
    failed = joins * (1 - float(whole.bench["wire.join_yield"]))
    yield ReviewLine(
        what="rings replaced", unit="",
        planned=failed * float(whole.bench["wire.replaced_share"]), actual=float(broken),
        basis="of the joins tried",
    )  # fmt: skip


def _labour(whole: KnownPlan, lines: list[ReviewLine]) -> ReviewLine:
    rate = float(whole.bench["money.labour_per_hour"])
    minutes = [line for line in lines if line.unit == "min"]
    planned, actual = (
        sum(getattr(line, name) or 0.0 for line in minutes) / 60 * rate
        for name in ("planned", "actual")
    )
    return ReviewLine(what="labour", unit=whole.currency, planned=planned, actual=actual,
                      basis=f"minutes above at {rate:g} an hour")  # fmt: skip


def _quoted(record: Record, whole: KnownPlan, labour: ReviewLine) -> Iterator[ReviewLine]:
    """Metal, cost and price of the whole job, with the differences that are known so far."""
    bench = whole.bench
    cost, metal_g, rings = (float(bench.get(f"quote.{name}") or 0.0)
                            for name in ("cost", "metal_g", "rings"))  # fmt: skip
    if metal_g and rings:
        ((broken,),) = record.rows(
            "SELECT count(*) FROM event_now AS e JOIN plan AS p ON p.key = e.plan "
            "WHERE p.root = ? AND e.kind = 'broken'",
            (whole.root or whole.key,),
        )
        spare = rings - sum(piece.rings * piece.copies for piece in whole.pieces)
        extra = max(broken - spare, 0.0) * metal_g / rings
        yield ReviewLine(
            what="metal", unit="g", planned=metal_g, actual=metal_g + extra,
            basis=f"{broken} rings replaced, {max(spare, 0):.0f} spare ones planned",
        )  # fmt: skip
    if cost:
        now = cost + (labour.actual or 0.0) - (labour.planned or 0.0)
        yield ReviewLine(what="cost of the job", unit=whole.currency, planned=cost, actual=now,
                         basis="as planned, with the difference in labour so far")  # fmt: skip
        share = 1 - float(bench["money.margin_percent"]) / 100
        yield ReviewLine(
            what="price that keeps the margin", unit=whole.currency,
            planned=float(bench.get("quote.price") or 0.0), actual=now / share,
            basis="cost of the job by the margin",
        )  # fmt: skip


def _wrong(lines: list[ReviewLine]) -> Iterator[str]:
    """Say where the plan was wrong by more than a tenth, the farthest first."""
    off = [
        (line.actual / line.planned - 1, line)
        for line in lines
        if line.planned and line.actual is not None
    ]
    for share, line in sorted(off, key=lambda each: -abs(each[0])):
        few = not line.unit and abs((line.actual or 0.0) - (line.planned or 0.0)) < FEW
        if abs(share) > WRONG_FROM and not few:
            more = "more" if share > 0 else "less"
            yield f"{line.what}: {abs(share):.0%} {more} than planned"
