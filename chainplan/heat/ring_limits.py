"""How warm a ring may be before its weld, for what its metal does and how evenly it melts.

Both limits are of the whole ring's temperature just before its weld: the warmth that has built up
and stays for minutes. What the ring's own weld adds comes with every order, is gone within seconds
and falls under the argon that flows on, so it is not counted here.

*The metal*: bright copper darkens in air, stainless steel takes on heat tint, drawn copper softens.
Each row of ``metal_limits.csv`` is the temperature at which minutes show; most metals have none
below the other limit, and then there is none.

*Even welds*: a ring that is warm already needs less to melt, so one setting bites deeper as the
piece warms, until joins collapse. Of two shares that could be limited, that of the heat to melt,
``(T − room)·cp / (heat to melt from room)``, counts the heat of fusion too, which is only spent
once the join has begun to melt; that of the way to the solidus, ``(T − room) / (solidus − room)``,
says how much sooner it begins to. The second is the more cautious (silver: 12 % of the way is 6 %
of the heat) and needs no uncertain heat of fusion. It is limited; the first is told beside it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import LimitKind
from chainplan.model.thermal.heat import RingLimit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout


def even_weld_limit_c(metal: Metal, room_c: float, share: float) -> float:
    """Temperature at which so large a share of the way from room to solidus is done. [°C]."""
    return room_c + share * (metal.solidus_c.usual - room_c)


def say_reserve(settings: HeatSettings) -> str:
    """Say by how much limits are lower than what they stand for."""
    return f"; {settings.reserve_k:g} K in reserve" if settings.reserve_k > 0 else ""


def heat_share(metal: Metal, warm_c: float, room_c: float) -> float:
    """Share of the heat to melt that a warm ring holds already.

    ``(T − room)·cp / (mean cp·(liquidus − room) + heat of fusion)``, all usual values.
    """
    specific = metal.specific_heat_j_kg_k.usual
    mean = metal.mean_specific_heat_j_kg_k or metal.specific_heat_j_kg_k
    to_melt = mean.usual * (metal.liquidus_c.usual - room_c) + 1000 * metal.latent_heat_kj_kg.usual
    return (warm_c - room_c) * specific / to_melt


def ring_limits(
    layout: Layout, metals: Mapping[str, Metal], settings: HeatSettings
) -> tuple[RingLimit, ...]:
    """List what the metals of a piece ask for before a weld, but for what is nowhere the least."""
    wanted: dict[tuple[LimitKind, str, float, str], np.ndarray] = {}
    for alloy in dict.fromkeys((item.metal, item.temper) for item in layout.materials):
        here = np.asarray([(item.metal, item.temper) == alloy for item in layout.materials])
        for key in _limits_of(metals[alloy[0]], alloy[1], settings):
            wanted[key] = wanted.get(key, np.zeros(len(here), dtype=bool)) | here
    found = [
        RingLimit(
            kind=kind,
            name=name,
            limit_c=np.where(at, limit_c, np.inf)[layout.material],
            why=why,
        )
        for (kind, name, limit_c, why), at in wanted.items()
    ]
    if not found:
        return ()
    least = np.min([item.limit_c for item in found], axis=0)
    return tuple(
        item for item in found if (np.isfinite(item.limit_c) & (item.limit_c == least)).any()
    )


def _limits_of(
    metal: Metal, temper: str, settings: HeatSettings
) -> Iterator[tuple[LimitKind, str, float, str]]:
    """Kind, name, limit and reason of what one metal in one temper asks for."""
    title = metal.key.replace("-", " ")
    for limit in metal.limits:
        if not limit.tempers or temper in limit.tempers:
            value = limit.limit_c
            yield (
                LimitKind.METAL,
                f"{limit.effect}, {title}",
                value.usual - settings.reserve_k,
                f"{limit.fact} ({value.low:.0f} to {value.high:.0f} °C; {value.source}); counted "
                "before a ring's weld, since its own is over in seconds, under argon, and the same "
                f"in every order{say_reserve(settings)}",
            )
    if settings.warm_share > 0:
        limit_c = even_weld_limit_c(metal, settings.room_c, settings.warm_share)
        melt = heat_share(metal, limit_c, settings.room_c)
        yield (
            LimitKind.SAMENESS,
            f"even welds, {title}",
            limit_c - settings.reserve_k,
            f"one setting melts warm and cold rings alike up to {settings.warm_share:.0%} of the "
            f"way from room to solidus, which is {melt:.0%} of the heat to melt "
            f"(bench setting warm share){say_reserve(settings)}",
        )
