"""Where fingers can take a piece while a join is welded: cells of a grid, within reach of the join.

Cells and reach have edges, and places are written rounded, so a ring or a cell may lie just on one.
Each edge is therefore read both ways: once so that the fingers have it as cool as can be (rings on
an edge belong to the cell next door), once as warm as can be (they belong to both).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.welding.earthed import handle_s

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.examine.heat.simulation import PatchRun
    from chainplan.examine.reading import PieceFiles, PlanFiles

EDGE_MM = 0.003
"""How near to an edge a place counts as lying on it."""

SLOW_S = 0.5
"""Wire that evens out sooner is of one temperature to a hand that takes seconds to come."""


def touched_c(files: PlanFiles, piece: PieceFiles, run: PatchRun, rings: int) -> FloatArray:
    """Warmest place of each ring from when fingers close until each weld, shape (w, rings). [°C].

    A ring whose wire takes seconds to even out counts with its join once that is welded: by the
    solution along its wire, of spread ``R²·ρ·c/k``, from when heat has gone two wires far. A run
    keeps what is found, since limits and chances ask for it.
    """
    if piece.name not in run.touched:
        run.touched[piece.name] = _touched_c(files, piece, run, rings)
    return run.touched[piece.name]


def _touched_c(files: PlanFiles, piece: PieceFiles, run: PatchRun, rings: int) -> FloatArray:
    metals, metal = piece.coded("metal")
    spread_s = np.zeros(rings)
    for number, key in enumerate(metals):
        names = ("density_g_cm3", "specific_heat_j_kg_k", "conductivity_w_m_k")
        density, specific, conducts = (files.value(f"metal.{key}.{name}") for name in names)
        own = metal == number
        spread_s[own] = (piece.radius_mm[own] * 1e-3) ** 2 * 1000 * density * specific / conducts
    spread_s[~(spread_s >= SLOW_S)] = 0.0
    least = (piece.wire_mm / piece.radius_mm) ** 2
    warm = []
    for earlier_s in (handle_s(files, piece), 0.0):
        field = run.fields_c(earlier_s)[:, :rings]
        if spread_s.any():
            field = field + run.at_joins_k(earlier_s, spread_s, least)[:, :rings]
        warm.append(field)
    hottest: FloatArray = np.maximum(*warm)
    return hottest


@dataclass(frozen=True)
class Grip:
    """Cells as wide as a fingertip, and those in reach of each step."""

    rings: tuple[IndexArray, ...]  # of each cell: those whose warmest counts
    coolest: BoolArray  # (cells,) cells of rings on an edge only: their coolest counts
    sure: BoolArray  # (2, k, cells) surely in reach to the left and right, or all in the first
    reach: BoolArray  # (2, k, cells) perhaps in reach, on an edge
    cool: bool

    @classmethod
    def of(cls, files: PlanFiles, piece: PieceFiles, *, cool: bool) -> Grip | None:
        """Cut a piece into cells; None where fingers never hold it.

        ``cool``: read edges so that the fingers have it as cool as can be, else as warm.
        """
        loose = piece.rings["weave"] == "loose-joins"
        if not files.value("bench.heat.held_bare") or loose.all():
            return None
        tip = files.value("bench.pace.fingertip_mm")
        place = piece.centre_mm[:, :2]
        corner = place.min(axis=0)
        low = np.floor((place - corner - EDGE_MM) / tip).astype(int)
        high = np.floor((place - corner + EDGE_MM) / tip).astype(int)
        sure = (low == high).all(axis=1)
        every = np.arange(piece.count)
        either = [
            np.column_stack([x, y])
            for x in (low[:, 0], high[:, 0])
            for y in (low[:, 1], high[:, 1])
        ]
        cells = np.maximum(np.concatenate(either), 0)
        used, index = np.unique(cells, axis=0, return_inverse=True)
        index, ring = index.ravel(), np.tile(every, 4)
        held = np.bincount(index[~loose[ring]], minlength=len(used)) > 0
        clip = piece.clip
        members, only = [], np.zeros(len(used), dtype=bool)
        for cell in range(len(used)):
            own = np.unique(ring[index == cell])
            if cool:
                only[cell] = not sure[own].any()
                own = own if only[cell] else own[sure[own]]
            members.append(own)
        middle = (used + 0.5) * tip + corner
        join = piece.join_mm[piece.welded, :2]
        away = middle[None, :, 0] - join[:, None, 0]
        level = np.abs(middle[None, :, 1] - join[:, None, 1])
        from_mm, to_mm = (files.value(f"bench.heat.hold_{end}_mm") for end in ("from", "to"))
        reach = []
        taken = np.zeros((len(join), len(used)), dtype=bool)
        if clip is not None:  # the cell that the clip sits in
            every_cell = np.zeros((piece.count, len(used)), dtype=bool)
            every_cell[ring, index] = True
            if cool:  # a clip on an edge may have left the cell free
                every_cell[~sure] = False
            taken = every_cell[clip]
        for edge in (-EDGE_MM, EDGE_MM):
            near = (np.abs(away) >= from_mm - edge) & (np.abs(away) <= to_mm + edge)
            near &= (level <= to_mm + edge) & held & ~loose[piece.welded][:, None]
            one_side = files.value("bench.heat.sides_held") == 1
            if one_side and files.value("bench.heat.end_tweezers"):  # they hold the end itself
                near &= ((near & (away > 0)).any(1) & (near & (away <= 0)).any(1))[:, None]
            near &= ~taken
            if one_side:  # whichever side has it coolest
                reach.append(np.stack([near, np.zeros_like(near)]))
            else:
                reach.append(np.stack([near & (away < 0), near & (away > 0)]))
        return cls(tuple(members), only, reach[0], reach[1], cool)

    def warmest_c(self, warm: FloatArray) -> float:
        """Warmest that the fingers have it over all steps, by the rings' temperatures (k, n)."""
        return float(self.by_step_c(warm).max())

    def by_step_c(self, warm: FloatArray) -> FloatArray:
        """Warmest that the fingers have it at each step, −∞ where they hold nothing. [°C]."""
        by_cell = np.column_stack(
            [
                warm[:, own].min(axis=1) if coolest else warm[:, own].max(axis=1)
                for own, coolest in zip(self.rings, self.coolest.tolist(), strict=True)
            ]
        )
        surely = np.asarray(self.sure.any(axis=2))
        counted = self.reach if self.cool else np.where(surely[..., None], self.sure, self.reach)
        sides = np.where(counted, by_cell[None], np.inf).min(axis=2)
        # A side without a cell in reach is not held; on an edge it may be held or not.
        held = np.isfinite(sides) & (surely if self.cool else True)
        warmest: FloatArray = np.where(held, sides, -np.inf).max(axis=0)
        return warmest
