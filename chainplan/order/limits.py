"""How near an order comes to every limit, and which limits no order can keep.

A limit that cannot be kept is set aside by name, and the order is made to keep all others: one weld
alone may bring a part above its limit, and nothing cools below what it would be without any weld.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.order import LimitCheck, LimitKind, SetAside
from chainplan.order.clock.protocol import settle
from chainplan.order.clock.select import make_clock
from chainplan.order.piece.ring_limits import list_ring_limits
from chainplan.order.proof.verify import ALLOWANCE_K

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.order import Violation
    from chainplan.model.thermal.heat import HeatModel, PartNode, RingLimit
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.hold import Grips
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated


@frozen
class Obstacle:
    """A part that one single weld already brings above its limit: no order or wait can help."""

    part: PartNode
    corner: str
    window_s: float  # how long one weld is followed
    joins: IntArray  # the welds that do, worst first
    peak_c: float
    spare_k: float  # what the limit leaves over the part's temperature without welds


def find_obstacles(clock: Clock) -> list[Obstacle]:
    """Parts that no order can keep below their limits, with the worst bad corner of each.

    One weld's rise at the part comes on top of a temperature that is never below the one without
    welds, so a single weld above the limit proves that neither order nor waiting helps.
    """
    situation, out = clock.situation, []
    for part in situation.heat.parts:
        found = []
        for corner in situation.heat.bad_corners:
            base = float(situation.heat.networks[corner].base_c[part.node])
            joins, peak = clock.alone_k(corner, part.node)
            spare = part.limit_c - base
            over = np.flatnonzero(peak > spare)
            if over.size or spare <= 0:
                found.append(
                    Obstacle(
                        part=part,
                        corner=corner,
                        window_s=clock.felt_s(corner),
                        joins=joins[over[np.argsort(-peak[over], kind="stable")]],
                        peak_c=base + float(peak.max(initial=0.0)),
                        spare_k=spare,
                    )
                )
        if found:
            out.append(max(found, key=lambda item: item.peak_c))
    return out


def hopeless_ring_limits(situation: Situation) -> list[tuple[RingLimit, float]]:
    """Ring limits not above the piece at rest at the bad end, with its temperature there. [°C]."""
    heat, ring = situation.heat, situation.work.ring
    base = np.max([heat.networks[corner].base_c[ring] for corner in heat.bad_corners], axis=0)
    out = []
    for item in list_ring_limits(heat, situation.limits):
        over = base >= item.limit_c[ring]
        if over.any():
            out.append((item, float(base[over].max())))
    return out


def coolest_without_welds_c(situation: Situation) -> float:
    """Coolest place of the piece at rest, in the warmest bad corner. [°C]."""
    heat = situation.heat
    return max(float(heat.networks[corner].base_c.min()) for corner in heat.bad_corners)


def find_hopeless(clock: Clock) -> list[SetAside]:
    """Limits that provably no order keeps."""
    situation, limits = clock.situation, clock.situation.limits
    out = []
    out += [_aside_ring(item, proved=True) for item, _ in hopeless_ring_limits(situation)]
    if situation.held and coolest_without_welds_c(situation) >= limits.kept_finger_c:
        out.append(_aside(situation, LimitKind.FINGERS))
    names = dict.fromkeys(obstacle.part.name for obstacle in find_obstacles(clock))
    return out + [_aside(situation, LimitKind.PART, name) for name in names]


def _aside(
    situation: Situation, kind: LimitKind, name: str = "", *, proved: bool = True
) -> SetAside:
    """Set a part's limit or that for the fingers aside."""
    parts = [part.limit_c for part in situation.heat.parts if part.name == name]
    return SetAside(
        kind=kind,
        name=name or str(kind),
        limit_c=min(parts) if kind is LimitKind.PART else situation.limits.kept_finger_c,
        proved=proved,
    )


def _aside_ring(item: RingLimit, *, proved: bool) -> SetAside:
    limit_c = float(item.limit_c.min())
    return SetAside(kind=item.kind, name=item.name, limit_c=limit_c, proved=proved)


