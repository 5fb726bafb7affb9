"""Lays elements one after another, outwards from a woven section, and hangs fittings on a piece.

Everything here looks outwards along +x; what goes towards the start of a piece is laid so in a
mirror and turned round at the end. Rings in a row pull on each other: each is turned by a right
angle from the one before, and its wire lies against the inside of that one's wire. A fitting begins
where a ring pulls in its eye, which is the inside of that ring's wire.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import Form
from chainplan.weave.laying.elements import Body, RingRow, Woven
from chainplan.weave.laying.together.blocks import Block, Links, block_of_row, block_of_section
from chainplan.weave.laying.together.connection import list_angles
from chainplan.weave.laying.together.placed import PlacedSection, choose_end, find_end_rings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.model.job import Section
    from chainplan.weave.laying.elements import Element
    from chainplan.weave.laying.together.blocks import Ring
    from chainplan.weave.laying.together.connection import Hang

MIRROR = np.array([-1.0, 1.0, 1.0])
QUARTER = np.pi / 2
"""A quarter turn: each ring of a row stands across the one before."""


def along(mm: float) -> FloatArray:
    """Return a way along x."""
    return np.array([mm, 0.0, 0.0])


def connecting_size(section: Section, following: Section) -> Section:
    """Section whose ring connects two: the earlier's, or the smaller of two steps of one stretch.

    So a graduated stretch that goes to the middle and back is the same from both ends.
    """
    if not section.graded or section.graded != following.graded:
        return section
    return min(section, following, key=lambda part: (part.inner_mm, part.wire_mm))


def _fits_ahead(
    placed: PlacedSection, beyond: Sequence[Element]
) -> tuple[BoolArray, BoolArray] | None:
    """Angles at which the end of a chain, and the sheet after it, take the ring between them.

    A sheet lies flat, so the chain before it has to be rolled until both have one in common. None
    where no sheet follows.
    """
    if beyond and isinstance(beyond[0], Woven):
        ahead = beyond[0]
        size = connecting_size(placed.laid.section, ahead.laid.section)
        row = RingRow(0, size.wire_mm, size.inner_mm, 1)
    elif len(beyond) > 1 and isinstance(beyond[0], RingRow) and isinstance(beyond[1], Woven):
        row, ahead = beyond[0], beyond[1]
    else:
        return None
    if ahead.laid.weave.form == Form.CHAIN or placed.laid.weave.form != Form.CHAIN:
        return None
    end, _ = choose_end(placed, last=True, radius=row.radius_mm, wire=row.wire_mm)
    start, _ = choose_end(
        PlacedSection(ahead.laid), last=False, radius=row.radius_mm, wire=row.wire_mm
    )
    quarter = len(list_angles()) // 2
    return end.clean, np.roll(start.clean, (row.rings - 1) * quarter)


def roll_for_ahead_rad(placed: PlacedSection, beyond: Sequence[Element]) -> float:
    """Return by how much the first chain of a piece is rolled for a sheet that follows. [rad]."""
    fits = _fits_ahead(placed, beyond)
    if fits is None:
        return 0.0
    turns = len(list_angles())
    good = [k for k in range(turns) if (np.roll(fits[0], k) & fits[1]).any()]
    return min(good, default=0) * np.pi / turns


def _choose_angle(
    hang: Hang, tip_rad: float, placed: PlacedSection, beyond: Sequence[Element]
) -> int:
    """Choose at which of its angles a chain hangs: the farthest out that leaves what follows room.

    Returns
    -------
    int
        Number of the angle in the chain's own frame.
    """
    best = int(np.argmax(hang.worth))
    fits = _fits_ahead(placed, beyond)
    if fits is None:
        return best
    angles = list_angles()
    for there in np.argsort(-hang.worth, kind="stable").tolist():
        turns = round((tip_rad - float(angles[there])) * len(angles) / np.pi)
        if hang.clean[there] and (np.roll(fits[0], turns) & fits[1]).any():
            return int(there)
    return best


@dataclass(slots=True)
class HangPoint:
    """What the next element hangs on: a section's end, a ring, or the eye of a fitting."""

    placed: PlacedSection | None = None
    block: Block | None = None  # of the section
    ring: Ring | None = None
    centre: FloatArray = field(default_factory=lambda: np.zeros(3))  # of the ring, or the eye
    angle_rad: float = 0.0
    radius_mm: float = 0.0
    wire_mm: float = 0.0

    @property
    def pull_mm(self) -> float:
        """Where along x it pulls: the inside of the ring's wire, or the eye's edge."""
        return float(self.centre[0]) + (self.radius_mm - self.wire_mm / 2 if self.ring else 0.0)


