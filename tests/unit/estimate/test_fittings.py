"""Fittings and extras in cost, price, buy list and deliveries, worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from chainplan.estimate import estimate_counts
from chainplan.estimate.price.pricing import PriceBook
from chainplan.estimate.take import take_of
from chainplan.estimate.works import _fittings_days
from chainplan.model.estimate import FittingCount, PieceCounts, RingGroup
from chainplan.model.job import Piece
from chainplan.model.workshop.schedule import read_minutes


def a_fitting(name, price, kind="charm", **values):
    """One fitting of one copy."""
    known = {"mass_g": None, "delivery_days": None, "station": "weave"}
    return FittingCount(
        name=name, kind=kind, price=None if price is None else Decimal(price), **known | values
    )


def a_piece(*fittings, quantity=3, **values):
    """Three copies of fifty silver rings, with fittings."""
    group = RingGroup(
        section=0, weave="single-link", metal="sterling-silver", temper="annealed", wire_mm=1.0,
        inner_mm=4.0, rings=50, joins_in_place=50, joins_beforehand=0, links=49, power_j=8.0,
        hits=1,
    )  # fmt: skip
    return PieceCounts(
        piece="chain", quantity=quantity, groups=(group,), weld_s=600.0, fittings=fittings, **values
    )


def test_cost_is_what_it_was_and_the_fittings(a_job):
    """Two charms of 1.25 and one engraving of 12 a copy: 3 × (2.50 + 12)."""
    bare = estimate_counts(a_job(), [a_piece()]).quotes[0]
    charm, engraving = a_fitting("shell", "1.25"), a_fitting("engraving", "12", kind="extra")
    with_them = estimate_counts(a_job(), [a_piece(charm, charm, engraving)])
    assert with_them.quotes[0].cost - bare.cost == Decimal("43.50")
    lines = {line.item: line for line in with_them.costs}
    assert lines["fitting: shell"].quantity == 6
    assert lines["extra: engraving"].amount == Decimal("36.00")


def test_without_its_own_price_a_fitting_has_that_of_its_kind(a_job, a_price):
    """The price item is called as the kind."""
    job = a_job()
    job = replace(job, prices=(*job.prices, a_price("charm", "2.00", "each")))
    bare = estimate_counts(job, [a_piece()]).quotes[0]
    quote = estimate_counts(job, [a_piece(a_fitting("shell", None))]).quotes[0]
    assert quote.cost - bare.cost == Decimal("6.00")
    assert quote.missing == ()


def test_what_has_no_price_is_named_in_quote_and_warnings(a_job):
    """Loud: a field of the quote, a note on the price, a warning of the plan."""
    found = estimate_counts(a_job(), [a_piece(a_fitting("shell", None))])
    assert found.quotes[0].missing == ("shell",)
    assert any("shell" in note for note in found.quotes[0].notes)
    assert any("without shell" in text for text in found.warnings)
    free = a_job(bench={"money": {"labour_per_hour": Decimal(0)}})
    assert "labour" in estimate_counts(free, [a_piece()]).quotes[0].missing


def test_extras_are_paid_by_every_copy_or_by_the_job_once(a_job, a_price):
    """A box of 2.00 a copy; a drawing of 10 for the job of 3 + 2 copies: 2.00 a copy too."""
    pieces = tuple(Piece(name=n, quantity=q, sections=()) for n, q in (("chain", 3), ("other", 2)))
    job = a_job(pieces=pieces)
    extras = (a_price("extra box", "2.00", "each"), a_price("extra drawing", "10", "job"))
    job = replace(job, prices=(*job.prices, *extras))
    counts = [a_piece(), replace(a_piece(quantity=2), piece="other")]
    lines = [line for line in estimate_counts(job, counts).costs if line.item.startswith("extra")]
    assert sum(line.amount for line in lines if line.item == "extra: drawing") == Decimal("10.00")
    assert sum(line.amount for line in lines if line.item == "extra: box") == Decimal("10.00")


def test_a_share_of_what_the_job_pays_once_is_rounded_up_from_the_half(a_job, a_price):
    """1.000001 over two copies is 0.5000005 each."""
    pieces = (Piece(name="chain", quantity=2, sections=()),)
    job = a_job(pieces=pieces, prices=(a_price("extra drawing", "1.000001", "job"),))
    ((name, share, _),) = PriceBook.of(job).extras()
    assert (name, share) == ("drawing", Decimal("0.500001"))


def test_buy_list_has_every_fitting_and_takes_what_is_at_hand(a_job):
    """Extras are not bought; delivery of 0 days means that it lies there."""
    there = a_fitting("shell", "1", delivery_days=0)
    coming = a_fitting("opal", "60", delivery_days=7)
    extra = a_fitting("engraving", "12", kind="extra", station="")
    rows = estimate_counts(a_job(), [a_piece(there, coming, coming, extra)]).buy
    rows = {row.item: row for row in rows if row.item.startswith("fitting")}
    assert set(rows) == {"fitting: shell", "fitting: opal"}
    assert (rows["fitting: shell"].needed, rows["fitting: shell"].to_buy) == (3, 0)
    assert (rows["fitting: opal"].needed, rows["fitting: opal"].to_buy) == (6, 6)
    assert "7 weekdays" in rows["fitting: opal"].note
    assert rows["fitting: opal"].price == Decimal("360.00")


def test_stations_wait_for_the_slowest_of_their_fittings(a_job):
    """Before welding: weaving waits; after: finishing does; what is at hand does not."""
    piece = a_piece(
        a_fitting("a", "1", delivery_days=3),
        a_fitting("b", "1", delivery_days=8),
        a_fitting("c", "1", delivery_days=0, station="finish"),
        a_fitting("d", "1", station="finish"),
        a_fitting("e", "1", kind="extra", station=""),
    )
    job = a_job()
    usual = job.bench.calendar.delivery_days
    assert _fittings_days(take_of(piece, job), job) == {"weave": 8, "finish": usual}


def test_minutes_of_the_job_stand_in_place_of_the_bench_s(a_job):
    """Of every copy; other stations stay as they were."""
    before = {t.station: t for t in estimate_counts(a_job(), [a_piece()]).times}
    piece = a_piece(minutes=read_minutes("weave 45, finish 10"))
    after = {t.station: t for t in estimate_counts(a_job(), [piece]).times}
    assert after["weave"].usual_min == 3 * 45
    assert after["finish"].usual_min == 3 * 10
    assert "as the job says" in after["weave"].basis
    for station in set(before) - {"weave", "finish"}:
        assert after[station] == before[station]


def test_a_person_new_to_it_takes_two_to_three_times(a_job):
    """Both are shown: the practised hours and theirs."""
    figures = {f.key: f for f in estimate_counts(a_job(), [a_piece()]).figures["chain"]}
    practised = figures["hours"].usual
    new = figures["hours-new"]
    assert new.low == pytest.approx(2 * practised)
    assert new.high == pytest.approx(3 * practised)
