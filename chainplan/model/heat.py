"""The thermal network of a piece, and how one weld warms the rings around it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]


@dataclass(frozen=True, kw_only=True)
class HeatNetwork:
    """One corner of the uncertain numbers: nodes 0 … n−1 are rings, then heat-sensitive parts.

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


@dataclass(frozen=True, kw_only=True)
class KernelTable:
    """Rise of node i at time τ after the join of ring j was welded, for all j near i.

    Spread-out form, for small pieces, made when first asked for: row i lists its sources in
    ``source[start[i]:start[i+1]]`` (i itself included) and for each the row ``curve`` of ``rise_k``
    that holds the rise in K against the even times ``time_s`` for the full heat of j's join.

    Compact form, for large pieces: nodes with the same surroundings share a class c, whose sources
    are the rings ``i + class_offset[class_start[c]:class_start[c+1]]`` with the curves
    ``class_curve``. Its rows ``log_rise_k`` belong to the times ``log_time_s``, which are even in
    ``log(1 + t/time_scale_s)``: use :meth:`rise_at`.

    Both are zero before 0 and beyond the last time. The temperature of node i is
    ``network.base_c[i]`` + the rises from all rings welded so far.
    """

    corner: str
    node_class: IntArray  # (N,)
    class_start: IntArray  # (classes + 1,)
    class_offset: IntArray  # (nnz,) source ring minus node
    class_curve: IntArray  # (nnz,) row of log_rise_k
    log_rise_k: npt.NDArray[np.float32]  # (curves, len(log_time_s))
    log_time_s: FloatArray  # from 0, even in log(1 + t/time_scale_s)
    time_scale_s: float
    dropped_k: float  # bound on what the truncation leaves out, at any node for any order
    step_s: float = 1.0  # of time_s

    @cached_property
    def start(self) -> IntArray:
        """First entry of each node in ``source`` and ``curve``, shape (N + 1,)."""
        counts = np.diff(self.class_start)[self.node_class]
        return np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)

    @cached_property
    def source(self) -> IntArray:
        """Sources near each node, spread out node by node (costs 4 bytes each)."""
        node = np.repeat(np.arange(len(self.node_class)), np.diff(self.start))
        return (node + self.class_offset[self._entry]).astype(np.int32)

    @cached_property
    def curve(self) -> IntArray:
        """Row of ``rise_k`` of each entry of ``source``."""
        return self.class_curve[self._entry]

    @property
    def _entry(self) -> npt.NDArray[np.int64]:
        sizes = np.diff(self.start)
        first = self.class_start[:-1][self.node_class].astype(np.int64)
        return np.arange(self.start[-1]) + np.repeat(first - self.start[:-1], sizes)

    @cached_property
    def time_s(self) -> FloatArray:
        """Even times of ``rise_k``, from 0. [s]."""
        samples = int(np.floor(self.log_time_s[-1] / self.step_s)) + 1
        times: FloatArray = np.arange(samples, dtype=np.float64) * self.step_s
        return times

    @cached_property
    def rise_k(self) -> npt.NDArray[np.float32]:
        """Curves at the even times ``time_s``, shape (curves, len(time_s)). [K]."""
        place = self.position(self.time_s)
        column = np.minimum(place.astype(np.int64), len(self.log_time_s) - 2)
        share = (place - column).astype(np.float32)
        below = self.log_rise_k[:, column]
        rise: npt.NDArray[np.float32] = below + share * (self.log_rise_k[:, column + 1] - below)
        return rise

    def near(self, node: int) -> tuple[IntArray, IntArray]:
        """Return the sources near one node and the curve of each."""
        kind = int(self.node_class[node])
        part = slice(int(self.class_start[kind]), int(self.class_start[kind + 1]))
        return (self.class_offset[part] + np.int32(node)), self.class_curve[part]

    def position(self, lag_s: npt.ArrayLike) -> FloatArray:
        """Place of a time in the table, as a fractional column of ``log_rise_k``."""
        lag = np.asarray(lag_s, dtype=np.float64)
        last = len(self.log_time_s) - 1
        span = np.log1p(self.log_time_s[-1] / self.time_scale_s)
        place: FloatArray = np.log1p(np.maximum(lag, 0.0) / self.time_scale_s) * (last / span)
        return place

    def rise_at(self, curve: IntArray, lag_s: npt.ArrayLike) -> FloatArray:
        """Rise of given curves at given times since the weld; 0 outside the table. [K].

        The shapes of the two are broadcast against each other.
        """
        lag = np.asarray(lag_s, dtype=np.float64)
        place = self.position(lag)
        column = np.minimum(place.astype(np.int64), len(self.log_time_s) - 2)
        share = np.minimum(place - column, 1.0)
        below = self.log_rise_k[curve, column]
        rise = below + share * (self.log_rise_k[curve, column + 1] - below)
        inside = (lag >= 0.0) & (lag <= self.log_time_s[-1])
        result: FloatArray = np.where(inside, rise, 0.0)
        return result


@dataclass(frozen=True, kw_only=True)
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


@dataclass(frozen=True, kw_only=True)
class PartNode:
    """A heat-sensitive part as a node of the network."""

    name: str
    node: int
    limit_c: float
    near_rings: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class HotZone:
    """How long the welded ring itself is far from one temperature (1-D ring solution)."""

    section: int
    spread_time_s: float  # S²/(4π²α)
    biot: float  # h·A over the wire's own conduction: far below 1 means the lumped ring is fine
    spot_rise_1s_k: float  # at the join, 1 s after the pulse, low/usual/high is in the ring's heat
    mean_rise_k: float


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
    def hot_zones(self) -> tuple[HotZone, ...]:
        """How fast a welded ring evens out, by section."""

    @property
    def assumptions(self) -> tuple[tuple[str, float, float, float, str, str], ...]:
        """Every uncertain number: name, low, usual, high, unit, source."""

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
        peaks: bool = True,
    ) -> HeatRun:
        """Simulate welding ``ring[k]`` at ``start_s[k]``, exactly or within ``dropped_k``.

        ``peaks=False`` skips the search for peaks between welds, which takes most of the time.
        """


@dataclass(frozen=True, kw_only=True)
class HeatRun:
    """What a simulated run of welds does to the piece, in one corner."""

    corner: str
    before_c: FloatArray  # (k,) interpass: temperature of each ring just before its weld
    peak_c: FloatArray  # (N,) highest temperature of each node over the run, own weld included
    dropped_k: float = 0.0  # bound on the truncation error of this run; 0 if exact
    at_c: FloatArray | None = None  # (len(at_s), N) temperatures at the times asked for
    notes: tuple[str, ...] = field(default=())
