"""Bounds by sums: they hold for every schedule, and are met where nothing stands in the way."""

from __future__ import annotations

import datetime
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.model.workshop.machines import Machine, MachineStation
from chainplan.model.workshop.schedule import Person
from chainplan.schedule.proof.days import least_late_days
from chainplan.schedule.proof.ends import all_done_s, leaving_off
from chainplan.schedule.proof.pool import Pool
from chainplan.schedule.proof.ways import Ways
from chainplan.schedule.rule.dispatch import Dispatch
from chainplan.schedule.search import score_of

START = datetime.date(2027, 3, 4)
JOBS = st.lists(
    st.tuples(st.integers(0, 20), st.integers(1, 9), st.integers(0, 20)), min_size=1, max_size=5
)


def best_of_every_order(jobs):
    """End of the best order of one machine that does not leave off."""
    ends = []
    for order in itertools.permutations(jobs):
        at, end = 0, 0
        for head, work, tail in order:
            at = max(at, head) + work
            end = max(end, at + tail)
        ends.append(end)
    return min(ends)


@settings(max_examples=200)
@given(JOBS)
def test_leaving_off_is_never_worse_than_the_best_order(jobs):
    assert leaving_off(jobs) <= best_of_every_order(jobs)


@settings(max_examples=200)
@given(JOBS)
def test_leaving_off_is_no_better_than_any_set_of_jobs_allows(jobs):
    """The best end with leaving off is the largest of: least head, all work, least tail."""
    sets = [s for n in range(1, len(jobs) + 1) for s in itertools.combinations(jobs, n)]
    bound = max(
        min(h for h, _, _ in s) + sum(w for _, w, _ in s) + min(t for *_, t in s) for s in sets
    )
    assert leaving_off(jobs) == bound


def test_the_seven_jobs_of_carlier_end_as_he_says():
    """J. Carlier, The one-machine sequencing problem, EJOR 11, 1982, pages 42-47: his example of
    seven jobs, whose best order ends at 50; with leaving off 49 is as far as it goes."""
    heads, works, tails = (
        (10, 13, 11, 20, 30, 0, 30),
        (5, 6, 7, 4, 3, 6, 2),
        (7, 26, 24, 21, 8, 17, 0),
    )
    jobs = list(zip(heads, works, tails, strict=True))
    assert leaving_off(jobs) == 49
    assert best_of_every_order(jobs) == 50


@pytest.mark.parametrize("most", [0, 1])
def test_a_pool_works_as_its_people_do(workshop, most):
    people = [Person(label="Ann", pace=0.8), Person(label="Ben", day_starts_h=11, pace=1.25)]
    workers = workshop(people=people).shop.workers
    pool = Pool.of(workers, 20 * 86400.0, most=most)
    for moment in range(0, 15 * 86400, 7777):
        each = [worker.hours.worked_s(moment) for worker in workers]
        done = float(pool.done(np.array([moment]))[0])
        if most == 0:
            wanted = sum(s / worker.pace for s, worker in zip(each, workers, strict=True))
            assert done == pytest.approx(wanted)
        else:
            assert max(each) - 1 <= done <= sum(each) + 1
        if done > 0:
            back = float(pool.reach(np.array([done]))[0])
            assert back <= moment + 1e-6
            assert float(pool.done(np.array([back]))[0]) == pytest.approx(done)


def test_one_piece_and_one_person_end_at_the_bound(workshop, a_work):
    for more in ({}, {"copies": 3}, {"bought_for": frozenset({"coil"})}, {"tumbling_s": 0.0}):
        schedule = workshop().schedule(a_work("chain", **more), limit=0.0)
        last_s = max(task.end_s for task in schedule.tasks)
        assert 0 <= last_s - schedule.bound.end_s <= 30, more


def test_late_days_of_equal_pieces_are_proved_to_a_fifth(workshop, a_work):
    """Twelve pieces of four hours for one person who works six a day, all wanted on the first."""
    works = [a_work(f"p{k}", weave_h=3.4, due=START, tumbling_s=0.0) for k in range(12)]
    schedule = workshop().schedule(*works, limit=0.0)
    late = sum(each.late_days for each in schedule.late)
    assert schedule.bound.late_days >= 0.8 * late


PEOPLE = (
    (Person(label="Ann"),),
    (Person(label="Ann"), Person(label="Ben", pace=0.7, stations="weave, weld, clean, finish")),
    (Person(label="Ann", stations="coil, cut, tumble, clean, inspect, finish"),
     Person(label="Ben", pace=1.4), Person(label="Cleo", hours_per_day=3, day_starts_h=14)),
)  # fmt: skip
MACHINES = (
    (),
    (Machine(label="welder", station=MachineStation.WELD, number=2),),
    (Machine(label="welder", station=MachineStation.WELD, days_off="2027-03-05"),
     Machine(label="saw", station=MachineStation.CUT)),
)  # fmt: skip


@st.composite
def jobs(draw):
    return [
        {
            "weave_h": draw(st.sampled_from((0.0, 0.4, 3.0, 8.0))),
            "copies": draw(st.integers(1, 3)),
            "weld": draw(st.sampled_from((((0, 600),), ((0, 120), (600, 120), (600, 120))))),
            "settings": draw(st.sampled_from((("8 J",), ("18 J",), ("8 J", "18 J")))),
            "tumbling_s": draw(st.sampled_from((0.0, 3600.0, 40000.0))),
            "due": START + datetime.timedelta(days=draw(st.integers(0, 6))),
            "hallmark_days": draw(st.sampled_from((0, 2))),
            "late_weight": draw(st.sampled_from((1.0, 2.5))),
            "bought_for": draw(st.sampled_from((frozenset(), frozenset({"coil"})))),
        }
        for _ in range(draw(st.integers(1, 5)))
    ]


@settings(max_examples=60, deadline=None)
@given(
    jobs(), st.sampled_from(PEOPLE), st.sampled_from(MACHINES), st.randoms(use_true_random=False)
)
def test_no_ranking_does_better_than_the_bounds(
    workshop, a_work, wanted, people, machines, shuffled
):
    """Whatever the ranking, the rule comes to no less than is proved of a poor schedule."""
    works = [a_work(f"piece {k}", **given) for k, given in enumerate(wanted)]
    shop = workshop(people=people, machines=machines).shop
    order = list(range(len(works)))
    runs = []
    for _ in range(4):
        shuffled.shuffle(order)
        runs.append(Dispatch(works, shop, order).run())
    scores = [score_of(laid, works, shop) for laid in runs]
    worst = max(runs, key=lambda laid: laid.end_s)
    ways = Ways(works, shop, worst.end_s + 30 * 86400)
    assert all_done_s(ways, range(len(works))) <= min(laid.end_s for laid in runs)
    known = max(score[0] for score in scores)
    least = least_late_days(ways, known=known, end_s=worst.end_s)
    assert least <= min(score[0] for score in scores) + 1e-6
    for piece in range(len(works)):
        assert all_done_s(ways, [piece]) <= min(laid.done_s[piece] for laid in runs)
