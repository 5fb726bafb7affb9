"""What the record of all jobs says about the bench: each figure with interval and count."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.workshop.record import Learned, Lesson, WorkingSetting
from chainplan.record.gas import gauge_contents_l, puff_l
from chainplan.record.kept.lineage import known_plan, plan_keys
from chainplan.record.kept.welds import PAUSE_RULE, materials, pauses, read_welds, stretches
from chainplan.record.learning.intervals import LEAST_GROUPS, LEVEL, Estimate, mean, ratio
from chainplan.record.learning.station_times import learn_stations
from chainplan.record.learning.yields import pooled_yields, share

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from chainplan.arrays import BoolArray, IndexArray
    from chainplan.record.kept.store import Record
    from chainplan.record.kept.welds import Welds

LEAST_JOINS = 30
"""Judgement: from 30 on a mean is told to about a third of the spread, and a share of 5 % has
been seen at least once in four of five cases."""
REACH_OF_TIMES = 0.15
"""A time is known well enough if its interval reaches no farther than this share of it."""
LEAST_TRIES = 100
"""First tries from which a yield replaces the job's own."""
SETTING_TRIES = 30
"""Tries from which a welder setting counts as one that works."""
ONE_STINT = "few stints: differences from day to day are not in the interval"
ENOUGH_RULE = (
    f"enough means: at least {LEAST_JOINS} joins in {LEAST_GROUPS} stretches, or {LEAST_GROUPS} "
    f"copies, readings or regrinds, with an interval within {REACH_OF_TIMES:.0%} of a time at the "
    f"welder and a quarter of any other; {LEAST_TRIES} first tries for the yield, {SETTING_TRIES} "
    "for a setting; one measured ring or counted piece"
)


def learn_from(record: Record) -> Lesson:
    """Learn everything that the record allows."""
    plans = [known_plan(record, key) for key in plan_keys(record)]
    ((events,),) = record.rows("SELECT count(*) FROM event")
    if not plans:
        return Lesson(
            record=str(record.path), events=events, level=LEVEL, figures=(), settings=(),
            notes=("no plan is recorded yet, so there is nothing to compare with",),
        )  # fmt: skip
    bench = plans[-1].bench
    welds = read_welds(record, plans)
    apart = pauses(welds)
    first = _first_tries(welds)
    place = place_keys(welds)
    bad = _found_bad(record, welds) | np.isin(place, place[~welds.good])
    settings = tuple(_settings(welds, first, bad))
    figures = [
        *_seconds_a_join(welds, first & ~apart, bench),
        *learn_stations(record, plans),
        *_yield(welds, first, bad, record, bench),
        *_yield_by_setting(settings),
        *_gas(record, welds, bench),
        *_tips(record, welds, bench),
        *_measured(record),
    ]
    notes = [f"{int(apart.sum())} times were set apart: {PAUSE_RULE}", ENOUGH_RULE]
    return Lesson(
        record=str(record.path),
        events=events,
        level=LEVEL,
        figures=tuple(figures),
        settings=settings,
        notes=tuple(notes),
    )


def place_keys(welds: Welds) -> IndexArray:
    """Give one number to each join: of piece in its work, copy and ring."""
    works: dict[tuple[str, str], int] = {}
    of_piece = np.array(
        [works.setdefault((plan.root, piece.name), len(works)) for plan, piece in welds.pieces],
        dtype=np.intp,
    )
    rings = int(welds.ring.max(initial=0)) + 1
    copies = int(welds.copy.max(initial=0)) + 1
    found: IndexArray = (of_piece[welds.piece] * copies + welds.copy) * rings + welds.ring
    return found


def _first_tries(welds: Welds) -> BoolArray:
    """Which tries are the first of their join."""
    first = np.zeros(len(welds), dtype=bool)
    if len(welds):
        place = place_keys(welds)
        order = np.lexsort((np.arange(len(place)), welds.at_s, place))
        begins = np.ones(len(order), dtype=bool)
        begins[1:] = place[order][1:] != place[order][:-1]
        first[order[begins]] = True
    return first


