"""Closed-form layouts and an independent dense heat model to judge orders by.

The heat model solves the network exactly by one eigen-decomposition and knows nothing of the
project's own heat stage; numbers for 1.0 mm wire, 4.5 mm inner diameter sterling rings.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from plain_section import plain_section

from chainplan.model.bench.groups import HeatSettings, PaceSettings
from chainplan.model.order import WeldSetting
from chainplan.model.piece.joins import Joins
from chainplan.model.piece.layout import Layout
from chainplan.model.thermal.heat import HeatNetwork, HeatRun, Modes, PartNode
from chainplan.model.thermal.kernels import KernelTable
from chainplan.model.thermal.uneven import Uneven

ROOM_C = 21.0


@dataclass(frozen=True)
class DenseHeat:
    """Exact network of at most a few hundred nodes, all corners given by factors."""

    piece: str
    networks: dict
    parts: tuple = ()
    corners: tuple = ("low", "usual", "high")
    bad_corners: tuple = ("high",)
    ring_limits: tuple = ()
    hot_zones: tuple = ()
    assumptions: tuple = ()
    grid: tuple = ()
    cautions: tuple = ()
    spread_s: float = 0.0  # of every ring
    window_s: float = 600.0
    kept: dict = field(default_factory=dict)

    def judged_at(self, bad_corners):
        return replace(self, bad_corners=bad_corners)

    def modes(self, corner):
        if corner not in self.kept:
            net = self.networks[corner]
            count = len(net.capacity_j_k)
            matrix = np.diag(net.loss_w_k + net.sink_w_k)
            for (i, j), g in zip(net.pairs, net.pair_w_k, strict=True):
                matrix[i, i] += g
                matrix[j, j] += g
                matrix[i, j] -= g
                matrix[j, i] -= g
            root = np.sqrt(net.capacity_j_k)
            rate, mode = np.linalg.eigh(matrix / np.outer(root, root))
            assert count == len(rate)
            self.kept[corner] = Modes(rate_per_s=rate, vectors=mode, root_capacity=root)
        return self.kept[corner]

    def _solved(self, corner):
        modes = self.modes(corner)
        return modes.rate_per_s, modes.vectors, modes.root_capacity

    def kernels(self, corner):
        if ("kernels", corner) not in self.kept:
            self.kept["kernels", corner] = self._make_kernels(corner)
        return self.kept["kernels", corner]

    def _make_kernels(self, corner):
        net = self.networks[corner]
        rate, mode, root = self._solved(corner)
        nodes, rings = len(root), len(net.join_heat_j)
        scale = 5.0
        times = scale * np.expm1(np.linspace(0, np.log1p(self.window_s / scale), 400))
        decay = np.exp(-np.outer(rate, times))
        rise = np.empty((nodes, rings, times.size), dtype=np.float32)
        for i in range(nodes):
            part = (mode[i] * mode[:rings]) @ decay
            rise[i] = part / root[i] * (net.join_heat_j / root[:rings])[:, None]
        offset = np.arange(rings)[None, :] - np.arange(nodes)[:, None]
        return KernelTable(
            corner=corner,
            node_class=np.arange(nodes, dtype=np.int32),
            class_start=(np.arange(nodes + 1) * rings).astype(np.int32),
            class_offset=offset.ravel().astype(np.int32),
            class_curve=np.arange(nodes * rings, dtype=np.int32),
            log_rise_k=rise.reshape(nodes * rings, -1),
            log_time_s=times,
            time_scale_s=scale,
            dropped_k=0.0,
        )

    def rise(self, corner, ring, start_s, at_s):
        """Rise of all nodes just before each time, shape (len(at_s), nodes)."""
        net = self.networks[corner]
        rate, mode, root = self._solved(corner)
        out = np.zeros((len(at_s), len(root)))
        for r, t in zip(ring, start_s, strict=True):
            lag = np.asarray(at_s) - t
            late = lag > 0
            gain = mode[r] / root[r] * net.join_heat_j[r]
            out[late] += (np.exp(-np.outer(lag[late], rate)) * gain) @ mode.T / root
        return out

    def temperatures_c(self, corner, ring, start_s, node, at_s):
        rise = self.rise(corner, ring, start_s, at_s)
        return rise[np.arange(len(node)), node] + self.networks[corner].base_c[node]

    @property
    def uneven(self):
        count = len(self.networks[self.corners[0]].join_heat_j)
        return Uneven(
            spread_s=np.full(count, self.spread_s), soonest_s=np.full(count, 0.1 * self.spread_s)
        )

    def touched_c(self, corner, ring, start_s, node, at_s):
        """Mean, and the fading waves along a ring summed term by term."""
        warm = self.temperatures_c(corner, ring, start_s, node, at_s)
        net = self.networks[corner]
        for k, (place, moment) in enumerate(zip(node, at_s, strict=True)):
            for r, t in zip(ring, start_s, strict=True):
                if self.spread_s and r == place and moment > t:
                    gone = max(moment - t, 0.1 * self.spread_s) / self.spread_s
                    waves = sum(2 * np.exp(-(n**2) * gone) for n in range(1, 30))
                    warm[k] += waves * net.join_heat_j[r] / net.capacity_j_k[r]
        return warm

    def simulate(self, corner, ring, start_s, at_s=None, *, peaks_of=None):
        net = self.networks[corner]
        base = net.base_c
        before = np.array(
            [self.rise(corner, ring[:k], start_s[:k], [t])[0] for k, t in enumerate(start_s)]
        )
        own = before[np.arange(len(ring)), ring] + base[ring]
        peak = base + before.max(axis=0)
        jump = net.join_heat_j[ring] / net.capacity_j_k[ring]
        peak[ring] = np.maximum(peak[ring], own + jump)
        tail = np.linspace(start_s[0], start_s[-1] + 200.0, 800)
        after = self.rise(corner, ring, start_s, tail).max(axis=0) + base
        return HeatRun(
            corner=corner,
            before_c=own,
            peak_c=np.maximum(peak, after),
            at_c=None if at_s is None else self.rise(corner, ring, start_s, at_s) + base,
        )


def make_layout(place, links, row, column, *, form="chain", pitch=4.5):
    """Lay rings out flat at given places."""
    count = len(place)
    centre = np.column_stack([place, np.zeros(count)]).astype(float)
    section = plain_section(
        count, len(links), weave="closed form", form=form, rows=int(max(row)) + 1,
        length_mm=float(np.ptp(centre[:, 0])), width_mm=10.0, thickness_mm=2.0,
        rings_per_cm=10 / pitch, computed_rings_per_cm=10 / pitch,
    )  # fmt: skip
    zeros = np.zeros(count, dtype=np.int32)
    return Layout(
        piece="test piece",
        centre_mm=centre,
        normal=np.tile([0.0, 0.0, 1.0], (count, 1)),
        mean_radius_mm=np.full(count, 2.75),
        wire_mm=np.ones(count),
        section=zeros,
        place=zeros,
        along=np.asarray(column, dtype=np.int32),
        across=zeros,
        row=np.asarray(row, dtype=np.int32),
        column=np.asarray(column, dtype=np.int32),
        links=np.asarray(links, dtype=np.int32).reshape(-1, 2),
        contacts=np.asarray(links, dtype=np.int32).reshape(-1, 2),
        sections=(section,),
    )


def single_chain(count):
    """One ring after another."""
    place = np.column_stack([np.arange(count) * 4.5, np.zeros(count)])
    links = [(i, i + 1) for i in range(count - 1)]
    return make_layout(place, links, [0] * count, list(range(count)))


def pair_chain(pairs):
    """Pairs of rings; each ring passes through both rings of the next pair."""
    count = 2 * pairs
    place = np.column_stack([np.arange(count) // 2 * 4.5, np.arange(count) % 2 * 1.0])
    links = [
        (2 * p + a, 2 * p + 2 + b) for p in range(pairs - 1) for a in range(2) for b in range(2)
    ]
    return make_layout(place, links, [0] * count, list(range(count)))


def sheet(rows, columns, *, form="sheet"):
    """Rows of rings, each linked to two rings of the row above and two of the row below."""
    place, links, row, column = [], [], [], []
    for c in range(columns):
        for r in range(rows):
            place.append((c * 6.5 + 3.25 * (r % 2), r * 3.0))
            row.append(r)
            column.append(c)
    number = {(r, c): c * rows + r for r in range(rows) for c in range(columns)}
    for r in range(rows - 1):
        for c in range(columns):
            other = c + 1 if r % 2 else c - 1
            links += [
                tuple(sorted((number[r, c], number[r + 1, k])))
                for k in (c, other)
                if 0 <= k < columns
            ]
    return make_layout(place, sorted(links), row, column, form=form, pitch=6.5)


def make_joins(layout, *, face=0, pre_closed=()):
    """Joins on top of every ring, all on one face unless told otherwise."""
    count = layout.rings
    closed = np.zeros(count, dtype=bool)
    closed[list(pre_closed)] = True
    faces = np.full(count, face, dtype=np.int8) if np.isscalar(face) else np.asarray(face, np.int8)
    return Joins(
        piece=layout.piece,
        angle_rad=np.zeros(count),
        point_mm=layout.centre_mm.copy(),
        approach=np.tile([0.0, 0.0, 1.0], (count, 1)),
        face=faces,
        faces_reachable=np.full(count, 3, dtype=np.uint8),
        clearance_mm=np.ones(count),
        spot_gap_mm=np.ones(count),
        free_arc_rad=np.ones(count),
        both_sides=np.zeros(count, dtype=bool),
        two_sides_wanted=np.zeros(count, dtype=bool),
        pre_closed=closed,
    )


def make_heat(
    layout, *, heat_j=6.0, link_w_k=1e-3, loss_w_k=0.8e-3, parts=(), corners=None, spread_s=0.0
):
    """Network with equal rings; ``parts``: (name, ring, limit °C, capacity J/K)."""
    count = layout.rings
    pairs = [tuple(pair) for pair in layout.links.tolist()]
    nodes = []
    for index, (name, ring, limit_c, _) in enumerate(parts):
        pairs.append((ring, count + index))
        nodes.append(PartNode(name=name, node=count + index, limit_c=limit_c, near_rings=(ring,)))
    capacity = np.concatenate([np.full(count, 0.0344), [part[3] for part in parts]])
    networks = {}
    factors = corners or {"low": (0.67, 1.3), "usual": (1.0, 1.0), "high": (1.33, 0.7)}
    for corner, (heat_factor, loss_factor) in factors.items():
        total = count + len(parts)
        networks[corner] = HeatNetwork(
            corner=corner,
            capacity_j_k=capacity,
            pairs=np.asarray(pairs, dtype=np.int32).reshape(-1, 2),
            pair_w_k=np.full(len(pairs), link_w_k),
            loss_w_k=np.full(total, loss_w_k * loss_factor),
            sink_w_k=np.zeros(total),
            sink_c=np.full(total, ROOM_C),
            ambient_c=ROOM_C,
            base_c=np.full(total, ROOM_C),
            join_heat_j=np.full(count, heat_j * heat_factor),
        )
    return DenseHeat(
        piece=layout.piece, networks=networks, parts=tuple(nodes), kept={}, spread_s=spread_s
    )


def setting(power_j=10.0, hits=1):
    """One welder setting."""
    return WeldSetting(power_j=power_j, hits=hits, tip="sharp", source="estimate")


@dataclass(frozen=True)
class Piece:
    """All that the order stage is given."""

    layout: Layout
    joins: Joins
    heat: DenseHeat
    pace: PaceSettings = field(default_factory=PaceSettings)
    limits: HeatSettings = field(default_factory=HeatSettings)

    @property
    def kwargs(self):
        settings = [setting()] * len(self.layout.materials)
        return {"settings": settings, "pace": self.pace, "limits": self.limits}

    @property
    def three(self):
        return self.layout, self.joins, self.heat

    def replace(self, **changes):
        return replace(self, **changes)


def make_piece(
    layout, *, limit_c=60.0, held=False, sides=2, handle_s=5.0, face=0, pre_closed=(), **heat
):
    """A piece with its limits; fingers only if asked for, on both sides unless told otherwise."""
    return Piece(
        layout=layout,
        joins=make_joins(layout, face=face, pre_closed=pre_closed),
        heat=make_heat(layout, **heat),
        pace=PaceSettings(handle_s=handle_s),
        limits=HeatSettings(highest_interpass_c=limit_c, held_bare=held, sides_held=sides),
    )


class _Make:
    """The builders, handed to tests as one fixture."""

    piece = staticmethod(make_piece)
    layout = staticmethod(make_layout)
    chain = staticmethod(single_chain)
    pairs = staticmethod(pair_chain)
    sheet = staticmethod(sheet)
    joins = staticmethod(make_joins)
    heat = staticmethod(make_heat)
    setting = staticmethod(setting)


@pytest.fixture(scope="session")
def make():
    """Builders of closed-form pieces."""
    return _Make
