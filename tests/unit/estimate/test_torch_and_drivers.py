"""The torch, the payback, cost drivers, quantity breaks and break-even."""

from dataclasses import replace
from decimal import Decimal

import pytest

from chainplan.estimate.price.drivers import (
    break_even_quantity,
    cost_drivers,
    quantity_breaks,
    quote_for,
)
from chainplan.estimate.price.money import cost_lines
from chainplan.estimate.price.pricing import PriceBook, old_prices
from chainplan.estimate.price.torch import compare_with_torch
from chainplan.estimate.take import take_of


def compared(job, piece):
    take = take_of(piece, job)
    book = PriceBook.of(job)
    return compare_with_torch(take, cost_lines(take, book), book)


def test_the_torch_goes_in_rounds_worked_by_hand(a_job, a_piece, a_price):
    """100 joins at a yield of 1: nine rounds of twelve, 225 min = 3.75 h, 112.50 of labour.

    Solder 100·5 mg = 0.5 g at 2 = 1.00, gas 3.75 h at 3 = 11.25, supplies 0.50: 125.25 in all.
    """
    prices = (
        a_price("solder", "2", "g"),
        a_price("torch gas", "3", "hour"),
        a_price("flux and pickle", "0.50", "each"),
    )
    bench = {
        "wire": {"join_yield": 1.0},
        "stations": {"torch_joins_a_round": 12, "torch_round_min": 25.0, "torch_solder_mg": 5.0},
    }
    job = a_job(bench=bench, prices=prices)
    take = take_of(a_piece(), job)
    book = PriceBook.of(job)
    lines = cost_lines(take, book)
    torch = compare_with_torch(take, lines, book)
    at_welder = ("labour: set up", "labour: weld", "labour: rework", "labour: pre-close")
    shared = sum(line.amount for line in lines if line.item not in at_welder)
    assert torch.rounds == 9
    assert torch.hours == pytest.approx(3.75)
    assert torch.cost == shared + Decimal("125.25")
    assert torch.saved_each == torch.cost_each - quote_for(a_piece(), job).cost_each


def test_the_welder_pays_itself_back_after_price_over_saving(a_job, a_piece, a_price):
    job = a_job()
    job = replace(job, prices=(*job.prices, a_price("welder", "1000", "each")))
    torch = compared(job, a_piece())
    assert torch.saved_each > 0
    assert (torch.copies_to_pay_back - 1) * torch.saved_each < 1000
    assert torch.copies_to_pay_back * torch.saved_each >= 1000


def test_a_quick_torch_pays_nothing_back_and_that_is_said(a_job, a_piece, a_price):
    job = a_job(bench={"stations": {"torch_joins_a_round": 1000, "torch_round_min": 1.0}})
    job = replace(job, prices=(*job.prices, a_price("welder", "1000", "each")))
    torch = compared(job, a_piece())
    assert torch.saved_each < 0
    assert torch.copies_to_pay_back is None
    assert "does not pay itself back" in torch.note


def test_copper_by_torch_shows_its_solder(a_job, a_piece):
    assert (
        "no solder of its own colour" in compared(a_job(), a_piece(group={"metal": "copper"})).note
    )


def test_more_copies_cost_less_each(a_job, a_piece):
    breaks = quantity_breaks(a_piece(quantity=3), a_job())
    assert [line.quantity for line in breaks] == [1, 2, 3, 5, 10, 20, 50, 100]
    costs = [line.cost_each for line in breaks]
    assert costs == sorted(costs, reverse=True)


def test_the_break_at_the_jobs_own_quantity_is_its_quote(a_job, a_piece):
    piece = a_piece(quantity=7)
    own = next(line for line in quantity_breaks(piece, a_job()) if line.quantity == 7)
    assert own.cost_each == quote_for(piece, a_job()).cost_each


def test_one_copy_fewer_than_break_even_does_not_pay(a_job, a_piece):
    piece, job = a_piece(), a_job()
    price = quote_for(replace(piece, quantity=6), job).cost_each
    copies = break_even_quantity(piece, job, price)
    assert 1 < copies <= 6
    assert quote_for(replace(piece, quantity=copies), job).cost_each <= price
    assert quote_for(replace(piece, quantity=copies - 1), job).cost_each > price


def test_a_price_below_the_metal_never_pays(a_job, a_piece):
    assert break_even_quantity(a_piece(), a_job(), Decimal("1")) is None
    assert break_even_quantity(a_piece(), a_job(), Decimal("10000")) == 1


def test_drivers_are_sorted_by_how_far_they_move_the_cost(a_job, a_piece):
    drivers = cost_drivers(a_piece(), a_job())
    swings = [line.swing for line in drivers]
    assert swings == sorted(swings, reverse=True)
    assert len({line.cost_usual_each for line in drivers}) == 1


def test_a_tenth_of_the_labour_rate_moves_a_tenth_of_the_labour(a_job, a_piece):
    job, piece = a_job(), a_piece()
    lines = cost_lines(take_of(piece, job), PriceBook.of(job))
    labour = sum(line.amount for line in lines if line.item.startswith("labour"))
    driver = next(d for d in cost_drivers(piece, job) if d.driver == "labour rate")
    assert float(driver.swing) == pytest.approx(0.2 * float(labour), abs=0.12)  # rounded by line


def test_every_driver_costs_more_at_its_dear_end(a_job, a_piece):
    for driver in cost_drivers(a_piece(), a_job()):
        assert driver.cost_low_each <= driver.cost_usual_each <= driver.cost_high_each, driver


def test_old_and_undated_prices_are_warned_of(a_job, a_price):
    import datetime

    old = a_price("copper", "10", "kg", datetime.date(2027, 1, 1))
    undated = a_price("argon", "1", "l", None)
    job = a_job(prices=(old, undated, a_price("clasp", "1", "each")))
    first, second = old_prices(job)
    assert "copper (2027-01-01, 62 days)" in first
    assert "clasp" not in first
    assert "argon" in second
    soon = replace(job, start_date=datetime.date(2026, 12, 1))
    (later,) = [text for text in old_prices(soon) if "dated after" in text]
    assert "copper (2027-01-01)" in later
    newest = replace(job, start_date=None)
    assert "copper (2027-01-01, 59 days)" in old_prices(newest)[0]


def test_the_later_of_two_prices_counts(a_job, a_price):
    import datetime

    old = a_price("copper", "10", "kg", datetime.date(2027, 1, 1))
    new = a_price("copper", "12", "kg", datetime.date(2027, 2, 1))
    for prices in ((old, new), (new, old)):
        assert PriceBook.of(a_job(prices=prices)).per_g("copper") == Decimal("0.012")


def test_a_troy_ounce_and_a_metre_are_turned_into_grams(a_job, a_price):
    """31.1034768 g an ounce; 10 a metre of wire that weighs 8 g is 1.25 a gram."""
    job = a_job(
        prices=(
            a_price("fine-silver", "31.1034768", "ozt"),
            a_price("wire premium fine-silver", "10", "m"),
        )
    )
    book = PriceBook.of(job)
    assert book.per_g("fine-silver") == 1
    assert book.premium_per_g("fine-silver", 8.0) == Decimal("1.25")
    assert book.per_g("gold-24ct") is None


def test_a_cylinder_price_is_spread_over_what_comes_out_of_it(a_job, a_price):
    """200 bar on the gauge to 5 bar, 10 L at 15 °C: about 2056 L."""
    book = PriceBook.of(a_job(prices=(a_price("argon", "60", "cylinder"),)))
    assert float(book.argon_per_l()) == pytest.approx(60 / 2056, rel=5e-3)
