"""The whole stage on a laid-out piece: counts are the layout's, a batch shares its time."""

import datetime
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hand_plans import RINGS, a_layout, a_plan

from chainplan.estimate import estimate_counts, estimate_job
from chainplan.estimate.counts import count_piece, first_settings, plain_weld_s
from chainplan.model.estimate import Estimates
from chainplan.model.order import BatchOrder


def test_joins_of_something_else_are_counted_without_rings(a_job):
    """The laid-out rings stand for heat only."""
    plan = a_plan()
    sections = tuple(replace(s, made_of_rings=False) for s in plan.piece.sections)
    job = a_job()
    lines = first_settings(job, plan.layout)
    piece = replace(plan.piece, sections=sections)
    counts = count_piece(piece, plan.layout, plan.joins, plan.order, lines, job.bench)
    assert (counts.rings, counts.joins) == (0, RINGS)


def test_counts_come_from_layout_joins_and_order(a_job):
    plan, job = a_plan(), a_job()
    lines = first_settings(job, plan.layout)
    counts = count_piece(plan.piece, plan.layout, plan.joins, plan.order, lines, job.bench)
    (group,) = counts.groups
    assert (group.rings, group.joins_beforehand, group.joins_in_place) == (30, 5, 25)
    assert group.links == 29
    assert group.mandrel_mm == 3.9
    assert (counts.quantity, counts.clasps, counts.weld_s) == (2, 1, 300.0)


def test_two_ring_sizes_are_two_groups_and_no_ring_is_lost(a_job):
    plan, job = a_plan(), a_job()
    layout = a_layout(second_wire_mm=0.8)
    lines = first_settings(job, layout)
    counts = count_piece(plan.piece, layout, plan.joins, plan.order, lines, job.bench)
    assert sorted((g.wire_mm, g.rings) for g in counts.groups) == [(0.8, 10), (1.0, 20)]
    assert sum(g.joins_beforehand for g in counts.groups) == 5
    assert [g.mandrel_mm for g in counts.groups if g.wire_mm == 0.8] == [None]


def test_without_an_order_the_time_is_handling_moving_and_one_turn(a_job):
    """25 joins at 6 s, twice 122 mm at 30 mm/s, 20 s, the return lead; 122 mm are three clips."""
    plan, job = a_plan(), a_job()
    lines = first_settings(job, plan.layout)
    counts = count_piece(plan.piece, plan.layout, plan.joins, None, lines, job.bench)
    walked = 2 * 122 / 30 + 20
    assert counts.weld_s == pytest.approx(25 * (6 + 1) + walked)  # gripped with earthed tweezers
    for way, lead_s in (("block", 0), ("clip", (2 * 3 - 1) * 10), ("tweezers", 25 * 1)):
        bench = replace(job.bench, lead=replace(job.bench.lead, return_lead=way))
        assert plain_weld_s(counts, bench) == pytest.approx(25 * 6 + walked + lead_s)


def test_the_whole_job_is_estimated(a_job):
    due = datetime.date(2027, 3, 8)
    estimates = estimate_job(a_job(), [a_plan(due=due), a_plan("other", 1)])
    assert isinstance(estimates, Estimates)
    assert set(estimates.figures) == {"", "chain", "other"}
    assert [line.piece for line in estimates.settings] == ["chain", "other"]
    assert [quote.piece for quote in estimates.quotes] == ["chain", "other"]
    assert estimates.cautions
    assert estimates.currency == "EUR"


def test_the_same_job_gives_the_same_estimates(a_job):
    plans = [a_plan(due=datetime.date(2027, 3, 4), quantity=20), a_plan("other", 1)]
    assert estimate_job(a_job(), plans) == estimate_job(a_job(), plans)


def test_an_interleaved_batch_takes_its_own_time_at_the_welder(a_job):
    plans = [a_plan(), a_plan("other", 1)]
    none = np.zeros(0)
    batch = BatchOrder(
        piece=(),
        copy=none.astype(np.int32),
        first_step=none.astype(np.int32),
        steps=none.astype(np.int32),
        start_s=none,
        bench_time_s=450.0,
        one_after_another_s=900.0,
        interleaved=True,
    )

    def welding_s(order):
        estimates = estimate_job(a_job(bench={"welder": {"regrind_min": 0.0}}), plans, order)
        return 60 * sum(t.usual_min for t in estimates.times if t.station == "weld")

    assert welding_s(None) == pytest.approx(900.0)
    assert welding_s(batch) == pytest.approx(450.0)
    assert welding_s(replace(batch, interleaved=False)) == pytest.approx(900.0)


def test_every_value_that_was_used_is_listed_with_its_source(a_job, a_piece):
    job = a_job(bench={"welder": {"flow_l_min": 6.5}})
    sources = {figure.key: figure for figure in estimate_counts(job, [a_piece()]).sources}
    assert sources["bench.welder.flow_l_min"].source == "set by the user"
    assert "invented" in sources["bench.welder.pulse_s"].source
    assert sources["metal.sterling-silver.density_g_cm3"].usual == 10.36
    assert "92.5 silver" in sources["metal.sterling-silver.density_g_cm3"].source
    assert sources["price.copper"].unit == "EUR/kg"
    assert all(figure.source for figure in sources.values())


def test_every_figure_says_what_it_was_computed_from(a_job, a_piece):
    for figures in estimate_counts(a_job(), [a_piece(list_price=Decimal(100))]).figures.values():
        for figure in figures:
            assert figure.basis, figure
            assert figure.source, figure


def test_loads_of_the_stations_add_up_to_the_bench_time(a_job, a_piece):
    estimates = estimate_counts(a_job(), [a_piece(), a_piece(piece="b", quantity=3)])
    figures = {figure.key: figure for figure in estimates.figures[""]}
    loads = sum(f.usual for key, f in figures.items() if key.startswith("load-"))
    assert loads == pytest.approx(figures["hours"].usual)


def test_the_cost_of_a_copy_has_the_range_of_the_hours(a_job, a_piece):
    estimates = estimate_counts(a_job(), [a_piece(quantity=2)])
    cost = next(f for f in estimates.figures["chain"] if f.key == "cost-each")
    assert cost.usual == pytest.approx(float(estimates.quotes[0].cost) / 2)
    assert cost.low < cost.usual < cost.high


def test_an_unknown_temper_is_warned_of(a_job, a_piece):
    job = a_job()
    estimates = estimate_counts(job, [a_piece(group={"metal": "titanium", "temper": "hard"})])
    assert any("yield strength in temper 'hard' is not known" in w for w in estimates.warnings)
