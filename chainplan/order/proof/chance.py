"""An order judged by chance: the uncertain numbers drawn, and every limit looked at each time.

Corners take all numbers at their bad ends together, which hardly any bench has. Here each number is
drawn by itself: its usual value is the median, and one bench in twenty lies beyond either end
(a lognormal with a spread of its own to each side; judgement, as the ranges are). Rings, links and
air of one piece are drawn together: what is wrong with the model is wrong everywhere alike.

A rise is in proportion to the arc's share. Over links and loss each warmest rise is read off a
surface through nine exact simulations, quadratic in the levels of both, in its root; five of them
were made for the corners. On the sample pieces exact runs at levels drawn as here are within 2.5 K
of the warmest join, 0.3 K on average (the rise itself would be 5 and 0.6 K off, its logarithm 2.5
and 0.4 K, and far off beyond the ends): the warmest join is not the same everywhere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.order import Chance, LimitChance, LimitKind, Sway
from chainplan.order.piece.ring_limits import list_ring_limits
from chainplan.order.proof.verify import ALLOWANCE_K, simulate_order

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated

ARC, LINKS, LOSS = "arc share", "links", "loss to the air"
ONE_IN_TWENTY = 1.6448536269514722
"""Normal deviate beyond which one in twenty lies: the low and high ends of a range."""
FURTHEST = 1.6
"""Levels beyond the usual value that are drawn, the ends of the range being 1: one draw in a
hundred is further out on either side and is taken there, where the surface still holds."""


@frozen
class Benches:
    """Every limit over all samples."""

    names: list[tuple[LimitKind, str, float]]
    rises: list[FloatArray]
    level: FloatArray  # (r, 3) arc share, links, loss to the air
    warm_c: list[FloatArray]  # each (r,)


def draw_benches(situation: Situation, seen: Simulated) -> Benches:
    """Draw the uncertain numbers many times and read off how warm every limit's warmest gets."""
    heat, limits = situation.heat, situation.limits
    names, rises = rise_grid(situation, seen)
    draw = np.random.default_rng([situation.seed, 2027])
    level = draw.normal(0.0, 1 / ONE_IN_TWENTY, (situation.tuning.proof.chance_runs, 3))
    level = np.clip(level, -FURTHEST, FURTHEST)
    shares = (limits.arc_share_low, limits.arc_share_usual, limits.arc_share_high)
    room_c = heat.networks[heat.corners[0]].ambient_c
    share = _share(level[:, 0], shares)
    warm_c = [room_c + share * rise_surface(grid, level[:, 1], level[:, 2]) for grid in rises]
    return Benches(names=names, rises=rises, level=level, warm_c=warm_c)


def short_of_k(situation: Situation, seen: Simulated, wanted: float) -> tuple[float, float]:
    """Kelvins that joins and parts, and the fingers, would have to stay cooler at the bad end.

    For a share of the samples that is wanted to keep every limit: what each limit lacks in those
    samples that it may fail in, an equal part of the rest for each, so that all together fail in no
    more; in proportion to how much warmer the bad end is than the last of them.
    """
    heat, limits = situation.heat, situation.limits
    drawn = draw_benches(situation, seen)
    room_c = heat.networks[heat.corners[0]].ambient_c
    lacks = [0.0, 0.0]
    some = [(item[0], item[1]) for item in drawn.names if situation.keeps(item[0], item[1])]
    each = 1 - (1 - wanted) / max(len(some), 1)
    for (kind, name, limit_c), grid, warm_c in zip(
        drawn.names, drawn.rises, drawn.warm_c, strict=True
    ):
        if not situation.keeps(kind, name):
            continue
        high_c = float(np.quantile(warm_c, each))
        over = high_c - (limit_c + limits.reserve_k + ALLOWANCE_K)
        if over > 0:
            bad_c = room_c + limits.arc_share_high * float(grid.max())
            fingers = kind is LimitKind.FINGERS
            share = max((bad_c - room_c) / max(high_c - room_c, 1e-9), 1.0)
            lacks[fingers] = max(lacks[fingers], over * share)
    return lacks[0], lacks[1]


def judge_by_chance(situation: Situation, seen: Simulated) -> Chance | None:
    """Draw the uncertain numbers many times and say how often an order keeps its limits.

    Parameters
    ----------
    situation : Situation
        The piece, its limits and the seed of the draw.
    seen : Simulated
        The order, simulated in every corner.

    Returns
    -------
    Chance or None
        None if there is no limit to keep.
    """
    heat, limits = situation.heat, situation.limits
    drawn = draw_benches(situation, seen)
    if not drawn.names:
        return None
    level = drawn.level
    shares = (limits.arc_share_low, limits.arc_share_usual, limits.arc_share_high)
    room_c = heat.networks[heat.corners[0]].ambient_c
    found, kept = [], np.ones(len(level), dtype=bool)
    for (kind, name, limit_c), grid, warm_c in zip(
        drawn.names, drawn.rises, drawn.warm_c, strict=True
    ):
        holds = warm_c <= limit_c + limits.reserve_k + ALLOWANCE_K  # the limit itself
        if situation.keeps(kind, name):
            kept &= holds
        found.append(
            LimitChance(
                name=name,
                limit_c=limit_c,
                kept=float(holds.mean()),
                usual_c=float(room_c + shares[1] * grid[1, 1]),
                nine_in_ten_c=float(np.quantile(warm_c, 0.9)),
                sways=_sways(grid, shares, level, warm_c, situation.tuning.proof.same_k),
            )
        )
    counted = [
        chance
        for (kind, name, _), chance in zip(drawn.names, found, strict=True)
        if situation.keeps(kind, name)
    ]
    worst = min(counted or found, key=lambda item: (item.kept, item.limit_c - item.nine_in_ten_c))
    return Chance(
        runs=len(level),
        keeps_all=float(kept.mean()),
        by_limit=tuple(found),
        decides=worst.sways[0].number,
        asked=limits.reserve_percent / 100,
    )