def _found_bad(record: Record, welds: Welds) -> BoolArray:
    """Which joins a later check found bad, as a mark on their tries."""
    rows = record.rows("SELECT plan, piece, copy, ring FROM event_now WHERE kind = 'bad'")
    if not rows:
        return np.zeros(len(welds), dtype=bool)
    root = {plan.key: plan.root for plan, _ in welds.pieces}
    told = {(root.get(key), name, copy, ring) for key, name, copy, ring in rows}
    names = [(plan.root, piece.name) for plan, piece in welds.pieces]
    return np.array(
        [
            (*names[k], copy, ring) in told
            for k, copy, ring in zip(
                welds.piece.tolist(), welds.copy.tolist(), welds.ring.tolist(), strict=True
            )
        ],
        dtype=bool,
    )


def figure(key: str, title: str, unit: str, old: Any, found: Estimate, **more: Any) -> Learned:
    """Make a figure of an estimate."""
    return Learned(
        key=key,
        title=title,
        unit=unit,
        old=None if old is None else float(old),
        new=found.value,
        low=found.low,
        high=found.high,
        n=found.n,
        groups=found.groups,
        **more,
    )


def within(found: Estimate, reach: float) -> bool:
    """Whether an interval reaches no farther than a share of the value."""
    return found.groups >= LEAST_GROUPS and found.high - found.low <= 2 * reach * abs(found.value)


def _seconds_a_join(welds: Welds, rows: BoolArray, bench: Mapping[str, Any]) -> Iterator[Learned]:
    """Seconds of handling, and seconds a join by piece, weave, wire and pass."""
    timed = welds.pick(rows & ~np.isnan(welds.work_s) & ~np.isnan(welds.pace_s))
    if not len(timed):
        return
    stint, many = stretches(timed)
    few = "" if many else f"; {ONE_STINT}"
    handle = np.array([float(plan.bench["pace.handle_s"]) for plan, _ in timed.pieces])
    inside = ~timed.opens_pass
    if inside.any():
        rest_s = timed.pace_s - handle[timed.piece]  # moving and extra hits, as planned
        found = ratio((timed.work_s - rest_s)[inside], np.ones(inside.sum()), stint[inside])
        yield figure(
            "pace.handle_s", "aim and weld one join", "s", bench["pace.handle_s"], found,
            enough=found.n >= LEAST_JOINS and within(found, REACH_OF_TIMES),
            basis=f"first tries inside a pass, less the moving and extra hits planned{few}",
        )  # fmt: skip
    for kind, names in _groupings(timed).items():
        for name in dict.fromkeys(names.tolist()):
            of = names == name
            found = ratio(timed.work_s[of], np.ones(of.sum()), stint[of])
            yield figure(
                "seconds a join", f"seconds a join, by {kind}", "s",
                float(timed.pace_s[of].mean()), found, group=str(name),
                enough=found.n >= LEAST_JOINS and within(found, REACH_OF_TIMES),
                basis="first tries, waits and pauses apart" + few,
            )  # fmt: skip


def _groupings(welds: Welds) -> dict[str, np.ndarray]:
    """Names of the groups that each row belongs to, by what they are grouped by."""
    names = np.array([piece.name for _, piece in welds.pieces], dtype=object)
    most = max((len(piece.sections) for _, piece in welds.pieces), default=1)
    weaves = np.array(
        [[*(s.weave for s in piece.sections), *[""] * (most - len(piece.sections))]
         for _, piece in welds.pieces], dtype=object,
    ).reshape(len(welds.pieces), most)  # fmt: skip
    material, made_of = materials(welds)
    of = np.array([f"{metal} {wire_mm:g} mm" for metal, wire_mm in made_of], dtype=object)
    piece = names[welds.piece]
    passes = np.array([f", pass {k}" for k in range(int(welds.pass_number.max(initial=0)) + 1)],
                      dtype=object)  # fmt: skip
    return {
        "piece": piece,
        "weave": weaves[welds.piece, np.minimum(welds.section, most - 1)],
        "metal and wire": of[material],
        "pass": piece + passes[welds.pass_number],
    }


