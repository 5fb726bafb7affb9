"""The exact solution: every pulse followed through the network's own modes of decay."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.heat.following.peaks import highest_by_modes
from chainplan.heat.matrix import conductance_matrix
from chainplan.heat.tuning import tuning
from chainplan.model.thermal.heat import HeatRun, Modes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import HeatNetwork


_ALIKE = 1e-12  # rounding of quotients in double precision, with room


def find_modes(network: HeatNetwork) -> Modes:
    """Solve the network's eigenproblem (dense; see ``tuning().largest_modal``)."""
    root = np.sqrt(network.capacity_j_k)
    matrix = conductance_matrix(network).toarray()
    matrix /= root[:, None]
    matrix /= root[None, :]
    rates, vectors = np.linalg.eigh(matrix)
    return Modes(rate_per_s=np.maximum(rates, 0.0), vectors=vectors, root_capacity=root)


def shift_modes(known: HeatNetwork, modes: Modes, network: HeatNetwork) -> Modes | None:
    """Modes of a network from those of another one of the piece, if two numbers tell them apart.

    If all losses stand in one proportion to the capacities, ``C^(-1/2)·A·C^(-1/2)`` is
    ``g·L + h·1``: other g and h leave its vectors as they are and shift the rates. None if the
    networks are not of that kind.
    """
    loss, other = known.loss_w_k / known.capacity_j_k, network.loss_w_k / network.capacity_j_k
    if not (np.ptp(loss) <= _ALIKE * loss[0] and np.ptp(other) <= _ALIKE * other[0]):
        return None
    if known.sink_w_k.any() or network.sink_w_k.any():
        return None
    if not np.array_equal(known.capacity_j_k, network.capacity_j_k):
        return None
    factor = 1.0
    if known.pair_w_k.size:
        factors = network.pair_w_k / known.pair_w_k
        factor = float(factors[0])
        if not np.ptp(factors) <= _ALIKE * factor:
            return None
    rates = (modes.rate_per_s - loss[0]) * factor + other[0]
    return Modes(
        rate_per_s=np.maximum(rates, 0.0),
        vectors=modes.vectors,
        root_capacity=modes.root_capacity,
    )


def simulate_modes(
    network: HeatNetwork,
    modes: Modes,
    ring: IntArray,
    start_s: FloatArray,
    at_s: FloatArray | None = None,
    *,
    peaks_of: Sequence[int] | None = None,
) -> HeatRun:
    """Simulate a run of welds exactly; peaks of rings are taken at several instants.

    Between welds the field is exact at any step; peaks of rings are looked for right after each
    weld, 2, 6, 15, 40 … s after it and just before the next one. Those of parts, which have limits
    of their own, are closed in on. ``peaks_of``: only those of these nodes, all closed in on; of
    the others peaks are those at the welds themselves.
    """
    order = np.argsort(start_s, kind="stable")
    nodes = np.asarray(ring)[order]
    times = np.asarray(start_s, dtype=np.float64)[order]
    joules = network.join_heat_j[nodes]
    before, after = _follow(network, modes, nodes, times)
    rise = np.einsum("km,km->k", modes.vectors[nodes], before) / modes.root_capacity[nodes]
    before_c = np.empty(len(times))
    before_c[order] = rise + network.base_c[nodes]
    peak = np.zeros(len(network.capacity_j_k))
    np.maximum.at(peak, nodes, rise + joules / network.capacity_j_k[nodes])
    if peaks_of is None:
        _raise_peaks(peak, modes, times, after)
    for part in range(len(network.join_heat_j), len(peak)) if peaks_of is None else peaks_of:
        peak[part] = max(peak[part], highest_by_modes(modes, part, times, after))
    at_c = None
    if at_s is not None:
        at_c = _fields(modes, times, after, np.asarray(at_s, dtype=np.float64))
        at_c += network.base_c.astype(at_c.dtype)
    return HeatRun(
        corner=network.corner,
        before_c=before_c,
        peak_c=peak + network.base_c,
        at_c=at_c,
    )


