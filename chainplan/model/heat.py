"""The thermal network of a piece, and how one weld warms the rings around it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
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
    join_heat_j: FloatArray  # (n,) heat that welding this ring's join leaves in the ring, all hits


@dataclass(frozen=True, kw_only=True)
class KernelTable:
    """Rise of node i at time τ after the join of ring j was welded, for all j near i.

    Row i lists its sources in ``source[start[i]:start[i+1]]`` (i itself included) and for each the
    row of ``rise_k`` that holds the rise in K against ``time_s`` for the full heat of j's join.
    Zero beyond the last time.
    """

    corner: str
    start: IntArray  # (N + 1,)
    source: IntArray  # (nnz,)
    curve: IntArray  # (nnz,)
    rise_k: npt.NDArray[np.float32]  # (curves, len(time_s))
    time_s: FloatArray  # uniform, from 0
    dropped_k: float  # bound on what the truncation leaves out, at any node for any order


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

    piece: str
    corners: tuple[str, ...]  # "low", "usual", and one or more bad ones
    bad_corners: tuple[str, ...]
    networks: Mapping[str, HeatNetwork]
    parts: tuple[PartNode, ...]
    hot_zones: tuple[HotZone, ...]
    assumptions: tuple[
        tuple[str, float, float, float, str, str], ...
    ]  # name low usual high unit source

    def kernels(self, corner: str) -> KernelTable:
        """Kernel table of one corner (made once, then kept)."""
        ...

    def simulate(
        self, corner: str, ring: IntArray, start_s: FloatArray, at_s: FloatArray | None = None
    ) -> HeatRun:
        """Exact (or controlled) simulation of welding ``ring[k]`` at ``start_s[k]``."""
        ...


@dataclass(frozen=True, kw_only=True)
class HeatRun:
    """What a simulated run of welds does to the piece, in one corner."""

    corner: str
    before_c: FloatArray  # (k,) interpass: temperature of each ring just before its weld
    peak_c: FloatArray  # (N,) highest temperature of each node over the run, own weld included
    peak_without_own_c: FloatArray  # (N,) the same without the jump of its own weld
    at_c: FloatArray | None = None  # (len(at_s), N) temperatures at the times asked for
    notes: tuple[str, ...] = field(default=())
