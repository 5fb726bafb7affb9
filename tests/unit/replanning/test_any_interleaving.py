"""Record, plan again, crash, record again, in any order: nothing is lost, nothing welded twice."""

from __future__ import annotations

import itertools
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

import chainplan
from chainplan.record.kept.store import Record

RINGS, COPIES = 4, 2


class Crash(Exception):
    """The process dies."""


def machine_of(workshop: Any) -> Any:
    """Build the machine around a kind of workshop."""

    class Bench(RuleBasedStateMachine):
        """The real folder and record beside a plain dictionary of what was told."""

        def __init__(self) -> None:
            super().__init__()
            self.place = tempfile.TemporaryDirectory()
            self.shop = workshop(Path(self.place.name), rings=RINGS, copies=COPIES)
            self.state: dict[tuple[int, int], str] = {}
            self.logs: list[Path] = []
            self.limit = 60

        def teardown(self) -> None:
            self.place.cleanup()

        def left(self) -> list[tuple[int, int]]:
            every = [(c, r) for c in range(1, COPIES + 1) for r in range(1, RINGS + 1)]
            return [join for join in every if self.state.get(join) != "done"]

        @precondition(lambda self: self.left())
        @rule(data=st.data(), result=st.sampled_from(["done", "done", "again", "broken", "later"]))
        def weld(self, data: st.DataObject, result: str) -> None:
            copy, ring = data.draw(st.sampled_from(self.left()))
            log = self.shop.log([ring], result, copy)
            self.logs.append(log)
            done = chainplan.record_logs([log], self.shop.folder)
            assert not done.faults, done.faults
            self.state[copy, ring] = result

        @precondition(lambda self: self.logs)
        @rule(data=st.data())
        def hand_over_again(self, data: st.DataObject) -> None:
            log = data.draw(st.sampled_from(self.logs))
            done = chainplan.record_logs([log], self.shop.folder)
            assert sum(item.recorded for item in done.files) == 0

        @precondition(lambda self: len(self.left()) < RINGS * COPIES)
        @rule(data=st.data())
        def weld_twice(self, data: st.DataObject) -> None:
            done = [join for join, state in self.state.items() if state == "done"]
            copy, ring = data.draw(st.sampled_from(sorted(done)))
            taken = chainplan.record_logs([self.shop.log([ring], "done", copy)], self.shop.folder)
            assert len(taken.faults) == 1

        @rule(limit=st.sampled_from([45, 60]))
        def plan_again(self, limit: int) -> None:
            self.shop.change(limit)
            self.shop.replan()
            asked = self.shop.turns()
            assert len(asked) == len(set(asked))
            assert sorted(asked) == self.left()

        @rule(late=st.booleans())
        def crash_while_planning(self, late: bool) -> None:
            """Die before the folder changes, or between the folder and the record."""
            calls, keep = itertools.count(), Record.keep_plan

            def die_after_the_folder(*given: Any) -> None:
                if next(calls) > 0:
                    raise Crash
                keep(*given)

            with pytest.MonkeyPatch.context() as patch:
                if late:
                    patch.setattr(Record, "keep_plan", die_after_the_folder)
                else:
                    patch.setattr("chainplan.public.plan.write_plan", _die)
                with pytest.raises(Crash):
                    self.shop.replan()

        @rule()
        def crash_while_recording(self) -> None:
            """Die in the middle of a transaction: nothing of it may be seen."""
            left = self.left()
            if not left:
                return
            copy, ring = left[0]
            log = self.shop.log([ring], "done", copy)
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr("chainplan.record.kept.store._row", _die)
                with pytest.raises(Crash):
                    chainplan.record_logs([log], self.shop.folder)

        @invariant()
        def the_record_says_what_was_told(self) -> None:
            path = self.shop.folder.parent / "workshop.sqlite"
            if not path.exists():
                assert not self.state
                return
            with Record(path, read_only=True) as record:
                rows = record.rows("SELECT copy, ring, state FROM join_now")
            assert {(copy, ring): state for copy, ring, state in rows} == self.state
            (job,) = chainplan.progress(self.shop.folder)
            told = {piece.copy: piece.done for piece in job.pieces}
            for copy in range(1, COPIES + 1):
                done = sum(s == "done" for (c, _), s in self.state.items() if c == copy)
                assert told[copy] == done

    return Bench


def _die(*_: object, **__: object) -> None:
    raise Crash


def test_no_finished_join_is_lost_and_none_is_welded_twice(
    small_workshop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each example is a workshop of its own, from the first plan on; no solver is asked."""
    monkeypatch.setattr("chainplan.schedule.search.LIMIT", 0.0)
    machine = machine_of(small_workshop)
    machine.TestCase.settings = settings(max_examples=15, stateful_step_count=12, deadline=None)
    run_state_machine_as_test(machine, settings=machine.TestCase.settings)
