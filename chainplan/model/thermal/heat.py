"""The thermal network of a piece, its modes, and what a run of welds does to it."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Protocol

import numpy as np

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.order import LimitKind
    from chainplan.model.thermal.kernels import KernelTable
    from chainplan.model.thermal.uneven import Uneven


@frozen
class HeatNetwork:
    """One corner of the uncertain numbers: nodes 0 … n−1 are rings, then parts.

    ``C_i dT_i/dt = Σ_j g_ij (T_j − T_i) − H_i (T_i − T_ambient) − s_i (T_i − T_sink_i) + pulses``
    """

    corner: str
    capacity_j_k: FloatArray  # (N,)
    pairs: IntArray  # (M, 2)
    pair_w_k: FloatArray  # (M,)
    loss_w_k: FloatArray  # (N,) to the air
    sink_w_k: FloatArray  # (N,) to sinks at sink_c
    sink_c: FloatArray  # (N,)
    ambient_c: float
    base_c: FloatArray  # (N,) with no weld: the room, and what warm fingers or cold sinks add
    join_heat_j: FloatArray  # (n,) heat that welding this ring's join leaves in the ring, all hits

    @property
    def own_rise_k(self) -> FloatArray:
        """Mean rise of each ring by its own weld, (n,). [K]."""
        rise: FloatArray = self.join_heat_j / self.capacity_j_k[: len(self.join_heat_j)]
        return rise


@frozen
class Modes:
    """Eigen-solution of one network.

    ``C^(-1/2)·A·C^(-1/2) = V·diag(λ)·Vᵀ``; the rise of node i at time τ after heat q in node j is
    ``q/√(C_i·C_j)·Σ_m V_im·V_jm·exp(−λ_m·τ)``.
    """

    rate_per_s: FloatArray  # (N,) λ
    vectors: FloatArray  # (N, N) V
    root_capacity: FloatArray  # (N,) √C

    def rise_per_joule(self, node: int, source: int, lag_s: npt.ArrayLike) -> FloatArray:
        """Rise of a node at times after 1 J went into another. [K/J]."""
        lag = np.atleast_1d(np.asarray(lag_s, dtype=np.float64))
        shape = self.vectors[node] * self.vectors[source]
        rise: FloatArray = np.exp(-np.outer(lag, self.rate_per_s)) @ shape
        rise /= self.root_capacity[node] * self.root_capacity[source]
        return rise

    def dose_k_s_per_j(self, node: int) -> FloatArray:
        """Time integral of a node's rise, for 1 J into each node in turn. [K s/J].

        The dose is ``Σ_j q_j·(A⁻¹)_ij``, whatever the order and pace of the welds.
        """
        scaled = self.vectors / self.root_capacity[:, None]
        dose: FloatArray = scaled @ (scaled[node] / self.rate_per_s)
        return dose


@frozen
class PartNode:
    """A heat-sensitive part as a node of the network, or a spot of it that a ring touches."""

    name: str
    node: int
    limit_c: float
    near_rings: tuple[int, ...]
    body: int | None = None  # node of the part that this is a spot of


@frozen
class RingLimit:
    """How warm rings may be just before their welds, for one reason; the least of them counts."""

    kind: LimitKind
    name: str  # "even welds, sterling silver"
    limit_c: FloatArray  # (n,) inf where it does not hold
    why: str  # what happens above it, and where it comes from


@frozen
class HotZone:
    """How long the welded ring itself is far from one temperature (1-D ring solution)."""

    section: int
    metal: str
    spread_time_s: float  # S²/(4π²α)
    biot: float  # h·A over the wire's own conduction: far below 1 means the lumped ring is fine
    spot_rise_1s_k: float  # at the join, 1 s after the pulse, low/usual/high is in the ring's heat
    mean_rise_k: float


@frozen
class HeatLevel:
    """One network of a grid over links and loss: 0 low, 1 usual, 2 high of each."""

    corner: str  # name of the network
    links: int
    loss: int
    arc_share: float  # that its heats have in them


class HeatModel(Protocol):
    """What the heat stage hands on; every limit must hold in all of ``bad_corners``."""

    @property
    def piece(self) -> str:
        """Name of the piece."""

    @property
    def corners(self) -> tuple[str, ...]:
        """Names of the corners: "low", "usual", and one or more bad ones."""

    @property
    def bad_corners(self) -> tuple[str, ...]:
        """Corners at the bad end: T is not monotone in the conductance of links, so several."""

    @property
    def networks(self) -> Mapping[str, HeatNetwork]:
        """Network of each corner."""

    @property
    def parts(self) -> tuple[PartNode, ...]:
        """Heat-sensitive parts; a long one has several nodes of one name."""

    @property
    def ring_limits(self) -> tuple[RingLimit, ...]:
        """What the metals ask for before a weld; the user's own limit comes on top."""

    @property
    def hot_zones(self) -> tuple[HotZone, ...]:
        """How fast a welded ring evens out, by section."""

    @property
    def uneven(self) -> Uneven:
        """Rings that are not of one temperature for seconds after their weld."""

    @property
    def assumptions(self) -> tuple[tuple[str, float, float, float, str, str], ...]:
        """Every uncertain number: name, low, usual, high, unit, source."""

    @property
    def grid(self) -> tuple[HeatLevel, ...]:
        """Networks at all nine levels of links and loss; none for large pieces."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """Where one temperature a ring, or a part, is too simple."""

    def judged_at(self, bad_corners: tuple[str, ...]) -> HeatModel:
        """Give the same model with other corners for its bad end."""

    def unsolved(self) -> HeatModel:
        """Give the same model with nothing solved: small enough to send or keep."""

    def kernels(self, corner: str) -> KernelTable:
        """Kernel table of one corner (made once, then kept)."""

    def modes(self, corner: str) -> Modes:
        """Eigen-solution of one corner (made once, then kept); pieces of up to 2000 nodes."""

    def simulate(
        self,
        corner: str,
        ring: IntArray,
        start_s: FloatArray,
        at_s: FloatArray | None = None,
        *,
        peaks_of: Sequence[int] | None = None,
    ) -> HeatRun:
        """Simulate welding ``ring[k]`` at ``start_s[k]``, exactly or within ``dropped_k``.

        ``peaks_of``: nodes whose peaks between welds are looked for; None: of all, which takes most
        of the time.
        """

    def temperatures_c(
        self, corner: str, ring: IntArray, start_s: FloatArray, node: IntArray, at_s: FloatArray
    ) -> FloatArray:
        """Temperature of ``node[k]`` at ``at_s[k]`` in the same run of welds. [°C]."""

    def touched_c(
        self, corner: str, ring: IntArray, start_s: FloatArray, node: IntArray, at_s: FloatArray
    ) -> FloatArray:
        """Give the same at the hottest place of each ring, which fingers may touch. [°C]."""


@frozen
class HeatRun:
    """What a simulated run of welds does to the piece, in one corner."""

    corner: str
    before_c: FloatArray  # (k,) interpass: temperature of each ring just before its weld
    peak_c: FloatArray  # (N,) highest temperature of each node over the run, own weld included
    dropped_k: float = 0.0  # bound on the truncation error of this run; 0 if exact
    at_c: FloatArray | None = None  # (len(at_s), N) temperatures at the times asked for
    notes: tuple[str, ...] = field(default=())
