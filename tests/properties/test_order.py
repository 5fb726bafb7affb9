"""Orders of up to seven joins against every order there is, on random small pieces."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.model.bench.groups import LeadSettings
from chainplan.model.kinds import ReturnLead
from chainplan.order import find_order, verify_order
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.clock.protocol import settle
from chainplan.order.clock.solved import solve_modes
from chainplan.order.pattern.plain import alternating_ends, end_to_end, random_order
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.bound import bound_bench_time
from chainplan.order.search.exact import find_best_of_all
from chainplan.order.tuning import USUAL

_BUILDERS = Path(__file__).parents[1] / "unit" / "order" / "conftest.py"
_SPEC = importlib.util.spec_from_file_location("order_builders", _BUILDERS)
make = importlib.util.module_from_spec(_SPEC)
__import__("sys").modules["order_builders"] = make
_SPEC.loader.exec_module(make)


SUMMED = replace(USUAL, clock=replace(USUAL.clock, most_exact_joins=0))
"""As large pieces are planned."""


@st.composite
def small_pieces(draw, largest=6):
    """A piece of a few rings: linked at random, on one or two faces, with or without a spring."""
    count = draw(st.integers(2, largest))
    every = [(i, j) for i in range(count) for j in range(i + 1, count)]
    links = draw(st.lists(st.sampled_from(every), unique=True, max_size=2 * count))
    gaps = draw(st.lists(st.integers(1, 40), min_size=count, max_size=count))
    place = np.column_stack([np.cumsum(gaps), np.zeros(count)])
    layout = make.make_layout(place, sorted(links), [0] * count, list(range(count)))
    parts = ()
    if draw(st.booleans()):
        parts = (("spring", draw(st.integers(0, count - 1)), draw(st.sampled_from([60, 90])), 0.1),)
    return make.make_piece(
        layout,
        limit_c=draw(st.sampled_from([32.0, 45.0, 60.0, 200.0])),
        handle_s=draw(st.sampled_from([2.0, 5.0, 12.0])),
        held=draw(st.booleans()),
        face=draw(st.lists(st.integers(0, 1), min_size=count, max_size=count)),
        heat_j=draw(st.sampled_from([2.0, 6.0])),
        parts=parts,
    )


@given(small_pieces())
@settings(max_examples=40)
def test_bound_is_below_the_brute_force_optimum_and_that_below_every_heuristic(piece):
    """LB ≤ best of all orders ≤ patterns, end to end, random, alternating ends."""
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    work = clock.situation.work
    every = np.asarray(list(permutations(range(work.joins))), dtype=np.int32)
    bare = solve_modes(work, clock.caps(), None, np.inf)
    exact = time_by_modes(bare, work, every)
    bound = sum(bound_bench_time(work, clock.caps()).values())
    if not exact.feasible.any():
        return
    optimum = exact.bench_s[exact.feasible].min()
    assert bound <= optimum + 1e-6
    with_margin = time_by_modes(clock.follower, work, every)
    best = with_margin.bench_s[with_margin.feasible].min()
    for order in (
        end_to_end(clock.situation.grid, work),
        random_order(work, 1),
        alternating_ends(clock.situation.grid, work),
    ):
        assert settle(clock, order).bench_s >= best - 1e-6
    order = find_order(*piece.three, **piece.kwargs)
    if order.status != "infeasible":
        assert order.bench_time_s >= order.free_time_s - 1e-6
        assert order.free_time_s >= bound - 1e-6


@given(small_pieces(largest=5))
@settings(max_examples=40)
def test_exact_search_equals_brute_force(piece):
    """Nothing that could be better is dropped."""
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    work, modes = clock.situation.work, clock.follower
    every = np.asarray(list(permutations(range(work.joins))), dtype=np.int32)
    timed = time_by_modes(modes, work, every)
    start = np.arange(work.joins, dtype=np.int32)
    found, exact = find_best_of_all(work, modes, start, most_looks=10**6)
    assert exact == timed.feasible.any()
    if exact:
        best = timed.bench_s[timed.feasible].min()
        assert abs(settle(clock, found).bench_s - best) < 1e-6


@given(small_pieces(largest=9))
@settings(max_examples=40)
def test_found_orders_are_permutations_that_the_verifier_passes(piece):
    """Every join once, every limit kept, by the network's own exact solution."""
    order = find_order(*piece.three, **piece.kwargs)
    assert sorted(order.ring.tolist()) == list(range(piece.layout.rings))
    if order.status != "infeasible":
        assert verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs) == ()
    again = find_order(*piece.three, **piece.kwargs)
    assert again.ring.tolist() == order.ring.tolist()
    assert again.start_s.tolist() == order.start_s.tolist()


@st.composite
def leads(draw):
    """A return lead: its way, the clip's reach, what moving and gripping take."""
    return LeadSettings(
        return_lead=draw(st.sampled_from(["", *ReturnLead])),
        clip_reach_mm=float(draw(st.integers(2, 60))),
        clip_reach_contacts=draw(st.sampled_from([0, 0, 1, 2])),
        clip_move_s=draw(st.sampled_from([0.0, 3.0, 20.0])),
        tweezers_s=draw(st.sampled_from([0.0, 1.0, 4.0])),
    )


