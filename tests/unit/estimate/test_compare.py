"""Alternatives side by side, from any callable that counts a piece."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from chainplan.errors import CannotBeWoven, InputError
from chainplan.estimate import alternatives, compare_pieces, ring_mass_g, take_counted
from chainplan.estimate.price.compare import read_target
from chainplan.estimate.price.what_if import change_job
from chainplan.model.job import Piece, Section
from chainplan.model.piece.count import Count
from chainplan.reference import find_metal

AS_ASKED = ("weave", "metal", "temper", "wire_mm", "inner_mm", "mandrel_mm")
"""What a count has of its section as it stands in the job."""


def chain_of_rings(piece):
    """Count a single-link chain: one ring per inner diameter; needs an aspect ratio of 2."""
    counts = []
    for section in piece.sections:
        if section.aspect_ratio < 2:
            message = "two wires do not go into one opening"
            raise CannotBeWoven(message)
        rings = round(section.length_mm / section.inner_mm)
        each = ring_mass_g(
            section.wire_mm, section.inner_mm, find_metal(section.metal).density_g_cm3.usual
        )
        counts.append(
            Count(
                **{name: getattr(section, name) for name in AS_ASKED},
                form="chain",
                first_ring=0,
                wanted_mm=section.length_mm,
                rings=rings,
                joins=rings,
                links=rings - 1,
                repeats=rings,
                rows=1,
                rings_per_cm=10 / section.inner_mm,
                computed_rings_per_cm=10 / section.inner_mm,
                length_mm=rings * section.inner_mm + 2 * section.wire_mm,
                shorter_mm=0.0,
                longer_mm=0.0,
                width_mm=0.0,
                thickness_mm=0.0,
                ring_mass_g=each,
                mass_g=rings * each,
                wire_length_m=rings * math.pi * (section.inner_mm + section.wire_mm) / 1000,
                wire_with_kerf_m=0.0,
            )
        )
    return counts


def compared(job, pieces, count, **options):
    """Count pieces in their turn, keep why one cannot be woven, and compare them."""
    counted = []
    for piece in pieces:
        try:
            counted.append(count(piece))
        except CannotBeWoven as error:
            counted.append(error)
    return compare_pieces(job, pieces, counted, **options)


PIECE = Piece(
    name="chain",
    quantity=4,
    sections=(
        Section(
            weave="single-link",
            metal="sterling-silver",
            wire_mm=1.0,
            inner_mm=4.0,
            length_mm=400.0,
            mandrel_mm=3.9,
        ),
    ),
)


def test_every_combination_is_made_once():
    found = alternatives(PIECE, wires_mm=[1.0, 1.2], inners_mm=[3.0, 4.0, 4.0], metals=["copper"])
    rings = [(p.sections[0].metal, p.sections[0].wire_mm, p.sections[0].inner_mm) for p in found]
    assert rings == [
        ("copper", 1.0, 3.0),
        ("copper", 1.0, 4.0),
        ("copper", 1.2, 3.0),
        ("copper", 1.2, 4.0),
    ]
    assert all(p.sections[0].mandrel_mm is None for p in found)
    assert alternatives(PIECE) == (PIECE,)


def test_lines_count_weigh_and_price_one_copy(a_job):
    table = compared(a_job(), alternatives(PIECE, inners_mm=[4.0, 8.0]), chain_of_rings)
    small, large = table.lines
    assert (small.rings, large.rings) == (100, 50)
    assert small.mass_g == pytest.approx(100 * ring_mass_g(1.0, 4.0, 10.36))
    assert small.weld_min > large.weld_min
    take = take_counted(a_job(), replace(PIECE, quantity=1), chain_of_rings(PIECE))
    (weld,) = (time.usual_min for time in take.times if time.station == "weld")
    assert small.weld_min == pytest.approx(weld)
    assert isinstance(small.price, Decimal)
    assert small.price > small.cost


def test_the_best_ones_are_marked_and_only_among_those_that_fit(a_job):
    pieces = alternatives(PIECE, inners_mm=[4.0, 6.0, 8.0])
    free = compared(a_job(), pieces, chain_of_rings)
    assert "mass_g" in free.lines[2].best_at
    assert free.lines[0].best_at == ()
    bound = compared(a_job(), pieces, chain_of_rings, targets=["rings > 60"])
    assert [line.fits for line in bound.lines] == [True, True, False]
    assert "mass_g" in bound.lines[1].best_at
    assert bound.lines[2].best_at == ()
    assert "misses: rings > 60" in bound.lines[2].reason


def test_a_ring_that_cannot_be_woven_is_a_line_with_the_reason(a_job):
    table = compared(a_job(), alternatives(PIECE, inners_mm=[1.5, 4.0]), chain_of_rings)
    assert not table.lines[0].possible
    assert "two wires" in table.lines[0].reason
    assert table.lines[1].possible


def test_a_metal_without_a_price_has_no_cost_and_misses_a_price_target(a_job):
    pieces = alternatives(PIECE, metals=["niobium", "copper"])
    table = compared(a_job(), pieces, chain_of_rings, targets=["price < 100000"])
    assert table.lines[0].cost is None
    assert [line.fits for line in table.lines] == [False, True]
    assert table.lines[0].reason == "no price for niobium in the job"
    both = compared(a_job(), pieces, chain_of_rings, targets=["price < 9000", "mass_g < 0.1"])
    assert both.lines[0].reason == "no price for niobium in the job; misses: mass_g < 0.1"


def test_a_comparison_says_that_its_weld_times_are_without_waits(a_job):
    note, tax = compared(a_job(), [PIECE], chain_of_rings).notes
    assert "without waits" in note
    assert "tax" in tax


def test_prices_of_a_comparison_are_those_that_the_customer_pays(a_job):
    """With tax, as on the customer's page, and said so; a target is held against them."""
    bare = compared(a_job(), [PIECE], chain_of_rings).lines[0].price
    job = a_job()
    money = replace(job.bench.money, tax_percent=Decimal(20))
    taxed = compared(
        replace(job, bench=replace(job.bench, money=money)), [PIECE], chain_of_rings,
        targets=[f"price <= {bare}"],
    )  # fmt: skip
    assert abs(taxed.lines[0].price - bare * Decimal("1.2")) <= Decimal("0.01")
    assert not taxed.lines[0].fits
    assert "with 20 % tax" in taxed.notes[-1]


