"""What stands in the way when limits cannot be kept, or cost much waiting, and what would help."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import LimitKind
from chainplan.model.said import said, said_effect, said_part
from chainplan.order.clock.protocol import settle
from chainplan.order.clock.select import make_clock
from chainplan.order.limits import (
    Obstacle,
    coolest_without_welds_c,
    find_obstacles,
    hopeless_ring_limits,
)
from chainplan.order.pattern.phrases import say_rings
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.said import Phrase
    from chainplan.model.thermal.heat import HeatNetwork, RingLimit
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.situation import Situation
    from chainplan.order.tuning import SayTuning


def advise(clock: Clock, settled: Settled) -> list[Phrase]:
    """Say which limits cannot be kept and what would help."""
    situation = clock.situation
    out = advise_limits(
        situation.limits,
        hopeless_ring_limits(situation),
        coolest_without_welds_c(situation) if situation.limits.held_bare else None,
    )
    for obstacle in by_name(find_obstacles(clock)):
        spot = obstacle.part.body is not None and obstacle.spare_k > 0
        out += (advise_spot if spot else advise_part)(situation, obstacle)
    if not settled.feasible or any(not item.proved for item in situation.set_aside):
        out.append(said("advice.patience"))
    return out


def say_own_limit(situation: Situation, freely: Situation, orders: Sequence[Settled]) -> str:
    """Say what the user's own limit before a weld costs at least.

    ``freely``: the same piece without it; ``orders``: the order to follow, and others that may do
    without it.
    """
    mine_s, limit_c = orders[0].bench_s, situation.limits.highest_interpass_c
    settled = make_clock(freely).settle_all(np.asarray([item.order for item in orders]))
    without_s = min((item.bench_s for item in settled if item.feasible), default=mine_s)
    own = f"Your own limit before a weld ({limit_c:.0f} °C) costs"
    if mine_s - without_s < 1:
        return f"{own} nothing here."
    return (
        f"{own} at least {show_duration(mine_s - without_s)}: without it "
        f"{show_duration(without_s)} would do instead of {show_duration(mine_s)}."
    )


def advise_limits(
    limits: HeatSettings, hopeless: Sequence[tuple[RingLimit, float]], held_c: float | None
) -> list[Phrase]:
    """Name limits that are not above the piece's temperature without any weld.

    Parameters
    ----------
    limits
        The limits.
    hopeless : sequence of (RingLimit, float)
        Limits of rings before their welds that the piece is above without any weld, and how warm
        it is there. [°C]
    held_c : float or None
        Coolest place without any weld; None if no fingers hold the piece. [°C]
    """
    out = [
        said(
            "advice.limit_low", effect=_called(item.name), limit=f"{float(item.limit_c.min()):.0f}",
            warm=f"{warm_c:.0f}",
        )
        for item, warm_c in hopeless
    ]  # fmt: skip
    if held_c is not None and held_c >= limits.kept_finger_c:
        limit, warm = f"{limits.kept_finger_c:.0f}", f"{held_c:.0f}"
        out.append(said("advice.fingers_low", limit=limit, warm=warm))
    return out


def _called(name: str) -> Phrase | str:
    """Find the text of a limit of rings before their welds."""
    return said("line.cause.own") if name == LimitKind.INTERPASS else said_effect(name)


def by_name(obstacles: Sequence[Obstacle]) -> list[Obstacle]:
    """Put the places of one part together: the warmest, with the welds of all, worst first."""
    named: dict[str, list[Obstacle]] = {}
    for obstacle in sorted(obstacles, key=lambda item: -item.peak_c):
        named.setdefault(obstacle.part.name, []).append(obstacle)
    return [
        replace(
            places[0],
            joins=np.array(list(dict.fromkeys(j for one in places for j in one.joins.tolist()))),
        )
        for places in named.values()
    ]


def advise_spot(situation: Situation, obstacle: Obstacle) -> list[Phrase]:
    """Say by how much the spots that rings touch are beyond help, and what would help."""
    part, work = obstacle.part, situation.work
    rings = sorted(work.ring[obstacle.joins].tolist())
    power = work.settings[work.setting[obstacle.joins[0]]]
    most_j = power.power_j * power.hits * obstacle.spare_k
    most_j /= obstacle.peak_c - part.limit_c + obstacle.spare_k
    out = [
        said(
            "advice.spot", n=len(rings), part=said_part(part.name), rings=say_rings(rings),
            peak=f"{obstacle.peak_c:.0f}", limit=f"{part.limit_c:.0f}",
        )
    ]  # fmt: skip
    if most_j >= 1:
        out.append(_less_heat(most_j, power.power_j * power.hits))
    return out


def _less_heat(most_j: float, power_j: float) -> Phrase:
    return said("advice.less_heat", most=f"{np.floor(most_j):.0f}", power=f"{power_j:.0f}")


def advise_part(situation: Situation, obstacle: Obstacle) -> list[Phrase]:
    """Say by how much a part is beyond help, and the smallest changes that would help."""
    part, work = obstacle.part, situation.work
    rings = work.ring[obstacle.joins].tolist()
    over = obstacle.peak_c - part.limit_c
    limit = f"{part.limit_c:.0f}"
    if obstacle.spare_k <= 0:
        return [said("advice.part_low", part=said_part(part.name), limit=limit)]
    named = say_rings(rings)
    out = [
        said(
            "advice.part", part=said_part(part.name), rings=named, peak=f"{obstacle.peak_c:.0f}",
            over=f"{max(over, 1):.0f}", limit=limit,
        )
    ]  # fmt: skip
    share = obstacle.spare_k / (obstacle.peak_c - part.limit_c + obstacle.spare_k)
    power = min(
        work.settings[k].power_j * work.settings[k].hits for k in work.setting[obstacle.joins]
    )
    if share * power >= 1:
        out.append(_less_heat(share * power, power))
    linked = _linked_among(situation, rings)
    if linked:
        out.append(said("advice.close_some", rings=named, linked=say_rings(linked)))
    else:
        out.append(said("advice.close", rings=named))
    clip = smallest_clip_w_k(situation, obstacle)
    if clip is not None:
        near = say_rings(sorted(part.near_rings)[:2])
        out.append(said("advice.clip", rings=near, clip=f"{clip * 1000:.0f}"))
    away_mm = least_distance_mm(situation, obstacle)
    if away_mm is not None:
        out.append(said("advice.move", mm=f"{np.ceil(away_mm):.0f}", part=said_part(part.name)))
    else:
        out.append(said("advice.not_by_moving", part=said_part(part.name)))
    return out


def least_distance_mm(situation: Situation, obstacle: Obstacle) -> float | None:
    """Distance from a part from which every single weld leaves it below its limit. [mm].

    The nearest such join beyond the last one that does not; None if there is none.
    """
    near = sorted(obstacle.part.near_rings)
    if not near:
        return None
    place = situation.layout.centre_mm[near, :2]
    apart = situation.work.place_mm[:, None, :] - place[None, :, :]
    away = np.hypot(apart[:, :, 0], apart[:, :, 1]).min(axis=1)
    last = float(away[obstacle.joins].max(initial=0.0))
    beyond = away[away > last]
    return float(beyond.min()) if beyond.size else None


def _linked_among(situation: Situation, rings: list[int]) -> tuple[int, int] | None:
    inside = np.isin(situation.layout.links, rings).all(axis=1)
    pairs = situation.layout.links[inside]
    return (int(pairs[0, 0]), int(pairs[0, 1])) if pairs.shape[0] else None


def smallest_clip_w_k(situation: Situation, obstacle: Obstacle) -> float | None:
    """Smallest usual clip on the rings next to a part that makes every single weld bearable.

    Solves the surroundings of the part (rings a few links away) exactly, the heat of a weld put in
    at once. None if no clip tried is enough. [W/K].
    """
    network = situation.heat.networks[obstacle.corner]
    near = _around(network, obstacle.part.node, situation.tuning.say)
    place = {int(node): k for k, node in enumerate(near.tolist())}
    clipped = [place[ring] for ring in sorted(obstacle.part.near_rings)[:2] if ring in place]
    welded = [ring for ring in situation.work.ring[obstacle.joins].tolist() if ring in place]
    if not clipped or not welded:
        return None
    for clip in situation.tuning.say.clips_w_k:
        matrix = _conductance(network, near)
        matrix[clipped, clipped] += clip
        root = np.sqrt(network.capacity_j_k[near])
        rate, mode = np.linalg.eigh(matrix / np.outer(root, root))
        times = np.geomspace(0.2, obstacle.window_s, 80)
        decay = np.exp(-np.outer(times, rate))
        target = mode[place[obstacle.part.node]] / root[place[obstacle.part.node]]
        peak = max(
            float((decay @ (target * mode[place[ring]])).max())
            * float(network.join_heat_j[ring])
            / float(root[place[ring]])
            for ring in welded
        )
        if peak <= obstacle.spare_k:
            return clip
    return None


def _around(network: HeatNetwork, node: int, tuning: SayTuning) -> IntArray:
    near = np.zeros(network.capacity_j_k.shape[0], dtype=bool)
    near[node] = True
    for _ in range(tuning.around_steps):
        touch = near[network.pairs].any(axis=1)
        grown = near.copy()
        grown[network.pairs[touch].ravel()] = True
        if np.count_nonzero(grown) > tuning.most_around:
            break
        near = grown
    return np.flatnonzero(near).astype(np.int32)


def _conductance(network: HeatNetwork, near: IntArray) -> FloatArray:
    """Conductance matrix of some nodes; heat that would flow further out stays in. [W/K]."""
    place = np.full(network.capacity_j_k.shape[0], -1)
    place[near] = np.arange(near.shape[0])
    first, second = place[network.pairs[:, 0]], place[network.pairs[:, 1]]
    inside = (first >= 0) & (second >= 0)
    first, second, value = first[inside], second[inside], network.pair_w_k[inside]
    matrix = np.diag(network.loss_w_k[near] + network.sink_w_k[near]).astype(float)
    np.add.at(matrix, (first, second), -value)
    np.add.at(matrix, (second, first), -value)
    np.add.at(matrix, (first, first), value)
    np.add.at(matrix, (second, second), value)
    return matrix


def calm_pace_s(clock: Clock, order: IntArray) -> float | None:
    """Least whole seconds a join at which an order needs no wait; None if even minutes do not do.

    Found by halving, so it is the least one if a slower pace never needs a wait that a quicker one
    does not; that it needs none itself has been reckoned in every bad corner.
    """
    low = float(np.floor(clock.situation.work.handle_s))
    high = low + 1
    while not clock.needs_no_wait(order, high):
        low, high = high, 2 * high
        if high > clock.situation.tuning.clock.slowest_s:
            return None
    while high - low > 1:
        middle = float(np.floor((low + high) / 2))
        low, high = (low, middle) if clock.needs_no_wait(order, middle) else (middle, high)
    return high


def _said_left(waiting_s: float) -> str:
    """Say what is left of the waits.

    Examples
    --------
    >>> _said_left(0.0), _said_left(72.0)
    ('no wait', '1 min 12 s of waiting')
    """
    return f"{show_duration(waiting_s)} of waiting" if waiting_s >= 1 else "no wait"


def advise_waiting(clock: Clock, settled: Settled) -> list[str]:
    """When much of the time goes into waiting, say which changes would cut it and by how much."""
    situation, tuning = clock.situation, clock.situation.tuning.say
    waiting = settled.waiting_s
    if not settled.feasible or waiting < tuning.worth_a_word * settled.bench_s:
        return []
    out = [f"{show_duration(waiting)} of this plan is waiting for the piece to cool."]
    if situation.held:
        bare = settle(clock, settled.order, held=False).waiting_s
        if bare < tuning.less_waiting * waiting:
            out.append(f"Held with tweezers instead of fingers, {_said_left(bare)} would be left.")
    else:
        cooler = clock.with_relief(1 / tuning.less_power)
        less = settle(cooler, settled.order).waiting_s
        if less < tuning.less_waiting * waiting:
            out.append(
                "With a fifth less power, if the joins still close, "
                f"{_said_left(less)} would be left."
            )
    few = situation.work.joins <= tuning.most_compared
    pace_s = calm_pace_s(clock, settled.order) if few else None
    if pace_s is not None:
        slow = replace(situation.work, handle_s=pace_s)
        last_s = float(slow.after_s[settled.order[-1]])
        whole = float(slow.gaps_s(settled.order).sum()) + last_s
        out.append(
            f"Slower pace: at {pace_s:.0f} s a join instead of {situation.work.handle_s:.0f} s "
            f"this order needs no wait at all, and takes {show_duration(whole)} instead of "
            f"{show_duration(settled.bench_s)}."
        )
    out.append(
        "Waits can be spent on another piece of the batch; a cooling block also shortens them."
    )
    return out
