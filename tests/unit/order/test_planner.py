"""The finished order: what it says, what it keeps, and that it can be had again."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.order import find_order, pace_start_s, verify_order
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.clock.protocol import settle
from chainplan.order.pattern.passes import lay_out_passes, order_of
from chainplan.order.piece.situation import take_stock
from chainplan.order.search.choose import choose_followable, patterns_to_try
from chainplan.order.search.exact import find_best_of_all
from chainplan.order.tuning import USUAL


def plan(piece, **more):
    return find_order(*piece.three, **piece.kwargs, **more)


@pytest.fixture(scope="module")
def strip(make):
    """A strip of a hundred rings that end to end has to wait for."""
    piece = make.piece(make.sheet(5, 20, form="strip"), limit_c=60.0)
    return piece, plan(piece)


def test_order_is_clean_by_the_independent_verifier(strip):
    """Re-simulated in the bad corner by the exact network, nothing is broken."""
    piece, order = strip
    assert verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs) == ()
    assert order.status == "complete"
    assert all(check.holds for check in order.limits)


def test_order_beats_end_to_end_under_the_same_limits(strip):
    """Narrow, dense, quick work: here the order is worth something."""
    _, order = strip
    rows = {item.name: item for item in order.comparisons}
    assert set(rows) == {"to follow", "free", "end to end", "alternating ends", "random"}
    assert rows["end to end"].wait_s > 60
    assert order.bench_time_s < rows["end to end"].bench_time_s - 60
    assert (
        rows["end to end"].warmest_without_waits_c > rows["to follow"].warmest_without_waits_c + 20
    )
    assert order.gap < 0.10
    assert order.free_time_s <= order.bench_time_s + 1e-9
    assert order.lower_bound_s == pytest.approx(sum(order.bound_parts.values()))


def test_passes_cover_the_order_and_add_up_to_the_bench_time(strip):
    """Each pass is a stretch of the arrays; their seconds are the whole job."""
    _, order = strip
    assert [item.number for item in order.passes] == list(range(1, len(order.passes) + 1))
    assert sum(item.joins for item in order.passes) == order.ring.size
    assert sum(item.seconds for item in order.passes) == pytest.approx(order.bench_time_s)
    for item in order.passes:
        stretch = order.pass_number[item.first_step : item.first_step + item.joins]
        assert (stretch == item.number).all()
        assert re.match(r"(front|back|edge), .*, \d+ joins?, .*\d+ (s|min|h)", item.text)


def test_no_text_shows_tenths_of_a_degree(make, strip):
    """The uncertainty is tens of kelvins: a decimal would be a lie."""
    piece = make.piece(make.pairs(8), limit_c=60.0, parts=(("clasp", 0, 25.0, 0.05),))
    bad = plan(piece)
    texts = [*strip[1].gained, *strip[1].advice, *bad.gained, *bad.advice]
    assert len(texts) > 6
    for text in texts:
        assert not re.search(r"\d\.\d", text), text


def test_with_no_limit_binding_the_plan_says_that_order_saves_no_time(make):
    """Slow work on a single chain: end to end is as good as any order."""
    piece = make.piece(make.chain(40), limit_c=150.0)
    order = plan(piece)
    assert order.status == "no limit binds"
    assert order.gained[0].startswith(
        "End to end keeps every limit without a pause, at the bad end"
    )
    assert [item.text.split(", 40 joins")[0] for item in order.passes] == [
        "front, ring 1 to ring 40, one after another"
    ]
    assert order.bench_time_s == pytest.approx(order.lower_bound_s)
    assert order.ring.tolist() == list(range(40))


def test_same_seed_gives_the_same_order(make):
    """No dependence on hashing, time or earlier calls."""
    piece = make.piece(make.pairs(14), limit_c=50.0, held=True)
    one, two = plan(piece, seed=3), plan(piece, seed=3)
    assert one.ring.tolist() == two.ring.tolist()
    assert one.start_s.tolist() == two.start_s.tolist()
    assert one.free_time_s == two.free_time_s
    assert one.gained == two.gained


def test_rings_closed_beforehand_are_not_in_the_order(make):
    """They are welded on their own, before weaving."""
    piece = make.piece(make.chain(20), pre_closed=range(0, 20, 2))
    assert sorted(plan(piece).ring.tolist()) == list(range(1, 20, 2))
    nothing = plan(make.piece(make.chain(3), pre_closed=range(3)))
    assert nothing.bench_time_s == 0.0
    assert nothing.passes == ()


def test_a_limit_that_one_weld_breaks_is_proved_and_explained(make):
    """Which part, which rings, by how much, and what would help."""
    piece = make.piece(make.pairs(10), limit_c=60.0, parts=(("clasp", 0, 25.0, 0.05),))
    order = plan(piece)
    text = " ".join(order.advice)
    assert order.status == "infeasible"
    for words in (
        "clasp",
        "limit of 25 °C",
        "ring",
        "Less heat",
        "Closing beforehand",
        "heat sink",
    ):
        assert words in text
    single = max(
        float(piece.heat.rise("high", [ring], [0.0], np.arange(0.5, 200, 0.5))[:, 20].max())
        for ring in range(20)
    )
    assert 21.0 + single > 25.0
    assert f"to {21 + single:.0f} °C" in text


def test_the_clip_advised_is_enough_by_the_exact_network(make):
    """The advice is computed: with that clip one weld keeps the part below its limit."""
    piece = make.piece(make.pairs(10), limit_c=60.0, parts=(("clasp", 0, 25.0, 0.05),))
    clip = re.search(r"about (\d+) mW/K", " ".join(plan(piece).advice))
    network = piece.heat.networks["high"]
    network.sink_w_k[0] += float(clip.group(1)) / 1000
    piece.heat.kept.clear()
    peak = max(
        float(piece.heat.rise("high", [ring], [0.0], np.arange(0.2, 300, 0.2))[:, 20].max())
        for ring in range(20)
    )
    assert peak <= 4.0 + 0.1


def test_the_distance_advised_for_a_part_is_enough_by_the_exact_network(make):
    """Every weld that far away leaves the part below its limit, some nearer one does not."""
    piece = make.piece(make.chain(20), limit_c=60.0, parts=(("clasp", 0, 25.0, 0.05),))
    text = " ".join(plan(piece).advice)
    away = float(re.search(r"welds (\d+) mm or more from clasp", text).group(1))
    times = np.arange(0.5, 400, 0.5)
    peaks = [piece.heat.rise("high", [k], [0.0], times)[:, 20].max() for k in range(20)]
    place = piece.layout.centre_mm[:, 0]
    assert max(peak for peak, x in zip(peaks, place, strict=True) if x >= away) <= 4.0
    assert max(peak for peak, x in zip(peaks, place, strict=True) if x < away - 1) > 4.0


def test_the_slower_pace_advised_needs_no_wait(make):
    """At that pace the verifier finds nothing too warm; at a second less it does."""
    piece = make.piece(make.pairs(8), limit_c=55.0, held=True)
    order = plan(piece)
    text = " ".join(order.advice)
    pace_s = float(re.search(r"Slower pace: at (\d+) s a join", text).group(1))
    for handle_s, clean in ((pace_s, True), (pace_s - 1, False)):
        pace = replace(piece.pace, handle_s=handle_s)
        kwargs = {**piece.kwargs, "pace": pace}
        start = pace_start_s(
            piece.layout, piece.joins, order.ring, settings=kwargs["settings"], pace=pace
        )
        assert (verify_order(*piece.three, order.ring, start, **kwargs) == ()) is clean


def test_end_to_end_of_a_long_piece_is_timed_with_the_fingers(make):
    """What people weld today is compared under all limits; other plain orders may be "at least"."""
    piece = make.piece(make.pairs(76), limit_c=60.0, held=True)
    order = plan(piece)
    rows = {item.name: item for item in order.comparisons}
    for item in order.comparisons:
        if not item.fingers_counted:
            assert item.bench_time_s >= rows["to follow"].bench_time_s
            assert item.note.startswith("at least")
    assert rows["end to end"].fingers_counted
    assert order.gains.fingers_counted
    assert "not counted" not in order.gained[0]


def test_chains_and_strips_of_twelve_are_proved_with_tweezers(make):
    """Usual settings, 60 °C before a weld: chain, narrow strip; pairs are proved up to eight."""
    for layout in (make.chain(12), make.sheet(2, 6, form="strip"), make.pairs(4)):
        order = plan(make.piece(layout, limit_c=60.0))
        assert any("best of all orders" in text or "ruled out" in text for text in order.gained)


def test_a_chain_of_eight_is_proved_with_fingers_and_one_of_twelve_is_not_called_so(make):
    """What the usual effort cannot finish is never called proved."""
    short = plan(make.piece(make.chain(8), limit_c=60.0, held=True))
    assert any("best of all orders" in text or "ruled out" in text for text in short.gained)
    long = plan(make.piece(make.chain(12), limit_c=40.0, held=True))
    assert not any("best of all orders" in text or "ruled out" in text for text in long.gained)


def test_few_joins_follow_the_best_order_ring_by_ring_where_no_pattern_comes_near(make):
    """Ten numbers can be followed without a pattern; here that is the proved optimum."""
    piece = make.piece(make.chain(10), limit_c=60.0, held=True)
    order = plan(piece)
    assert order.bench_time_s == order.free_time_s
    rings = []
    for item in order.passes:
        numbers = re.match(r"front, rings? ([\d, and]+?)(?: in this order)?, \d+ join", item.text)
        rings += [int(number) - 1 for number in re.findall(r"\d+", numbers.group(1))]
    assert rings == order.ring.tolist()
    assert verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs) == ()
    assert any("ruled out" in text for text in order.gained)


def test_sections_that_wait_follow_a_pattern_of_their_own(make):
    """Two settings: what suits the first stretch of pairs need not suit the second."""
    piece = make.piece(make.pairs(40), limit_c=60.0, held=True)
    section = np.repeat(np.array([0, 1], dtype=np.int32), [60, 20])
    layout = replace(piece.layout, sections=piece.layout.sections * 2, section=section)
    settings = [make.setting(10.0), make.setting(14.0, hits=2)]
    kwargs = {**piece.kwargs, "settings": settings}
    by_time = replace(USUAL, search=replace(USUAL.search, a_thing_s=0.0))
    three = (layout, piece.joins, piece.heat)
    clock = make_exact_clock(take_stock(*three, **kwargs, seed=0, tuning=by_time))
    chosen = choose_followable(clock, USUAL.search.usual)
    patterns = patterns_to_try(clock.situation, USUAL.search.usual)
    laid = [lay_out_passes(clock.situation.grid, each, clock.situation.work) for each in patterns]
    same = clock.settle_all(np.asarray([order_of(passes) for passes in laid]))
    best_s = min(item.bench_s for item in same if item.feasible)
    assert chosen.settled.bench_s < best_s * (1 - 0.01)
    assert order_of(chosen.passes).tolist() == chosen.settled.order.tolist()
    assert sorted(chosen.settled.order.tolist()) == list(range(80))


def test_thorough_effort_searches_long_pieces_too_and_never_does_worse(make):
    """The local search that the usual effort leaves out beyond a hundred and fifty joins."""
    piece = make.piece(make.pairs(76), limit_c=40.0)
    usual, thorough = plan(piece), plan(piece, effort="thorough")
    assert thorough.free_time_s <= usual.free_time_s
    assert thorough.free_time_s < usual.bench_time_s


def test_a_limit_below_the_room_is_named(make):
    """No wait cools a piece below the room."""
    order = plan(make.piece(make.chain(6), limit_c=20.0))
    assert order.status == "infeasible"
    assert "not above the piece's temperature without any weld" in " ".join(order.advice)


def test_unknown_effort_and_wrong_settings_are_refused(make):
    """Messages say what was found and what is allowed."""
    piece = make.piece(make.chain(4))
    with pytest.raises(InputError, match=r"effort: found 'usua'; did you mean 'usual'\?"):
        plan(piece, effort="usua")
    kwargs = {**piece.kwargs, "settings": []}
    with pytest.raises(InputError, match="one for each of the piece's 1 materials"):
        find_order(*piece.three, **kwargs)


def test_one_ring_alone_is_welded_at_once(make):
    """The smallest piece of all."""
    order = plan(make.piece(make.chain(1)))
    assert order.ring.tolist() == [0]
    assert order.bench_time_s == 5.0


@pytest.mark.parametrize(("count", "held", "limit_c"), [(8, False, 50.0), (7, True, 60.0)])
def test_exact_search_finds_the_brute_force_optimum(make, count, held, limit_c):
    """All 40320 orders of eight joins, all 5040 of seven held in the fingers, timed one by one."""
    piece = make.piece(make.chain(count), limit_c=limit_c, held=held)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    every = np.asarray(list(permutations(range(count))), dtype=np.int32)
    best = min(
        time_by_modes(clock.follower, clock.situation.work, part).bench_s.min()
        for part in np.array_split(every, 16)
    )
    start = np.arange(count, dtype=np.int32)
    found, exact = find_best_of_all(clock.situation.work, clock.follower, start, most_looks=40_000)
    assert exact
    assert settle(clock, found).bench_s == pytest.approx(best)
    assert best < settle(clock, start).bench_s


def test_heat_pictures_have_a_temperature_for_every_ring(strip):
    """Each ring before its own weld, in the chosen order and end to end within the same limits."""
    _, order = strip
    assert order.end_to_end is not None
    assert order.end_to_end.before_c.shape == order.interpass_high_c.shape == order.ring.shape
    named = {item.name: item for item in order.comparisons}
    assert order.end_to_end.bench_time_s == named["end to end"].bench_time_s
    assert order.end_to_end.before_c.max() == pytest.approx(
        named["end to end"].warmest_interpass_c, abs=0.5
    )


def test_traces_show_fingers_and_parts_over_time(make):
    """What the bench sheet and the workbook draw against time."""
    piece = make.piece(make.pairs(20), held=True, parts=(("clasp", 0, 90.0, 0.1),))
    order = plan(piece)
    assert set(order.trace_c) == {"fingers", "clasp"}
    for values in order.trace_c.values():
        assert values.shape == order.trace_time_s.shape
    assert np.nanmax(order.trace_c["fingers"]) <= 48.1


def test_a_part_is_shown_at_its_warmest_not_only_at_the_next_weld(make):
    """A clasp is warmest seconds after a weld beside it: the curve reaches what is told of it."""
    piece = make.piece(make.pairs(10), limit_c=60.0, parts=(("clasp", 19, 90.0, 0.1),))
    order = plan(piece)
    (told,) = [check.high_c for check in order.limits if check.name == "clasp"]
    assert order.trace_c["clasp"].max() == pytest.approx(told, abs=1.0)
    before = 21.0 + piece.heat.rise("high", order.ring, order.start_s, order.start_s)[:, 20]
    assert (order.trace_c["clasp"] >= before - 1e-3).all()
    assert order.trace_c["clasp"][-1] > before[-1] + 5.0
