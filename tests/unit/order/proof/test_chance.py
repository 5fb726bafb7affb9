"""An order judged by chance: the surface against exact runs, the counts against their own draw."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.estimate import first_settings
from chainplan.heat.following.modes import find_modes, simulate_modes
from chainplan.model.order import Chance, LimitKind
from chainplan.order import find_order
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.chance import judge_by_chance, rise_grid, rise_surface
from chainplan.order.proof.verify import simulate_order
from chainplan.order.say.chances import NOT_BY_KERNELS, ONLY_IF_ASKED, say_chance
from chainplan.order.tuning import USUAL


@pytest.fixture(scope="module")
def looked_at(job, planned):
    """The chosen order as the planner sees it: situation and simulation in every corner."""
    bench = job.bench
    situation = take_stock(
        planned.layout, planned.joins, planned.heat,
        settings=[line.setting for line in first_settings(job, planned.layout)],
        pace=bench.pace, limits=bench.heat, seed=0,
    )  # fmt: skip
    seen = simulate_order(
        planned.layout, planned.joins, planned.heat, planned.order.ring, planned.order.start_s,
        pace=bench.pace, limits=bench.heat, corners=planned.heat.corners,
    )  # fmt: skip
    return situation, seen


def between(heat, name, links, loss):
    """Take a number of the network at levels between, each element in proportion."""
    by = {(item.links, item.loss): heat.networks[item.corner] for item in heat.grid}

    def mix(low, usual, high, level):
        end = high if level > 0 else low
        return usual * (end / usual) ** abs(level)

    if name == "pair_w_k":
        return mix(*(by[k, 1].pair_w_k for k in range(3)), links)
    return mix(*(by[1, k].loss_w_k for k in range(3)), loss)


def test_the_surface_is_within_some_kelvin_of_exact_runs_between_its_levels(looked_at):
    """Twelve draws of links and loss: warmest join and warmest part, by networks of their own."""
    situation, seen = looked_at
    heat = situation.heat
    names, grids = rise_grid(situation, seen)
    usual = heat.networks["usual"]
    share = next(item.arc_share for item in heat.grid if item.corner == "usual")
    node = heat.parts[0].node
    off = []
    for links, loss in np.random.default_rng(5).normal(0, 0.61, (12, 2)):
        network = replace(
            usual,
            pair_w_k=between(heat, "pair_w_k", links, loss),
            loss_w_k=between(heat, "loss_w_k", links, loss),
        )
        run = simulate_modes(network, find_modes(network), seen.ring, seen.start_s)
        exact = {
            LimitKind.INTERPASS: run.before_c.max(),
            LimitKind.PART: run.peak_c[[part.node for part in heat.parts]].max(),
        }
        assert run.peak_c[node] > 30
        for (kind, _, _), grid in zip(names, grids, strict=True):
            if kind in exact:
                told = share * rise_surface(grid, np.array([links]), np.array([loss]))[0]
                off.append(told - (exact[kind] - usual.ambient_c))
    assert len(off) == 24
    assert np.abs(off).max() < 2.5
    assert np.abs(off).mean() < 1.0


def test_a_reserve_in_chance_is_kept_by_the_order_and_told(job, planned):
    """Asked for more than the bad end leaves: other pauses, and the samples agree."""
    bench = job.bench
    kwargs = {
        "settings": [line.setting for line in first_settings(job, planned.layout)],
        "pace": bench.pace,
    }
    three = (planned.layout, planned.joins, planned.heat)
    before = planned.order.chance.keeps_all
    wanted = np.ceil(1000 * before + 5) / 10
    assert before < wanted / 100 < 1
    limits = replace(bench.heat, reserve_percent=wanted)
    order = find_order(*three, **kwargs, limits=limits)
    assert order.chance.keeps_all >= order.chance.asked == pytest.approx(wanted / 100)
    assert order.bench_time_s >= planned.order.bench_time_s - 30
    assert any(f"you asked for {wanted:g}." in text for text in order.advice)
    again = find_order(*three, **kwargs, limits=replace(limits, reserve_percent=90.0))
    plain = find_order(*three, **kwargs, limits=bench.heat)
    assert again.ring.tolist() == plain.ring.tolist()  # the bad end leaves more already
    assert again.start_s.tolist() == plain.start_s.tolist()


def test_a_reserve_that_no_order_reaches_is_said_to_be_missed():
    chance = Chance(runs=2000, keeps_all=0.981, by_limit=(), decides="links", asked=0.999)
    assert say_chance(chance) == [
        "Only 98.1 in 100 plausible benches, drawn by chance, keep every limit; you asked for "
        "99.9, which no order tried reaches. What decides is how well rings conduct into each "
        "other: measure it (chainplan calibrate)."
    ]


def test_at_its_own_levels_the_surface_is_the_simulation(looked_at):
    situation, seen = looked_at
    names, grids = rise_grid(situation, seen)
    for item in situation.heat.grid:
        at = (np.array([item.links - 1.0]), np.array([item.loss - 1.0]))
        told = 21.0 + item.arc_share * rise_surface(grids[0], *at)[0]
        if item.corner in seen.runs:
            assert told == pytest.approx(seen.runs[item.corner].before_c.max(), abs=1e-6)
    assert names[0][0] is LimitKind.INTERPASS


def test_the_same_seed_gives_the_same_chance_and_another_nearly_the_same(looked_at):
    situation, seen = looked_at
    first, again = (judge_by_chance(situation, seen) for _ in range(2))
    other = judge_by_chance(replace(situation, seed=3), seen)
    assert first == again
    assert first != other
    assert first.keeps_all == pytest.approx(other.keeps_all, abs=0.03)


def test_a_limit_at_the_median_is_kept_by_half_of_the_benches(looked_at):
    """The usual values are medians; a limit at the usual temperature divides them."""
    situation, seen = looked_at
    usual_c = judge_by_chance(situation, seen).by_limit[0].usual_c
    tight = replace(situation.limits, highest_interpass_c=usual_c)
    found = judge_by_chance(replace(situation, limits=tight), seen)
    assert found.by_limit[0].kept == pytest.approx(0.5, abs=0.08)
    assert found.keeps_all <= found.by_limit[0].kept
    assert sum(sway.share for sway in found.by_limit[0].sways) == pytest.approx(1)
    arc = next(sway for sway in found.by_limit[0].sways if sway.number == "arc share")
    rise = usual_c - 21.0
    assert (arc.low_k, arc.high_k) == pytest.approx((-rise / 3, rise / 3), rel=1e-6)


def test_nothing_moves_a_temperature_that_is_the_same_on_every_bench(looked_at):
    """Runs that are at room temperature but for some thousandths of a kelvin."""
    situation, seen = looked_at
    names, grids = rise_grid(situation, seen)
    scatter = np.random.default_rng(3).uniform(0, 0.003, (3, 3))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "chainplan.order.proof.chance.rise_grid", lambda *_: (names, [scatter, *grids[1:]])
        )
        found = judge_by_chance(situation, seen)
    assert found is not None
    assert [sway.share for sway in found.by_limit[0].sways] == [0, 0, 0]
    assert sum(sway.share for sway in found.by_limit[1].sways) == pytest.approx(1)


def test_a_limit_that_is_set_aside_does_not_count_among_those_kept(looked_at):
    from chainplan.model.order import SetAside

    situation, seen = looked_at
    tight = replace(situation.limits, highest_interpass_c=22.0)
    aside = SetAside(kind=LimitKind.INTERPASS, name="interpass", limit_c=22.0, proved=False)
    found = judge_by_chance(replace(situation, limits=tight, set_aside=(aside,)), seen)
    assert found.by_limit[0].kept < 0.1
    assert found.keeps_all > 0.9


def test_the_order_carries_it_and_one_sentence_says_it(planned):
    chance = planned.order.chance
    assert chance is not None
    assert {item.name for item in chance.by_limit} >= {"interpass", "spring clasp"}
    assert sum("plausible benches" in text for text in planned.order.advice) == 1


def test_the_sentence_names_what_decides_and_how_to_measure_it():
    chance = Chance(runs=2000, keeps_all=0.973, by_limit=(), decides="links")
    (said,) = say_chance(chance)
    assert said.startswith("97 in 100 plausible benches")
    assert "how well rings conduct" in said
    assert "chainplan calibrate" in said
    assert "all but one in a thousand" in say_chance(replace(chance, keeps_all=1.0))[0]
    assert say_chance(None, ONLY_IF_ASKED) == [ONLY_IF_ASKED]
    assert "--effort thorough" in ONLY_IF_ASKED
    assert say_chance(None) == []


def test_a_piece_whose_heat_is_summed_says_that_chance_was_not_reckoned(make):
    """Nothing is left out without a word."""
    clock = replace(USUAL.clock, most_exact_nodes=10, most_exact_joins=10)
    piece = make.piece(make.chain(12))
    order = find_order(*piece.three, **piece.kwargs, tuning=replace(USUAL, clock=clock))
    assert order.chance is None
    assert NOT_BY_KERNELS in order.advice