def find_in_the_way(clock: Clock, order: IntArray) -> SetAside | None:
    """Which single limit to set aside, since no order that was tried keeps them all.

    The first without which the order can be timed: parts first, the one that single welds come
    nearest to before the others, then the fingers, then the limit before a weld. If none does it
    alone, the first of them. None if no limit is left.
    """
    situation = clock.situation
    parts = {part.name: 0.0 for part in clock.watched}
    for part in clock.watched:
        for corner in situation.heat.bad_corners:
            spare = part.limit_c - float(situation.heat.networks[corner].base_c[part.node])
            share = float(clock.alone_k(corner, part.node)[1].max(initial=0.0)) / max(spare, 1e-9)
            parts[part.name] = max(parts[part.name], share)
    items = [
        _aside(situation, LimitKind.PART, name, proved=False)
        for name in sorted(parts, key=lambda name: (-parts[name], name))
    ]
    if situation.held:
        items.append(_aside(situation, LimitKind.FINGERS, proved=False))
    items += [_aside_ring(item, proved=False) for item in situation.ring_limits]
    for item in items:
        if settle(make_clock(situation.without([item])), order).feasible:
            return item
    return items[0] if items else None


def aside_of(situation: Situation, wrong: Iterable[Violation]) -> list[SetAside]:
    """Limits that an order breaks in the simulation, to be set aside by name."""
    named = dict.fromkeys((LimitKind(item.kind), item.limit) for item in wrong)
    rings = {(item.kind, item.name): item for item in situation.ring_limits}
    return [
        _aside_ring(rings[key], proved=False)
        if key in rings
        else _aside(situation, *key, proved=False)
        for key in named
    ]


def still_wrong(situation: Situation, wrong: Iterable[Violation]) -> tuple[Violation, ...]:
    """Those violations that are of limits to be kept."""
    return tuple(item for item in wrong if situation.keeps(LimitKind(item.kind), item.limit))


def usual_corner(heat: HeatModel) -> str:
    """Name of the corner with the usual values."""
    bad = set(heat.bad_corners)
    return next((corner for corner in heat.corners[1:] if corner not in bad), heat.corners[0])


def check_limits(situation: Situation, seen: Simulated) -> tuple[LimitCheck, ...]:
    """Compare simulated runs, one a corner, with every limit: low, usual and bad end.

    Returns
    -------
    tuple of LimitCheck
        Rings before their welds first, then the fingers (if they hold the piece anywhere), then
        the parts.
    """
    out = [
        check
        for item in list_ring_limits(situation.heat, situation.limits)
        if (check := _check_rings(situation.heat, seen, item)) is not None
    ]
    if seen.grips is not None:
        out.append(_check_fingers(situation, seen, seen.grips))
    heat = situation.heat
    for part in heat.parts:
        peaks = {corner: float(run.peak_c[part.node]) for corner, run in seen.runs.items()}
        near = ", ".join(str(number + 1) for number in sorted(part.near_rings))
        out.append(
            LimitCheck(
                kind=LimitKind.PART,
                name=part.name,
                where=f"next to {'ring' if len(part.near_rings) == 1 else 'rings'} {near}"
                if near
                else "on the piece",
                why="limit of the part, as the job file or the list of parts gives it"
                + _reserve(situation.limits),
                ring=min(part.near_rings, default=-1),
                **_against(heat, part.limit_c, peaks),
            )
        )
    return tuple(out)


class _Against(TypedDict):
    """A limit, and what comes near it."""

    limit_c: float
    low_c: float
    usual_c: float
    high_c: float
    holds: bool


def _against(heat: HeatModel, limit_c: float, values: Mapping[str, float]) -> _Against:
    groups = ((heat.corners[0],), (usual_corner(heat),), heat.bad_corners)
    low, usual, high = (max(values[c] for c in group) for group in groups)
    holds = high <= limit_c + ALLOWANCE_K
    return _Against(limit_c=limit_c, low_c=low, usual_c=usual, high_c=high, holds=holds)


