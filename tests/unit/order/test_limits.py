"""Limits that cannot be kept are set aside by name, and every other limit holds."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

from chainplan.model.order import LimitKind, OrderStatus, ViolationKind
from chainplan.model.thermal.heat import RingLimit
from chainplan.order import find_order, verify_order
from chainplan.order.tuning import USUAL
from chainplan.units import show_duration

SUMMED = replace(USUAL, clock=replace(USUAL.clock, most_exact_joins=0))
CLOCKS = pytest.mark.parametrize("tuning", [USUAL, SUMMED], ids=["exact", "summed"])


def plan(piece, tuning):
    return find_order(*piece.three, **piece.kwargs, tuning=tuning)


def violations(piece, order):
    return verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs)


def floats_in(value):
    """Every number of a result, however deep."""
    if is_dataclass(value):
        for item in fields(value):
            yield from floats_in(getattr(value, item.name))
    elif isinstance(value, dict):
        for item in value.values():
            yield from floats_in(item)
    elif isinstance(value, tuple | list):
        for item in value:
            yield from floats_in(item)
    elif isinstance(value, float | np.ndarray):
        yield from np.atleast_1d(np.asarray(value)).ravel().tolist()


@CLOCKS
def test_a_part_that_no_order_spares_is_set_aside_and_all_else_is_kept(make, tuning):
    """Twenty rings on a clasp that one weld spoils: ring and fingers still keep their limits."""
    piece = make.piece(make.pairs(15), limit_c=50.0, held=True, parts=(("clasp", 0, 24.0, 0.05),))
    without = replace(piece, heat=make.heat(piece.layout))
    order, other = plan(piece, tuning), plan(without, tuning)
    assert order.status is OrderStatus.INFEASIBLE
    assert [(item.kind, item.name, item.limit_c, item.proved) for item in order.set_aside] == [
        (LimitKind.PART, "clasp", 24.0, True)
    ]
    assert {item.kind for item in violations(piece, order)} == {ViolationKind.PART}
    holds = {check.name: check.holds for check in order.limits}
    assert holds == {"interpass": True, "fingers": True, "clasp": False}
    assert order.bench_time_s == pytest.approx(other.bench_time_s, rel=0.2)
    assert order.gained[0].startswith("No order keeps the limit for clasp (24 °C): it is set aside")
    assert order.advice[0].startswith("clasp: one weld at ring")
    assert not any(item.feasible for item in order.comparisons)
    assert all("clasp" in item.note for item in order.comparisons)


@CLOCKS
def test_a_part_that_can_be_spared_keeps_its_limit_beside_one_that_cannot(make, tuning):
    """Set aside by name: the spring at the other end is still watched."""
    piece = make.piece(
        make.chain(16),
        limit_c=200.0,
        parts=(("glue", 0, 23.0, 0.05), ("spring", 15, 60.0, 0.05)),
    )
    order = plan(piece, tuning)
    assert [item.name for item in order.set_aside] == ["glue"]
    holds = {check.name: check.holds for check in order.limits}
    assert holds == {"interpass": True, "glue": False, "spring": True}
    ends = next(item for item in order.comparisons if item.name == "end to end")
    assert ends.wait_s > 0  # for the spring


@CLOCKS
def test_a_limit_below_the_room_is_set_aside_and_the_fingers_are_still_kept(make, tuning):
    """No wait cools a piece below the room; fingers can be kept all the same."""
    piece = make.piece(make.pairs(15), limit_c=20.0, held=True)
    order = plan(piece, tuning)
    assert [item.key for item in order.set_aside] == [(LimitKind.INTERPASS, "interpass")]
    holds = {check.name: check.holds for check in order.limits}
    assert holds == {"interpass": False, "fingers": True}
    assert "not above the piece's temperature without any weld" in order.advice[0]


@CLOCKS
def test_fingers_below_the_room_are_set_aside_and_the_rings_are_still_kept(make, tuning):
    """A room of 31 °C and fingers that bear 30: tweezers, and the welds in their limit."""
    piece = make.piece(make.pairs(15), limit_c=60.0, held=True)
    for network in piece.heat.networks.values():
        network.base_c[:] = 31.0
    piece = replace(piece, limits=replace(piece.limits, finger_limit_c=30.0))
    order = plan(piece, tuning)
    assert [item.key for item in order.set_aside] == [(LimitKind.FINGERS, "fingers")]
    holds = {check.name: check.holds for check in order.limits}
    assert holds == {"interpass": True, "fingers": False}
    assert "use tweezers" in order.advice[0]


@CLOCKS
def test_what_no_order_tried_keeps_is_not_called_proved(make, tuning):
    """One weld stays a hundredth of a kelvin below the limit: no waiting is found that does."""
    piece = make.piece(make.chain(10), limit_c=200.0, parts=(("spring", 4, 60.0, 0.05),))
    times = np.arange(0.25, 300.0, 0.25)
    peak = max(piece.heat.rise("high", [k], [0.0], times)[:, 10].max() for k in range(10))
    part = replace(piece.heat.parts[0], limit_c=float(21.0 + peak + 0.01))
    order = plan(replace(piece, heat=replace(piece.heat, parts=(part,))), tuning)
    assert [(item.name, item.proved) for item in order.set_aside] == [("spring", False)]
    assert order.status is OrderStatus.INFEASIBLE
    assert order.gained[0].startswith("No order tried keeps the limit for spring")
    assert any("Patience alone" in text for text in order.advice)


@CLOCKS
@pytest.mark.parametrize("rings", [1, 3, 8])
def test_a_piece_shorter_than_the_hold_distance_has_no_number_missing(make, rings, tuning):
    """Fingers reach no place at all, or only from some joins: nothing is NaN or infinite."""
    piece = make.piece(make.chain(rings), held=True, parts=(("clasp", 0, 90.0, 0.1),))
    order = plan(piece, tuning)
    numbers = list(floats_in(order))
    assert len(numbers) > 5 * rings
    assert np.isfinite(numbers).all()
    held = "fingers" in {check.name for check in order.limits}
    assert held == ("fingers" in order.trace_c) == (rings == 8)
    assert order.set_aside == ()


def test_the_kinds_and_statuses_are_written_as_they_always_were():
    """Files keep their words."""
    assert [str(item) for item in OrderStatus] == ["complete", "no limit binds", "infeasible"]
    assert f"{OrderStatus.COMPLETE}" == "complete"
    assert [str(item) for item in LimitKind] == [
        "interpass", "metal", "even welds", "fingers", "part",
    ]  # fmt: skip
    assert {str(item) for item in LimitKind} < {str(item) for item in ViolationKind}


def even(piece, limit_c, rings=slice(None), name="even welds, silver"):
    """Limit of some rings of a piece before their welds, as the heat stage would list it."""
    limits = np.full(piece.layout.rings, np.inf)
    limits[rings] = limit_c
    return RingLimit(kind=LimitKind.SAMENESS, name=name, limit_c=limits, why="one setting for all")


@CLOCKS
def test_each_ring_keeps_the_least_of_its_own_limits(make, tuning):
    """Half of a strip may be 32 °C warm, the other half 90: each keeps its own."""
    piece = make.piece(make.pairs(20), limit_c=0.0)
    tight, wide = slice(0, 20), slice(20, 40)
    limits = (even(piece, 32.0, tight), even(piece, 90.0, wide, "even welds, copper"))
    piece = replace(piece, heat=replace(piece.heat, ring_limits=limits))
    order = plan(piece, tuning)
    assert order.set_aside == ()
    assert violations(piece, order) == ()
    warm = dict(zip(order.ring.tolist(), order.interpass_high_c.tolist(), strict=True))
    assert max(warm[ring] for ring in range(20)) <= 32.05
    told = {check.name: (check.kind, check.limit_c, check.holds) for check in order.limits}
    assert told == {
        "even welds, silver": (LimitKind.SAMENESS, 32.0, True),
        "even welds, copper": (LimitKind.SAMENESS, 90.0, True),
    }
    assert (order.ring_limit_c[tight] == 32.0).all()
    assert (order.ring_limit_c[wide] == 90.0).all()
    ends, start_s = np.arange(40), np.arange(1, 41) * 5.0
    before = piece.heat.simulate("high", ends, start_s).before_c
    early = verify_order(*piece.three, ends, start_s, **piece.kwargs)
    for name, rings, limit_c in (("silver", tight, 32.0), ("copper", wide, 90.0)):
        over = np.flatnonzero(before[rings] > limit_c) + rings.start
        assert over.size > 0
        assert [v.ring for v in early if v.limit == f"even welds, {name}"] == over.tolist()


@CLOCKS
def test_without_any_limit_nobody_waits(make, tuning):
    """No limit of the user's own by default, and a metal that asks for none."""
    order = plan(make.piece(make.pairs(20), limit_c=0.0), tuning)
    assert order.limits == ()
    assert order.wait_s.sum() == 0
    assert order.status is OrderStatus.NO_LIMIT_BINDS
    assert np.isinf(order.ring_limit_c).all()


