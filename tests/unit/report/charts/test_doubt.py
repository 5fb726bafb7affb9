"""The chart of what moves a temperature: its bars are the numbers of the plan."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from chainplan.model.order import Chance, LimitChance, Sway
from chainplan.report.charts import charts_of
from chainplan.report.charts.doubt import NAMES, doubt_chart, moved_limits

if TYPE_CHECKING:
    from chainplan.model.plan import PiecePlan, Plan


@pytest.fixture(scope="module")
def necklace(necklace_plan: Plan) -> PiecePlan:
    """The one piece of the sample necklace."""
    return necklace_plan.pieces[0]


def test_each_bar_goes_from_the_usual_temperature_to_that_at_an_end(necklace: PiecePlan) -> None:
    """Three numbers a limit, the low end and the high end of each, and the limit itself."""
    chance = necklace.order.chance
    assert chance is not None
    figure = doubt_chart(necklace)
    limits = moved_limits(chance)
    assert 0 < len(limits) == len(figure.axes)
    for ax, item in zip(figure.axes, limits, strict=True):
        drawn = [(bar.get_x(), bar.get_width()) for bar in ax.patches]
        wanted = [(item.usual_c, s.low_k) for s in item.sways]
        wanted += [(item.usual_c, s.high_k) for s in item.sways]
        ends = [sorted((x, x + width)) for x, width in drawn]
        assert ends == [pytest.approx(sorted((x, x + k))) for x, k in wanted]
        lines = [line.get_xdata()[0] for line in ax.lines]
        assert lines == pytest.approx([item.usual_c, item.limit_c])
        names = [text.get_text() for text in ax.get_yticklabels()]
        assert names == [NAMES[s.number] for s in item.sways]


def test_what_nothing_moves_is_not_drawn(necklace_plan: Plan) -> None:
    """No chart without samples, nor of a temperature that stays where it is."""
    still = LimitChance(
        name="fingers", limit_c=48.0, kept=1.0, usual_c=21.0, nine_in_ten_c=21.0,
        sways=(Sway(number="links", low_k=-0.2, high_k=0.4, share=1.0),),
    )  # fmt: skip
    chance = Chance(runs=10, keeps_all=1.0, by_limit=(still,), decides="links")
    assert moved_limits(chance) == moved_limits(None) == []
    piece = necklace_plan.pieces[0]
    piece = replace(piece, order=replace(piece.order, chance=chance))
    with pytest.raises(ValueError, match="no temperature"):
        doubt_chart(piece)
    names = [chart.name for chart in charts_of(replace(necklace_plan, pieces=(piece,)))]
    assert not any(name.startswith("doubt") for name in names)
    assert any(chart.name.startswith("doubt") for chart in charts_of(necklace_plan))
