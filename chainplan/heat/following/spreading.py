"""Many small networks followed through time at once, without any eigen-solution."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.heat.tuning import tuning

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray


def chebyshev_terms(half_spans: FloatArray, tolerance: float | None = None) -> FloatArray:
    """Coefficients of ``exp(−z·(1 + x))`` on −1 ≤ x ≤ 1 in Chebyshev polynomials, one column a z.

    Found by a cosine transform on enough points; cut where the rest is below the tolerance for
    every z. The series is used as a polynomial in a matrix, so its error is that on the spectrum:
    stable for any step.
    """
    tolerance = tolerance or tuning().series_tolerance
    digits = np.log(4 / tolerance)  # the terms fall as exp(−k²/2z) for large z
    count = int(np.ceil(np.sqrt(2 * digits * float(np.max(half_spans))) + digits))
    points = 2 * count
    angle = (np.arange(points) + 0.5) * (np.pi / points)
    values = np.exp(-np.outer(1 + np.cos(angle), half_spans))
    terms: FloatArray = (2 / points) * (np.cos(np.outer(np.arange(count), angle)) @ values)
    terms[0] /= 2
    rest = np.cumsum(np.abs(terms[::-1]), axis=0)[::-1].max(axis=1)
    last = int(np.count_nonzero(rest > tolerance))
    return terms[: max(last, 1)]


def follow_decay(matrix: Any, state: FloatArray, time_s: FloatArray) -> npt.NDArray[np.float32]:
    """Follow ``y' = −M·y`` from a state and return it at the times, shape (total, times).

    One series of Chebyshev polynomials of the matrix serves all times: what differs is only the
    weight of each term.

    Parameters
    ----------
    matrix : CSR matrix
        Symmetric, positive semidefinite M. [1/s]
    state : array, shape (total,)
        y at time 0.
    time_s : array
        Times. [s]
    """
    # Gershgorin: no eigenvalue lies beyond the largest row sum of magnitudes.
    sums = np.add.reduceat(np.abs(matrix.data), matrix.indptr[:-1])
    fastest = float(sums.max())
    if fastest == 0.0:
        return np.repeat(state.astype(np.float32)[:, None], len(time_s), axis=1)
    from scipy.sparse import identity

    # twice X, whose eigenvalues lie in −1 … 1
    doubled = (matrix * (4 / fastest) - 2 * identity(matrix.shape[0], format="csr")).tocsr()
    terms = chebyshev_terms(fastest / 2 * time_s).astype(np.float32)
    total = np.zeros((len(state), len(time_s)), dtype=np.float32)
    at_once = tuning().terms_at_once
    held = np.empty((at_once, len(state)), dtype=np.float32)
    older, newer = state, state
    for number in range(len(terms)):
        if number == 1:
            older, newer = state, (doubled @ state) / 2
        elif number > 1:
            newest = doubled @ newer
            newest -= older
            older, newer = newer, newest
        place = number % at_once
        held[place] = newer
        if place == at_once - 1 or number == len(terms) - 1:
            total += held[: place + 1].T @ terms[number - place : number + 1]
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
        if size <= 1e-16 * first or size == 0.0:
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
