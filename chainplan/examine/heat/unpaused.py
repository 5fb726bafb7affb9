"""End to end without a pause: put in order here, timed and simulated, beside what is told of it.

The order is the plainest: face by face and setting by setting, along the piece, of a sheet row by
row there and back, with a clip place by place. Which face comes first is told by the time that it
takes: of several sequences that take as long one has to agree; where none takes the time that is
told nothing is compared.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import Teller
from chainplan.examine.heat.grips import Grip, touched_c
from chainplan.examine.heat.ring_limits import list_limits
from chainplan.examine.heat.simulation import SimulatedPiece, cut_patch, follow
from chainplan.examine.reading import PLAN
from chainplan.examine.welding.orders import pace_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.examine.reading import PieceFiles, PlanFiles

_OFF_K, _OFF_SHARE = 0.2, 0.01
"""What places, times and conductances written rounded may change a temperature by."""
_ALLOWANCE_K = 0.05
"""By so much a limit may be passed: it is told to whole degrees."""
_MOST_GROUPS = 4
"""Faces and settings of which every sequence is tried: 24 of them."""
_LOOKS = 600
"""Moments at which a part is looked at, beside those that are told: every few seconds."""


def compare_unpaused(
    files: PlanFiles, piece: PieceFiles, known: SimulatedPiece, teller: Teller
) -> None:
    """Compare temperatures and moments told of end to end without a pause."""
    gains = piece.order["gains"]
    if gains is None or not gains["unpaused"]:
        return
    told: Teller | None = None
    for ends in _find_orders(files, piece, gains["unpaused_s"]):
        own = Teller(teller.check)
        _compare_order(files, piece, ends, known, own)
        if not own.findings:
            return  # several sequences may take the same time: it is one of them
        told = told or own
    if told is not None:
        teller.findings += told.close()


def _compare_order(
    files: PlanFiles, piece: PieceFiles, ends: PieceFiles, known: SimulatedPiece, teller: Teller
) -> None:
    """Compare what is told with one order from end to end."""
    gains = piece.order["gains"]
    start_s = np.cumsum(pace_of(files, ends).gap_s)
    set_j = ends.steps["power_j"] * ends.steps["hits"]
    network = known.network
    patch = cut_patch(network, np.arange(1), ends.welded, start_s, set_j)
    runs = tuple(follow(network, patch, k, run.modes) for k, run in enumerate(known.runs))
    found = SimulatedPiece(network, patch, runs)
    for told in piece.order["comparisons"]:
        if told["name"] == "end to end":
            warm_c = float(found.before_c("high").max())
            off = _OFF_K + _OFF_SHARE * max(warm_c - network.room_c, 0.0)
            place = f"{piece.name}, comparisons, end to end, warmest_without_waits_c"
            teller.near(PLAN, place, told["warmest_without_waits_c"], warm_c, off=off)
    for item in gains["unpaused"]:
        place = f"{piece.name}, gains, unpaused, {item['name']}"
        if item["kind"] == "fingers":
            rows = _of_fingers(files, ends, found)
        elif item["kind"] == "part":
            rows = _of_part(found, item)
        else:
            rows = _of_rings(files, ends, found, item)
        for end, (times, least, most) in rows.items():
            _compare(item, end, times, (least, most), place, teller)
        if item["kind"] not in ("fingers", "part") and rows:
            _, _, warm = rows["high"]
            here = np.flatnonzero(ends.welded == item["ring"] - 1)
            near = len(here) > 0 and float(warm[here[0]]) > float(warm.max()) - 2 * _OFF_K
            teller.true(PLAN, f"{place}, ring", near, item["ring"], "the warmest ring")


def _find_orders(files: PlanFiles, piece: PieceFiles, seconds: float) -> Iterator[PieceFiles]:
    """List the piece with its steps end to end, in every sequence that takes so long."""
    for order in _orders(piece):
        ends = replace(piece, steps={name: values[order] for name, values in piece.steps.items()})
        pace = pace_of(files, ends)
        if abs(float(pace.gap_s.sum() + pace.after_s[-1]) - seconds) < 0.02 + 1e-5 * seconds:
            yield ends


def _orders(piece: PieceFiles) -> Iterator[IndexArray]:
    """List steps along the piece, group by group, in every sequence of the groups."""
    steps = piece.steps
    groups: dict[Any, list[int]] = {}
    row, position = steps["row"].astype(np.intp), steps["position"].astype(np.intp)
    sheet = len(piece.record["sections"]) == 1 and bool((piece.rings["row"] > 1).any())
    clip = piece.clip
    for key in zip(steps["face"], steps["power_j"], steps["hits"], strict=True):
        groups.setdefault(key, [])
    if len(groups) > _MOST_GROUPS:
        return
    if not sheet:
        place, across, along = 0 * row, 0 * row, piece.welded
    else:
        place = 0 * row if clip is None else _along(clip, position)
        across, along = row, position
    for step in np.lexsort((piece.welded, along, across, place)).tolist():
        groups[steps["face"][step], steps["power_j"][step], steps["hits"][step]].append(step)
    for sequence in itertools.permutations(groups):
        own = [groups[key] for key in sequence]
        yield np.array([*itertools.chain.from_iterable(own)], dtype=np.intp)
        if sheet:
            there = [_there_and_back(group, place, row) for group in own]
            yield np.array([*itertools.chain.from_iterable(there)], dtype=np.intp)


def _along(clip: IndexArray, position: IndexArray) -> IndexArray:
    """Give the places of a clip numbers along the piece, by the first join that each reaches."""
    rings, of_step = np.unique(clip, return_inverse=True)
    first = np.full(len(rings), np.iinfo(np.intp).max)
    np.minimum.at(first, of_step.ravel(), position)
    number: IndexArray = np.argsort(np.argsort(first, kind="stable"))[of_step.ravel()]
    return number


def _there_and_back(group: list[int], place: IndexArray, row: IndexArray) -> list[int]:
    """Turn every other row of a group, at each place of the clip anew."""
    found: list[int] = []
    for _, same in itertools.groupby(group, key=lambda step: place[step]):
        rows = [[*own] for _, own in itertools.groupby(same, key=lambda step: row[step])]
        for number, own in enumerate(rows):
            found += own if number % 2 == 0 else own[::-1]
    return found


_Rows = dict[str, tuple["FloatArray", "FloatArray", "FloatArray"]]
"""Of each end the times looked at, and the least and most that it may be then. [s, °C]."""


def _of_rings(
    files: PlanFiles, ends: PieceFiles, found: SimulatedPiece, item: dict[str, Any]
) -> _Rows:
    for limit in list_limits(files, ends, Teller("")):
        if limit.name == item["name"]:
            own = limit.steps[found.patch.weld]
            return {
                end: (found.patch.start_s, *(2 * (np.where(own, found.before_c(end), -np.inf),)))
                for end in ("usual", "high")
            }
    return {}


def _of_fingers(files: PlanFiles, ends: PieceFiles, found: SimulatedPiece) -> _Rows:
    grips = [Grip.of(files, ends, cool=cool) for cool in (True, False)]
    rows: _Rows = {}
    for end in ("usual", "high"):
        read = []
        for grip in grips:
            if grip is None:
                return {}
            by_corner = []
            for corner in found.network.end(end):
                run = found.runs[corner]
                warm = touched_c(files, ends, run, found.network.rings)
                by_corner.append(grip.by_step_c(warm))
            read.append(np.max(by_corner, axis=0))
        rows[end] = (found.patch.start_s, np.minimum(*read), np.maximum(*read))
    return rows


def _of_part(found: SimulatedPiece, item: dict[str, Any]) -> _Rows:
    network, start_s = found.network, found.patch.start_s
    nodes = [network.rings + k for k, p in enumerate(network.parts) if p["name"] == item["name"]]
    even = np.linspace(0.0, float(start_s[-1]) + 900.0, _LOOKS)
    told = [item[f"{end}_after_s"] for end in ("usual", "high")]
    times = np.unique(np.concatenate([even, [at for at in told if at is not None]]))
    last = np.searchsorted(start_s, times, side="right") - 1
    rows: _Rows = {}
    for end in ("usual", "high"):
        warm = np.full(len(times), -np.inf)
        peak = -np.inf
        for corner in network.end(end):
            run = found.runs[corner]
            state = run.after[np.maximum(last, 0)] * (last >= 0)[:, None]
            lag = times - start_s[np.maximum(last, 0)]
            state = state * np.exp(-np.outer(np.maximum(lag, 0.0), run.modes.rate))
            for node in nodes:
                warm = np.maximum(warm, state @ run.modes.shape[node] + run.modes.base_c[node])
                peak = max(peak, run.peak_c(node))
        # The peak itself lies between two looks: it counts at the end, where it moves nothing.
        rows[end] = (np.append(times, math.inf), np.append(warm, peak), np.append(warm, peak))
    return rows


def _compare(
    item: dict[str, Any], end: str, times: FloatArray, read: tuple[FloatArray, FloatArray],
    place: str, teller: Teller,
) -> None:  # fmt: skip
    """Compare the warmest, and the first moment above the limit."""
    least, most = read
    low, high = float(least.max()), float(most.max())
    told = item[f"{end}_c"]
    off = _OFF_K + _OFF_SHARE * max(high - 20.0, 0.0)
    good = low - off <= told <= high + off
    text = f"{low:.1f} to {high:.1f} °C"
    teller.true(PLAN, f"{place}, {end}_c", good, told, text)
    limit = item["limit_c"] + _ALLOWANCE_K
    surely = np.flatnonzero(least[np.isfinite(times)] > limit + off)
    perhaps = np.flatnonzero(most > limit - off)
    after = item[f"{end}_after_s"]
    where = f"{place}, {end}_after_s"
    if after is None:
        teller.true(PLAN, where, not len(surely), "never", "a moment: it is warmer")
        return
    if not len(perhaps):
        teller.tell(PLAN, where, after, "never: it is not so warm")
        return
    first = float(times[perhaps[0]])
    last = float(times[surely[0]]) if len(surely) else math.inf
    teller.true(
        PLAN, where, first - 8 <= after <= last + 0.2, after, f"{first:.0f} to {last:.0f} s"
    )
