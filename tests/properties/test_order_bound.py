"""The proved bound against every order there is, on random small pieces with random limits."""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass, replace
from itertools import permutations
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from threadpoolctl import threadpool_limits

from chainplan.model.bench.groups import LeadSettings
from chainplan.model.kinds import ReturnLead
from chainplan.order.clock.exact import ExactClock, make_exact_clock
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.clock.solved import solve_modes
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.bound import bound_bench_time
from chainplan.order.search.exact import find_best_of_all

_BUILDERS = Path(__file__).parents[1] / "unit" / "order" / "conftest.py"
_SPEC = importlib.util.spec_from_file_location("order_builders", _BUILDERS)
make = importlib.util.module_from_spec(_SPEC)
__import__("sys").modules["order_builders"] = make
_SPEC.loader.exec_module(make)

CORNERS = {"low": (0.67, 1.3), "usual": (1.0, 1.0), "high": (1.33, 0.7)}


@dataclass(frozen=True)
class Drawn:
    """A piece in a form that can be numbered anew, turned round, and given other limits."""

    x_mm: tuple[float, ...]
    y_mm: tuple[float, ...]
    links: tuple[tuple[int, int], ...]
    face: tuple[int, ...]
    heat_j: float
    handle_s: float
    ring_c: float
    finger_c: float | None  # None: no fingers hold
    sides: int
    part_ring: int | None
    part_c: float
    reach_mm: float | None  # of the clip; None: no clip

    def clock(self) -> ExactClock:
        """Make the piece, and a clock for it."""
        count = len(self.x_mm)
        place = np.column_stack([self.x_mm, self.y_mm])
        links = sorted(tuple(sorted(pair)) for pair in self.links)
        layout = make.make_layout(place, links, [0] * count, list(range(count)))
        parts = () if self.part_ring is None else (("spring", self.part_ring, self.part_c, 0.1),)
        piece = make.make_piece(
            layout,
            limit_c=self.ring_c,
            handle_s=self.handle_s,
            held=self.finger_c is not None,
            sides=self.sides,
            face=list(self.face),
            heat_j=self.heat_j,
            parts=parts,
            corners=CORNERS,
        )
        limits = replace(piece.limits, finger_limit_c=self.finger_c or 48.0)
        lead = None if self.reach_mm is None else LeadSettings(clip_reach_mm=self.reach_mm)
        way = ReturnLead.BLOCK if lead is None else ReturnLead.CLIP
        kwargs = {**piece.kwargs, "limits": limits, "lead": lead, "way": way}
        return make_exact_clock(take_stock(*piece.three, **kwargs, seed=0))

    def renumbered(self, new: list[int]) -> Drawn:
        """Give the ring ``new[k]`` the number k."""
        at = {old: number for number, old in enumerate(new)}
        return replace(
            self,
            x_mm=tuple(self.x_mm[old] for old in new),
            y_mm=tuple(self.y_mm[old] for old in new),
            links=tuple((at[i], at[j]) for i, j in self.links),
            face=tuple(self.face[old] for old in new),
            part_ring=None if self.part_ring is None else at[self.part_ring],
        )


@st.composite
def drawn_pieces(draw, largest=6, clip=True):
    """Rings linked at random, so far apart that fingers find some of them in reach."""
    count = draw(st.integers(2, largest))
    every = [(i, j) for i in range(count) for j in range(i + 1, count)]
    chain = [(i, i + 1) for i in range(count - 1)] if draw(st.booleans()) else []
    links = set(chain) | set(draw(st.lists(st.sampled_from(every), unique=True, max_size=count)))
    gaps = draw(st.lists(st.integers(2, 14), min_size=count, max_size=count))
    part = draw(st.booleans())
    return Drawn(
        x_mm=tuple(float(x) for x in np.cumsum(gaps)),
        y_mm=tuple(
            float(y) for y in draw(st.lists(st.integers(0, 6), min_size=count, max_size=count))
        ),
        links=tuple(sorted(links)),
        face=tuple(draw(st.lists(st.integers(0, 1), min_size=count, max_size=count))),
        heat_j=draw(st.sampled_from([1.0, 2.0, 6.0])),
        handle_s=draw(st.sampled_from([2.0, 5.0, 12.0])),
        ring_c=draw(st.sampled_from([28.0, 45.0, 70.0, 200.0])),
        finger_c=draw(st.sampled_from([None, 30.0, 36.0, 48.0, 60.0])),
        sides=draw(st.sampled_from([1, 2])),
        part_ring=draw(st.integers(0, count - 1)) if part else None,
        part_c=draw(st.sampled_from([40.0, 60.0, 90.0])),
        reach_mm=draw(st.sampled_from([None, None, 4.0, 30.0])) if clip else None,
    )


