"""Chances in time: against closed forms, whoever is free taking the next, and what raises them."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest

from chainplan.model.bench.groups import StationSettings
from chainplan.model.workshop.schedule import Person
from chainplan.schedule.advice import advise
from chainplan.schedule.chance import chances_in_time, triangular
from chainplan.schedule.turns import advice_text

THURSDAY = datetime.date(2027, 3, 4)
BARE = {"coil": 0, "cut": 0, "tumble": 0, "set up": 0, "rework": 0, "inspect": 0, "finish": 0,
        "clean": 0, "weave": 0}  # fmt: skip
LOW, HIGH = 0.8, 1.4


def below(x):
    """Chance that a factor is below x: the triangle's distribution function."""
    if x <= 1:
        return max(x - LOW, 0) ** 2 / ((HIGH - LOW) * (1 - LOW))
    return 1 - max(HIGH - x, 0) ** 2 / ((HIGH - LOW) * (HIGH - 1))


def chances(shop, works, *, trials=20000, seed=3):
    schedule = shop.schedule(*works, limit=0.0)
    return chances_in_time(
        schedule.tasks, schedule.pieces, shop.shop, works, low=LOW, high=HIGH, trials=trials,
        seed=seed,
    )  # fmt: skip


def piece(a_work, name, due=THURSDAY, **stations):
    return a_work(name, station_s=BARE | stations, weld=((0, 0),), tumbling_s=0.0, due=due)


def three_sigma(chance, trials=20000):
    return 3 * np.sqrt(chance * (1 - chance) / trials) + 1e-3


@pytest.mark.parametrize("work_h", [4.5, 5.5, 6.0, 7.0])
def test_one_station_is_in_time_as_often_as_its_triangle_says(workshop, a_work, work_h):
    """Six hours till the evening of the due day: in time if the factor is below 6 / work."""
    (found,) = chances(workshop(), [piece(a_work, "one", weave=3600.0 * work_h)])
    assert found == pytest.approx(below(6 / work_h), abs=three_sigma(below(6 / work_h)))


def test_a_slow_hand_is_late_more_often(workshop, a_work):
    works = [piece(a_work, "one", weave=3600.0 * 5)]
    (found,) = chances(workshop(people=[Person(label="Ann", pace=1.2)]), works)
    assert found == pytest.approx(below(1.0), abs=three_sigma(below(1.0)))


def test_who_is_free_takes_the_next(workshop, a_work):
    """One weaves, one cleans; the third piece goes to whoever is done first.

    It is in time unless both take long: 1 - P(late | both), with independent factors a station.
    """
    works = [
        piece(a_work, "woven", due=None, weave=3600.0 * 5.4),
        piece(a_work, "cleaned", due=None, clean=3600.0 * 5.4),
        piece(a_work, "third", inspect=1.0),
    ]
    shop = workshop(people=[Person(label="Ann"), Person(label="Ben")])
    schedule = shop.schedule(*works, limit=0.0)
    order = sorted(schedule.tasks, key=lambda task: task.piece == "third")
    both = [task for task in order if task.piece != "third"]
    (third,) = [task for task in order if task.piece == "third"]
    late = max(task.end_s for task in both)
    third = replace(third, start_s=late, end_s=late + 1)  # planned last, by one of them
    found = chances_in_time(
        [*both, third], schedule.pieces, shop.shop, works, low=LOW, high=HIGH, trials=20000, seed=3
    )
    wanted = 1 - (1 - below(6 / 5.4)) ** 2
    assert found[2] == pytest.approx(wanted, abs=three_sigma(wanted))


def test_the_assay_is_counted_in_weekdays(workshop, a_work):
    """Five weekdays away: done on Thursday, back on the Thursday after, or a day later."""
    back = datetime.date(2027, 3, 11)
    work = a_work("one", station_s=BARE | {"weave": 3600.0 * 5.5}, weld=((0, 0),), tumbling_s=0.0,
                  due=back, hallmark_days=5)  # fmt: skip
    (found,) = chances(workshop(), [work])
    assert found == pytest.approx(below(6 / 5.5), abs=three_sigma(below(6 / 5.5)))


def test_the_same_seed_gives_the_same_chance_and_another_nearly_the_same(workshop, a_work):
    works = [piece(a_work, "one", weave=3600.0 * 5.5)]
    assert chances(workshop(), works) == chances(workshop(), works)
    assert chances(workshop(), works, seed=4) == pytest.approx(chances(workshop(), works), abs=0.02)


def test_the_triangle_has_its_ends_and_its_peak():
    share = np.linspace(0, 1, 100001)
    found = triangular(share, LOW, HIGH)
    assert (found[0], found[-1]) == pytest.approx((LOW, HIGH))
    assert np.interp(1.0, found, share) == pytest.approx(below(1.0), abs=1e-6)
    assert (triangular(share, 1.0, 1.0) == 1.0).all()


def test_advice_names_what_raises_a_low_chance_and_by_how_much(workshop, a_work):
    """Two pieces of three and a half hours on one day of six."""
    works = [
        piece(a_work, "other", weave=3600.0 * 3.5),
        piece(a_work, "urgent", clean=3600.0 * 3.5),
    ]
    shop = workshop()
    schedule = shop.schedule(*works, limit=0.0, trials=500)
    (first, *_) = advise(schedule, works, shop.shop, StationSettings(), 0)
    by_text = {way.text: way.chance for way in first.ways}
    hours = [by_text[f"{text} of overtime a day"] for text in ("an hour", "2 hours", "3 hours")]
    assert 0.1 < hours[0] < hours[1] < hours[2]
    assert by_text["one more person, at the workshop's hours"] == 1.0
    (moved,) = [way for way in first.ways if way.moved]
    assert moved.chance == pytest.approx(below(6 / 3.5), abs=1e-6)
    assert moved.moved_chance is not None
    assert moved.moved_chance < 0.2
    said = advice_text(first)
    assert "one more person, at the workshop's hours makes it better than 99 %" in said
    assert f"{moved.moved} itself then" in said


def test_no_advice_where_every_chance_is_good(workshop, a_work):
    works = [piece(a_work, "one", weave=3600.0)]
    shop = workshop()
    assert advise(shop.schedule(*works), works, shop.shop, StationSettings(), 0) == ()
