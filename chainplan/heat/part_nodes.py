"""Nodes of the heat-sensitive parts: each as a whole, and the spots of it that rings touch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.heat.conductance.spot import RADIUS_PER_WIRE, SETTLES_S, into_body_w_k
from chainplan.model.said import TOUCHED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.heat.placing import PlacedPart
    from chainplan.model.metal import Value
    from chainplan.model.piece.layout import Layout

_LONE_JOINT_W_K = 5e-4  # part on a ring without links: a gas gap of 1 mm wires (contact.py)


@frozen
class PlacedNode:
    """A node of a placed part: the thing as a whole, or one spot of it that a ring touches."""

    part: PlacedPart
    node: int
    rings: tuple[int, ...]
    body: int | None = None  # node of the whole that a spot belongs to

    @property
    def joined(self) -> bool:
        """Whether its rings give their heat to it, and not to a spot of it."""
        return self.body is not None or self.part.conductivity_w_m_k is None

    @property
    def name(self) -> str:
        """What it is called where it has a limit."""
        return self.part.name if self.body is None else f"{self.part.name}{TOUCHED}"


def part_nodes(rings: int, parts: Sequence[PlacedPart]) -> tuple[PlacedNode, ...]:
    """List the nodes of placed parts behind those of the rings: each whole, then its spots."""
    nodes: list[PlacedNode] = []
    for part in parts:
        body = rings + len(nodes)
        nodes.append(PlacedNode(part=part, node=body, rings=part.rings))
        if part.conductivity_w_m_k is not None:
            nodes.extend(
                PlacedNode(part=part, node=body + k, rings=(ring,), body=body)
                for k, ring in enumerate(part.rings, 1)
            )
    return tuple(nodes)


@frozen
class JoinedParts:
    """What the nodes of parts add to a network: low, usual, high where a number is uncertain."""

    capacity_j_k: FloatArray  # (k,) behind those of the rings
    loss_w_k: tuple[FloatArray, FloatArray, FloatArray]  # (k,) each
    pairs: IntArray  # (m, 2)
    pair_w_k: tuple[FloatArray, FloatArray, FloatArray]  # (m,) each


def join_parts(
    layout: Layout,
    parts: Sequence[PlacedPart],
    links: Sequence[Value],
    capacity_j_k: FloatArray,
    loss_w_k: tuple[FloatArray, FloatArray, FloatArray],
) -> JoinedParts:
    """Join parts to the rings that touch them.

    A part is as heavy as the lightest of these rings and loses heat like it. A spot has next to no
    heat of its own: it stands between its ring and the body behind it.

    Parameters
    ----------
    layout : Layout
        The piece.
    parts : sequence of PlacedPart
        Parts with the rings that they touch.
    links : sequence of Value
        Conductance of a link in each section. [W/K]
    capacity_j_k, loss_w_k : array, shape (n,)
        Of the rings.
    """
    nodes = part_nodes(layout.rings, parts)
    touched = [(node, ring) for node in nodes if node.joined for ring in node.rings]
    pairs = [(ring, node.node) for node, ring in touched]
    joint = _joints(links, layout.section[np.array([ring for _, ring in touched], dtype=int)])
    lightest = np.array(
        [min(node.part.rings, key=lambda r: capacity_j_k[r]) for node in nodes], dtype=int
    )
    own_j_k = capacity_j_k[lightest]
    into = []
    for row, (node, ring) in enumerate(touched):
        if node.body is not None and node.part.conductivity_w_m_k is not None:
            radius_mm = RADIUS_PER_WIRE * float(layout.wire_mm[ring])
            into.append(into_body_w_k(node.part.conductivity_w_m_k, radius_mm))
            pairs.append((node.body, node.node))
            own_j_k[node.node - layout.rings] = SETTLES_S * (into[-1] + float(joint[1][row]))
    like = own_j_k / capacity_j_k[lightest]
    low, usual, high = (np.concatenate([level, into]) for level in joint)
    return JoinedParts(
        capacity_j_k=own_j_k,
        loss_w_k=(
            loss_w_k[0][lightest] * like,
            loss_w_k[1][lightest] * like,
            loss_w_k[2][lightest] * like,
        ),
        pairs=np.array(pairs, dtype=np.int32).reshape(-1, 2),
        pair_w_k=(low, usual, high),
    )


def _joints(links: Sequence[Value], section: IntArray) -> list[FloatArray]:
    """Conductance of each joint between a part and a ring: that of a link of its section."""
    pair = []
    for name in ("low", "usual", "high"):
        per_section = np.array([getattr(value, name) for value in links])
        fallback = max(float(per_section.max(initial=0.0)), _LONE_JOINT_W_K)
        per_section = np.where(per_section > 0, per_section, fallback)
        pair.append(per_section[section])
    return pair
