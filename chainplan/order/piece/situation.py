"""Everything an order is judged by, but for how its heat is reckoned."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import ReturnLead
from chainplan.model.order import LimitKind
from chainplan.order.piece.clip import place_clip
from chainplan.order.piece.grid import JoinGrid, lay_out_grid
from chainplan.order.piece.patches import Patches, cut_patches, holds_anywhere
from chainplan.order.piece.ring_limits import list_ring_limits
from chainplan.order.piece.work import HandWork, lay_out_work
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.bench.groups import HeatSettings, LeadSettings, PaceSettings
    from chainplan.model.order import SetAside, WeldSetting
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatModel, PartNode, RingLimit
    from chainplan.order.tuning import OrderTuning


@dataclass(frozen=True, kw_only=True)
class Situation:
    """A piece as the order stage sees it, and the limits that its order is to keep."""

    layout: Layout
    joins: Joins
    heat: HeatModel
    work: HandWork
    grid: JoinGrid
    pace: PaceSettings  # the grip of earthed tweezers counted with the handling
    limits: HeatSettings
    seed: int
    way: ReturnLead = ReturnLead.BLOCK  # how the piece is earthed
    tuning: OrderTuning = USUAL
    set_aside: tuple[SetAside, ...] = ()

    @cached_property
    def patches(self) -> Patches | None:
        """Where fingers could hold; None if they nowhere do, or no longer have to."""
        patches = cut_patches(self.layout, self.limits, self.pace)
        somewhere = holds_anywhere(patches, self.work.place_mm, self.work.ring, self.limits)
        return patches if somewhere and self.keeps(LimitKind.FINGERS) else None

    @property
    def held(self) -> bool:
        """Whether the limit for the fingers is to be kept anywhere."""
        return self.patches is not None

    @cached_property
    def ring_limits(self) -> tuple[RingLimit, ...]:
        """What limits rings before their welds, and is to be kept."""
        every = list_ring_limits(self.heat, self.limits)
        return tuple(item for item in every if self.keeps(item.kind, item.name))

    @cached_property
    def interpass_c(self) -> FloatArray:
        """Least limit of each join just before its weld; inf where there is none, (m,). [°C]."""
        least = np.full(self.work.joins, np.inf)
        for item in self.ring_limits:
            np.minimum(least, item.limit_c[self.work.ring], out=least)
        return least

    @property
    def parts(self) -> tuple[PartNode, ...]:
        """Parts whose limits are to be kept."""
        return tuple(part for part in self.heat.parts if self.keeps(LimitKind.PART, part.name))

    def keeps(self, kind: LimitKind, name: str = "") -> bool:
        """Whether a limit is to be kept; without a name it is called by its kind."""
        return (kind, name or str(kind)) not in {item.key for item in self.set_aside}

    def without(self, items: Sequence[SetAside]) -> Situation:
        """Set further limits aside."""
        return replace(self, set_aside=(*self.set_aside, *items))


def take_stock(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    seed: int,
    lead: LeadSettings | None = None,
    way: ReturnLead = ReturnLead.BLOCK,
    tuning: OrderTuning = USUAL,
) -> Situation:
    """Gather what an order is judged by.

    ``way``: how the piece is earthed; a block, or no ``lead``, costs the hand nothing.
    """
    work = lay_out_work(layout, joins, settings, pace)
    on_block = Situation(
        layout=layout,
        joins=joins,
        heat=heat,
        work=work,
        grid=lay_out_grid(layout, work),
        pace=pace,
        limits=limits,
        seed=seed,
        tuning=tuning,
    )
    return earth(on_block, way, lead)


def earth(on_block: Situation, way: ReturnLead, lead: LeadSettings | None) -> Situation:
    """Earth a piece that lies on a block in another way; what does not change is shared."""
    pace, work = on_block.pace, on_block.work
    if lead is not None and way is ReturnLead.TWEEZERS:
        pace = replace(pace, handle_s=pace.handle_s + lead.tweezers_s)
        work = replace(work, handle_s=pace.handle_s)
    if lead is not None and way is ReturnLead.CLIP:
        work = place_clip(on_block.layout, on_block.grid, work, lead)
    return replace(on_block, way=way, pace=pace, work=work)
