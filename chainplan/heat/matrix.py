"""The network as a sparse matrix: conductances off the diagonal, all losses on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from chainplan.model.thermal.heat import HeatNetwork


def conductance_matrix(network: HeatNetwork) -> Any:
    """Matrix A of ``C·dT/dt = −A·T + pulses``, T over the room: symmetric, in CSR form. [W/K].

    ``A = L_g + diag(H + s)`` with ``L_g`` the weighted Laplacian of the pairs.
    """
    from scipy.sparse import coo_matrix

    nodes = len(network.capacity_j_k)
    first, second = network.pairs[:, 0], network.pairs[:, 1]
    diagonal = network.loss_w_k + network.sink_w_k
    diagonal = diagonal + np.bincount(first, network.pair_w_k, nodes)
    diagonal = diagonal + np.bincount(second, network.pair_w_k, nodes)
    every = np.arange(nodes, dtype=np.int32)
    values = np.concatenate([-network.pair_w_k, -network.pair_w_k, diagonal])
    rows = np.concatenate([first, second, every])
    columns = np.concatenate([second, first, every])
    matrix = coo_matrix((values, (rows, columns)), shape=(nodes, nodes)).tocsr()
    matrix.sort_indices()
    return matrix
