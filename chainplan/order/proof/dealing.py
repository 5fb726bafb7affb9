"""Dealing welds out to the places of an order: the least heat that any way of it leaves.

Whatever the order, the weld that fell l places before some moment lies between two lags. The least
that each weld can bring at each place makes a matrix, and the least sum over all ways of dealing
the welds out is an assignment problem. Its answer is used as a proof, so it does not rest on the
solver: any prices u of the welds, with v of each place the least of cost less u, show that no
assignment costs less than Σ u + Σ v. The prices come from the solver's assignment; the sum is
reckoned anew from the matrix alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray
    from chainplan.order.clock.field import Field


ROUNDING_K = 1e-3
"""Added to every cap in a proof: rounding in modes and sums is below a millionth of a kelvin."""
_PRICE_ROUNDS = 60
"""Rounds in which prices are settled; fewer than needed only lower the sum."""


@frozen
class Kernels:
    """How each weld warms some nodes at even times after it, never more than in truth. [K]."""

    step_s: float
    level: tuple[FloatArray, ...]  # k-th: least of 2^k samples from each on, (nodes, joins, s)

    def least_k(self, low_s: FloatArray, high_s: FloatArray) -> FloatArray:
        """Least rise that each weld brings at a lag between two, shape (nodes, joins, lags)."""
        top = self.level[0].shape[-1] - 1
        low = np.clip(np.floor(low_s / self.step_s), 0, top).astype(int)
        high = np.clip(np.ceil(high_s / self.step_s), low, top).astype(int)
        span = np.floor(np.log2(high - low + 1)).astype(int)
        least = np.empty((*self.level[0].shape[:2], low.shape[0]))
        for power in np.unique(span).tolist():
            some = np.flatnonzero(span == power)
            curve = self.level[power]
            least[..., some] = np.minimum(
                curve[..., low[some]], curve[..., high[some] - (1 << power) + 1]
            )
        return least


def sample_kernels(field: Field, nodes: IntArray) -> Kernels:
    """Sample how every join's weld warms some nodes of a piece in one corner."""
    every = np.arange(field.ring.shape[0])
    level = [np.stack([field.even_k(node, every) for node in nodes.tolist()])]
    count = 1
    while 2 * count <= level[0].shape[-1]:
        last = level[-1]
        level.append(np.minimum(last[..., :-count], last[..., count:]))
        count *= 2
    return Kernels(step_s=field.step_s, level=tuple(level))


def least_sum(cost: FloatArray) -> float:
    """Lower bound on what any assignment of rows to columns costs, as good as the best one.

    Parameters
    ----------
    cost : array, shape (n, n)
        Finite; what it costs to give each column to each row.

    Examples
    --------
    >>> import numpy as np
    >>> least_sum(np.array([[4.0, 1.0, 3.0], [2.0, 0.0, 5.0], [3.0, 2.0, 2.0]]))
    5.0
    """
    if cost.shape[0] == 0:
        return 0.0
    from scipy.optimize import linear_sum_assignment

    column = linear_sum_assignment(cost)[1]
    mine = cost[np.arange(cost.shape[0]), column]
    over = cost[:, column] - mine[None, :]  # (row, other row): u(row) ≤ u(other) + over
    price = np.zeros(cost.shape[0])
    for _ in range(min(cost.shape[0], _PRICE_ROUNDS)):
        better = np.minimum(price, (price[None, :] + over).min(axis=1))
        if np.array_equal(better, price):
            break
        price = better
    return float(price.sum() + (cost - price[:, None]).min(axis=0).sum())