def _yield(
    welds: Welds, first: BoolArray, bad: BoolArray, record: Record, bench: Mapping[str, Any]
) -> Iterator[Learned]:
    tries = int(first.sum())
    if tries:
        good = int((welds.good & ~bad)[first].sum())
        found = Estimate(*share(good, tries), tries, tries)
        yield figure(
            "wire.join_yield", "share of joins good at first try", "", bench["wire.join_yield"],
            found, enough=tries >= LEAST_TRIES, basis=f"{good} of {tries} first tries",
        )  # fmt: skip
    rows = dict(
        record.rows(
            "SELECT kind, count(*) FROM event_now WHERE kind IN ('again', 'bad', 'broken') "
            "GROUP BY kind"
        )
    )
    failed = sum(rows.values())
    if failed:
        broken = rows.get("broken", 0)
        found = Estimate(*share(broken, failed), failed, failed)
        yield figure(
            "wire.replaced_share", "share of bad joins whose ring is replaced", "",
            bench["wire.replaced_share"], found, enough=failed >= LEAST_JOINS,
            basis=f"{broken} rings replaced, {failed} joins not good",
        )  # fmt: skip
    again = welds.pick(~first & welds.good & ~np.isnan(welds.work_s))
    if len(again):
        again = again.pick(~pauses(again))
        found = ratio(again.work_s, np.ones(len(again)), stretches(again)[0])
        yield figure(
            "stations.rework_s", "find and weld one bad join again", "s",
            bench["stations.rework_s"], found, enough=within(found, 0.25),
            basis="joins that were welded again",
        )  # fmt: skip


Combination = tuple[str, float, float, int, str]
"""Metal, wire, power, hits, tip."""


def _by_setting(
    welds: Welds, first: BoolArray, bad: BoolArray
) -> dict[Combination, tuple[int, int]]:
    """First tries and good ones by metal, wire and what the welder was set to."""
    rows = welds.pick(first)
    good = (welds.good & ~bad)[first]
    material, names = materials(rows)
    columns = np.column_stack([material, rows.power_j, rows.hits, rows.tip])
    known = ~np.isnan(columns).any(axis=1)
    kinds, number = np.unique(columns[known], axis=0, return_inverse=True)
    number = number.ravel()
    tries = np.bincount(number, minlength=len(kinds))
    fine = np.bincount(number, good[known], minlength=len(kinds))
    return {
        (*names[int(kind[0])], float(kind[1]), int(kind[2]), "blunt" if kind[3] else "sharp"):
        (int(n), int(k))
        for kind, n, k in zip(kinds, tries, fine, strict=True)
    }  # fmt: skip


def _yield_by_setting(settings: Sequence[WorkingSetting]) -> Iterator[Learned]:
    for item in settings:
        found = Estimate(item.yield_share, item.low, item.high, item.tries, len(settings))
        yield figure(
            "yield", "yield by metal, wire and setting", "", None, found,
            enough=item.tries >= SETTING_TRIES,
            group=f"{item.metal} {item.wire_mm:g} mm at {item.power_j:g} J, {item.hits} hits, "
            f"{item.tip} tip",
            basis=f"{item.good} of {item.tries}, pooled over {len(settings)} groups",
        )  # fmt: skip


def _settings(welds: Welds, first: BoolArray, bad: BoolArray) -> Iterator[WorkingSetting]:
    """List settings with their yield; the best of a metal and wire is the surest one."""
    groups = _by_setting(welds, first, bad)
    if not groups:
        return
    counts = np.array(list(groups.values()), dtype=float)
    found = dict(zip(groups, pooled_yields(counts[:, 1], counts[:, 0]), strict=True))
    best: dict[tuple[str, float], Combination] = {}
    for kind, (tries, _) in groups.items():
        leader = best.get(kind[:2])
        if tries >= SETTING_TRIES and (leader is None or found[kind].low > found[leader].low):
            best[kind[:2]] = kind
    for kind, (tries, good) in sorted(groups.items()):
        metal, wire_mm, power_j, hits, tip = kind
        value, low, high = found[kind]
        yield WorkingSetting(
            metal=metal, wire_mm=wire_mm, power_j=power_j, hits=hits, tip=tip, tries=tries,
            good=good, yield_share=value, low=low, high=high, best=best.get(kind[:2]) == kind,
        )  # fmt: skip