def rise_grid(
    situation: Situation, seen: Simulated
) -> tuple[list[tuple[LimitKind, str, float]], list[FloatArray]]:
    """Each limit, and its warmest rise at an arc's share of 1 at all levels of links and loss."""
    heat, limits = situation.heat, situation.limits
    missing = [item.corner for item in heat.grid if item.corner not in seen.runs]
    more = simulate_order(
        situation.layout,
        situation.joins,
        heat,
        seen.ring,
        seen.start_s,
        pace=situation.pace,
        limits=limits,
        corners=missing,
        clip_ring=seen.clip_ring,
        tuning=situation.tuning.proof,
    )
    names: list[tuple[LimitKind, str, float]] = []
    steps: list[IndexArray] = []  # joins that each limit before a weld is of
    for ring_limit in list_ring_limits(heat, limits):
        limit_c = ring_limit.limit_c[seen.ring]
        for value in np.unique(limit_c[np.isfinite(limit_c)]).tolist():
            names.append((ring_limit.kind, ring_limit.name, value))
            steps.append(np.flatnonzero(limit_c == value))
    if seen.grips is not None:
        names.append((LimitKind.FINGERS, str(LimitKind.FINGERS), limits.kept_finger_c))
    parts: dict[tuple[str, float], list[int]] = {}
    for part in heat.parts:
        parts.setdefault((part.name, part.limit_c), []).append(part.node)
    names += [(LimitKind.PART, *key) for key in parts]
    rises = [np.empty((3, 3)) for _ in names]
    for item in heat.grid:
        here = seen if item.corner in seen.runs else more
        run, ambient_c = here.runs[item.corner], heat.networks[item.corner].ambient_c
        warmest = [float(run.before_c[some].max()) for some in steps]
        if seen.grips is not None:
            held_c = here.held_c[item.corner]
            warmest.append(float(held_c[np.isfinite(held_c)].max(initial=ambient_c)))
        warmest += [float(run.peak_c[nodes].max()) for nodes in parts.values()]
        for grid, warm_c in zip(rises, warmest, strict=True):
            grid[item.links, item.loss] = max(warm_c - ambient_c, 0.0) / item.arc_share
    return names, rises


def _share(level: FloatArray, ends: tuple[float, float, float]) -> FloatArray:
    """Take a number at a level: 0 usual, −1 and 1 its ends, in proportion between; at most 1."""
    low, usual, high = ends
    factor = np.where(level < 0, usual / low, high / usual) ** level
    return np.minimum(usual * factor, 1.0)


def rise_surface(grid: FloatArray, links: FloatArray, loss: FloatArray) -> FloatArray:
    """Rise at levels between, by the quadratic through three levels each way of its root."""
    root = np.einsum("ij,ik,jk->k", np.sqrt(grid), _through(links), _through(loss))
    rise: FloatArray = np.maximum(root, 0.0) ** 2
    return rise


def _through(level: FloatArray) -> FloatArray:
    """Weights of the values at −1, 0 and 1 in the quadratic through them."""
    return np.stack([level * (level - 1) / 2, 1 - level**2, level * (level + 1) / 2])


def _sways(
    grid: FloatArray,
    shares: tuple[float, float, float],
    level: FloatArray,
    warm_c: FloatArray,
    same_k: float,
) -> tuple[Sway, ...]:
    """How far each number moves a temperature: at its ends, and as a share of the spread.

    The share is the square of the rank correlation, over the sum of the three; nothing moves a
    temperature that is the same on every bench, to within ``same_k``.
    """
    usual_k = shares[1] * grid[1, 1]
    ends = {
        ARC: (shares[0] * grid[1, 1], shares[2] * grid[1, 1]),
        LINKS: (shares[1] * grid[0, 1], shares[1] * grid[2, 1]),
        LOSS: (shares[1] * grid[1, 0], shares[1] * grid[1, 2]),
    }
    square = np.zeros(3)
    if np.ptp(warm_c) > same_k:
        ranks = [_ranks(values) for values in (*level.T, warm_c)]
        square = np.asarray(np.corrcoef(ranks))[3, :3] ** 2
        square /= square.sum()
    return tuple(
        sorted(
            (
                Sway(
                    number=name,
                    low_k=float(low - usual_k),
                    high_k=float(high - usual_k),
                    share=float(part),
                )
                for (name, (low, high)), part in zip(ends.items(), square, strict=True)
            ),
            key=lambda item: -item.share,
        )
    )


def _ranks(values: FloatArray) -> FloatArray:
    """Rank values from the least on; equal ones have the mean of their ranks."""
    _, place, count = np.unique(values, return_inverse=True, return_counts=True)
    rank: FloatArray = (np.cumsum(count) - (count - 1) / 2)[place]
    return rank
