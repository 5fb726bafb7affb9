"""Kernel tables: how one weld warms the rings near it, for each kind of surroundings once."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.frozen import frozen
from chainplan.heat.conductance.spot import SETTLES_S
from chainplan.heat.following.spreading import escape_share, follow_decay
from chainplan.heat.following.surroundings import (
    Neighbourhoods,
    NodeClasses,
    find_surroundings,
    gather_patches,
    patch_matrix,
)
from chainplan.heat.matrix import conductance_matrix
from chainplan.heat.tuning import tuning
from chainplan.model.thermal.kernels import KernelTable

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import HeatNetwork

_RISEN_S = 5 * SETTLES_S  # a spot is then within a hundredth of where its ring takes it


@frozen
class _PatchRises:
    """Rise of each patch's centre for the join of each of its nodes, and the rim's weight."""

    patches: Neighbourhoods
    rise_k: npt.NDArray[np.float32]  # (nodes of all patches, columns)
    rim_weight: float

    @property
    def proved_k(self) -> float:
        """Bound on what cutting the patches out changes, for any order: ``w·S/(1 − w)``."""
        highest = np.add.reduceat(self.rise_k.max(axis=1), self.patches.start[:-1])
        return self.ceiling_k(highest) * self.rim_weight

    def ceiling_k(self, highest: FloatArray) -> float:
        """No ring can ever be warmer than this over the room: ``S/(1 − w)``."""
        return float(highest.max(initial=0.0)) / max(1 - self.rim_weight, 1e-9)


def build_kernels(network: HeatNetwork) -> KernelTable:
    """Make the kernel table of one corner.

    Every node's surroundings are cut out to a number of links and insulated at the rim, which keeps
    all heat in them; one weld is followed through that patch. Nodes with equal surroundings share
    one patch, so the work does not grow with the piece.

    Notes
    -----
    What this leaves out is bounded for any order in which each ring is welded once, however fast.
    Let w be the weight of the rim on a patch's centre, the largest of all patches, and S the
    largest sum over a patch of each curve's highest value. Then, with T the true rise and P the
    patch's, ``sup T ≤ S/(1 − w)`` and ``|T − P| ≤ w·S/(1 − w)`` (comparison principle). Heat older
    than the table's last time W adds at most ``exp(−W·min(H/C))·sup T``.

    Where that is more than half a kelvin (wide sheets of well-joined rings) the difference is
    computed instead: at nodes at corners, edges and in the middle the same weld is followed through
    a patch several times as large, and the greatest shortfalls of all sources are added up as if
    they came at one moment; the large patch's own ``w·S/(1 − w)`` is added.

    Between two times of the table a curve is taken as straight; that lies below it by at most about
    an eighth of its second difference, which is added for all sources too.
    """
    matrix = conductance_matrix(network)
    slowest = float((network.loss_w_k / network.capacity_j_k).min())
    window_s = float(np.clip(-np.log(tuning().tail_share) / max(slowest, 1e-9), 60.0, 2e4))
    scale_s = _scale_s(network, matrix)
    time_s = scale_s * np.expm1(np.linspace(0, np.log1p(window_s / scale_s), tuning().columns))
    rounds = _choose_rounds(network, matrix, time_s)
    surroundings = find_surroundings(network, matrix, rounds)
    share, mixed_k, given = None, 0.0, network
    if len(surroundings.example) > tuning().most_classes:
        exact = surroundings
        surroundings = gather_alike(network, matrix, exact)
        most_j = float(network.join_heat_j.max())
        share = np.zeros(len(network.capacity_j_k))
        share[: len(network.join_heat_j)] = network.join_heat_j / most_j
        network = replace(network, join_heat_j=np.full_like(network.join_heat_j, most_j))
    found = _follow_patches(network, matrix, surroundings.example, rounds, time_s)
    patches = found.patches
    own = found  # each source with the heat of its own join, as the examples have them
    if share is not None:
        mixed_k = _mixed_k(given, matrix, found, (exact, surroundings), share, time_s)
        shares = share[patches.node].astype(np.float32)
        own = replace(found, rise_k=found.rise_k * shares[:, None])
    highest = own.rise_k.max(axis=1)
    dropped = own.proved_k
    if dropped > tuning().wanted_k:
        by_size = np.argsort(np.diff(patches.start), kind="stable")
        some = np.unique(by_size[np.linspace(0, len(by_size) - 1, 7).astype(int)])
        centres = surroundings.example
        shortfall = _shortfall_k(given, matrix, own, centres, some, rounds, time_s)
        dropped = min(dropped, shortfall)
    sums = np.add.reduceat(highest, patches.start[:-1])
    dropped += own.ceiling_k(sums) * float(np.exp(-window_s * slowest))
    felt = highest >= tuning().felt_k
    sizes = np.diff(patches.start)
    dropped += (tuning().grain_k + tuning().felt_k) * float(sizes.max())
    rings = surroundings.example < len(network.join_heat_j)
    dropped += _sag_k(own, rings, time_s) + mixed_k
    kept = np.concatenate([[0], np.cumsum(felt)])[patches.start].astype(np.int32)
    offset = patches.node - np.repeat(surroundings.example, sizes)
    rise, curve = _share_curves(found.rise_k, np.flatnonzero(felt))
    return KernelTable(
        corner=network.corner,
        node_class=surroundings.node_class,
        class_start=kept,
        class_offset=offset[felt].astype(np.int32),
        class_curve=curve,
        log_rise_k=rise,
        log_time_s=time_s,
        time_scale_s=scale_s,
        dropped_k=dropped,
        step_s=max(1.0, float(np.ceil(window_s / 600.0))),
        source_share=share,
    )


def _scale_s(network: HeatNetwork, matrix: Any) -> float:
    """Time from which on the spacing of a table's times grows. [s].

    A spot of a stone that a ring touches follows that ring within tenths of a second: there the
    times stand as close as it moves, or its peak falls between two of them.
    """
    parts = slice(len(network.join_heat_j), None)
    moves_1_s = matrix.diagonal()[parts] / network.capacity_j_k[parts]
    return min(tuning().scale_s, 1 / float(moves_1_s.max(initial=1e-9)))


def gather_alike(network: HeatNetwork, matrix: Any, exact: NodeClasses) -> NodeClasses:
    """Take nodes as alike whose nearest neighbours are, and that stand at the same places.

    Where rings of several metals are mixed, hardly two have the same surroundings ten links out.
    What a ring feels of them depends on the metals far off only by how much heat these hold, so
    those of the most common surroundings stand for all of a class.
    """
    alike = find_surroundings(network, matrix, exact.rounds, tuning().links_known)
    common = np.bincount(exact.node_class)[exact.node_class]
    order = np.lexsort((np.arange(len(common)), -common, alike.node_class))
    first = np.searchsorted(alike.node_class[order], np.arange(len(alike.example)))
    return replace(alike, example=order[first].astype(np.int32))


def _mixed_k(
    network: HeatNetwork,
    matrix: Any,
    found: _PatchRises,
    classes: tuple[NodeClasses, NodeClasses],
    share: FloatArray,
    time_s: FloatArray,
) -> float:
    """Most that nodes of other surroundings than their class's example are told too cool. [K].

    Found at a sample of them, the same weld followed through their own surroundings: the greatest
    shortfalls of all sources added up as if they came at one moment. Sampled, not proved.
    """
    exact, alike = classes
    other = exact.node_class != exact.node_class[alike.example][alike.node_class]
    nodes = np.flatnonzero(other)
    if not nodes.size:
        return 0.0
    some = np.unique(nodes[np.linspace(0, len(nodes) - 1, tuning().mixed_probes).astype(int)])
    true = _follow_patches(network, matrix, some.astype(np.int32), exact.rounds, time_s)
    worst = 0.0
    for index, node in enumerate(some.tolist()):
        mine = slice(true.patches.start[index], true.patches.start[index + 1])
        kind = int(alike.node_class[node])
        there = slice(found.patches.start[kind], found.patches.start[kind + 1])
        told = found.rise_k[there] * share[true.patches.node[mine]][:, None].astype(np.float32)
        short = np.maximum((true.rise_k[mine] - told).max(axis=1), 0.0)
        worst = max(worst, float(short.sum()))
    return worst


def _sag_k(found: _PatchRises, rings: npt.NDArray[np.bool_], time_s: FloatArray) -> float:
    """Most that reading curves as straight between the times can leave out, all sources added.

    Of parts only later times count: the spot that a welded ring touches rises in the first moments
    and is warmest after them.
    """
    sag = np.empty(len(found.rise_k))
    of_ring = np.repeat(rings, np.diff(found.patches.start))
    late = time_s[:-2] > _RISEN_S
    for begin in range(0, len(sag), tuning().nodes_at_once):
        some = slice(begin, begin + tuning().nodes_at_once)
        bend = -np.diff(found.rise_k[some], n=2, axis=1)
        bend[~(of_ring[some][:, None] | late)] = 0.0
        sag[some] = np.maximum(bend.max(axis=1), 0.0) / 8
    return float(np.add.reduceat(sag, found.patches.start[:-1]).max(initial=0.0))


def _follow_patches(
    network: HeatNetwork, matrix: Any, centres: IntArray, rounds: int, time_s: FloatArray
) -> _PatchRises:
    """Gather the patches and follow one weld through each, some patches at a time."""
    patches = gather_patches(matrix, centres, rounds)
    rise = np.empty((len(patches.node), len(time_s)), dtype=np.float32)
    weight = 0.0
    for some in _batches(patches.start):
        part = patches.part(some)
        block, cut = patch_matrix(matrix, part)
        weight = max(weight, float(escape_share(block, cut, part.centre).max(initial=0.0)))
        nodes = slice(int(patches.start[some.start]), int(patches.start[some.stop]))
        rise[nodes] = _patch_rises(network, block, part, time_s)
    return _PatchRises(patches=patches, rise_k=rise, rim_weight=weight)


def _batches(start: npt.NDArray[np.int64]) -> list[slice]:
    """Stretches of patches small enough to stay in the processor's memory."""
    number = start[:-1] // tuning().nodes_at_once
    first = np.flatnonzero(np.diff(number, prepend=-1))
    ends = np.append(first[1:], len(number))
    return [slice(int(i), int(j)) for i, j in zip(first, ends, strict=True)]


