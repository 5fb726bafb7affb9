"""Spare rings: a published-style table worked with the binomial law, and scipy's own quantiles."""

import random

import pytest
from scipy import stats

from chainplan.errors import InputError
from chainplan.estimate.material.spares import chance_of_running_short, spare_rings


@pytest.mark.parametrize(
    ("rings", "bad", "confidence", "spares", "achieved"),
    [
        (100, 0.02, 0.95, 5, 0.9808),
        (500, 0.03, 0.95, 22, 0.9542),
        (500, 0.03, 0.99, 25, 0.9901),
        (1000, 0.01, 0.95, 16, 0.9700),
        (1000, 0.05, 0.95, 65, 0.9541),
        (1000, 0.05, 0.99, 71, 0.9922),
    ],
)
def test_the_table_of_spares_is_reproduced(rings, bad, confidence, spares, achieved):
    """Smallest s with P(Binomial(n + s, p) ≤ s) at least the confidence."""
    assert spare_rings(rings, bad, 1 - confidence) == spares
    assert 1 - chance_of_running_short(rings, spares, bad) == pytest.approx(achieved, abs=5e-5)


def test_a_thousand_joins_at_97_per_cent_need_what_the_binomial_law_says():
    """Risk 5 %; the plain n/(1 − p) would give 31 and run short almost every second time."""
    spares = spare_rings(1000, 0.03, 0.05)
    assert stats.binom.sf(spares, 1000 + spares, 0.03) <= 0.05
    assert stats.binom.sf(spares - 1, 1000 + spares - 1, 0.03) > 0.05
    assert stats.binom.sf(31, 1031, 0.03) > 0.4


def test_chances_are_those_of_scipy():
    """One hundred random cases, up to a hundred thousand rings."""
    draw = random.Random(11)
    for _ in range(100):
        rings = int(10 ** draw.uniform(0, 5))
        bad = draw.uniform(0.001, 0.4)
        spares = max(0, int(rings * bad / (1 - bad) * draw.uniform(0.7, 1.4)))
        ours = chance_of_running_short(rings, spares, bad)
        assert ours == pytest.approx(float(stats.binom.sf(spares, rings + spares, bad)), abs=1e-9)


def test_a_million_rings_are_answered():
    spares = spare_rings(1_000_000, 0.03, 0.01)
    assert stats.binom.sf(spares, 1_000_000 + spares, 0.03) == pytest.approx(
        chance_of_running_short(1_000_000, spares, 0.03), abs=1e-8
    )


@pytest.mark.parametrize(("bad", "risk"), [(1.0, 0.05), (-0.1, 0.05), (0.02, 0.0), (0.02, 1.0)])
def test_impossible_shares_are_refused(bad, risk):
    with pytest.raises(InputError, match="must be"):
        spare_rings(10, bad, risk)


def test_without_bad_rings_nothing_runs_short():
    """Not even without a spare."""
    assert chance_of_running_short(10, 0, 0.0) == 0.0
