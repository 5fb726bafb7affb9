"""The finished plan of a job, as every writer and picture gets it."""

from __future__ import annotations

import math
from dataclasses import field
from typing import TYPE_CHECKING, Any

from chainplan.frozen import frozen
from chainplan.model.workshop.schedule import Schedule

if TYPE_CHECKING:
    from collections.abc import Mapping

    import networkx as nx

    from chainplan.model.estimate import Estimates
    from chainplan.model.job import Job, Piece
    from chainplan.model.order import BatchOrder, WeldOrder
    from chainplan.model.piece.count import Count
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatModel
    from chainplan.model.thermal.touching import StandBy
    from chainplan.model.workshop.record import SampleDraw


@frozen
class Stamp:
    """What a plan was made with, so that it can be made again."""

    program: str
    version: str
    input_sha256: str
    seed: int
    work_sha256: str = ""  # of what is woven and welded, whatever it costs

    def __str__(self) -> str:
        return f"{self.program} {self.version} · input {self.input_sha256[:12]} · seed {self.seed}"

    @property
    def of_work(self) -> str:
        """What stands on the bench's pages: it does not change with a price or a date."""
        return f"{self.program} {self.version} · work {self.work_sha256[:12]} · seed {self.seed}"


@frozen
class PiecePlan:
    """One piece through all stages; arrays are for one copy."""

    piece: Piece
    layout: Layout
    joins: Joins
    heat: HeatModel
    order: WeldOrder
    counts: tuple[Count, ...] = ()  # one a section
    stand_by: tuple[StandBy, ...] = ()  # what is there while it is welded

    @property
    def inside_round_mm(self) -> float:
        """Length round the inside of a closed loop, as a wrist is measured.

        The loop's own length is that of the line in the middle of its thickness t; bent round, the
        inside is shorter by π·t. [mm]
        """
        thick_mm = max(section.thickness_mm for section in self.layout.sections)
        return max(self.layout.length_mm - math.pi * thick_mm, 0.0)


@frozen
class Plan:
    """The plan of a whole job."""

    stamp: Stamp
    job: Job
    pieces: tuple[PiecePlan, ...]
    batch: BatchOrder  # the schedule's turns at the welder
    estimates: Estimates
    schedule: Schedule = field(default_factory=Schedule)
    warnings: tuple[str, ...] = ()
    news: tuple[str, ...] = ()  # what changed since the last plan of the same work, and why
    replan: Mapping[str, Any] | None = None  # what plan.json holds of that
    samples: tuple[SampleDraw, ...] = ()  # joins to check, by lot

    def piece(self, name: str) -> PiecePlan:
        """Return the plan of one piece by its name.

        Raises
        ------
        KeyError
            If no piece has that name.
        """
        for plan in self.pieces:
            if plan.piece.name == name:
                return plan
        raise KeyError(name)

    @property
    def metals(self) -> tuple[str, ...]:
        """Keys of all metals in the job, sorted."""
        return tuple(sorted({m.metal for plan in self.pieces for m in plan.layout.materials}))

    def graph(self, name: str) -> nx.Graph:
        """Return the link graph of one copy of a piece: nodes are ring numbers from 1."""
        plan = self.piece(name)
        return plan.layout.graph(
            join_angle_rad=plan.joins.angle_rad,
            face=plan.joins.face,
            pre_closed=plan.joins.pre_closed,
        )