def _shortfall_k(
    network: HeatNetwork,
    matrix: Any,
    found: _PatchRises,
    centres: IntArray,
    some: npt.NDArray[np.int64],
    rounds: int,
    time_s: FloatArray,
) -> float:
    """Most that some of the patches can leave out, by patches several times as large.

    ``some`` are numbers of patches in ``found``; their centres and size in links are given.
    """
    patches = found.patches
    wide_rounds = rounds
    while wide_rounds < 4 * rounds:
        wider = gather_patches(matrix, centres[some], wide_rounds + 2)
        if int(np.diff(wider.start).max()) > tuning().most_wide:
            break
        wide_rounds += 2
    wide = _follow_patches(network, matrix, centres[some], wide_rounds, time_s)
    worst = 0.0
    for index, probe in enumerate(some):
        narrow = slice(patches.start[probe], patches.start[probe + 1])
        whole = slice(wide.patches.start[index], wide.patches.start[index + 1])
        missing = wide.rise_k[whole].copy()
        place = np.searchsorted(wide.patches.node[whole], patches.node[narrow])
        missing[place] -= found.rise_k[narrow]
        worst = max(worst, float(np.maximum(missing.max(axis=1), 0.0).sum()))
    return worst + wide.proved_k


def _choose_rounds(network: HeatNetwork, matrix: Any, time_s: FloatArray) -> int:
    """Fewest links out at which the bound is small enough, within the size allowed.

    Judged on a few nodes spread over the piece; the bound itself is then taken over all patches.
    """
    nodes = len(network.capacity_j_k)
    if nodes <= tuning().whole_piece:
        return nodes
    spread = (np.arange(1, 10) * 0.6180339887) % 1.0  # at no regular place of rows or repeats
    probes = np.unique((spread * nodes).astype(np.int32))
    jump = np.max(network.join_heat_j, initial=0.0) / float(network.capacity_j_k.min())
    chosen = tuning().radii[0]
    for rounds in tuning().radii:
        patches = gather_patches(matrix, probes, rounds)
        sizes = np.diff(patches.start)
        if int(sizes.max()) > tuning().most_near:
            break
        chosen = rounds
        block, cut = patch_matrix(matrix, patches)
        weight = float(escape_share(block, cut, patches.centre).max())
        if weight * 4 * jump <= tuning().wanted_k:
            break
        if sizes.max() > tuning().large_patch and rounds > tuning().radii[0]:
            inner = probes[[int(np.argmax(sizes))]]
            found = _follow_patches(network, matrix, inner, rounds, time_s)
            first = np.zeros(1, dtype=np.int64)
            if (
                _shortfall_k(network, matrix, found, inner, first, rounds, time_s)
                <= tuning().allowed_k
            ):
                break
    return chosen


