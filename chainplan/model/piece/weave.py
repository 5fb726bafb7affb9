"""What a weave is (data) and what its solved repeat looks like (geometry without a scale)."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.kinds import Form


@frozen
class RingClass:
    """One size of ring within a weave; a weave of equal rings has one class.

    ``wire_ratio`` is its wire diameter over that of class 0, ``inner_ratio`` its inner
    diameter over that of class 0 (``None``: the user gives it on the row).
    """

    name: str
    wire_ratio: float = 1.0
    inner_ratio: float | None = 1.0


@frozen
class Weave:
    """A weave as its data file declares it, before anything is solved.

    ``links`` has one row a link of the repeat: ring i, ring j, and the repeat offset of j along the
    first and the second repeat vector; shape (m, 4). ``form`` is "chain", "strip" or "sheet".
    """

    key: str
    title: str
    trade_names: tuple[str, ...]
    family: str
    form: Form
    classes: tuple[RingClass, ...]
    ring_class: tuple[int, ...]
    links: IntArray
    parts: tuple[str, ...] = ()  # of each ring of the repeat, its name; () where none has one
    turn_rad: float = 0.0
    notes: str = ""
    source: str = ""
    data: Mapping[str, object] = field(default_factory=dict)
    """All else that the file says (seed, invariants …), for the weave stage alone."""

    @property
    def part_of(self) -> tuple[tuple[str, ...], ...]:
        """Names by which each ring of the repeat is known: its part, and its size if it has two."""
        sizes = tuple(self.classes[k].name for k in self.ring_class)
        several = len(self.classes) > 1
        parts = self.parts or ("",) * len(sizes)
        return tuple(
            tuple(word for word in (part, size if several else "") if word)
            for part, size in zip(parts, sizes, strict=True)
        )

    @property
    def part_names(self) -> tuple[str, ...]:
        """Names of the parts, in the order of the rings; a sheet has its edge beside."""
        edge = () if self.form == "chain" else ("edge",)
        return tuple(dict.fromkeys((*(word for words in self.part_of for word in words), *edge)))


@frozen
class Repeat:
    """A solved repeat, scale-free: every length is in wire diameters of ring class 0.

    Ring k of the repeat shifted by (a, b) has its centre at
    ``Q^a·centre[k] + a·vectors[0] + b·vectors[1]``, where ``Q`` turns by ``turn_rad`` about the x
    axis (the chain's axis; sheets lie in the x–y plane, z is up = front). ``b`` is 0 and
    ``vectors`` has one row for a chain.
    """

    weave: str
    aspect_ratio: float
    state: str  # "taut" or "gathered"; sheets: "along", "across", "area"
    centre: FloatArray  # (k, 3)
    normal: FloatArray  # (k, 3), unit
    mean_radius: FloatArray  # (k,)
    wire: FloatArray  # (k,) wire diameter, 1.0 for class 0
    ring_class: IntArray  # (k,)
    vectors: FloatArray  # (1 or 2, 3)
    turn_rad: float
    links: IntArray  # (m, 4): i, j, offset along, offset across
    contacts: IntArray  # (c, 4): the same columns, pairs that touch
    residual_gap: float  # smallest gap over all pairs; ≥ −1e-6 when converged
    width: float  # extent across the axis, in the plane of the piece, wire included
    thickness: float  # extent at right angles to it, wire included

    @property
    def rings(self) -> int:
        """Rings in one repeat."""
        return int(self.centre.shape[0])


@frozen
class WeaveLimits:
    """How a ring suits a weave: computed margins and the verdict in words."""

    aspect_ratio: float
    smallest_aspect_ratio: float
    looseness: float  # 1 − gathered/taut length
    verdict: (
        str  # cannot be woven / very tight / tight / supple / loose / will not hold its pattern
    )
    reasons: tuple[str, ...] = ()
    suitable_inner_mm: tuple[float, ...] = ()  # near the ring, those that suit


@frozen
class Tolerance:
    """What ±1 % in inner diameter does to a section of a piece."""

    inner_diameter_change: float  # −0.01, +0.01
    rings_per_cm: float
    rings: int
    length_mm: float
