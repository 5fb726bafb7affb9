"""Times, temperatures and passes as they are said at the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.joins import FACES
from chainplan.model.order import Pass

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.order.patterns import PlannedPass
    from chainplan.order.work import Work

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]


def say_time(seconds: float) -> str:
    """Say a time in whole seconds, minutes or hours.

    Examples
    --------
    >>> [say_time(t) for t in (8.2, 130, 300, 4000)]
    ['8 s', '2 min 10 s', '5 min', '1 h 7 min']
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        minutes, rest = divmod(whole, 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, minutes = divmod(round(whole / 60), 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def face_name(code: int) -> str:
    """Name a face, as the bench sheet does."""
    return FACES[code] if 0 <= code < len(FACES) else "any face"


def write_passes(
    planned: Sequence[PlannedPass], work: Work, start_s: FloatArray, wait_s: FloatArray
) -> tuple[tuple[Pass, ...], IntArray]:
    """Say every pass in one line; also the pass number of each step, from 1."""
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
        text = f"{face_name(item.face)}, {item.stem}, {joins}, {say_time(end - ended)}"
        if waiting > 0:
            text += f" (of which {say_time(waiting)} waiting)"
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
            )
        )
        first, ended = last + 1, end
    return tuple(passes), number_of
