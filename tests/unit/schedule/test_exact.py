"""The solver: published instances of known optimum, brute force on tiny jobs, same answer twice."""

from __future__ import annotations

import datetime
import itertools
import signal
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.examine.days.schedule import check_schedule
from chainplan.model.workshop.schedule import Person
from chainplan.schedule.bounds import JobBounds
from chainplan.schedule.exact.axis import Axis
from chainplan.schedule.exact.solve import has_solver, solve
from chainplan.schedule.exact.timetable import Asked, Step
from chainplan.schedule.hours import DAY_S, Hours
from chainplan.schedule.rule.follow import Follow, Line, lines_of
from chainplan.schedule.search import best_by_rule, score_of
from chainplan.schedule.workdays import WorkDays
from chainplan.store import ResultShelf
from chainplan.store.keeping import keeping

pytestmark = pytest.mark.skipif(not has_solver(), reason="needs the extra chainplan[schedule]")
THURSDAY = datetime.date(2027, 3, 4)

FT06 = """
2 1 0 3 1 6 3 7 5 3 4 6
1 8 2 5 4 10 5 10 0 10 3 4
2 5 3 4 5 8 0 9 1 1 4 7
1 5 0 5 2 5 3 3 4 8 5 9
2 9 1 3 4 5 5 4 0 3 3 1
1 3 3 3 5 9 0 10 4 4 2 1
"""
"""H. Fisher, G. L. Thompson, Probabilistic learning combinations of local job-shop scheduling
rules, in J. F. Muth, G. L. Thompson (eds.), Industrial Scheduling, Prentice Hall 1963, pages
225-251: six jobs on six machines, a pair of machine and time an operation. Optimum 55."""
LA01 = """
1 21 0 53 4 95 3 55 2 34
0 21 3 52 4 16 2 26 1 71
3 39 4 98 1 42 2 31 0 12
1 77 0 55 4 79 2 66 3 77
0 83 3 34 2 64 1 19 4 37
1 54 2 43 4 79 0 92 3 62
3 69 4 77 1 87 2 87 0 93
2 38 0 60 1 41 3 24 4 83
3 17 1 49 4 25 0 44 2 98
4 77 3 79 2 43 1 75 0 96
"""
"""S. Lawrence, Resource constrained project scheduling: an experimental investigation of heuristic
scheduling techniques (supplement), Carnegie Mellon University 1984: ten jobs on five machines.
Optimum 666, the work of one machine."""


def shop_of(text):
    """Each machine is somebody who does one thing at a time, day and night."""
    steps = []
    rows = [[int(word) for word in line.split()] for line in text.strip().splitlines()]
    for job, row in enumerate(rows):
        for place, (machine, takes_s) in enumerate(zip(row[::2], row[1::2], strict=True)):
            after = (len(steps) - 1,) if place else ()
            steps.append(Step(piece=job, takes_s={machine: takes_s}, after=after))
    people = len(rows[0]) // 2
    horizon_s = sum(sum(row[1::2]) for row in rows)
    hours = tuple(Hours(None) for _ in range(people))
    return Asked(steps=tuple(steps), hours=hours, horizon_s=horizon_s)


@pytest.mark.parametrize(("text", "optimum"), [(FT06, 55), (LA01, 666)])
def test_published_instances_come_to_their_optimum(text, optimum):
    asked = shop_of(text)
    found = solve(asked, "end", limit=2.0)
    assert (found.proved, found.value, found.bound) == (True, optimum, optimum)
    last: dict[int, int] = {}
    for place in sorted(range(len(asked.steps)), key=lambda k: found.start_s[k]):
        step, start_s = asked.steps[place], found.start_s[place]
        ((machine, takes_s),) = step.takes_s.items()
        assert start_s >= last.get(machine, 0)
        assert all(start_s >= found.start_s[k] + sum(asked.steps[k].takes_s.values())
                   for k in step.after)  # fmt: skip
        last[machine] = start_s + takes_s
    assert max(last.values()) == optimum


def small(workshop, a_work, hallmark=0):
    """Two pieces with weaving and cleaning alone, for two people of whom one comes later."""
    people = [Person(label="Ann"), Person(label="Ben", day_starts_h=11, hours_per_day=2)]
    bare = {"coil": 0, "cut": 0, "tumble": 0, "set up": 0, "rework": 0, "inspect": 0, "finish": 0}

    def piece(name, weave_s, clean_s, **more):
        return a_work(name, station_s=bare | {"weave": weave_s, "clean": clean_s},
                      settings=("8 J",), tumbling_s=0.0, **more)  # fmt: skip

    works = [
        piece("long", 14000.0, 4000.0, weld=((0, 900),), due=THURSDAY, late_weight=2.0),
        piece("short", 6000.0, 9000.0, weld=((0, 600),), due=THURSDAY, hallmark_days=hallmark),
    ]
    return workshop(people=people), works


def every_timetable(works, shop):
    """All orders and all hands of three steps of each of two pieces."""
    steps = [(0, "weave"), (0, "weld"), (0, "clean"), (1, "weave"), (1, "weld"), (1, "clean")]
    for mine in itertools.combinations(range(6), 3):
        first, second = iter(steps[:3]), iter(steps[3:])
        order = [next(first) if k in mine else next(second) for k in range(6)]
        for hands in itertools.product(range(len(shop.workers)), repeat=6):
            yield [
                Line(piece=piece, station=station, first=1, part=0, worker=who)
                for (piece, station), who in zip(order, hands, strict=True)
            ]


