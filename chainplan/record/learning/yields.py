"""Yield by group, pooled: groups with few joins lean on what the others show."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from chainplan.record.learning.intervals import LEVEL

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray

_MEANS = 1 / (1 + np.exp(-np.linspace(-2.0, 8.0, 60)))
"""Means of the groups' yields that are tried: 12 % to 99.97 %, evenly on the log-odds scale."""
_STRENGTHS = np.geomspace(2.0, 5000.0, 32)
"""How alike the groups may be, as joins' worth of knowledge that one group lends another."""
_SHARES = np.concatenate(
    [np.linspace(0.0, 0.8, 81)[:-1], np.linspace(0.8, 0.98, 91)[:-1], np.linspace(0.98, 1, 101)]
)


class Yield(NamedTuple):
    """Share of joins good at first try."""

    value: float
    low: float
    high: float


def log_beta_binomial(
    good: FloatArray, tries: FloatArray, a: FloatArray, b: FloatArray
) -> FloatArray:
    """Log probability of so many good of so many tries, their chance drawn from Beta(a, b).

    Examples
    --------
    >>> import numpy as np
    >>> one = np.array([1.0])
    >>> float(np.round(np.exp(log_beta_binomial(one, 3 * one, one, one)), 12)[0])
    0.25
    """
    from scipy.special import betaln, gammaln

    chosen = gammaln(tries + 1) - gammaln(good + 1) - gammaln(tries - good + 1)
    found: FloatArray = chosen + betaln(good + a, tries - good + b) - betaln(a, b)
    return found


def pooled_yields(good: FloatArray, tries: FloatArray) -> list[Yield]:
    """Yield of each group with its interval, all groups looked at together.

    The chance of each group is taken as drawn from one beta distribution, whose mean and strength
    are unknown: both are summed over a grid, weighted by how well they explain all groups. So two
    joins of a new metal say little, and it gets nearly the mean of the others with a wide interval.

    Parameters
    ----------
    good, tries : array of shape (groups,)
        Joins good at first try, and joins tried.

    References
    ----------
    Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, section 5.3 (from memory): a flat prior on
    the mean's log-odds would be improper, so the grid is bounded; the strength's logarithm is flat.
    """
    from scipy.special import betainc

    good, tries = np.asarray(good, dtype=float), np.asarray(tries, dtype=float)
    mean, strength = (grid.ravel() for grid in np.meshgrid(_MEANS, _STRENGTHS))
    a, b = mean * strength, (1 - mean) * strength
    weight = np.zeros(len(a))
    for k, n in zip(good, tries, strict=True):
        weight += log_beta_binomial(k, n, a, b)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    kept = weight > 1e-4 * weight.max()
    a, b, weight = a[kept], b[kept], weight[kept] / weight[kept].sum()
    found = []
    for k, n in zip(good, tries, strict=True):
        mixed = weight @ betainc((a + k)[:, None], (b + n - k)[:, None], _SHARES[None, :])
        low, high = np.interp([(1 - LEVEL) / 2, (1 + LEVEL) / 2], mixed, _SHARES)
        value = float(weight @ ((a + k) / (a + b + n)))
        found.append(Yield(value, float(low), float(high)))
    return found


def share(good: float, tries: float) -> Yield:
    """Share of one group by itself, with the interval of Jeffreys' prior Beta(½, ½).

    Examples
    --------
    >>> [round(x, 3) for x in share(97, 100)]
    [0.965, 0.931, 0.989]
    """
    from scipy.special import betaincinv

    a, b = good + 0.5, tries - good + 0.5
    low, high = (float(betaincinv(a, b, p)) for p in ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    return Yield(a / (a + b), low, high)