def _pulses_between(welds: Welds, times: np.ndarray) -> np.ndarray:
    """Pulses shot between successive moments, shape (len(times) − 1,)."""
    order = np.argsort(welds.at_s, kind="stable")
    total = np.concatenate([[0], np.cumsum(welds.hits[order])])
    found: np.ndarray = np.diff(total[np.searchsorted(welds.at_s[order], times, side="right")])
    return found


def _gas(record: Record, welds: Welds, bench: Mapping[str, Any]) -> Iterator[Learned]:
    rows = record.rows(
        "SELECT at_s, bar, kind FROM event_now WHERE kind IN ('cylinder', 'new cylinder') "
        "ORDER BY at_s, seq"
    )
    if len(rows) < 2:
        return
    times, bars, kinds = zip(*rows, strict=True)
    capacity = float(bench["welder.cylinder_l"])
    held = np.array([gauge_contents_l(capacity, bar) for bar in bars])
    pulses = _pulses_between(welds, np.array(times)).astype(float)
    same = np.array([kind == "cylinder" for kind in kinds[1:]]) & (pulses > 0)
    if not same.any():
        return
    found = ratio(-np.diff(held)[same], pulses[same], np.arange(same.sum()))
    found = found._replace(n=int(pulses[same].sum()))
    enough = within(found, 0.25)
    basis = f"{int(same.sum())} stretches between cylinder readings, leaks among it"
    old = puff_l(bench)
    yield figure(
        "litres a puff", "argon a pulse", "L", old, found, enough=enough, basis=basis
    )  # fmt: skip
    flow = float(bench["welder.flow_l_min"])
    scale = flow / old
    scaled = Estimate(found.value * scale, found.low * scale, found.high * scale, *found[3:])
    yield figure(
        "welder.flow_l_min", "argon flow that the readings say", "L/min", flow, scaled,
        enough=enough, basis=basis,
    )  # fmt: skip


def _tips(record: Record, welds: Welds, bench: Mapping[str, Any]) -> Iterator[Learned]:
    rows = record.rows(
        "SELECT at_s FROM event_now WHERE kind IN ('reground', 'new tip') ORDER BY at_s, seq"
    )
    if len(rows) < 2:
        return
    pulses = _pulses_between(welds, np.array([at_s for (at_s,) in rows])).astype(float)
    found = mean(pulses[pulses > 0])
    yield figure(
        "welder.pulses_per_regrind", "pulses until the tip is ground again", "",
        bench["welder.pulses_per_regrind"], found, enough=within(found, 0.25),
        basis=f"{found.n} stretches from one sharp tip to the next",
    )  # fmt: skip


def _measured(record: Record) -> Iterator[Learned]:
    """Rings per cm by piece; inner diameters by metal, wire and mandrel."""
    rows = record.rows(
        "SELECT what, piece, metal, wire_mm, mandrel_mm, value FROM event_now "
        "WHERE kind = 'measured' ORDER BY seq"
    )
    groups: dict[tuple[str, str], list[float]] = defaultdict(list)
    for what, piece, metal, wire_mm, mandrel_mm, value in rows:
        if what == "rings per cm" and piece:
            groups["pieces.measured rings per cm", piece].append(value)
        elif what == "inner mm" and metal and wire_mm and mandrel_mm:
            group = f"{metal}, {wire_mm:g} mm wire on {mandrel_mm:g} mm"
            groups["recorded.inner", group].append(value)
    for (key, group), values in groups.items():
        rings = key.startswith("pieces")
        yield figure(
            key, "rings per cm measured" if rings else "inner diameter measured",
            "per cm" if rings else "mm", None, mean(np.array(values)), group=group, enough=True,
            basis="measured",
        )  # fmt: skip
