"""Kernel sums over very large pieces: vectorised over classes of rings with equal surroundings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.model.heat import KernelTable

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]

_CHUNK = 200_000
NEVER_S = np.inf


def rises_k(
    table: KernelTable,
    welded_s: FloatArray,
    node: IntArray,
    at_s: FloatArray,
    later_s: float = 0.0,
) -> FloatArray:
    """Rise of nodes at times, one time a node, from all welds before. [K].

    Parameters
    ----------
    table : KernelTable
        Kernels of one corner.
    welded_s : array, shape (n,)
        When each ring is welded; ``NEVER_S`` for those closed beforehand. [s]
    node, at_s : array, shape (k,)
        Where and when, just before any weld at that moment. [s]
    later_s : float, optional
        Look this much later, but count only the welds before ``at_s``. [s]

    Returns
    -------
    array, shape (k,)
        Rise over the base temperature. [K]
    """
    out = np.zeros(node.shape[0])
    kind = table.node_class[node]
    by_class = np.argsort(kind, kind="stable")
    ends = np.flatnonzero(np.diff(kind[by_class], append=-1)) + 1
    begin = 0
    window = float(table.log_time_s[-1])
    for end in ends.tolist():
        members = by_class[begin:end]
        begin = end
        number = int(kind[members[0]])
        part = slice(int(table.class_start[number]), int(table.class_start[number + 1]))
        shift, curve = table.class_offset[part], table.class_curve[part]
        if shift.size == 0:
            continue
        chunk = max(1, _CHUNK // shift.size)
        for first in range(0, members.shape[0], chunk):
            some = members[first : first + chunk]
            lag = (at_s[some, None] - welded_s[node[some][:, None] + shift[None, :]]).ravel()
            felt = np.flatnonzero((lag > 0) & (lag < window - later_s))
            if felt.size == 0:
                continue
            row, column = np.divmod(felt, shift.size)
            value = table.rise_at(curve[column], lag[felt] + later_s)
            out[some] += np.bincount(row, value, some.shape[0])
    return out
