"""What tells a folded weave from the plain one that has the same links.

A Byzantine chain and a plain double-link chain have the same link graph: pulled from a poor start,
the one slides into the other with every linking number unchanged. A weave file therefore may ask
for checks of its own, and every solution is held to them:

``between``
    A ring passes between the two rings of a pair that it does not (or does) link:
    ``{check = "between", ring = [k, a], pair = [[i, a], [j, a]]}``. Measured as a depth: how far
    the ring reaches into the space enclosed by the two discs of the pair, in wire diameters of
    class 0; it holds when the depth is positive.
``outside``
    The same measure, and the ring must *not* pass between the two: the depth is negative.
``handed``
    The product of the linking numbers around a closed walk of rings is +1 or −1:
    ``{check = "handed", rings = [[k, a], …], sign = 1}``. It does not depend on which way round
    each ring is counted, and a mirror image of three rings has the other sign.
``turn``
    The turn per repeat lies in a range: ``{check = "turn", min_deg = 100, max_deg = 140}``.

A ring is named ``[ring, repeat]`` or ``[ring, along, across]``, counted from 0. All checks are
cheap: a few hundred points, no loop over rings.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Protocol

import numpy as np

from chainplan.frozen import frozen
from chainplan.weave.shape.circles import CentreLines, linking_number, plane_basis
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.piece.weave import Weave


class PlacedRings(Protocol):
    """Anything that says where the rings of a repeat are: seed poses or a solved repeat."""

    @property
    def centre(self) -> FloatArray:
        """Centres, shape (k, 3), in wire diameters of class 0."""
        ...

    @property
    def normal(self) -> FloatArray:
        """Unit normals, shape (k, 3)."""
        ...

    @property
    def mean_radius(self) -> FloatArray:
        """Radius of each ring's centre line, shape (k,)."""
        ...

    @property
    def vectors(self) -> FloatArray:
        """Repeat vectors, one row for a chain, two for a sheet."""
        ...

    @property
    def turn_rad(self) -> float:
        """Turn about the x axis per repeat."""
        ...


@frozen
class ShapeCheck:
    """One check of a weave file, measured on given poses."""

    check: str
    meaning: str
    value: float
    holds: bool

    def __str__(self) -> str:
        verdict = "holds" if self.holds else "does NOT hold"
        return f"{self.check}: {self.meaning}: {verdict} ({self.value:.3g})"


def place_image(poses: PlacedRings, ring: Sequence[int]) -> tuple[FloatArray, FloatArray, float]:
    """Return centre, normal and mean radius of ring ``[k, along(, across)]`` of the tiling."""
    k, along = int(ring[0]), int(ring[1])
    across = int(ring[2]) if len(ring) > 2 else 0
    turn = along * poses.turn_rad
    cos, sin = math.cos(turn), math.sin(turn)
    spin = np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
    centre = spin @ poses.centre[k] + along * poses.vectors[0]
    if across:
        centre = centre + across * poses.vectors[1]
    return centre, spin @ poses.normal[k], float(poses.mean_radius[k])


def measure_depth_between(
    poses: PlacedRings, ring: Sequence[int], pair: Sequence[Sequence[int]]
) -> float:
    """How deep a ring reaches between two others, in wire diameters of class 0.

    Parameters
    ----------
    poses
        Where the rings are.
    ring
        The ring that should pass between, ``[k, along(, across)]``.
    pair
        The two rings that it should pass between.

    Returns
    -------
    float
        The largest, over the points of the ring's circle, of the smallest of four margins: inside
        both circles (seen along their axes) and on the inner side of both planes. Negative when
        no point is between. [wire diameters]
    """
    centre, normal, radius = place_image(poses, ring)
    u, v = (basis[0] for basis in plane_basis(normal))
    one, other = place_image(poses, pair[0]), place_image(poses, pair[1])
    sides = [
        (near, 1.0 if float(near[1] @ (far[0] - near[0])) >= 0 else -1.0)
        for near, far in ((one, other), (other, one))
    ]

    def find_margin(angle: FloatArray) -> FloatArray:
        points = centre + radius * (np.cos(angle)[..., None] * u + np.sin(angle)[..., None] * v)
        margin: FloatArray = np.full(angle.shape, np.inf)
        for (middle, axis, size), side in sides:
            offset = points - middle
            height = offset @ axis
            out = np.sqrt(np.maximum((offset * offset).sum(axis=-1) - height**2, 0.0))
            margin = np.minimum(margin, np.minimum(size - out, side * height))
        return margin

    tuned = tuning()
    step = 2 * np.pi / tuned.depth_points
    round_the_ring: FloatArray = step * np.arange(tuned.depth_points, dtype=np.float64)
    around = np.arange(-1.0, 1.0 + tuned.depth_spacing, tuned.depth_spacing)
    margin = find_margin(round_the_ring)
    # A margin changes by no more than the way between two points: lesser peaks cannot win.
    peaks = (margin >= np.roll(margin, 1)) & (margin >= np.roll(margin, -1))
    angle = round_the_ring[peaks & (margin >= margin.max() - radius * step)]
    for _ in range(tuned.depth_refinements):
        fine = angle[:, None] + step * around
        margin = find_margin(fine)
        angle = fine[np.arange(len(fine)), margin.argmax(axis=1)]
        step *= tuned.depth_spacing
    return float(margin.max())


