"""What the files hold so that a plan can be checked from them alone: loops, lengths, heat networks.

The heat network of a piece is told by kinds, since most rings and most links are alike: a ring
names its row of ``ring_kinds`` in rings.csv (``heat_kind``), a link its row of ``pair_kinds`` in
links.csv (``kind``), both counted from 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.plan import PiecePlan

DIGITS = 9
"""Significant digits to which rows of numbers must agree to be of one kind."""


@dataclass(frozen=True, slots=True)
class Kinds:
    """Rows of numbers sorted into kinds."""

    of_row: IntArray  # (n,) from 0
    table: FloatArray  # (kinds, columns)


@dataclass(frozen=True, slots=True)
class PieceEvidence:
    """The heat network of one piece by kinds, and the links and touching pairs that conduct."""

    rings: Kinds  # capacity, then the loss in each corner
    pairs: Kinds  # conductance in each corner
    pair: IntArray  # (m, 2) rings from 0
    how: FloatArray | Any  # (m,) "link", "closing link" or "touch"


def sort_into_kinds(rows: FloatArray) -> Kinds:
    """Give rows that are alike the same number, in the order in which they first appear.

    Parameters
    ----------
    rows : array, shape (n, columns)
        Numbers, none of them negative.
    """
    if not len(rows):
        return Kinds(np.zeros(0, dtype=np.int32), np.zeros((0, rows.shape[1])))
    scale = np.maximum(rows.max(axis=0), 1e-300)
    # One number a row that rows of different content hardly ever share; then looked up for sure.
    mixed = (rows / scale) @ np.sqrt(np.arange(2.0, 2.0 + rows.shape[1]))
    _, first, of_row = np.unique(mixed.round(DIGITS), return_index=True, return_inverse=True)
    apart = np.abs(rows - rows[first[of_row]]) > 1e-7 * scale
    if apart.any():
        _, first, of_row = np.unique(
            (rows / scale).round(DIGITS), axis=0, return_index=True, return_inverse=True
        )
    order = np.argsort(first)
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    return Kinds(place[of_row.ravel()].astype(np.int32), rows[first[order]])


def collect(plan: PiecePlan) -> PieceEvidence:
    """Sort a piece's network into kinds."""
    layout, model = plan.layout, plan.heat
    networks = [model.networks[name] for name in model.corners]
    n = layout.rings
    losses = [network.loss_w_k[:n] for network in networks]
    pairs = networks[0].pairs
    own = (pairs < n).all(axis=1)
    pair = pairs[own]
    number = pair.astype(np.int64) @ np.array([n, 1])
    how = np.where(np.isin(number, _codes(layout.links, n)), "link", "touch")
    if layout.loop is not None:
        closing = np.sort(layout.loop.links, axis=1)
        how = np.where(np.isin(number, _codes(closing, n)), "closing link", how)
    return PieceEvidence(
        rings=sort_into_kinds(np.column_stack([networks[0].capacity_j_k[:n], *losses])),
        pairs=sort_into_kinds(np.column_stack([network.pair_w_k[own] for network in networks])),
        pair=pair,
        how=how,
    )


def _codes(pairs: IntArray, rings: int) -> Any:
    return pairs.astype(np.int64) @ np.array([rings, 1])


def links_table(plan: PiecePlan, evidence: PieceEvidence) -> dict[str, Any]:
    """One row a link or touching pair of one copy: a column name to an array or a constant."""
    return {
        "piece": plan.piece.name,
        "ring": evidence.pair[:, 0] + 1,
        "other": evidence.pair[:, 1] + 1,
        "how": evidence.how,
        "kind": evidence.pairs.of_row + 1,
    }


def heat_record(plan: PiecePlan, evidence: PieceEvidence, set_j: float) -> dict[str, Any]:
    """Tell the heat network of a piece, each list of conductances in the order of the corners.

    ``set_j``: power × hits that the welder is set to for the first ring's join.
    """
    model, n = plan.heat, plan.layout.rings
    networks = [model.networks[name] for name in model.corners]
    usual = networks[0]
    bad = set(model.bad_corners)
    ends = ["high" if name in bad else name for name in model.corners]
    pairs = usual.pairs
    parts = []
    for part in model.parts:
        own = (pairs == part.node).any(axis=1)
        rows = np.flatnonzero(own & (pairs < n).any(axis=1))
        behind = own & (pairs == part.body).any(axis=1) if part.body is not None else None
        parts.append(
            {
                "name": part.name,
                "limit_c": part.limit_c,
                "capacity_j_k": float(usual.capacity_j_k[part.node]),
                "loss_w_k": [float(network.loss_w_k[part.node]) for network in networks],
                "rings": [ring + 1 for ring in part.near_rings],
                "joint_w_k": [network.pair_w_k[rows].tolist() for network in networks],
                "body": None if part.body is None else part.body - n + 1,
                "into_w_k": None if behind is None else float(usual.pair_w_k[behind][0]),
            }
        )
    sunk = np.flatnonzero(usual.sink_w_k[:n])
    return {
        "corners": [
            {"name": name, "end": end, "arc_share": float(network.join_heat_j[0]) / set_j}
            for name, end, network in zip(model.corners, ends, networks, strict=True)
        ],
        "room_c": usual.ambient_c,
        "ring_kinds": [
            {"capacity_j_k": row[0], "loss_w_k": row[1:]} for row in evidence.rings.table.tolist()
        ],
        "pair_kinds": [{"w_k": row} for row in evidence.pairs.table.tolist()],
        "parts": parts,
        "sinks": [
            {
                "ring": ring + 1,
                "w_k": float(usual.sink_w_k[ring]),
                "at_c": float(usual.sink_c[ring]),
            }
            for ring in sunk.tolist()
        ],
    }


def loop_record(plan: PiecePlan) -> dict[str, Any] | None:
    """Tell how the ends of a loop meet; None for an open piece."""
    loop = plan.layout.loop
    if loop is None:
        return None
    return {
        "drawn": "straight",
        "shift_mm": loop.shift_mm.tolist(),
        "turn_deg": float(np.degrees(loop.turn_rad)),
        "closing_links": (loop.links + 1).tolist(),
    }