@CLOCKS
def test_every_wait_names_the_limit_that_asks_for_it(make, tuning):
    """Taken some seconds sooner (margins are kept back), each breaks the limit that it names."""
    piece = make.piece(make.pairs(12), limit_c=0.0, held=True)
    piece = replace(piece, heat=replace(piece.heat, ring_limits=(even(piece, 60.0),)))
    order = plan(piece, tuning)
    waits = np.flatnonzero(order.wait_s > 0)
    assert waits.size > 3
    assert (order.wait_limit[order.wait_s == 0] == -1).all()
    names = {order.limits[k].name for k in order.wait_limit[waits].tolist()}
    assert names <= {"even welds, silver", "fingers"}
    for step in waits.tolist():
        sooner = order.start_s.copy()
        sooner[step:] -= 4.0 if tuning is SUMMED else 1.5
        broken = {item.limit for item in violations_at(piece, order.ring, sooner, step)}
        assert order.limits[order.wait_limit[step]].name in broken
    for work in order.passes:
        assert sum(work.wait_for.values()) == pytest.approx(work.wait_s)


def violations_at(piece, ring, start_s, step):
    found = verify_order(*piece.three, ring, start_s, **piece.kwargs)
    return [item for item in found if item.step == step]


@CLOCKS
def test_a_wait_for_a_part_names_the_part(make, tuning):
    """A spring on a chain that end to end brings above its limit, and no other limit."""
    piece = make.piece(make.chain(16), limit_c=0.0, parts=(("spring", 15, 60.0, 0.05),))
    order = plan(piece, tuning)
    waits = order.wait_s > 0
    assert {order.limits[k].name for k in order.wait_limit[waits].tolist()} <= {"spring"}