@dataclass(slots=True)
class LaidBody:
    """A fitting in place: from where to where, and which rings it touches."""

    index: int
    from_mm: FloatArray
    to_mm: FloatArray
    rings: list[Ring]


@dataclass(slots=True)
class Walk:
    """What has been laid so far in one direction."""

    last: bool  # towards the end of the piece; otherwise towards its start, in a mirror
    links: Links
    blocks: list[Block] = field(default_factory=list)
    bodies: list[LaidBody] = field(default_factory=list)
    sections: dict[int, PlacedSection] = field(default_factory=dict)
    used: dict[int, int] = field(default_factory=dict)  # rings of each row that are laid
    edge_mm: float = 0.0  # outer edge of what was laid last
    gap_mm: float = 0.0  # least gap of a ring that hangs in a section
    added_mm: float = 0.0  # between and beyond the sections

    def go(self, tip: HangPoint, elements: Sequence[Element]) -> None:
        """Lay elements outwards from a tip, which is a section's end."""
        assert tip.placed is not None
        self.edge_mm = self._edge(tip.placed)
        for number, element in enumerate(elements):
            ahead = elements[number + 1] if number + 1 < len(elements) else None
            if isinstance(element, RingRow):
                tip = self.lay_row(tip, element, ahead)
            elif isinstance(element, Body):
                tip = self.lay_body(tip, element)
            else:
                if tip.placed is not None:
                    tip = self._connect(tip, element)
                tip = self.lay_section(tip, element, elements[number + 1 :])

    def _edge(self, placed: PlacedSection) -> float:
        low, high = placed.edges_mm()
        return high if self.last else -low

    def _outer(self, edge_mm: float) -> None:
        """Note the outer edge of something beyond the section before it."""
        self.added_mm += edge_mm - self.edge_mm
        self.edge_mm = edge_mm

    def _connect(self, tip: HangPoint, ahead: Woven) -> HangPoint:
        """Hang one ring between a section and the next."""
        assert tip.placed is not None
        assert tip.block is not None
        laid = tip.placed.laid
        size = connecting_size(laid.section, ahead.laid.section)
        row = RingRow(tip.block.section, size.wire_mm, size.inner_mm, 1)
        at = (laid.repeats, laid.rows // 2, int(laid.tiling.column.max()) + 1)
        return self.lay_row(tip, row, ahead, at=at)

    def lay_row(
        self,
        tip: HangPoint,
        row: RingRow,
        ahead: Element | None,
        *,
        at: tuple[int, int, int] | None = None,
    ) -> HangPoint:
        """Lay rings in a row from a tip on; ``at`` places a ring that belongs to a section."""
        radius, wire = row.radius_mm, row.wire_mm
        through: list[Ring] = []
        behind: LaidBody | None = None
        if tip.placed is not None and tip.block is not None:
            hang, ends = choose_end(tip.placed, last=self.last, radius=radius, wire=wire)
            worth = hang.worth
            turns = len(list_angles())
            if isinstance(ahead, Woven) and ahead.laid.weave.form != Form.CHAIN:
                # A sheet lies flat: one angle has to serve both ends of the row.
                there, _ = choose_end(
                    PlacedSection(ahead.laid), last=False, radius=radius, wire=wire
                )
                worth = worth + np.roll(there.worth, (row.rings - 1) * (turns // 2))
            here = int(np.argmax(worth))
            centre, angle = hang.centre[here], float(list_angles()[here])
            self.gap_mm = min(self.gap_mm, float(hang.gap[here]))
            through = [(tip.block, int(end)) for end in ends]
        elif tip.ring is not None:
            step = tip.radius_mm + radius - (tip.wire_mm + wire) / 2
            centre, angle = tip.centre + along(step), tip.angle_rad + QUARTER
            through = [tip.ring]
        else:
            centre = tip.centre + along(radius - wire / 2)
            angle = self._angle_for(row, ahead)
            behind = self.bodies[-1]
        step = 2 * radius - wire
        centres = [centre + along(step * k) for k in range(row.rings)]
        angles = [angle + QUARTER * k for k in range(row.rings)]
        normals = [np.array([0.0, -np.sin(a), np.cos(a)]) for a in angles]
        done = self.used.get(row.number, 0)
        block = block_of_row(
            row.number, wire, radius, centres, normals, at or (done, 0, done), alike=bool(at)
        )
        if at is None:
            self.used[row.number] = done + row.rings
        self.blocks.append(block)
        self.links.tie((block, 0), through)
        if behind is not None:
            behind.rings.append((block, 0))
        self._outer(float(centres[-1][0]) + radius + wire / 2)
        return HangPoint(
            ring=(block, row.rings - 1), centre=centres[-1], angle_rad=angles[-1],
            radius_mm=radius, wire_mm=wire,
        )  # fmt: skip

    def _angle_for(self, row: RingRow, ahead: Element | None) -> float:
        """Angle of a row's first ring behind a fitting: as the section ahead wants its last."""
        if not isinstance(ahead, Woven):
            return QUARTER  # upright in the eye of something flat
        following = PlacedSection(ahead.laid)
        hang, _ = choose_end(following, last=False, radius=row.radius_mm, wire=row.wire_mm)
        return float(list_angles()[int(np.argmax(hang.worth))]) - QUARTER * (row.rings - 1)

    def lay_body(self, tip: HangPoint, body: Body) -> HangPoint:
        """Lay a fitting from a tip on."""
        rings: list[Ring] = []
        if tip.placed is not None and tip.block is not None:
            ends = find_end_rings(tip.placed.laid, last=self.last)
            rings = [(tip.block, int(end)) for end in ends]
            middle = tip.placed.centre[ends].mean(axis=0)
            reach = tip.placed.reach_mm(ends)
            outer = tip.placed.centre[ends, 0] * (1 if self.last else -1) + reach
            inside = float((outer - tip.block.wire[ends]).max())
            start = np.array([inside, middle[1], middle[2]])
        else:
            start = np.array([tip.pull_mm, tip.centre[1], tip.centre[2]])
            rings = [tip.ring] if tip.ring else []
        end = start + along(body.length_mm)
        self.bodies.append(LaidBody(body.index, start, end, rings))
        self._outer(max(float(end[0]), self.edge_mm))  # a ring's wire lies beyond where it pulls
        return HangPoint(centre=end)

    def lay_section(
        self, tip: HangPoint, woven: Woven, beyond: Sequence[Element] = ()
    ) -> HangPoint:
        """Lay a woven section from a ring, or a fitting's eye, on; ``beyond``: what follows it."""
        placed = PlacedSection(woven.laid)
        if tip.ring is None:
            ends = find_end_rings(woven.laid, last=False)
            outer = placed.centre[ends, 0] - placed.reach_mm(ends)
            wire = (
                woven.laid.repeat.wire[woven.laid.tiling.place[ends]] * woven.laid.section.wire_mm
            )
            middle = placed.centre[ends].mean(axis=0)
            inside = float((outer + wire).min())
            placed.move(0.0, tip.centre - [inside, middle[1], middle[2]])
        else:
            hang, ends = choose_end(placed, last=False, radius=tip.radius_mm, wire=tip.wire_mm)
            angles = list_angles()
            if woven.laid.weave.form == Form.CHAIN:
                there = _choose_angle(hang, tip.angle_rad, placed, beyond)
            else:
                there = int(np.argmin(np.abs(np.sin(angles - tip.angle_rad))))
            roll = tip.angle_rad - float(angles[there])
            if woven.laid.weave.form != Form.CHAIN:
                roll = 0.0
            cos, sin = np.cos(roll), np.sin(roll)
            turn = np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
            placed.move(roll, tip.centre - turn @ (hang.centre[there] * MIRROR))
            self.gap_mm = min(self.gap_mm, float(hang.gap[there]))
        block = block_of_section(placed, woven.number)
        if tip.ring is not None:
            self.links.tie(tip.ring, [(block, int(end)) for end in ends])
        elif self.bodies:
            self.bodies[-1].rings += [(block, int(end)) for end in ends]
        self.blocks.append(block)
        self.sections[woven.number] = placed
        low, high = placed.edges_mm()
        self.added_mm += low - self.edge_mm
        self.edge_mm = high
        return HangPoint(placed=placed, block=block)

    def turn_round(self) -> None:
        """Turn what was laid in the mirror round, so that it goes towards the start."""
        for block in self.blocks:
            block.centre = block.centre * MIRROR
            block.normal = block.normal * MIRROR
            block.backwards = True
        for body in self.bodies:
            body.from_mm, body.to_mm = body.from_mm * MIRROR, body.to_mm * MIRROR
        self.blocks.reverse()
