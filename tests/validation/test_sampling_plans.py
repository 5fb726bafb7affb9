"""Sampling plans against the standard's table and its operating characteristics.

MIL-STD-105E, 1989, table II-A (single sampling, normal inspection), which ISO 2859-1:1999 kept:
rejection numbers as reproduced by the National Institute of Building Sciences. Chances of
acceptance are the binomial's.
"""

from __future__ import annotations

import pytest
from scipy import stats

from chainplan.errors import InputError
from chainplan.reference.sampling import limits_percent, sampling_plan

REJECTION = {
    # sample size: rejection numbers by acceptance quality limit, from the table
    20: {0.65: 1, 2.5: 2, 4.0: 3, 6.5: 4, 10: 6, 15: 8},
    32: {1.5: 2, 2.5: 3, 4.0: 4, 6.5: 6, 10: 8, 15: 11},
    50: {1.0: 2, 1.5: 3, 2.5: 4, 4.0: 6, 6.5: 8, 10: 11, 15: 15},
    80: {0.65: 2, 1.0: 3, 1.5: 4, 2.5: 6, 4.0: 8, 6.5: 11, 10: 15, 15: 22},
    125: {0.65: 3, 1.0: 4, 1.5: 6, 2.5: 8, 4.0: 11, 6.5: 15, 10: 22},
    200: {0.65: 4, 1.0: 6, 1.5: 8, 2.5: 11, 4.0: 15, 6.5: 22},
    315: {0.65: 6, 1.0: 8, 1.5: 11, 2.5: 15, 4.0: 22},
    500: {0.65: 8, 1.0: 11, 1.5: 15, 2.5: 22},
    800: {0.65: 11, 1.0: 15, 1.5: 22},
}
LOT_OF_SIZE = {20: 150, 32: 280, 50: 500, 80: 1200, 125: 3200, 200: 10_000, 315: 35_000,
               500: 150_000, 800: 500_000}  # fmt: skip


@pytest.mark.parametrize("size", REJECTION)
def test_plans_are_those_of_the_table(size: int) -> None:
    for aql, reject in REJECTION[size].items():
        plan = sampling_plan(LOT_OF_SIZE[size], aql)
        assert (plan.size, plan.reject) == (size, reject), aql


@pytest.mark.parametrize(
    ("lot", "aql", "size", "accept"),
    [(100, 1.0, 13, 0), (200, 1.0, 50, 1), (8, 10, 5, 1), (400_000, 4.0, 315, 21), (3, 6.5, 2, 0)],
)
def test_arrows_lead_to_the_next_plan(lot: int, aql: float, size: int, accept: int) -> None:
    plan = sampling_plan(lot, aql)
    assert (plan.size, plan.accept) == (min(size, lot), accept)


@pytest.mark.parametrize(
    ("bad", "chance"), [(0.005, 0.9923), (0.01, 0.9534), (0.02, 0.7844), (0.05, 0.2306)]
)
def test_the_chance_to_accept_is_the_published_one(bad: float, chance: float) -> None:
    plan = sampling_plan(1000, 1.0)
    assert stats.binom.cdf(plan.accept, plan.size, bad) == pytest.approx(chance, abs=5e-5)


def test_a_good_lot_is_mostly_accepted_whatever_its_size() -> None:
    """At its acceptance quality limit no plan rejects more than about one lot in seven."""
    for aql in limits_percent():
        for lot in (9, 60, 700, 20_000, 900_000):
            plan = sampling_plan(lot, aql)
            assert stats.binom.cdf(plan.accept, plan.size, aql / 100) > 0.86


def test_what_the_table_does_not_have_is_refused() -> None:
    with pytest.raises(InputError, match=r"one of 0\.65, 1, 1\.5"):
        sampling_plan(100, 3.0)
    with pytest.raises(InputError, match="without joins"):
        sampling_plan(0, 1.0)
    assert "from memory" in sampling_plan(60, 1.0).source
    assert "from memory" not in sampling_plan(1000, 1.0).source