def test_a_reserve_is_kept_below_the_limits_of_rings_and_fingers(make):
    """Five kelvin more to spare, by the simulation, and told as such."""
    piece = make.piece(make.pairs(20), limit_c=60.0, held=True, sides=1)
    limits = replace(piece.limits, reserve_k=5.0)
    order = find_order(*piece.three, **{**piece.kwargs, "limits": limits})
    plain = find_order(*piece.three, **piece.kwargs)
    checks = {check.name: check for check in order.limits}
    assert order.interpass_high_c.max() <= 55.05
    assert plain.interpass_high_c.max() > 55.05
    assert checks["interpass"].limit_c == 55.0
    assert checks["fingers"].limit_c == piece.limits.finger_limit_c - 5.0
    assert "5 K in reserve" in checks["fingers"].why
    assert order.bench_time_s >= plain.bench_time_s


def test_the_plan_says_what_the_user_s_own_limit_costs(make):
    """At least: what it takes with the limit, less what the same or end to end takes without."""
    piece = make.piece(make.pairs(12), limit_c=60.0)
    order = find_order(*piece.three, **piece.kwargs)
    free = replace(piece.limits, highest_interpass_c=0.0)
    without = find_order(*piece.three, **{**piece.kwargs, "limits": free})
    assert order.advice[-1].startswith("Your own limit before a weld (60 °C) costs at least ")
    assert f"instead of {show_duration(order.bench_time_s)}." in order.advice[-1]
    assert order.bench_time_s > without.bench_time_s + 1
    wide = replace(piece.limits, highest_interpass_c=400.0)
    calm = find_order(*piece.three, **{**piece.kwargs, "limits": wide})
    assert calm.advice[-1] == "Your own limit before a weld (400 °C) costs nothing here."
    assert not any("own limit" in text for text in without.advice)