def measure_handedness(poses: PlacedRings, rings: Sequence[Sequence[int]]) -> int:
    """Product of the linking numbers around the closed walk ``rings``: −1, 0 or +1."""
    placed = [place_image(poses, ring) for ring in rings]
    following = placed[1:] + placed[:1]
    first, second = (
        CentreLines(*(np.array(part) for part in zip(*some, strict=True)))
        for some in (placed, following)
    )
    numbers = linking_number(first, second)
    return int(np.prod(numbers))


def _find_between(poses: PlacedRings, rule: Mapping[str, object]) -> tuple[float, bool]:
    depth = measure_depth_between(poses, rule["ring"], rule["pair"])  # type: ignore[arg-type]
    return depth, depth > 0


def _find_outside(poses: PlacedRings, rule: Mapping[str, object]) -> tuple[float, bool]:
    depth = measure_depth_between(poses, rule["ring"], rule["pair"])  # type: ignore[arg-type]
    return depth, depth < 0


def _find_handed(poses: PlacedRings, rule: Mapping[str, object]) -> tuple[float, bool]:
    sign = measure_handedness(poses, rule["rings"])  # type: ignore[arg-type]
    return float(sign), sign == rule["sign"]


def _find_turn(poses: PlacedRings, rule: Mapping[str, object]) -> tuple[float, bool]:
    turn_deg = math.degrees(poses.turn_rad)
    low, high = float(rule["min_deg"]), float(rule["max_deg"])  # type: ignore[arg-type]
    return turn_deg, low <= turn_deg <= high


_CHECKS: dict[str, Callable[[PlacedRings, Mapping[str, object]], tuple[float, bool]]] = {
    "between": _find_between,
    "outside": _find_outside,
    "handed": _find_handed,
    "turn": _find_turn,
}
CHECK_FIELDS: Mapping[str, tuple[str, ...]] = {
    "between": ("ring", "pair"),
    "outside": ("ring", "pair"),
    "handed": ("rings", "sign"),
    "turn": ("min_deg", "max_deg"),
}
"""The named checks a weave file can ask for, and the fields each of them needs."""


def list_rules(weave: Weave) -> tuple[Mapping[str, object], ...]:
    """Return the checks that a weave file asks for, in the file's order."""
    rules = weave.data.get("invariants", ())
    return tuple(rules)  # type: ignore[arg-type]


def measure_invariants(weave: Weave, poses: PlacedRings) -> tuple[ShapeCheck, ...]:
    """Measure every check of a weave on given poses.

    Parameters
    ----------
    weave
        The weave as its file declares it.
    poses
        Seed poses or a solved repeat of it.

    Returns
    -------
    tuple of ShapeCheck
        One a check, in the file's order; empty when the file asks for none.
    """
    found = []
    for rule in list_rules(weave):
        check = str(rule["check"])
        value, good = _CHECKS[check](poses, rule)
        meaning = str(rule.get("meaning", ""))
        found.append(ShapeCheck(check=check, meaning=meaning, value=value, holds=good))
    return tuple(found)


def holds(weave: Weave, poses: PlacedRings) -> bool:
    """Whether the poses are still this weave and not another with the same links.

    They are where every check holds that `measure_invariants` measures; always without checks.
    """
    return all(_CHECKS[str(rule["check"])](poses, rule)[1] for rule in list_rules(weave))
