"""The network of a piece as it is written: nodes, links, what they hold, lose and carry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.examine.reading import PieceFiles


@dataclass(frozen=True)
class Network:
    """Nodes of a piece, rings first, then its parts; conductances of each corner."""

    capacity: FloatArray  # (N,) [J/K]
    loss: FloatArray  # (corners, N) [W/K]
    pairs: IndexArray  # (M, 2)
    conductance: FloatArray  # (corners, M) [W/K]
    sink: FloatArray  # (N,) [W/K]
    sink_c: FloatArray  # (N,)
    share: FloatArray  # (corners,) of the set energy that stays in the ring
    room_c: float
    rings: int
    corners: tuple[str, ...]
    ends: tuple[str, ...]  # (corners,) low, usual or high
    parts: tuple[dict[str, Any], ...]

    def end(self, name: str) -> list[int]:
        """List the corners that stand for an end: "low", "usual" or "high"."""
        return [k for k, end in enumerate(self.ends) if end == name]


def read_network(piece: PieceFiles) -> Network:
    """Put the network of a piece together from plan.json, rings.csv and links.csv.

    Raises
    ------
    ValueError
        If a number names a kind or a ring that is not there.
    """
    heat, n = piece.record["heat"], piece.count
    kinds, pair_kinds, parts = heat["ring_kinds"], heat["pair_kinds"], heat["parts"]
    ring_kind = piece.rings["heat_kind"] - 1
    pair_kind = piece.links["kind"] - 1
    pairs = np.column_stack([piece.links["ring"], piece.links["other"]]) - 1
    for what, values, most in (
        ("heat_kind", ring_kind, len(kinds)),
        ("kind", pair_kind, len(pair_kinds)),
        ("ring", pairs, n),
    ):
        if values.size and (values.min() < 0 or values.max() >= most):
            message = f"{what} beyond 1 to {most}"
            raise ValueError(message)
    corners = len(heat["corners"])
    capacity = np.array([kind["capacity_j_k"] for kind in kinds])[ring_kind]
    loss = np.array([kind["loss_w_k"] for kind in kinds]).reshape(-1, corners)[ring_kind].T
    table = np.array([kind["w_k"] for kind in pair_kinds]).reshape(-1, corners)
    conductance = table[pair_kind].T
    sink, sink_c = np.zeros(n + len(parts)), np.full(n + len(parts), float(heat["room_c"]))
    for item in heat["sinks"]:
        sink[item["ring"] - 1], sink_c[item["ring"] - 1] = item["w_k"], item["at_c"]
    for k, part in enumerate(parts):
        capacity = np.append(capacity, part["capacity_j_k"])
        loss = np.column_stack([loss, part["loss_w_k"]])
        through = np.array(part["joint_w_k"], dtype=float).reshape(corners, -1)
        touched = part["rings"] if through.shape[1] else []  # else through its spots
        joint = np.array([(ring - 1, n + k) for ring in touched], dtype=pairs.dtype)
        pairs = np.concatenate([pairs, joint.reshape(-1, 2)])
        conductance = np.column_stack([conductance, through])
        if part["body"] is not None:
            if not 0 < part["body"] <= len(parts):
                message = f"body beyond 1 to {len(parts)}"
                raise ValueError(message)
            behind = np.array([[n + part["body"] - 1, n + k]], dtype=pairs.dtype)
            pairs = np.concatenate([pairs, behind])
            conductance = np.column_stack([conductance, np.full(corners, part["into_w_k"])])
    return Network(
        capacity, loss, pairs, conductance, sink, sink_c,
        np.array([corner["arc_share"] for corner in heat["corners"]]), float(heat["room_c"]), n,
        tuple(corner["name"] for corner in heat["corners"]),
        tuple(corner["end"] for corner in heat["corners"]), tuple(parts),
    )  # fmt: skip