def _patch_rises(
    network: HeatNetwork, block: Any, patches: Neighbourhoods, time_s: FloatArray
) -> npt.NDArray[np.float32]:
    """Rise of each patch's centre at the times, for the join of each of its nodes. [K]."""
    from scipy.sparse import diags

    root = np.sqrt(network.capacity_j_k)[patches.node]
    inverse = diags(1 / root)
    state = np.zeros(len(patches.node))
    state[patches.centre] = 1.0
    owner = np.repeat(np.arange(len(patches.centre)), np.diff(patches.start))
    heat = np.zeros(len(network.capacity_j_k))
    heat[: len(network.join_heat_j)] = network.join_heat_j
    scale = heat[patches.node] / (root * root[patches.centre][owner])
    rise = follow_decay((inverse @ block @ inverse).tocsr(), state, time_s)
    np.maximum(rise, 0.0, out=rise)
    rise *= scale.astype(np.float32)[:, None]
    return rise


def _share_curves(
    rise: npt.NDArray[np.float32], wanted: npt.NDArray[np.int64]
) -> tuple[npt.NDArray[np.float32], IntArray]:
    """Keep one of each set of the wanted curves that agree to a fraction of a millikelvin."""
    if wanted.shape[0] == 0:
        return rise[:0], np.zeros(0, dtype=np.int32)
    # two sums of whole numbers below 2^53, exact in any order of adding: 48 bits of hash
    words = np.random.default_rng(20).integers(1, 2**24, (rise.shape[1], 2)).astype(np.float64)
    key = np.empty(len(wanted), dtype=np.int64)
    for begin in range(0, len(wanted), tuning().nodes_at_once):
        some = slice(begin, begin + tuning().nodes_at_once)
        grains = np.rint(rise[wanted[some]] * np.float32(1 / tuning().grain_k)).astype(np.float64)
        sums = (grains @ words).astype(np.int64)
        key[some] = sums[:, 0] * np.int64(0x5851F42D4C957F2D) + sums[:, 1]
    _, first, curve = np.unique(key, return_index=True, return_inverse=True)
    return rise[wanted[first]], curve.ravel().astype(np.int32)
