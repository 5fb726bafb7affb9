"""Wire: length, coils, mandrels, finished rings, and no metal lost from the sums."""

import math

import pytest

from chainplan.estimate.material.rings import ring_mass_g, ring_wire_mm
from chainplan.estimate.material.wire import (
    bad_share,
    mandrel_for,
    ring_on_mandrel_mm,
    risk_of_each,
    turns_of_coil,
)
from chainplan.estimate.price.buying import buy_list, to_packs
from chainplan.estimate.price.pricing import PriceBook
from chainplan.estimate.pulse.pulses import read_cylinder
from chainplan.estimate.take import take_of
from chainplan.model.bench.groups import WireSettings
from chainplan.model.job import StockItem
from chainplan.model.metal import MeasuredRing
from chainplan.reference import find_metal, inner_from_mandrel_mm


@pytest.mark.parametrize(
    ("wire", "inner", "density", "mass"),
    [
        (1.0, 4.0, 10.36, 0.12781),  # sterling
        (1.0, 4.0, 8.92, 0.11005),  # copper
        (1.2, 6.0, 2.70, 0.06907),  # aluminium
        (1.6, 8.0, 7.93, 0.48087),  # stainless
        (1.5, 7.5, 7.87, 0.3932),  # an iron ring of a coat of mail
    ],
)
def test_ring_masses_are_those_worked_out_elsewhere(wire, inner, density, mass):
    """Torus by Pappus; reference rings computed to five digits."""
    assert ring_mass_g(wire, inner, density) == pytest.approx(mass, abs=6e-5)


def test_a_ring_of_1_mm_wire_and_4_mm_inside_takes_15_7_mm():
    assert ring_wire_mm(1.0, 4.0) == pytest.approx(15.708, abs=5e-4)


def test_a_ring_is_lost_at_the_saw_or_at_the_welder():
    """2 % at the saw; 4 % bad joins of which a quarter replaced: 1 − 0.98·0.99."""
    settings = WireSettings(ring_scrap=0.02, join_yield=0.96, replaced_share=0.25)
    assert bad_share(settings) == pytest.approx(1 - 0.98 * 0.99)


def test_lines_share_the_risk_so_that_the_job_keeps_it():
    assert risk_of_each(0.05, 1) == 0.05
    assert (1 - risk_of_each(0.05, 7)) ** 7 == pytest.approx(0.95)


def test_a_coil_has_as_many_rings_as_wires_lie_side_by_side():
    assert turns_of_coil(1.0, WireSettings(mandrel_length_mm=150)) == 150
    assert turns_of_coil(1.2, WireSettings(mandrel_length_mm=6)) == 5
    assert turns_of_coil(9.0, WireSettings(mandrel_length_mm=6)) == 1


def test_the_coils_hold_all_rings_and_no_coil_is_idle(a_job, a_piece):
    need = take_of(a_piece(group={"rings": 1234}), a_job()).wire[0]
    turns = turns_of_coil(1.0, a_job().bench.wire)
    assert (need.coils - 1) * turns < need.rings + need.spare_rings <= need.coils * turns


def test_metal_bought_is_in_the_pieces_in_scrap_or_left(a_job, a_piece, a_group):
    """Conservation, with stock on the shelf, packs and filler."""
    thick = a_group(wire_mm=4.0, inner_mm=20.0, rings=7, links=6, filler_g=0.02, filler_s=60.0)
    stock = (StockItem(kind="wire", metal="sterling-silver", size_mm=1.0, amount=0.7, pack=2.0),)
    job = a_job(stock=stock)
    takes = [
        take_of(a_piece(groups=(a_group(), thick), quantity=3), job, lines=3),
        take_of(a_piece(piece="other", group={"rings": 40}), job, lines=3),
    ]
    book = PriceBook.of(job)
    lines = buy_list(takes, job, book, read_cylinder(1.0, 0.1, job.bench))
    bought = left = 0.0
    for line in lines:
        if line.unit == "m":
            g_per_m = math.pi / 4 * line.size_mm**2 * 10.36
            bought += (line.in_stock + line.to_buy) * g_per_m
            left += line.left * g_per_m
            assert line.left >= -1e-9
    in_pieces = sum(need.mass_in_piece_g for take in takes for need in take.wire)
    scrap = sum(need.scrap_g for take in takes for need in take.wire)
    assert bought == pytest.approx(in_pieces + scrap + left, rel=1e-9)
    assert min(scrap, left) > 0


