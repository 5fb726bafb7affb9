"""Wire: coils, cutting, springback, spares."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSettings:
    """How rings are made from wire on this bench."""

    kerf_mm: float = setting("wire", "kerf_mm")
    mandrel_length_mm: float = setting("wire", "mandrel_length_mm")
    coil_end_scrap_mm: float = setting("wire", "coil_end_scrap_mm")
    join_yield: float = setting("wire", "join_yield")
    ring_scrap: float = setting("wire", "ring_scrap")
    replaced_share: float = setting("wire", "replaced_share")
    rings_per_blade: int = setting("wire", "rings_per_blade")
    short_risk: float = setting("wire", "short_risk")
