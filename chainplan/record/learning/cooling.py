"""Cooling curves among what was measured: readings of one piece, one after another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.thermal.calibration import Readings
from chainplan.model.workshop.record import COOLING

if TYPE_CHECKING:
    from chainplan.model.workshop.record import KnownPiece, KnownPlan
    from chainplan.record.kept.store import Record

GAP_S = 600.0
"""Seconds without a reading after which another curve begins."""
WARMED_K = 10.0
"""A reading so much above the last one tells that the piece was warmed again."""
LEAST_READINGS = 8
"""Readings of a curve: three numbers are fitted, the rest tells their scatter."""
ROOM_WITHIN_S = 43_200.0
"""A room's temperature counts for curves read within half a day of it."""


@frozen
class CoolingCurve:
    """One curve, and what the piece is made of."""

    plan: KnownPlan
    piece: KnownPiece
    readings: Readings
    room_c: float | None  # None: not told


def cooling_curves(record: Record, plans: dict[str, KnownPlan]) -> tuple[list[CoolingCurve], int]:
    """Find every cooling curve in a record.

    Parameters
    ----------
    record : Record
        The workshop's record.
    plans : dict
        Plans that it knows, by key.

    Returns
    -------
    tuple of list and int
        The curves, and how many others have too few readings.
    """
    rows = record.rows(
        "SELECT plan, piece, what, at_s, at, value FROM event_now WHERE kind = 'measured' "
        "AND what IN (?, 'room c') ORDER BY at_s, seq",
        (COOLING,),
    )
    rooms = [(at_s, value) for *_, what, at_s, _, value in rows if what == "room c"]
    runs: dict[tuple[str, str], list[list[tuple[float, str, float]]]] = {}
    for key, name, what, at_s, at, value in rows:
        if what != COOLING or key not in plans or plans[key].piece(name) is None:
            continue
        of_piece = runs.setdefault((key, name), [])
        last = of_piece[-1][-1] if of_piece else None
        if last is None or at_s - last[0] > GAP_S or value > last[2] + WARMED_K:
            of_piece.append([])
        of_piece[-1].append((at_s, at, value))
    found, short = [], 0
    for (key, name), of_piece in runs.items():
        for run in of_piece:
            if len(run) < LEAST_READINGS:
                short += 1
                continue
            piece = plans[key].piece(name)
            if piece is not None:
                found.append(_curve(plans[key], piece, run, rooms))
    return found, short


def _curve(
    plan: KnownPlan,
    piece: KnownPiece,
    run: list[tuple[float, str, float]],
    rooms: list[tuple[float, float]],
) -> CoolingCurve:
    time_s = np.array([at_s for at_s, *_ in run])
    near = min(rooms, key=lambda room: abs(room[0] - time_s[0]), default=None)
    told = near is not None and abs(near[0] - time_s[0]) <= ROOM_WITHIN_S
    return CoolingCurve(
        plan=plan,
        piece=piece,
        readings=Readings(
            file=f"of {piece.name} at {run[0][1]}",
            time_s=time_s - time_s[0],
            temperature_c=np.array([value for *_, value in run]),
        ),
        room_c=near[1] if near is not None and told else None,
    )