def test_no_timetable_of_a_tiny_job_is_better(workshop, a_work):
    shop, works = small(workshop, a_work)
    best = min(
        score_of(Follow(works, shop.shop, lines).run(), works, shop.shop)
        for lines in every_timetable(works, shop.shop)
    )
    schedule = shop.schedule(*works)
    late = sum(each.late_days * each.late_weight for each in schedule.pieces)
    end_s = max(task.end_s for task in schedule.tasks)
    assert (late, schedule.changes, end_s) == (best[0], best[2], best[3])
    rule = best_by_rule(works, shop.shop)
    proved = JobBounds.of(works, shop.shop, late=best[0], end_s=rule.end_s, limit=1.0)
    assert proved.late_days == best[0]
    assert proved.end_s <= best[3]


def test_a_rule_s_schedule_comes_out_again_line_by_line(workshop, a_work):
    shop, works = small(workshop, a_work)
    rule = best_by_rule(works, shop.shop)
    again = Follow(works, shop.shop, [line for line, _ in lines_of(rule, shop.shop)]).run()
    assert [row[1:] for row in again.rows] == [row[1:] for row in rule.rows]


def test_the_heavier_piece_is_in_time(workshop, a_work):
    """One person and one day for two pieces: the one whose lateness counts more goes first."""
    for heavy in ("one", "two"):
        works = [
            a_work(name, weave_h=3.5, due=THURSDAY, late_weight=5.0 if name == heavy else 1.0,
                   tumbling_s=0.0)
            for name in ("one", "two")
        ]  # fmt: skip
        schedule = workshop().schedule(*works)
        assert [each.piece for each in schedule.late] == [{"one": "two", "two": "one"}[heavy]]
        assert schedule.bound.late_days + schedule.gap.late_days == 1.0


def test_the_solver_finds_what_the_rule_cannot(workshop, a_work):
    """The rule never waits: it begins the long piece before the urgent one has come."""
    works = [
        a_work("urgent", weave_h=2.0, due=datetime.date(2027, 3, 5), tumbling_s=0.0,
               bought_for=frozenset({"coil"})),
        a_work("long", weave_h=11.0, tumbling_s=0.0),
    ]  # fmt: skip
    shop = workshop(delivery_days=1)
    alone = shop.schedule(*works, limit=0.0)
    found = shop.schedule(*works)
    assert alone.late
    assert not found.late
    assert found.way.startswith("constraint programming")
    assert check_schedule(shop.written(found, works)) == ()
    assert shop.schedule(*works) == found


def test_the_moment_of_the_earliest_end_is_told(workshop, a_work):
    """Wire comes on Monday morning: three hours later at the soonest, whatever else is done."""
    friday = datetime.date(2027, 3, 5)
    work = a_work("order", weave_h=2.0, due=friday, bought_for=frozenset({"coil"}))
    schedule = workshop(delivery_days=2).schedule(work, a_work("other"))
    told = " ".join(schedule.bound.words)
    assert "no schedule can finish order before Mon 2027-03-08 1" in told
    assert schedule.gap.late_days == 0


DAYS = st.sampled_from(
    [
        (6.0, 9.0, frozenset(range(5))), (2.0, 11.0, frozenset({0, 2})),
        (10.0, 7.5, frozenset(range(7))),
    ]
)  # fmt: skip


@settings(max_examples=40)
@given(st.lists(DAYS, min_size=1, max_size=3), st.integers(0, 20 * DAY_S))
def test_the_axis_has_all_hours_and_no_others(kinds, moment):
    hours = [Hours(WorkDays(THURSDAY, a, b, c, frozenset())) for a, b, c in kinds]
    until = 30 * DAY_S
    axis = Axis.of(hours, until)
    place = axis.place(moment)
    somebody = any(own.next_s(moment) == moment for own in hours)
    if somebody:
        assert axis.begins(place) == moment
    assert axis.place(axis.begins(place)) == axis.place(axis.ends(place)) == place
    for own in hours:
        there = axis.on_it(own, until)
        worked = sum(min(b, place) - a for a, b in there if a < place)
        assert worked == own.worked_s(moment)


def test_a_timetable_is_solved_once_and_kept_by_all_that_it_was_asked(tmp_path, monkeypatch):
    """The solver is not even loaded for what was asked before."""
    asked = shop_of(FT06)
    anew = solve(asked, "end", limit=1.0)
    shelf = ResultShelf(folder=tmp_path / "kept")
    with keeping(shelf):
        assert solve(asked, "end", limit=1.0) == anew

        def refuse(*_args, **_kwargs):
            message = "solved, though it was kept"
            raise AssertionError(message)

        monkeypatch.setattr(sys.modules[solve.__module__], "_solve", refuse)
        assert solve(asked, "end", limit=1.0) == anew
        step = replace(
            asked.steps[0], takes_s={k: s + 1 for k, s in asked.steps[0].takes_s.items()}
        )
        for other, aim, limit, hint in (
            (replace(asked, steps=(step, *asked.steps[1:])), "end", 1.0, ()),
            (replace(asked, change_s={"fine": 9}), "end", 1.0, ()),
            (asked, "all", 1.0, ()),
            (asked, "end", 2.0, ()),
            (asked, "end", 1.0, ((0, 0),)),
        ):
            with pytest.raises(AssertionError, match="solved, though it was kept"):
                solve(other, aim, limit=limit, hint=hint)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="looks as Linux tells it")
def test_ctrl_c_is_ours_after_the_solver():
    """Left to itself, the solver takes it over, and leaves it to end the program without a word."""
    solve(shop_of(FT06), "end", limit=1.0)
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    (caught,) = [line.split()[1] for line in lines if line.startswith("SigCgt")]
    assert int(caught, 16) >> (signal.SIGINT - 1) & 1
