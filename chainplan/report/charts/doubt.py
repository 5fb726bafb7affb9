"""How far each uncertain number moves each temperature of a piece: small tornado charts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.charts.figures import (
    INK,
    LINE_MM,
    MARGIN_MM,
    NAME_MM,
    SMALL_PT,
    TEXT_PT,
    TONES,
    WIDTH_MM,
    Series,
    bar_axes,
    chart_style,
    name_room,
    new_figure,
    remark,
    write,
)
from chainplan.report.paper.lettering import shorten_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from chainplan.model.order import Chance, LimitChance
    from chainplan.model.plan import PiecePlan

LEAST_K = 1.0
"""A temperature that no number moves this far is left out: nobody reads it."""
ROW_MM = 6.0
"""Height of a bar's row."""
HEAD_MM = 11.0
"""Room above the bars of a limit and below, where degrees stand."""
NAMES = {
    "arc share": "heat that a ring keeps",
    "links": "rings conduct",
    "loss to the air": "heat that the air takes",
}


def moved_limits(chance: Chance | None) -> list[LimitChance]:
    """List the limits whose temperature some number moves enough to be drawn."""
    if chance is None:
        return []
    return [
        item
        for item in chance.by_limit
        if max(abs(k) for sway in item.sways for k in (sway.low_k, sway.high_k)) >= LEAST_K
    ]


@chart_style()
def doubt_chart(plan: PiecePlan) -> Figure:
    """Draw, for each limit, its warmest temperature with each number at its ends, and the limit."""
    chance = plan.order.chance
    limits = moved_limits(chance)
    if chance is None or not limits:
        message = "no temperature of this piece is in doubt"
        raise ValueError(message)
    blocks = [HEAD_MM + LINE_MM + ROW_MM * len(item.sways) for item in limits]
    figure = new_figure(
        f"{plan.piece.name}: how sure temperatures are", MARGIN_MM + 10.0 + sum(blocks) + 8.0
    )
    room = name_room(NAMES.values())
    top = MARGIN_MM + 10.0
    values = [item.limit_c for item in limits] + [
        item.usual_c + k for item in limits for s in item.sways for k in (s.low_k, s.high_k)
    ]
    low, high = min(values), max(values)
    margin = 0.04 * max(high - low, 1.0)
    for item, block in zip(limits, blocks, strict=True):
        head = (
            f"{shorten_text(item.name, TEXT_PT, NAME_MM)}: {item.usual_c:.0f} °C at the usual "
            f"values, limit {item.limit_c:.0f} °C; "
            f"{100 * item.kept:.4g} in 100 plausible benches keep it"
        )
        write(figure, MARGIN_MM, top + 2.0, head)
        names = [NAMES[sway.number] for sway in item.sways]
        place = (MARGIN_MM + room + 2.0, top + LINE_MM, WIDTH_MM - 2 * MARGIN_MM - room - 6.0)
        ax = bar_axes(figure, names, place, ROW_MM)
        ax.set_xlim(low - margin, high + margin)
        ends = np.asarray([(sway.low_k, sway.high_k) for sway in item.sways])
        rows = np.arange(len(names))
        looks = (Series("low end", TONES[1]), Series("high end", TONES[0], "///"))
        for side, look in enumerate(looks):
            ax.barh(rows, ends[:, side], 0.6, left=item.usual_c, **look.bar)
        ax.axvline(item.usual_c, color=INK, linewidth=1.1)
        ax.axvline(item.limit_c, color=INK, linewidth=1.1, linestyle="--")
        ax.tick_params(labelsize=SMALL_PT)
        top += block
    remark(
        figure,
        "°C, the warmest of the order to follow; plain: the number at its low end, hatched: at its "
        "high end, the others as usual; line: all as usual, dashes: the limit",
    )
    return figure
