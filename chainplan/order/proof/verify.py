"""An order checked from outside: simulated again in every bad corner, all violations listed.

Nothing here comes from the search: temperatures are those of the heat model's own simulation, and
the patches between the fingers are looked at one by one. Only where these patches lie is shared
with the search, and tested by itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.kinds import ReturnLead
from chainplan.model.order import LimitKind, Violation, ViolationKind
from chainplan.order.piece.hold import Grips, lay_out_grips
from chainplan.order.piece.ring_limits import list_ring_limits
from chainplan.order.proof.earthed import clip_moves, earthed_pace, out_of_reach
from chainplan.order.tuning import USUAL
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings, LeadSettings, PaceSettings
    from chainplan.model.order import WeldSetting
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatModel, HeatRun, RingLimit
    from chainplan.order.tuning import ProofTuning


ALLOWANCE_K = 0.05
"""Half of the last digit that any table shows: nobody reads a thermometer closer."""
TENTHS_S = 0.11
"""Times in a file are rounded to tenths of a second: two of them may be off by that much."""


@frozen
class Simulated:
    """A run of welds simulated in some corners."""

    ring: IntArray
    start_s: FloatArray
    runs: Mapping[str, HeatRun]
    grips: Grips | None  # where the fingers were looked at; None if they never hold
    held_c: Mapping[str, FloatArray]  # at the fingers, at the steps of ``grips``
    clip_ring: IntArray | None = None  # (k,) ring that the return lead's clip sits on


def simulate_order(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    ring: IntArray,
    start_s: FloatArray,
    *,
    pace: PaceSettings,
    limits: HeatSettings,
    corners: Sequence[str],
    clip_ring: IntArray | None = None,
    tuning: ProofTuning = USUAL.proof,
) -> Simulated:
    """Simulate an order in some corners, the places between the fingers too.

    ``clip_ring``: ring that the return lead's clip sits on at each step; fingers leave it free.
    """
    parts = [part.node for part in heat.parts]  # of rings what counts is just before their welds
    runs = {corner: heat.simulate(corner, ring, start_s, peaks_of=parts) for corner in corners}
    grips = lay_out_grips(
        layout,
        joins,
        ring,
        start_s,
        pace=pace,
        limits=limits,
        clip_ring=clip_ring,
        tuning=tuning,
    )
    held_c: dict[str, FloatArray] = {}
    for corner in corners if grips is not None else ():

        def warm(node: IntArray, at_s: FloatArray, corner: str = corner) -> FloatArray:
            return heat.touched_c(corner, ring, start_s, node, at_s)

        if grips is not None:
            held_c[corner] = grips.at_fingers_c(warm, limits.kept_finger_c)
    return Simulated(
        ring=ring, start_s=start_s, runs=runs, grips=grips, held_c=held_c, clip_ring=clip_ring
    )


def pace_start_s(
    layout: Layout,
    joins: Joins,
    ring: IntArray,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    lead: LeadSettings | None = None,
    way: ReturnLead = ReturnLead.BLOCK,
    clip_ring: IntArray | None = None,
) -> FloatArray:
    """When each join of a given order would be welded at the bench's pace without a wait. [s].

    ``way``: how the piece is earthed; ``clip_ring``: where a clip sits at each step, if known.
    """
    ring = np.asarray(ring)
    pace = earthed_pace(pace, lead, way)
    hits = np.asarray([setting.hits for setting in settings], dtype=float)[layout.material[ring]]
    power = np.asarray([setting.power_j for setting in settings])[layout.material[ring]]
    tip = np.asarray([setting.tip == "blunt" for setting in settings])[layout.material[ring]]
    change = (np.diff(power) != 0) | (np.diff(hits) != 0) | (np.diff(tip) != 0)
    moved_mm = np.linalg.norm(np.diff(joins.point_mm[ring, :2], axis=0), axis=1)
    step = (
        pace.handle_s
        + pace.extra_hit_s * (hits[:-1] - 1)
        + moved_mm / pace.move_mm_s
        + pace.turn_s * (np.diff(joins.face[ring].astype(int)) != 0)
        + pace.change_setting_s * change
    )
    if lead is not None and way is ReturnLead.CLIP:
        step += lead.clip_move_s * clip_moves(layout, joins, ring, lead, clip_ring)[1:]
    return np.cumsum(np.concatenate([[pace.handle_s], step]))


def verify_order(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    ring: IntArray,
    start_s: FloatArray,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    lead: LeadSettings | None = None,
    way: ReturnLead = ReturnLead.BLOCK,
    clip_ring: IntArray | None = None,
    tuning: ProofTuning = USUAL.proof,
) -> tuple[Violation, ...]:
    """List everything that is wrong with an order: joins, pace, clip and temperature limits.

    Parameters
    ----------
    layout, joins, heat
        The piece.
    ring, start_s : array, shape (k,)
        Ring of each step, counted from 0, and when its first pulse falls. [s]
    settings, pace, limits
        Welder settings of each of the layout's materials, the hand's pace, the limits.
    lead, way : optional
        How the piece is earthed; without it that costs nothing.
    clip_ring : array, shape (k,), optional
        Ring that a clip sits on at each step, from 0. Without it only the moves count that no
        place of the clip could do without.
    tuning : ProofTuning, optional
        How closely the fingers and parts are looked at.

    Returns
    -------
    tuple of Violation
        Empty if the order keeps every limit in every bad corner. Sorted by step. ``step`` and
        ``ring`` count from 0; a join left out has step −1. Fingers are looked at in at most a few
        hundred steps of a long order, evenly spread, which the text of the violation says.
    """
    ring = np.asarray(ring, dtype=np.int32)
    start_s = np.asarray(start_s, dtype=float)
    found = _wrong_joins(layout, joins, ring)
    if found:
        return tuple(found)
    earliest = pace_start_s(
        layout,
        joins,
        ring,
        settings=settings,
        pace=pace,
        lead=lead,
        way=way,
        clip_ring=clip_ring,
    )
    if lead is not None and way is ReturnLead.CLIP and clip_ring is not None:
        found += out_of_reach(layout, joins, ring, start_s, clip_ring, lead)
    early = np.diff(start_s) < np.diff(earliest) - TENTHS_S
    found += [
        Violation(
            step=int(k) + 1,
            ring=int(ring[k + 1]),
            time_s=float(start_s[k + 1]),
            temperature_c=float("nan"),
            limit_c=float("nan"),
            what=(
                f"starts {earliest[k + 1] - earliest[k] - (start_s[k + 1] - start_s[k]):.0f} s "
                "sooner than the hand can be there"
            ),
            kind=ViolationKind.TOO_SOON,
        )
        for k in np.flatnonzero(early)
    ]
    seen = simulate_order(
        layout,
        joins,
        heat,
        ring,
        start_s,
        pace=earthed_pace(pace, lead, way),
        limits=limits,
        corners=heat.bad_corners,
        clip_ring=clip_ring,
        tuning=tuning,
    )
    found += list_too_warm(seen, heat, limits, tuning)
    return tuple(sorted(found, key=lambda item: (item.step, item.what)))


def list_too_warm(
    seen: Simulated, heat: HeatModel, limits: HeatSettings, tuning: ProofTuning = USUAL.proof
) -> list[Violation]:
    """List limits that a simulated run breaks in the bad corners, each at its worst."""
    worst: dict[tuple[int, str], Violation] = {}
    for corner in heat.bad_corners:
        batch = _too_warm(seen, corner, list_ring_limits(heat, limits))
        if seen.grips is not None:
            batch += _too_warm_to_hold(seen, seen.grips, corner, limits)
        for item in batch:
            key = (item.step, item.what)
            if key not in worst or worst[key].temperature_c < item.temperature_c:
                worst[key] = item
    return [*worst.values(), *_parts_too_warm(seen, heat, tuning)]


def _wrong_joins(layout: Layout, joins: Joins, ring: IntArray) -> list[Violation]:
    """Rings that do not exist, are welded twice, beforehand, or not at all."""
    nan = float("nan")

    def say(step: int, number: int, what: str, kind: ViolationKind) -> Violation:
        return Violation(
            step=step,
            ring=number,
            time_s=nan,
            temperature_c=nan,
            limit_c=nan,
            what=what,
            kind=kind,
        )

    found = []
    seen: set[int] = set()
    wanted = set(joins.in_place.tolist())
    for step, number in enumerate(ring.tolist()):
        if not 0 <= number < layout.rings:
            what = f"there is no such ring; the piece has {layout.rings}"
            found.append(say(step, number, what, ViolationKind.NO_SUCH_RING))
        elif number in seen:
            found.append(say(step, number, "welded twice", ViolationKind.WELDED_TWICE))
        elif number not in wanted:
            what = "closed beforehand, not to be welded in place"
            found.append(say(step, number, what, ViolationKind.CLOSED_BEFOREHAND))
        seen.add(number)
    missing = sorted(wanted - seen)
    found += [say(-1, number, "left out", ViolationKind.LEFT_OUT) for number in missing]
    return found


def _too_warm(seen: Simulated, corner: str, ring_limits: Sequence[RingLimit]) -> list[Violation]:
    before_c = seen.runs[corner].before_c
    return [
        Violation(
            step=int(k),
            ring=int(seen.ring[k]),
            time_s=float(seen.start_s[k]),
            temperature_c=float(before_c[k]),
            limit_c=float(item.limit_c[seen.ring[k]]),
            what="too warm to be welded"
            + (f" ({item.name})" if item.kind is not LimitKind.INTERPASS else ""),
            kind=ViolationKind(item.kind),
            limit=item.name,
        )
        for item in ring_limits
        for k in np.flatnonzero(before_c > item.limit_c[seen.ring] + ALLOWANCE_K)
    ]


def _parts_too_warm(seen: Simulated, heat: HeatModel, tuning: ProofTuning) -> list[Violation]:
    """Parts above their limits: in the worst corner, when they are warmest."""
    found = []
    for part in heat.parts:
        peak_c = {c: float(seen.runs[c].peak_c[part.node]) for c in heat.bad_corners}
        corner = max(peak_c, key=lambda name: peak_c[name])
        if peak_c[corner] <= part.limit_c + ALLOWANCE_K:
            continue
        time_s = _find_peak_s(seen, corner, heat, part.node, tuning)
        step = max(int(np.searchsorted(seen.start_s, time_s, side="right")) - 1, 0)
        found.append(
            Violation(
                step=step,
                ring=int(seen.ring[step]),
                time_s=time_s,
                temperature_c=peak_c[corner],
                limit_c=part.limit_c,
                what=f"{part.name} gets too warm, worst {show_duration(time_s)} after the start",
                kind=ViolationKind.PART,
                limit=part.name,
            )
        )
    return found


def _find_peak_s(
    seen: Simulated, corner: str, heat: HeatModel, node: int, tuning: ProofTuning
) -> float:
    """When a node is warmest over a run, looked up on ever closer times. [s]."""
    low, high = float(seen.start_s[0]), float(seen.start_s[-1]) + tuning.cooling_s
    nodes = np.full(tuning.peak_times, node, dtype=np.int32)
    while True:
        times = np.linspace(low, high, tuning.peak_times)
        warm = heat.temperatures_c(corner, seen.ring, seen.start_s, nodes, times)
        best = int(np.argmax(warm))
        step = float(times[1] - times[0])
        if step < 1.0:
            return float(times[best])
        low = float(times[max(best - 1, 0)])
        high = float(times[min(best + 1, tuning.peak_times - 1)])


def _too_warm_to_hold(
    seen: Simulated, grips: Grips, corner: str, limits: HeatSettings
) -> list[Violation]:
    some = " (looked at in some steps only)" if grips.steps.size < seen.ring.size else ""
    warm = seen.held_c[corner]
    return [
        Violation(
            step=int(grips.steps[k]),
            ring=int(seen.ring[grips.steps[k]]),
            time_s=float(seen.start_s[grips.steps[k]]),
            temperature_c=float(warm[k]),
            limit_c=limits.kept_finger_c,
            what=f"no place cool enough for the fingers{some}",
            kind=ViolationKind.FINGERS,
            limit=str(LimitKind.FINGERS),
        )
        for k in np.flatnonzero(warm > limits.kept_finger_c + ALLOWANCE_K)
    ]