def _check_rings(heat: HeatModel, seen: Simulated, item: RingLimit) -> LimitCheck | None:
    """Look where rings come nearest to one limit before their welds; None if it is of none."""
    limit_c = item.limit_c[seen.ring]
    limited = np.flatnonzero(np.isfinite(limit_c))
    if limited.size == 0:
        return None
    before = {corner: run.before_c for corner, run in seen.runs.items()}
    over = np.max([before[corner] - limit_c for corner in heat.bad_corners], axis=0)
    worst = int(limited[np.argmax(over[limited])])
    highest = {corner: float(warm[limited].max()) for corner, warm in before.items()}
    return LimitCheck(
        kind=item.kind,
        name=item.name,
        where=f"ring {int(seen.ring[worst]) + 1}, step {worst + 1}",
        why=item.why,
        ring=int(seen.ring[worst]),
        **_against(heat, float(limit_c[worst]), highest),
    )


def _why_fingers(limits: HeatSettings) -> str:
    """Say what the limit for the fingers stands for, and the reserve kept below it."""
    long = f"for {limits.contact_s:g} s" if limits.contact_s > 0 else "for minutes"
    by = "contact s" if limits.contact_s > 0 else "finger limit c"
    return f"skin on bare metal held {long} (bench setting {by}){_reserve(limits)}"


def _reserve(limits: HeatSettings) -> str:
    """Say by how much a limit is lower than what it stands for."""
    return f"; {limits.reserve_k:g} K in reserve" if limits.reserve_k > 0 else ""


def _check_fingers(situation: Situation, seen: Simulated, grips: Grips) -> LimitCheck:
    held = {corner: float(warm.max()) for corner, warm in seen.held_c.items()}
    worst = np.max([seen.held_c[corner] for corner in situation.heat.bad_corners], axis=0)
    step = int(grips.steps[int(np.argmax(worst))])
    where = "coolest place in reach"
    if grips.more is not None:
        where = "a place in reach that is cool enough, at most"
    if situation.limits.sides_held > 1:
        where += ", on the worse side of the join"
    if grips.steps.shape[0] < seen.ring.shape[0]:
        where += f", looked at in {grips.steps.shape[0]} of {seen.ring.shape[0]} steps"
    return LimitCheck(
        kind=LimitKind.FINGERS,
        name=str(LimitKind.FINGERS),
        where=where,
        why=_why_fingers(situation.limits),
        ring=int(seen.ring[step]),
        **_against(situation.heat, situation.limits.kept_finger_c, held),
    )


def trace(
    clock: Clock, settled: Settled, seen: Simulated
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Temperatures against time at the fingers and at every part, at the bad end.

    Returns
    -------
    array, dict of arrays
        Times, and for "fingers" and each part's name the temperatures: the fingers' then (where
        nothing is held, as it was when they last held, or first will), a part's highest from then
        to the next time. [s], [°C]
    """
    situation = clock.situation
    tuning, parts = situation.tuning.say, situation.heat.parts
    grips, start_s = seen.grips, settled.start_s
    steps = np.arange(start_s.shape[0], dtype=np.int32) if grips is None else grips.steps
    shown = steps[:: max(1, steps.shape[0] // tuning.most_traced)]
    nodes = np.asarray([part.node for part in parts], dtype=np.int32)
    traces: dict[str, FloatArray] = {}
    if grips is not None:
        warm = np.max([seen.held_c[corner] for corner in situation.heat.bad_corners], axis=0)
        traces[str(LimitKind.FINGERS)] = _carry_on(warm)[np.isin(steps, shown)]
    for corner in situation.heat.bad_corners if parts else ():
        course = clock.course_c(corner, settled, nodes, shown)
        for column, part in enumerate(parts):
            here = course[:, column]
            traces[part.name] = np.maximum(traces.get(part.name, here), here)
    return start_s[shown], {name: np.round(warm, tuning.digits) for name, warm in traces.items()}


def _carry_on(warm_c: FloatArray) -> FloatArray:
    """Fill in steps at which nothing is held with the last that is, or the first. [°C]."""
    held = np.flatnonzero(np.isfinite(warm_c))
    last = np.searchsorted(held, np.arange(warm_c.shape[0]), side="right") - 1
    return warm_c[held[np.maximum(last, 0)]]


def warmest_before_c(situation: Situation, seen: Simulated) -> FloatArray:
    """Temperature of each ring before its weld, at the bad end. [°C]."""
    before: Sequence[FloatArray] = [seen.runs[c].before_c for c in situation.heat.bad_corners]
    warmest: FloatArray = np.max(before, axis=0)
    return warmest
