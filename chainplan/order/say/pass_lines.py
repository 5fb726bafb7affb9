"""Passes as they are said at the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import Pass
from chainplan.model.piece.joins import FACES
from chainplan.model.said import said
from chainplan.order.say.causes import said_cause, seconds_by_cause
from chainplan.reference.texts import in_english
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IntArray
    from chainplan.model.order import LimitCheck
    from chainplan.model.said import Phrase
    from chainplan.order.clock.protocol import Settled
    from chainplan.order.pattern.pattern import PlannedPass
    from chainplan.order.piece.work import HandWork


def face_name(code: int) -> str:
    """Name a face, as the bench sheet does."""
    return FACES[code] if 0 <= code < len(FACES) else "any face"


_MOST_CLIPS = 4
"""Rings that the clip goes to named in a pass; the table has all of them (judgement)."""


def _clips_of(work: HandWork, joins: IntArray) -> tuple[int, ...]:
    """Rings that the clip sits on one after another in a pass, from 1; none without a clip."""
    rings = work.clip_rings(joins)
    if rings is None:
        return ()
    clips: list[int] = rings[np.flatnonzero(np.diff(rings, prepend=-1))].tolist()
    return tuple(ring + 1 for ring in clips)


def say_clips(stem: Phrase, clips: Sequence[int]) -> Phrase:
    """Say where the clip sits in a pass: "…, clip on rings 31, 92 and 153 in turn"."""
    if not clips:
        return stem
    if len(clips) == 1:
        return said("line.clip", stem=stem, ring=clips[0])
    if len(clips) > _MOST_CLIPS:
        return said("line.clip_many", stem=stem, count=len(clips), ring=clips[0])
    return said("line.clip_turn", stem=stem, rings=tuple(clips))


def say_line(face: str, stem: Phrase, joins: int, seconds: float) -> Phrase:
    """Say a pass: its face, which joins, how many and how long."""
    many = said("line.joins", n=joins)
    return said("line.line", face=said(f"face.{face.split()[0]}"), stem=stem, joins=many,
                time=show_duration(seconds))  # fmt: skip


def say_waiting(line: Phrase, seconds: float, kinds: Sequence[Phrase | str]) -> Phrase:
    """Add how much of a pass is waiting, and for what."""
    if seconds <= 0:
        return line
    time = show_duration(seconds)
    if not kinds:
        return said("line.waiting", line=line, time=time)
    return said("line.waiting_for", line=line, time=time, reasons=tuple(kinds))


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
        clips = _clips_of(work, item.joins)
        face = face_name(item.face)
        line = say_line(face, say_clips(item.stem, clips), count, end - ended)
        inside = slice(first, last + 1)
        reasons = seconds_by_cause(causes[inside], wait_s[inside], checks)
        line = say_waiting(line, waiting, [said_cause(words, checks) for words in reasons])
        passes.append(
            Pass(
                number=number,
                text=in_english(line),
                said=line,
                face=face,
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
