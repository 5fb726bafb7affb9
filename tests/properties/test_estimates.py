"""Invariants of the estimates: nothing negative, nothing lost, more never costs less."""

import math
from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.estimate import estimate_counts
from chainplan.estimate.price.money import cost_lines, quote_of
from chainplan.estimate.price.pricing import PriceBook
from chainplan.estimate.take import take_of
from chainplan.model.bench import Bench
from chainplan.model.estimate import PieceCounts, RingGroup
from chainplan.model.job import Job, Price
from chainplan.reference import find_metal, inner_from_mandrel_mm, mandrel_from_inner_mm, metal_keys

KEYS = sorted(metal_keys())
ITEMS = ("argon", "electrode tip", "clasp", "packing", "overhead", "hallmark", "solder")


@st.composite
def groups(draw):
    wire = draw(st.floats(0.4, 3.0))
    rings = draw(st.integers(1, 5000))
    return RingGroup(
        section=0,
        weave="any",
        metal=draw(st.sampled_from(KEYS)),
        temper=draw(st.sampled_from(["annealed", "half-hard", "hard"])),
        wire_mm=wire,
        inner_mm=wire * draw(st.floats(2.0, 8.0)),
        rings=rings,
        joins_in_place=rings,
        joins_beforehand=0,
        links=draw(st.integers(0, 3)) * rings,
        power_j=draw(st.floats(1, 40)),
        hits=draw(st.integers(1, 5)),
    )


@st.composite
def pieces(draw, name="piece"):
    return PieceCounts(
        piece=name,
        quantity=draw(st.integers(1, 30)),
        groups=tuple(draw(st.lists(groups(), min_size=1, max_size=3))),
        weld_s=draw(st.floats(1, 1e5)),
        length_mm=draw(st.floats(1, 2000)),
        clasps=draw(st.integers(0, 1)),
    )


@st.composite
def jobs(draw):
    prices = [
        Price(item=key, price=draw(st.decimals("0.01", "90", places=2)), per="g")
        for key in draw(st.lists(st.sampled_from(KEYS), unique=True))
    ]
    prices += [
        Price(item=item, price=draw(st.decimals("0.01", "20", places=2)), per="each")
        for item in draw(st.lists(st.sampled_from(ITEMS), unique=True))
    ]
    bench = Bench()
    bench = replace(
        bench,
        wire=replace(
            bench.wire,
            join_yield=draw(st.floats(0.5, 1.0)),
            ring_scrap=draw(st.floats(0, 0.3)),
            kerf_mm=draw(st.floats(0, 1)),
        ),
    )
    return Job(name="any", pieces=(), bench=bench, prices=tuple(prices))


def cost_of(piece, job):
    take = take_of(piece, job)
    book = PriceBook.of(job)
    return quote_of(take, cost_lines(take, book), book)


@given(pieces(), jobs())
def test_no_quantity_is_negative_and_every_range_stands_in_order(piece, job):
    estimates = estimate_counts(job, [piece])
    for need in estimates.wire:
        assert need.scrap_g >= -1e-9
        assert min(need.rings, need.spare_rings, need.coils, need.wire_length_m) >= 0
        assert need.mandrel_mm >= 0
    assert all(line.quantity > 0 for line in estimates.costs)
    for time in estimates.times:
        assert 0 <= time.low_min <= time.usual_min <= time.high_min
    for figures in estimates.figures.values():
        for figure in figures:
            assert 0 <= figure.low <= figure.usual <= figure.high, figure
            assert figure.basis
            assert figure.source
    for line in estimates.buy:
        assert min(line.needed, line.in_stock, line.to_buy, line.left + 1e-9) >= 0


@given(pieces(), jobs())
def test_metal_used_is_in_the_piece_or_scrap(piece, job):
    take = take_of(piece, job)
    for group, need in zip(piece.groups, take.wire, strict=True):
        density = find_metal(group.metal).density_g_cm3.usual
        section = math.pi / 4 * group.wire_mm**2
        used = need.wire_length_m * section * density
        assert math.isclose(used, need.mass_used_g, rel_tol=1e-9)
        assert math.isclose(need.mass_used_g, need.mass_in_piece_g + need.scrap_g, rel_tol=1e-9)


@given(pieces(), jobs(), st.integers(1, 1000))
def test_a_longer_piece_never_takes_less(piece, job, more):
    """More rings of each kind: wire, spares, argon and hours all rise or stay."""
    longer = replace(
        piece,
        groups=tuple(
            replace(
                group,
                rings=group.rings + more,
                joins_in_place=group.joins_in_place + more,
                links=group.links + more * (group.links > 0),
            )
            for group in piece.groups
        ),
        weld_s=piece.weld_s + more,
    )
    short, long = take_of(piece, job), take_of(longer, job)
    for a, b in zip(short.wire, long.wire, strict=True):
        assert a.wire_length_m < b.wire_length_m
        assert a.spare_rings <= b.spare_rings
    assert short.pulses.gas_l < long.pulses.gas_l
    for a, b in zip(short.times, long.times, strict=True):
        assert a.usual_min <= b.usual_min + 1e-9


@given(pieces(), jobs(), st.decimals("0.01", "50", places=2))
def test_a_dearer_metal_never_makes_a_cheaper_piece(piece, job, rise):
    dearer = replace(job, prices=tuple(replace(p, price=p.price + rise) for p in job.prices))
    assert cost_of(piece, dearer).cost >= cost_of(piece, job).cost


@given(pieces(), jobs(), st.integers(0, 90), st.integers(0, 90))
def test_a_higher_margin_never_lowers_the_price(piece, job, one, other):
    def price(percent):
        money = replace(job.bench.money, margin_percent=Decimal(percent))
        return cost_of(piece, replace(job, bench=replace(job.bench, money=money))).price_each

    assert price(min(one, other)) <= price(max(one, other))


@settings(max_examples=30)
@given(st.lists(pieces(), min_size=1, max_size=4), jobs(), st.randoms())
def test_the_order_of_the_rows_does_not_change_a_quote(rows, job, draw):
    named = [replace(piece, piece=f"piece {k}") for k, piece in enumerate(rows)]
    shuffled = named.copy()
    draw.shuffle(shuffled)
    one = {quote.piece: quote for quote in estimate_counts(job, named).quotes}
    two = {quote.piece: quote for quote in estimate_counts(job, shuffled).quotes}
    assert one == two


@given(st.sampled_from(KEYS), st.floats(0.3, 4.0), st.floats(1.5, 12.0))
def test_mandrel_and_ring_are_inverse_for_every_metal_and_temper(key, wire, ratio):
    metal = find_metal(key)
    for temper in metal.yield_mpa:
        inner = inner_from_mandrel_mm(wire, wire * ratio, metal, temper)
        back = mandrel_from_inner_mm(wire, inner, metal, temper)
        assert math.isclose(back, wire * ratio, rel_tol=1e-9)


@given(st.sampled_from(KEYS), st.floats(0.3, 4.0), st.floats(1.5, 11.0), st.floats(1.001, 1.5))
def test_a_wider_mandrel_always_gives_a_wider_ring(key, wire, ratio, factor):
    metal = find_metal(key)
    for temper in metal.yield_mpa:
        small = inner_from_mandrel_mm(wire, wire * ratio, metal, temper)
        assert small < inner_from_mandrel_mm(wire, wire * ratio * factor, metal, temper)
