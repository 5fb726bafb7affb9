"""An order checked from outside: simulated again in every bad corner, all violations listed.

Nothing here comes from the search: temperatures are those of the heat model's own simulation, and
the patches between the fingers are looked at one by one.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, cut, near_words, quote
from chainplan.intake import decode, read_bytes, read_csv_rows
from chainplan.model.order import Violation
from chainplan.order.grip import Grips, lay_out_grips, warm_at_fingers_c
from chainplan.units import read_number, show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel, HeatRun
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout
    from chainplan.model.order import WeldSetting


ALLOWANCE_K = 0.05
"""Half of the last digit that any table shows: nobody reads a thermometer closer."""
FINGERS = "no place cool enough for the fingers"


_COOLING_S = 300.0
_PEAK_TIMES = 400

TENTHS_S = 0.11
"""Times in a file are rounded to tenths of a second: two of them may be off by that much."""


@dataclass(frozen=True, kw_only=True)
class GivenOrder:
    """An order as somebody wrote it down: rings from 0, start times if the file has them."""

    ring: IntArray
    start_s: FloatArray | None


def read_order(path: str | Path, piece: str | None = None) -> GivenOrder:
    """Read a weld order from a CSV file with a column "ring" (counted from 1).

    A column "start s" (or "planned start s") gives the times; without it see :func:`pace_start_s`.
    A column "piece" is looked at only if ``piece`` is given. Rows count in the order of the file,
    or of a column "step" if there is one.

    Raises
    ------
    InputError
        Naming every row that cannot be used.
    """
    path = Path(path)
    allowed = "expected a CSV file with a column 'ring'"
    text = decode(read_bytes(path, BOUNDS.order_bytes, allowed=allowed), str(path))
    rows = read_csv_rows(text, str(path), rows=BOUNDS.order_rows)
    _, first = next(rows, (0, []))
    header = [name.strip().lower().replace("_", " ") for name in first]
    if "ring" not in header:
        among = f"no column 'ring' among {cut(', '.join(header)) or 'no columns'}"
        raise InputError(Fault(str(path), among, allowed, near_words("ring", header)))
    column = {name: header.index(name) for name in ("ring", "step", "piece") if name in header}
    starts = [k for k, name in enumerate(header) if name in ("start s", "planned start s")]
    faults: list[Fault] = []
    found: list[tuple[float, int, float]] = []
    for number, row in rows:
        if len(faults) >= BOUNDS.faults:
            break
        if piece is not None and "piece" in column:
            name = row[column["piece"]].strip() if column["piece"] < len(row) else ""
            if name != piece:
                continue
        where = f"{path.name} row {number}"
        ring = _number(row, column["ring"], f"{where}, ring", faults)
        start = _number(row, starts[0], f"{where}, start", faults) if starts else 0.0
        step = (
            _number(row, column["step"], f"{where}, step", faults) if "step" in column else number
        )
        if ring is not None and (ring != int(ring) or not 1 <= ring <= BOUNDS.order_rows):
            faults.append(Fault(where, f"ring {ring:g}", "rings are counted 1, 2, 3 …"))
        elif ring is not None and start is not None and step is not None:
            found.append((float(step), int(ring) - 1, start))
    if faults:
        raise InputError(faults=faults)
    if not found:
        raise InputError(Fault(str(path), "no joins found", "expected one row a join"))
    found.sort(key=lambda entry: entry[0])
    return GivenOrder(
        ring=np.asarray([entry[1] for entry in found], dtype=np.int32),
        start_s=np.asarray([entry[2] for entry in found]) if starts else None,
    )


def _number(row: Sequence[str], column: int, where: str, faults: list[Fault]) -> float | None:
    text = row[column].strip() if column < len(row) else ""
    try:
        return read_number(text)
    except InputError:
        faults.append(Fault(where, f"found {quote(text)}", "a number is expected"))
        return None


def pace_start_s(
    layout: Layout,
    joins: Joins,
    ring: IntArray,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
) -> FloatArray:
    """When each join of a given order would be welded at the bench's pace without a wait. [s]."""
    ring = np.asarray(ring)
    hits = np.asarray([setting.hits for setting in settings], dtype=float)[layout.section[ring]]
    power = np.asarray([setting.power_j for setting in settings])[layout.section[ring]]
    tip = np.asarray([setting.tip == "blunt" for setting in settings])[layout.section[ring]]
    change = (np.diff(power) != 0) | (np.diff(hits) != 0) | (np.diff(tip) != 0)
    way = np.linalg.norm(np.diff(joins.point_mm[ring, :2], axis=0), axis=1)
    step = (
        pace.handle_s
        + pace.extra_hit_s * (hits[:-1] - 1)
        + way / pace.move_mm_s
        + pace.turn_s * (np.diff(joins.face[ring].astype(int)) != 0)
        + pace.change_setting_s * change
    )
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
) -> tuple[Violation, ...]:
    """List everything that is wrong with an order: joins, pace and every temperature limit.

    Parameters
    ----------
    layout, joins, heat
        The piece.
    ring, start_s : array, shape (k,)
        Ring of each step, counted from 0, and when its first pulse falls. [s]
    settings, pace, limits
        Welder settings of each section, the hand's pace, the limits.

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
    earliest = pace_start_s(layout, joins, ring, settings=settings, pace=pace)
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
        )
        for k in np.flatnonzero(early)
    ]
    grips = lay_out_grips(layout, joins, ring, start_s, pace=pace, limits=limits)
    runs = {corner: heat.simulate(corner, ring, start_s) for corner in heat.bad_corners}
    held_c = warm_at_fingers_c(grips, heat, heat.bad_corners, ring, start_s)
    found += list_too_warm(runs, grips, held_c, heat, start_s, ring, limits)
    return tuple(sorted(found, key=lambda item: (item.step, item.what)))


def list_too_warm(
    runs: Mapping[str, HeatRun],
    grips: Grips | None,
    held_c: Mapping[str, FloatArray],
    heat: HeatModel,
    start_s: FloatArray,
    ring: IntArray,
    limits: HeatSettings,
) -> list[Violation]:
    """List broken temperature limits of simulated runs, each with its worst temperature.

    ``held_c``: in each corner how warm it is at the fingers, at the steps of ``grips``.
    """
    worst: dict[tuple[int, str], Violation] = {}
    for corner, run in runs.items():
        batch = _too_warm(run, ring, start_s, limits)
        if grips is not None:
            batch += _too_warm_to_hold(grips, held_c[corner], ring, start_s, limits)
        for item in batch:
            key = (item.step, item.what)
            if key not in worst or worst[key].temperature_c < item.temperature_c:
                worst[key] = item
    return [*worst.values(), *_parts_too_warm([*runs.values()], heat, ring, start_s)]


def _wrong_joins(layout: Layout, joins: Joins, ring: IntArray) -> list[Violation]:
    """Rings that do not exist, are welded twice, beforehand, or not at all."""
    nan = float("nan")

    def say(step: int, number: int, what: str) -> Violation:
        return Violation(
            step=step, ring=number, time_s=nan, temperature_c=nan, limit_c=nan, what=what
        )

    found = []
    seen: set[int] = set()
    wanted = set(joins.in_place.tolist())
    for step, number in enumerate(ring.tolist()):
        if not 0 <= number < layout.rings:
            found.append(say(step, number, f"there is no such ring; the piece has {layout.rings}"))
        elif number in seen:
            found.append(say(step, number, "welded twice"))
        elif number not in wanted:
            found.append(say(step, number, "closed beforehand, not to be welded in place"))
        seen.add(number)
    found += [say(-1, number, "left out") for number in sorted(wanted - seen)]
    return found


def _too_warm(
    run: HeatRun, ring: IntArray, start_s: FloatArray, limits: HeatSettings
) -> list[Violation]:
    return [
        Violation(
            step=int(k),
            ring=int(ring[k]),
            time_s=float(start_s[k]),
            temperature_c=float(run.before_c[k]),
            limit_c=limits.highest_interpass_c,
            what="too warm to be welded",
        )
        for k in np.flatnonzero(run.before_c > limits.highest_interpass_c + ALLOWANCE_K)
    ]


def _parts_too_warm(
    runs: Sequence[HeatRun], heat: HeatModel, ring: IntArray, start_s: FloatArray
) -> list[Violation]:
    """Parts above their limits: in the worst corner, when they are warmest."""
    found = []
    for part in heat.parts:
        peaks = [float(run.peak_c[part.node]) for run in runs]
        peak, run = max(peaks), runs[int(np.argmax(peaks))]
        if peak <= part.limit_c + ALLOWANCE_K:
            continue
        time_s = _find_peak_s(run, heat, ring, start_s, part.node)
        step = max(int(np.searchsorted(start_s, time_s, side="right")) - 1, 0)
        found.append(
            Violation(
                step=step,
                ring=int(ring[step]),
                time_s=time_s,
                temperature_c=peak,
                limit_c=part.limit_c,
                what=f"{part.name} gets too warm, worst {show_duration(time_s)} after the start",
            )
        )
    return found


def _find_peak_s(
    run: HeatRun, heat: HeatModel, ring: IntArray, start_s: FloatArray, node: int
) -> float:
    """When a node is warmest over a run, looked up on ever closer times. [s]."""
    low, high = float(start_s[0]), float(start_s[-1]) + _COOLING_S
    nodes = np.full(_PEAK_TIMES, node, dtype=np.int32)
    while True:
        times = np.linspace(low, high, _PEAK_TIMES)
        best = int(np.argmax(heat.temperatures_c(run.corner, ring, start_s, nodes, times)))
        step = float(times[1] - times[0])
        if step < 1.0:
            return float(times[best])
        low, high = float(times[max(best - 1, 0)]), float(times[min(best + 1, _PEAK_TIMES - 1)])


def _too_warm_to_hold(
    held: Grips, warm: FloatArray, ring: IntArray, start_s: FloatArray, limits: HeatSettings
) -> list[Violation]:
    seen = " (looked at in some steps only)" if held.steps.shape[0] < ring.shape[0] else ""
    return [
        Violation(
            step=int(held.steps[k]),
            ring=int(ring[held.steps[k]]),
            time_s=float(start_s[held.steps[k]]),
            temperature_c=float(warm[k]),
            limit_c=limits.finger_limit_c,
            what=f"{FINGERS}{seen}",
        )
        for k in np.flatnonzero(warm > limits.finger_limit_c + ALLOWANCE_K)
    ]