def test_wire_is_bought_in_whole_packs_beyond_what_is_on_the_shelf(a_job, a_piece):
    stock = (
        StockItem(kind="wire", metal="sterling-silver", temper="hard", size_mm=1.0, amount=9.0),
        StockItem(kind="wire", metal="sterling-silver", size_mm=1.005, amount=0.5, pack=5.0),
    )
    job = a_job(stock=stock)
    take = take_of(a_piece(), job)
    lines = buy_list([take], job, PriceBook.of(job), read_cylinder(1.0, 0.1, job.bench))
    wire = next(line for line in lines if line.item.startswith("wire"))
    assert wire.in_stock == 0.5  # the hard wire is another temper
    assert (wire.to_buy, wire.packs) == (5.0, 1)


def _buy(job, *takes):
    """List what some pieces take, with the argon on the gauge."""
    cylinder = read_cylinder(sum(take.pulses.gas_l for take in takes), 0.1, job.bench)
    return buy_list(takes, job, PriceBook.of(job), cylinder)


def test_no_pack_means_whole_metres():
    assert to_packs(7.2, 0.0) == (8.0, 8)
    assert to_packs(10.0, 5.0) == (10.0, 2)
    assert to_packs(-3.0, 5.0) == (0.0, 0)


def test_finished_rings_on_the_shelf_are_used_first_and_once(a_job, a_piece):
    shelf = StockItem(kind="rings", metal="sterling-silver", size_mm=1.0, inner_mm=4.0, amount=150)
    job = a_job(stock=(shelf,))
    used: dict[int, int] = {}
    first = take_of(a_piece(), job, used=used).wire[0]
    second = take_of(a_piece(), job, used=used).wire[0]
    plain = take_of(a_piece(), a_job()).wire[0]
    assert first.rings_from_stock == first.rings + first.spare_rings
    assert first.coils == 0
    assert first.wire_length_m == 0.0
    assert first.rings_from_stock + second.rings_from_stock == 150
    assert second.wire_length_m < plain.wire_length_m


def test_the_users_mandrel_is_kept(a_job, a_group):
    group = a_group(mandrel_mm=3.9)
    shelf = (StockItem(kind="mandrel", size_mm=3.9), StockItem(kind="mandrel", size_mm=4.0))
    silver = find_metal("sterling-silver")
    assert mandrel_for(group, silver, a_job(stock=shelf)) == (3.9, True)
    assert mandrel_for(group, silver, a_job()) == (3.9, False)


def test_a_mandrel_on_the_shelf_is_taken_if_its_ring_fits(a_job, a_group):
    shelf = (StockItem(kind="mandrel", size_mm=4.0), StockItem(kind="mandrel", size_mm=5.0))
    silver = find_metal("sterling-silver")
    size, on_shelf = mandrel_for(a_group(), silver, a_job(stock=shelf))
    assert (size, on_shelf) == (4.0, True)
    ring = inner_from_mandrel_mm(1.0, 4.0, silver)
    assert ring == pytest.approx(4.0, rel=0.02)


def test_a_mandrel_to_buy_is_a_usual_size_and_gives_the_ring_to_its_step(a_job, a_group):
    silver = find_metal("sterling-silver")
    size, on_shelf = mandrel_for(a_group(temper="hard"), silver, a_job())
    assert not on_shelf
    assert size % 0.25 == 0
    ring = inner_from_mandrel_mm(1.0, size, silver, "hard")
    assert ring == pytest.approx(4.0, abs=0.15)


def test_the_buy_list_says_which_ring_a_mandrel_gives(a_job, a_piece):
    job = a_job()
    take = take_of(a_piece(group={"temper": "hard"}), job)
    (line,) = [x for x in _buy(job, take) if x.item.startswith("mandrel")]
    ring = inner_from_mandrel_mm(1.0, line.size_mm, find_metal("sterling-silver"), "hard")
    assert line.note == f"gives a ring of {ring:.2f} mm; wanted 4.00"


