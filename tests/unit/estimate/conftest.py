"""Builders for the estimates: a job, a group of rings, a counted piece; all invented."""

import datetime
from dataclasses import replace
from decimal import Decimal

import pytest

from chainplan.model.bench import Bench
from chainplan.model.estimate import PieceCounts, RingGroup
from chainplan.model.job import Job, Price


def _price(item, price, per, date=datetime.date(2027, 3, 1)):
    return Price(item=item, price=Decimal(price), per=per, date=date)


@pytest.fixture(scope="session")
def a_price():
    """Build a price from text."""
    return _price


@pytest.fixture(scope="session")
def a_job():
    """Build a job with prices; keyword arguments replace its fields, bench_<group> its settings."""
    prices = (
        _price("sterling-silver", "1.00", "g"),
        _price("wire premium sterling-silver", "0.30", "g"),
        _price("copper", "10", "kg"),
        _price("argon", "0.05", "l"),
        _price("electrode tip", "5", "each"),
        _price("electricity", "0.30", "kWh"),
        _price("saw blade", "1", "each"),
        _price("clasp", "6", "each"),
        _price("cleaning", "0.50", "each"),
        _price("packing", "1.50", "each"),
        _price("hallmark", "2", "each"),
        _price("overhead", "6", "hour"),
    )

    def build(*, bench=None, **changes):
        groups = {
            name: replace(getattr(Bench(), name), **own) for name, own in (bench or {}).items()
        }
        return Job(
            **(
                {
                    "name": "invented",
                    "pieces": (),
                    "bench": replace(Bench(), **groups),
                    "prices": prices,
                    "start_date": datetime.date(2027, 3, 4),
                }
                | changes
            )
        )

    return build


@pytest.fixture(scope="session")
def a_group():
    """Build a group of rings of 1.0 mm sterling silver, 4.0 mm inside."""

    def build(**changes):
        usual = {
            "section": 0,
            "weave": "single-link",
            "metal": "sterling-silver",
            "temper": "annealed",
            "wire_mm": 1.0,
            "inner_mm": 4.0,
            "rings": 100,
            "links": 99,
            "power_j": 10.0,
            "hits": 1,
        } | changes
        usual.setdefault("joins_in_place", usual["rings"])
        usual.setdefault("joins_beforehand", 0)
        return RingGroup(**usual)

    return build


@pytest.fixture(scope="session")
def a_piece(a_group):
    """Build a counted piece of one group."""

    def build(*, group=None, **changes):
        usual = {
            "piece": "chain",
            "quantity": 1,
            "groups": (a_group(**(group or {})),),
            "weld_s": 600.0,
            "length_mm": 402.0,
        }
        return PieceCounts(**(usual | changes))

    return build