def test_a_size_given_to_joins_that_are_no_rings_makes_rings_of_them():
    posts = replace(PIECE, sections=(replace(PIECE.sections[0], made_of_rings=False),))
    (same,) = alternatives(posts, metals=["copper"])
    (sized,) = alternatives(posts, inners_mm=[5.0])
    assert not same.sections[0].made_of_rings
    assert sized.sections[0].made_of_rings


@pytest.mark.parametrize(
    ("text", "column", "sign", "bound"),
    [
        ("mass_g<30", "mass_g", "<", 30),
        ("price ≤ 250.5", "price", "<=", 250.5),
        ("under 30 g", "mass_g", "<", 30),
        ("under 250 EUR", "price", "<", 250),
        ("fits in 2 days", "working_days", "<=", 2),
        ("over 400 mm", "length_mm", ">", 400),
        ("bench h >= 3", "bench_h", ">=", 3),
    ],
)
def test_targets_are_read_in_words_and_signs(text, column, sign, bound):
    target = read_target(text, "EUR")
    assert (target.column, target.sign, target.bound) == (column, sign, bound)


@pytest.mark.parametrize(
    ("text", "hint"), [("mas_g<30", "did you mean 'mass_g'"), ("cheap", "write for example"),
                       ("under 30 apples", "write for example"), ("mass_g<1.2.3", "write")],
)  # fmt: skip
def test_a_target_that_cannot_be_read_is_refused_with_an_example(text, hint):
    with pytest.raises(InputError, match=hint):
        read_target(text, "EUR")


def test_two_ring_sizes_keep_the_mass_that_was_counted(a_job):
    """The rings are taken as equal ones of the same mass in all, so metal bought stays right."""

    def heavier(piece):
        return [replace(count, mass_g=1.5 * count.mass_g) for count in chain_of_rings(piece)]

    plain = compared(a_job(), [PIECE], chain_of_rings).lines[0]
    heavy = compared(a_job(), [PIECE], heavier).lines[0]
    assert heavy.mass_g == pytest.approx(1.5 * plain.mass_g)
    assert heavy.cost > plain.cost


def test_a_list_price_does_not_hide_what_an_alternative_would_cost(a_job):
    """The list price is of the piece as it is; alternatives are priced by the margin."""
    listed = replace(PIECE, list_price=Decimal(999))
    one = compared(a_job(), alternatives(listed, inners_mm=[4.0, 8.0]), chain_of_rings)
    two = compared(a_job(), alternatives(PIECE, inners_mm=[4.0, 8.0]), chain_of_rings)
    assert [line.price for line in one.lines] == [line.price for line in two.lines]


# ---- Changes of prices and rates ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "price"),
    [
        ("metal:sterling-silver+10%", "1.1"),
        ("metal:sterling-silver-25 %", "0.75"),
        ("metal:sterling-silver−100%", "0"),
        ("metal:sterling-silver=1.35", "1.35"),
    ],
)
def test_a_price_is_changed_by_a_share_of_it_or_to_a_value(a_job, change, price):
    """From 1.00 a gram; all other prices stay."""
    job, (line,) = change_job(a_job(), [change])
    before = {item.item: item.price for item in a_job().prices}
    after = {item.item: item.price for item in job.prices}
    assert after == before | {"sterling-silver": Decimal(price)}
    assert line == f"sterling silver: EUR 1.00 to EUR {price} per g"


def test_a_price_that_the_job_has_not_is_refused_with_those_that_it_has(a_job):
    """What was asked for, and what there is."""
    with pytest.raises(InputError) as told:
        change_job(a_job(), ["metal:fine-silver+10%"])
    assert "'fine-silver' has no price in the job" in str(told.value)
    assert "sterling-silver" in str(told.value)


def test_more_than_all_cannot_be_taken_off(a_job):
    with pytest.raises(InputError, match="takes off more than all"):
        change_job(a_job(), ["metal:copper-101%"])
