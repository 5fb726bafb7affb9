"""Sums that are used as proofs: never more than any assignment costs, as good as the best one."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof import dealing
from chainplan.order.proof.dealing import least_sum, sample_kernels


@pytest.mark.parametrize("count", [1, 2, 4, 6])
def test_the_sum_by_prices_is_that_of_the_best_assignment(count):
    """All assignments gone through."""
    rng = np.random.default_rng(count)
    for _ in range(20):
        cost = rng.exponential(10.0, (count, count)) * (rng.random((count, count)) < 0.7)
        best = min(
            sum(cost[row, column] for row, column in enumerate(order))
            for order in permutations(range(count))
        )
        assert least_sum(cost) == pytest.approx(best, abs=1e-9)


def test_prices_that_are_not_settled_only_lower_the_sum(monkeypatch):
    """The proof holds with any prices: the solver is not trusted."""
    cost = np.random.default_rng(7).exponential(10.0, (12, 12))
    best = least_sum(cost)
    for rounds in range(12):
        monkeypatch.setattr(dealing, "_PRICE_ROUNDS", rounds)
        assert least_sum(cost) <= best + 1e-9


def test_kernels_are_sampled_from_below_whatever_the_span(make):
    """The least over a span of lags is below every exact rise in it, between samples too."""
    piece = make.piece(make.chain(6), link_w_k=8e-3, parts=(("spring", 2, 90.0, 0.05),))
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    field = clock.fields[0]
    nodes = np.arange(7, dtype=np.int32)
    kernels = sample_kernels(field, nodes)
    rng = np.random.default_rng(3)
    low = rng.exponential(8.0, 40)
    high = low + rng.exponential(20.0, 40)
    least = kernels.least_k(low, high)
    for number in range(40):
        times = np.linspace(low[number], high[number], 400)
        fading = np.exp(-np.outer(field.rate, times))
        share = field.shape_k(nodes)[:, None] * field.welds(np.arange(6, dtype=np.int32))[None]
        exact = (share @ fading).min(axis=2)
        assert (least[..., number] <= exact + 1e-12).all()
        assert (least[..., number] >= 0).all()