def test_the_buy_list_counts_a_clasp_for_every_copy_that_has_one(a_job, a_piece):
    job = a_job()
    takes = [take_of(a_piece(clasps=1, quantity=3), job), take_of(a_piece(quantity=5), job)]
    (line,) = [x for x in _buy(job, *takes) if x.item == "clasp"]
    assert (line.to_buy, line.price) == (3.0, 18)
    assert not [x for x in _buy(job, takes[1]) if x.item == "clasp"]


def test_the_buy_list_names_the_gauge_of_wire(a_job, a_piece):
    job = a_job()
    names = [x.item for x in _buy(job, take_of(a_piece(group={"wire_mm": 1.2192}), job))]
    assert "wire Sterling silver 925, annealed, 1.22 mm (18 SWG)" in names


def test_joins_that_are_no_rings_take_pulses_but_no_wire(a_job, a_piece):
    """Twelve earring posts: nothing is wound, cut, tumbled or bought for them but gas and tips."""
    job = a_job()
    posts = {"weave": "loose-joins", "rings": 0, "joins_in_place": 12, "links": 0}
    take = take_of(a_piece(group=posts, quantity=3), job)
    (need,) = take.wire
    assert (need.rings, need.spare_rings, need.coils, need.mandrel_mm) == (0, 0, 0, 0.0)
    assert (need.wire_length_m, need.mass_used_g, need.scrap_g) == (0.0, 0.0, 0.0)
    minutes = {time.station: time.usual_min for time in take.times}
    assert minutes["coil"] == minutes["cut"] == minutes["tumble"] == minutes["weave"] == 0
    assert minutes["inspect"] == pytest.approx(12 * 3 * job.bench.stations.inspect_s / 60)
    assert take.pulses.pulses >= 36
    bought = [line.item for line in _buy(job, take) if line.needed > 0]
    assert [item.split(",")[0] for item in bought] == ["argon", "electrode tip"]


def test_a_measured_ring_moves_the_mandrel(a_job, a_group):
    """Springs more than the table says, so the mandrel must be thinner."""
    silver = find_metal("sterling-silver")
    mine = MeasuredRing(metal="sterling-silver", wire_mm=1.0, mandrel_mm=4.0, inner_mm=4.4)
    measured, _ = mandrel_for(a_group(), silver, a_job(measured_rings=(mine,)))
    plain, _ = mandrel_for(a_group(), silver, a_job())
    assert measured < plain


def test_a_ring_wound_on_the_mandrel_that_was_measured_comes_out_as_measured(a_job, a_group):
    """4.4 mm inside on 4.0 mm, whatever the table says of silver."""
    mine = MeasuredRing(metal="sterling-silver", wire_mm=1.0, mandrel_mm=4.0, inner_mm=4.4)
    job = a_job(measured_rings=(mine,))
    inner = ring_on_mandrel_mm(a_group(), 4.0, find_metal("sterling-silver"), job)
    assert inner == pytest.approx(4.4, abs=1e-6)


def test_a_temper_without_a_yield_strength_still_gets_a_mandrel(a_job, a_group):
    size, _ = mandrel_for(a_group(temper="spring"), find_metal("titanium"), a_job())
    assert 3.5 < size < 4.2


def test_a_ring_that_no_mandrel_gives_has_none(a_job, a_group):
    group = a_group(wire_mm=1.0, inner_mm=0.01, metal="stainless-304", temper="spring")
    job = a_job(bench={"wire": {"kerf_mm": 0.0}})
    assert mandrel_for(group, find_metal("stainless-304"), job) == (0.0, False)


def test_a_fine_ring_gets_a_pin_near_its_own_size(a_job, a_group):
    """A quarter of a millimetre, the step of mandrels, would be a quarter of such a ring."""
    fine = a_group(wire_mm=0.1, inner_mm=0.4)
    assert mandrel_for(fine, find_metal("copper"), a_job()) == (0.4, False)