def bound_of(clock: ExactClock) -> float:
    """Everything that the plan's bound counts."""
    situation = clock.situation
    parts = bound_bench_time(
        situation.work,
        clock.caps(),
        situation.tuning.proof,
        hold=clock.hold,
        finger_c=situation.limits.kept_finger_c,
    )
    return sum(parts.values())


def optimum_of(clock: ExactClock) -> float:
    """Time every order there is, each join as soon as all limits allow; inf if none keeps them."""
    work, limit_c = clock.situation.work, clock.situation.limits.kept_finger_c
    modes = solve_modes(work, clock.caps(), clock.hold, limit_c)
    every = np.asarray(list(permutations(range(work.joins))), dtype=np.int32)
    timed = time_by_modes(modes, work, every)
    return float(np.where(timed.feasible, timed.bench_s, np.inf).min())


@given(drawn_pieces())
@settings(max_examples=60)
def test_no_order_of_all_there_are_undercuts_the_bound(piece):
    """Fingers on either or both sides, clip, parts, limits before a weld."""
    clock = piece.clock()
    assert bound_of(clock) <= optimum_of(clock) + 1e-6


@given(drawn_pieces())
@settings(max_examples=40)
def test_the_exact_search_misses_no_better_order_whatever_holds_the_piece(piece):
    """The same time as the best of all orders, timed one by one."""
    clock = piece.clock()
    work, limit_c = clock.situation.work, clock.situation.limits.kept_finger_c
    modes = solve_modes(work, clock.caps(), clock.hold, limit_c)
    start = np.arange(work.joins, dtype=np.int32)
    found, proved = find_best_of_all(work, modes, start, most_looks=10**6)
    best_s = optimum_of(clock)
    if proved:
        assert abs(time_by_modes(modes, work, found).bench_s[0] - best_s) < 1e-6
    elif np.isfinite(best_s):
        every_second = bool((np.diff(modes.wait_s, prepend=0.0) <= 1.0).all())
        assert not every_second


@given(drawn_pieces(), st.sampled_from([1.0, 4.0, 15.0]))
@settings(max_examples=40)
def test_wider_limits_never_raise_the_bound(piece, more_k):
    """But for the second to which it is reckoned."""
    wider = replace(
        piece,
        ring_c=piece.ring_c + more_k,
        finger_c=None if piece.finger_c is None else piece.finger_c + more_k,
        part_c=piece.part_c + more_k,
    )
    before = piece.clock()
    if np.isfinite(optimum_of(before)):  # where no order keeps the limits there is no bound
        assert bound_of(wider.clock()) <= bound_of(before) + 1.0


@given(drawn_pieces(largest=8, clip=False), st.data())
@settings(max_examples=40)
def test_the_bound_does_not_depend_on_numbers_or_on_which_way_up_the_piece_lies(piece, data):
    """Rings numbered anew, and the piece turned round, to the second to which it is reckoned.

    Fingertips are counted off from the left end of a piece: turned end to end its patches lie
    elsewhere, so that is looked at without fingers.
    """
    here = bound_of(piece.clock())
    new = data.draw(st.permutations(range(len(piece.x_mm))))
    assert abs(bound_of(piece.renumbered(list(new)).clock()) - here) <= 1.0
    low, high = min(piece.y_mm), max(piece.y_mm)
    flipped = replace(piece, y_mm=tuple(low + high - y for y in piece.y_mm))
    assert abs(bound_of(flipped.clock()) - here) <= 1.0
    bare = replace(piece, finger_c=None)
    turned = replace(bare, x_mm=tuple(piece.x_mm[0] + piece.x_mm[-1] - x for x in piece.x_mm))
    assert abs(bound_of(turned.clock()) - bound_of(bare.clock())) <= 1.0


@given(drawn_pieces(largest=8))
@settings(max_examples=10)
def test_the_bound_is_the_same_on_one_core_and_on_many(piece):
    """To the last digit."""
    clock = piece.clock()
    with threadpool_limits(1):
        alone = bound_of(clock)
    with threadpool_limits(4):
        assert bound_of(piece.clock()) == alone
