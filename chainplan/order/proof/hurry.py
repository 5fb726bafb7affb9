"""What a hand that is quicker than planned has to wait for, and when a piece is cold again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import FasterPace
from chainplan.order.clock.protocol import settle
from chainplan.order.clock.select import make_clock

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.situation import Situation

SHARES = (0.7, 0.4)
"""Shares of the planned seconds a join for which waits are worked out: a hand between two of them
takes the waits of the quicker one. Below the last nobody aims and welds (judgement)."""
COLD_K = 5.0
"""Above the room a piece counts as cold as at its start: less than the range of a warm ring's
temperature at the bad end (judgement)."""
_WATCHED = 60
"""Rings looked at until they are cold, those welded last: the warmest are among them."""
_LONGEST_S = 7200.0
_TIMES = 48
"""Seconds after the last weld that are looked at, and moments in them, even in log time. Judgement:
no piece is warm after two hours, and moments a fifth apart tell minutes."""


def waits_when_faster(clock: Clock, settled: Settled) -> tuple[FasterPace, ...]:
    """Work out the waits of the same order for hands that are quicker than the plan's.

    Parameters
    ----------
    clock : Clock
        The piece, its limits, and what is kept back from them.
    settled : Settled
        The order to follow.

    Returns
    -------
    tuple of FasterPace
        From the slower to the quicker; only where the order keeps its limits and can be timed
        again at that pace.
    """
    found = []
    for share in SHARES if settled.feasible else ():
        quick = make_clock(_hurried(clock.situation, share))
        more_k = max(clock.margin_k - quick.margin_k, 0.0)
        if more_k > 0:
            quick = quick.with_margins(more_k, 0.0)
        timed = settle(quick, settled.order, held=settled.held)
        if not timed.feasible:
            break
        found.append(FasterPace(share=share, wait_s=timed.wait_s))
    return tuple(found)


def _hurried(situation: Situation, share: float) -> Situation:
    """Take a piece as a hand would that needs so much of the planned time for everything."""
    pace, work = situation.pace, situation.work
    return replace(
        situation,
        pace=replace(
            pace, handle_s=pace.handle_s * share, extra_hit_s=pace.extra_hit_s * share,
            move_mm_s=pace.move_mm_s / share, turn_s=pace.turn_s * share,
            change_setting_s=pace.change_setting_s * share,
        ),
        work=replace(
            work, handle_s=work.handle_s * share, after_s=work.after_s * share,
            move_mm_s=work.move_mm_s / share, turn_s=work.turn_s * share,
            change_s=work.change_s * share, clip_s=work.clip_s * share,
        ),
    )  # fmt: skip


def cold_after_s(situation: Situation, settled: Settled) -> tuple[float, float]:
    """Seconds after the last weld of an order until any join may be welded, and until all is cold.

    Returns
    -------
    tuple of float
        When the warmest ring is below the least limit of any ring before its weld, and when it is
        as cold as at the start; in every bad corner, of the rings that were welded last; at most
        two hours. [s].
    """
    heat, ring = situation.heat, situation.work.ring[settled.order]
    nodes = ring[-_WATCHED:]
    least_c = float(situation.interpass_c.min())
    after_s = np.concatenate([[0.0], np.geomspace(1.0, _LONGEST_S, _TIMES - 1)])
    at_s = float(settled.start_s[-1]) + after_s
    rest_s = cold_s = 0.0
    for corner in heat.bad_corners:
        warm_c = heat.temperatures_c(
            corner, ring, settled.start_s, np.repeat(nodes, _TIMES), np.tile(at_s, nodes.size)
        ).reshape(nodes.size, _TIMES)
        rise_k = (warm_c - heat.networks[corner].base_c[nodes][:, None]).max(axis=0)
        rest_s = max(rest_s, _first_below(after_s, warm_c.max(axis=0), least_c))
        cold_s = max(cold_s, _first_below(after_s, rise_k, COLD_K))
    return rest_s, cold_s


def _first_below(after_s: FloatArray, warm: FloatArray, limit: float) -> float:
    """Find the first of some times from which on something stays below a limit. [s]."""
    over = np.flatnonzero(warm[1:] > limit)
    return float(after_s[min(int(over[-1]) + 2, after_s.size - 1)]) if over.size else 0.0
