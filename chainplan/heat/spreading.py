"""Many small networks followed through time at once, without any eigen-solution."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

_TOLERANCE = 1e-6


def chebyshev_terms(half_span: float, tolerance: float = _TOLERANCE) -> FloatArray:
    """Coefficients of ``exp(−z·(1 + x))`` on −1 ≤ x ≤ 1 in Chebyshev polynomials.

    Found by a cosine transform on enough points; cut where the rest is below the tolerance. The
    series is used as a polynomial in the matrix, so its error is that on the spectrum: stable for
    any step.
    """
    points = int(16 + 4 * np.ceil(np.sqrt(max(half_span, 1.0) * 16) + half_span / 4))
    angle = (np.arange(points) + 0.5) * (np.pi / points)
    values = np.exp(-half_span * (1 + np.cos(angle)))
    number = np.arange(points)
    terms: FloatArray = (2 / points) * (np.cos(np.outer(number, angle)) @ values)
    terms[0] /= 2
    rest = np.cumsum(np.abs(terms[::-1]))[::-1]
    last = int(np.count_nonzero(rest > tolerance))
    return terms[: max(last, 1)]


def follow_decay(
    matrix: Any,
    state: FloatArray,
    time_s: FloatArray,
    keep: Callable[[int, FloatArray], None],
) -> None:
    """Follow ``y' = −M·y`` and hand the state at each time to ``keep(column, y)``.

    Parameters
    ----------
    matrix : CSR matrix
        Symmetric, positive semidefinite M. [1/s]
    state : array, shape (total,)
        y at time 0.
    time_s : array
        Times, ascending from 0. [s]
    keep : callable
        Called once a time; must not keep the array itself.
    """
    # Gershgorin: no eigenvalue lies beyond the largest row sum of magnitudes.
    sums = np.add.reduceat(np.abs(matrix.data), matrix.indptr[:-1])
    fastest = float(sums.max())
    keep(0, state)
    if fastest == 0.0:
        for column in range(1, len(time_s)):
            keep(column, state)
        return
    from scipy.sparse import identity

    # twice X, whose eigenvalues lie in −1 … 1
    doubled = (matrix * (4 / fastest) - 2 * identity(matrix.shape[0], format="csr")).tocsr()
    for column, step in enumerate(np.diff(time_s), 1):
        terms = chebyshev_terms(fastest * float(step) / 2)
        state = _chebyshev_sum(doubled, state, terms)
        keep(column, state)


def _chebyshev_sum(doubled: Any, state: FloatArray, terms: FloatArray) -> FloatArray:
    """``Σ c_k·T_k(X)·y`` by the three-term recurrence; given 2X."""
    total: FloatArray = terms[0] * state
    if len(terms) == 1:
        return total
    older, newer = state, (doubled @ state) / 2
    total += terms[1] * newer
    for term in terms[2:]:
        newest = doubled @ newer
        newest -= older
        older, newer = newer, newest
        total += term * newer
    return total


def escape_share(block: Any, cut_w_k: FloatArray, centre: npt.NDArray[np.int64]) -> FloatArray:
    """Weight of a patch's rim on its centre: w of ``(A + cut)·w = cut`` at the centre (no unit).

    A node's temperature differs from what its patch alone would give by at most w times the highest
    temperature anywhere (comparison principle); w falls as ``exp(−distance/√(g/H))``.
    """
    if not cut_w_k.any():
        return np.zeros(len(centre))
    diagonal = block.diagonal() + cut_w_k
    solution = cut_w_k / diagonal
    residual = cut_w_k - (block @ solution + cut_w_k * solution)
    scaled = residual / diagonal
    direction = scaled.copy()
    size = float(residual @ scaled)
    first = size
    for _ in range(2000):
        if size <= 1e-18 * first or size == 0.0:
            break
        image = block @ direction + cut_w_k * direction
        stride = size / float(direction @ image)
        solution += stride * direction
        residual -= stride * image
        scaled = residual / diagonal
        fresh = float(residual @ scaled)
        direction *= fresh / size
        direction += scaled
        size = fresh
    weight: FloatArray = np.clip(solution[centre], 0.0, 1.0)
    return weight
