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


_MOST_CLIPS = 4
"""Rings that the clip goes to named in a pass; the table has all of them (judgement)."""


def _clips_of(work: HandWork, joins: IntArray) -> tuple[int, ...]:
    """Rings that the clip sits on one after another in a pass, from 1; none without a clip."""
    rings = work.clip_rings(joins)
    if rings is None:
        return ()
    clips: list[int] = rings[np.flatnonzero(np.diff(rings, prepend=-1))].tolist()
    return tuple(ring + 1 for ring in clips)


def say_clips(clips: Sequence[int]) -> str:
    """Say where the clip sits in a pass.

    Examples
    --------
    >>> say_clips([]), say_clips([31]), say_clips([31, 92, 153])
    ('', ', clip on ring 31', ', clip on rings 31, 92 and 153 in turn')
    >>> say_clips([31, 92, 153, 214, 275])
    ', clip on 5 rings in turn, first on ring 31'
    """
    if not clips:
        return ""
    if len(clips) == 1:
        return f", clip on ring {clips[0]}"
    if len(clips) > _MOST_CLIPS:
        return f", clip on {len(clips)} rings in turn, first on ring {clips[0]}"
    return f", clip on rings {', '.join(map(str, clips[:-1]))} and {clips[-1]} in turn"


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
        clips = _clips_of(work, item.joins)
        stem = f"{item.stem}{say_clips(clips)}"
        text = f"{face_name(item.face)}, {stem}, {joins}, {show_duration(end - ended)}"
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
                clip_rings=clips,
            )
        )
        first, ended = last + 1, end
    return tuple(passes), number_of
