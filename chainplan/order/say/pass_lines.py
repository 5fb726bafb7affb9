"""Passes as they are said at the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import Pass
from chainplan.model.piece.joins import FACES
from chainplan.order.say.causes import seconds_by_cause
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import IntArray
    from chainplan.model.order import LimitCheck
    from chainplan.order.clock.protocol import Settled
    from chainplan.order.pattern.pattern import PlannedPass
    from chainplan.order.piece.work import HandWork


def face_name(code: int) -> str:
    """Name a face, as the bench sheet does."""
    return FACES[code] if 0 <= code < len(FACES) else "any face"


def _say_reasons(reasons: Mapping[str, float]) -> str:
    """Say what waits are for, the longest first."""
    return f" for {' and '.join(reasons)}" if reasons else ""


def write_passes(
    planned: Sequence[PlannedPass],
    work: HandWork,
    settled: Settled,
    causes: IntArray,
    checks: Sequence[LimitCheck],
) -> tuple[tuple[Pass, ...], IntArray]:
    """Say every pass in one line, with what its waits are for; also each step's pass, from 1."""
    start_s, wait_s = settled.start_s, settled.wait_s
    passes = []
    number_of = np.zeros(start_s.shape[0], dtype=np.int32)
    first, ended = 0, 0.0
    for number, item in enumerate(planned, 1):
        count = item.joins.shape[0]
        last = first + count - 1
        number_of[first : last + 1] = number
        end = float(start_s[last] + work.after_s[item.joins[-1]])
        waiting = float(wait_s[first : last + 1].sum())
        joins = "1 join" if count == 1 else f"{count} joins"
        text = f"{face_name(item.face)}, {item.stem}, {joins}, {show_duration(end - ended)}"
        inside = slice(first, last + 1)
        reasons = seconds_by_cause(causes[inside], wait_s[inside], checks)
        if waiting > 0:
            text += f" (of which {show_duration(waiting)} waiting{_say_reasons(reasons)})"
        passes.append(
            Pass(
                number=number,
                text=text,
                face=face_name(item.face),
                first_step=first,
                joins=count,
                seconds=end - ended,
                wait_s=waiting,
                setting=work.settings[item.setting],
                wait_for=reasons,
            )
        )
        first, ended = last + 1, end
    return tuple(passes), number_of