def temperatures_by_modes(
    network: HeatNetwork,
    modes: Modes,
    ring: IntArray,
    start_s: FloatArray,
    node: IntArray,
    at_s: FloatArray,
) -> FloatArray:
    """Temperature of ``node[k]`` at ``at_s[k]`` in a run of welds, shape (k,). [°C]."""
    order = np.argsort(start_s, kind="stable")
    times = np.asarray(start_s, dtype=np.float64)[order]
    after = _follow(network, modes, np.asarray(ring)[order], times)[1]
    moments, place = np.unique(np.asarray(at_s, dtype=np.float64), return_inverse=True)
    by_moment = np.argsort(place, kind="stable")
    ends = np.searchsorted(
        place[by_moment],
        np.arange(0, len(moments) + tuning().moments_at_once, tuning().moments_at_once),
    )
    warm = np.array(network.base_c[node], dtype=np.float64)
    for number, first in enumerate(range(0, len(moments), tuning().moments_at_once)):
        field = _fields(modes, times, after, moments[first : first + tuning().moments_at_once])
        some = by_moment[ends[number] : ends[number + 1]]
        warm[some] += field[place[some] - first, node[some]]
    return warm


def _follow(
    network: HeatNetwork, modes: Modes, nodes: IntArray, times: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Modal states just before and just after each of the welds, in order of time."""
    push = modes.vectors[nodes] * (network.join_heat_j[nodes] / modes.root_capacity[nodes])[:, None]
    before = np.zeros_like(push)
    decay = np.exp(-np.outer(np.diff(times), modes.rate_per_s))
    for step in range(1, len(times)):
        np.add(before[step - 1], push[step - 1], out=before[step])
        before[step] *= decay[step - 1]
    push += before
    return before, push


def _fields(modes: Modes, times: FloatArray, after: FloatArray, at_s: FloatArray) -> FloatArray:
    """Rise of all nodes at some times, shape (len(at_s), N); a weld at the very time counts.

    Drawn and told: in double precision where that is quick, so that no rounding of sums shows.
    """
    kind: type = np.float32 if len(modes.rate_per_s) > tuning().fine_field else np.float64
    last = np.searchsorted(times, at_s, side="right") - 1
    state: FloatArray = np.zeros((len(at_s), len(modes.rate_per_s)), dtype=kind)
    some = last >= 0
    lag = at_s[some] - times[last[some]]
    state[some] = after[last[some]]
    state[some] *= np.exp(np.outer(-lag, modes.rate_per_s).astype(kind))
    shapes: FloatArray = (modes.vectors / modes.root_capacity[:, None]).astype(kind)
    field: FloatArray = state @ shapes.T
    return field


def _sample_times(times: FloatArray) -> tuple[IntArray, FloatArray]:
    """Instants at which peaks are looked for: the weld that they follow and the time since."""
    gaps = np.append(np.diff(times), np.inf)
    steps = [np.flatnonzero((gaps > 0) & np.isfinite(gaps))]
    lags = [gaps[steps[0]]]
    for between in tuning().between_s:
        longer = np.flatnonzero(gaps > between)
        steps.append(longer)
        lags.append(np.full(len(longer), between))
    step, lag = np.concatenate(steps), np.concatenate(lags)
    order = np.argsort(times[step] + lag, kind="stable")
    return step[order].astype(np.int32), lag[order]


def _raise_peaks(peak: FloatArray, modes: Modes, times: FloatArray, after: FloatArray) -> None:
    """Raise the highest rises to those between welds (in place)."""
    step, lag = _sample_times(times)
    kind: type = np.float32 if len(peak) > tuning().fine_peaks else np.float64
    shapes: FloatArray = (modes.vectors / modes.root_capacity[:, None]).astype(kind)
    rates: FloatArray = -modes.rate_per_s
    for begin in range(0, len(step), tuning().moments_at_once):
        part = slice(begin, begin + tuning().moments_at_once)
        state: FloatArray = after[step[part]].astype(kind)
        state *= np.exp(np.outer(lag[part], rates).astype(kind))
        np.maximum(peak, (state @ shapes.T).max(axis=0), out=peak)