@given(small_pieces(largest=8), leads())
@settings(max_examples=40)
def test_orders_with_a_return_lead_pass_the_verifier(piece, lead):
    """Reach, moves, pace and limits, measured by themselves; nobody beats the bound."""
    order = find_order(*piece.three, **piece.kwargs, lead=lead)
    earthing = order.earthing
    assert earthing.way == lead.return_lead or not lead.return_lead
    assert earthing.way is not ReturnLead.BLOCK or lead.return_lead
    if order.status != "infeasible":
        how = {"lead": lead, "way": earthing.way, "clip_ring": earthing.clip_ring}
        args = (*piece.three, order.ring, order.start_s)
        assert verify_order(*args, **piece.kwargs, **how) == ()
        assert order.lower_bound_s <= order.bench_time_s + 1e-6


@st.composite
def beset_pieces(draw):
    """A few rings and limits that may be impossible: parts, fingers, the ring's own, in any mix."""
    count = draw(st.integers(2, 9))
    place = np.column_stack(
        [np.arange(count) * draw(st.sampled_from([4.5, 12.0])), np.zeros(count)]
    )
    layout = make.make_layout(
        place, [(k, k + 1) for k in range(count - 1)], [0] * count, list(range(count))
    )
    parts = draw(
        st.lists(
            st.tuples(
                st.sampled_from(["glue", "spring", "opal"]),
                st.integers(0, count - 1),
                st.sampled_from([19.0, 21.0, 21.4, 24.0, 40.0, 75.0, 130.0]),
                st.sampled_from([0.01, 0.1, 1.0]),
            ),
            max_size=3,
            unique_by=lambda part: part[0],
        )
    )
    piece = make.make_piece(
        layout,
        limit_c=draw(st.sampled_from([0.0, 15.0, 21.0, 23.0, 60.0])),
        held=draw(st.booleans()),
        sides=draw(st.sampled_from([1, 2])),
        heat_j=draw(st.sampled_from([0.5, 3.0, 9.0])),
        parts=tuple(parts),
    )
    finger_c = draw(st.sampled_from([30.0, 33.0, 48.0]))
    reserve_k = draw(st.sampled_from([0.0, 0.0, 5.0]))
    limits = replace(piece.limits, finger_limit_c=finger_c, reserve_k=reserve_k)
    return piece.replace(limits=limits)


@given(beset_pieces(), st.sampled_from([USUAL, SUMMED]))
@settings(max_examples=40)
def test_a_limit_is_kept_or_set_aside_by_name_whatever_the_others_ask(piece, tuning):
    """Of any mix of limits, possible or not, none is dropped with another that cannot be kept."""
    order = find_order(*piece.three, **piece.kwargs, tuning=tuning)
    assert sorted(order.ring.tolist()) == list(range(piece.layout.rings))
    wrong = verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs)
    aside = {(str(item.kind), item.name) for item in order.set_aside}
    assert {(str(item.kind), item.limit) for item in wrong} <= aside
    assert (order.status == "infeasible") == bool(aside)
    for item in order.set_aside:
        named = f"{item.name} ({item.limit_c:.0f} °C)"
        assert named in order.gained[0]
        if item.proved and item.kind == "part":  # one weld, or none at all, is above it by itself
            (part,) = [part for part in piece.heat.parts if part.name == item.name]
            times = np.geomspace(0.01, 400.0, 300)
            peak = max(
                piece.heat.rise("high", [ring], [0.0], times)[:, part.node].max()
                for ring in range(piece.layout.rings)
            )
            base = piece.heat.networks["high"].base_c[part.node]
            assert base + peak > part.limit_c - 0.05
    kept = [item for item in order.limits if (str(item.kind), item.name) not in aside]
    assert all(item.holds for item in kept)
    assert np.isfinite(order.start_s).all()


def fewest_moves(layout, ring, lead):
    """Moves of a clip that follows an order as cleverly as can be: late, onto the best ring."""
    place = layout.centre_mm[:, :2]
    reaches = np.linalg.norm(place[ring][:, None] - place[None], axis=2) <= lead.clip_reach_mm
    if lead.clip_reach_contacts:
        beside = np.eye(len(place), dtype=int)
        beside[layout.links[:, 0], layout.links[:, 1]] = 1
        beside[layout.links[:, 1], layout.links[:, 0]] = 1
        reaches &= np.linalg.matrix_power(beside, lead.clip_reach_contacts)[ring] > 0
    reaches[np.arange(len(ring)), ring] = True
    moves, able = 0, np.ones(len(place), dtype=bool)
    for row in reaches:
        moves, able = (moves, able & row) if (able & row).any() else (moves + 1, row)
    return moves


@given(small_pieces(), leads())
@settings(max_examples=40)
def test_bound_with_a_clip_is_below_every_order_and_every_way_of_placing_it(piece, lead):
    """Not only below the orders with the places that the planner chose."""
    situation = take_stock(*piece.three, **piece.kwargs, seed=0, lead=lead, way=ReturnLead.CLIP)
    bare = take_stock(*piece.three, **piece.kwargs, seed=0).work
    bound = sum(bound_bench_time(situation.work, ()).values())
    for order in permutations(range(bare.joins)):
        one = np.asarray(order, dtype=np.int32)
        plain_s = bare.bench_s(one, np.cumsum(bare.gaps_s(one)))
        moves = fewest_moves(piece.layout, bare.ring[one], lead)
        assert bound <= plain_s + lead.clip_move_s * moves + 1e-6
        assert moves <= situation.work.clip_moves(one)
