"""CP-SAT on a timetable: steps in working hours, people and machines one thing at a time.

Time is counted on one axis, the seconds at which anybody works, so that nights are nowhere. Whoever
works less than that has hours of his or her own: each step that such a person may do has a place on
that person's axis too, and one literal a gap says whether it begins, or ends, behind it.

One worker, a fixed seed and a limit in deterministic time: the same input gives the same answer.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

from chainplan.schedule.exact.axis import Axis
from chainplan.schedule.exact.laying import Laying, place_in
from chainplan.schedule.exact.timetable import Asked, Solved
from chainplan.schedule.hours import DAY_S

if TYPE_CHECKING:
    from collections.abc import Sequence


SEED = 15
"""Any number: the same job then gets the same week."""
SMALL = 30
"""Steps up to which one way of searching ends soonest. Measured: beyond, several by turns find
more, neighbourhoods of the best timetable among them."""
MOST_IN_CIRCUIT = 30
"""Steps at the welder whose changes of setting are looked at pair by pair."""


def has_solver() -> bool:
    """Whether the extra ``chainplan[schedule]`` is there."""
    from importlib.util import find_spec

    return find_spec("ortools") is not None


def load_solver() -> None:
    """Load the solver, if it is there: it takes long, and may as well be done in advance."""
    if has_solver():
        from ortools.sat.python import cp_model  # noqa: F401


def solve(
    asked: Asked,
    aim: str,
    *,
    limit: float,
    hint: Sequence[tuple[int, int]] = (),
) -> Solved:
    """Look for the best timetable.

    Parameters
    ----------
    asked : Asked
        What is wanted.
    aim : str
        "late": least cost of lateness; "end": earliest end of all; "all": the least lateness, then
        the least cost of changes of setting, then the earliest end.
    limit : float
        Deterministic time, about a second or more each on a usual computer.
    hint : sequence, optional
        Start in seconds and worker of each step in a timetable that is known.

    Returns
    -------
    Solved
        Starts in seconds of the clock, and so is the bound if the aim is the end.

    Notes
    -----
    L. Perron, V. Furnon, OR-Tools 9.15, CP-SAT.

    What was solved before of the very same is taken from the shelf where one is lent: loading the
    solver takes longer than most timetables.
    """
    from chainplan.store import keeping, key_of
    from chainplan.store.packing import digest
    from chainplan.store.version import timetable_version

    if not keeping.is_keeping():
        return _solve(asked, aim, limit, hint)
    key = key_of("timetable", digest(asked), aim, limit, tuple(hint), timetable_version())
    found = keeping.recall(key)
    if not isinstance(found, Solved):
        found = _solve(asked, aim, limit, hint)
        keeping.remember(key, found)
    return found


def _solve(asked: Asked, aim: str, limit: float, hint: Sequence[tuple[int, int]]) -> Solved:
    from ortools.sat.python import cp_model

    model = _Model(asked, cp_model.CpModel())
    value = model.aim_at(aim)
    model.suggest(hint)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = SEED
    solver.parameters.max_deterministic_time = limit
    solver.parameters.cp_model_probing_level = 0  # takes most of a short limit, and finds nothing
    solver.parameters.symmetry_level = 0
    solver.parameters.catch_sigint_signal = False  # it would leave Ctrl-C to end us without a word
    if len(asked.steps) > SMALL:
        solver.parameters.interleave_search = True
    else:
        solver.parameters.linearization_level = 0
    status = solver.solve(model.cp)
    if status in (cp_model.INFEASIBLE, cp_model.MODEL_INVALID):
        message = f"the timetable was asked for wrongly: {solver.status_name(status)}"
        raise RuntimeError(message)
    axis = model.axis
    bound = max(round(solver.best_objective_bound), 0)
    bound = axis.ends(bound) if aim == "end" else bound
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Solved(proved=False, bound=bound)
    found = solver.value(value)
    return Solved(
        proved=status == cp_model.OPTIMAL,
        bound=bound,
        value=axis.ends(found) if aim == "end" else found,
        start_s=tuple(axis.begins(solver.value(start)) for start in model.start),
        worker=tuple(
            next(k for k, there in own.items() if solver.value(there)) for own in model.there
        ),
    )


class _Model:
    """Variables and constraints of one timetable."""

    def __init__(self, asked: Asked, cp: Any) -> None:
        self.asked, self.cp = asked, cp
        self.axis = Axis.of(asked.hours, asked.horizon_s)
        self.far = self.axis.long_s
        self.windows = [self.axis.on_it(own, asked.horizon_s) for own in asked.hours]
        self.start: list[Any] = []
        self.end: list[Any] = []  # of the attended work
        self.over: list[Any] = []  # before which nothing that follows begins
        self.there: list[dict[int, Any]] = []  # worker → whether he or she does it
        self.busy: dict[object, list[Any]] = {}
        self.own: list[dict[int, tuple[Any, list[tuple[int, Any, Any]]]]] = []
        self.ends_by: list[tuple[Any, int, Any]] = []  # literal, moment, steps that end by then
        self.arcs: list[Any] = []
        self.at_welder: list[int] = []
        for step in asked.steps:
            self._add(step.takes_s, self.axis.place(step.from_s))
        for place, step in enumerate(asked.steps):
            self._stay(place, step.stays_s)
            if step.machine:
                size = cp.new_int_var(0, 2 * self.far, "")
                span = cp.new_interval_var(self.start[place], size, self.over[place], "")
                self.busy.setdefault(step.machine, []).append(span)
        for place, step in enumerate(asked.steps):
            for before in step.after:
                cp.add(self.start[place] >= self.over[before])
            if step.twin is not None:
                cp.add(self.start[place] >= self.start[step.twin])
        for key in sorted(self.busy, key=str):
            spans, number = self.busy[key], asked.machines.get(str(key), 1)
            if number == 1:
                cp.add_no_overlap(spans)
            else:
                cp.add_cumulative(spans, [1] * len(spans), number)

    def _add(self, takes_s: Any, from_s: int) -> None:
        """Add one step with those who may do it."""
        cp, alone = self.cp, len(takes_s) == 1
        start, end = cp.new_int_var(from_s, self.far, ""), cp.new_int_var(from_s, self.far, "")
        there = {k: 1 if alone else cp.new_bool_var("") for k in sorted(takes_s)}
        self.start.append(start)
        self.end.append(end)
        self.there.append(there)
        self.own.append({})
        if not alone:
            cp.add_exactly_one(there.values())
        for k, chosen in there.items():
            windows, only = self.windows[k], None if alone else chosen
            if len(windows) == 1:  # on this axis from its first moment to its last
                self._if(cp.add(end == start + takes_s[k]), only)
                self._if(cp.add(start >= windows[0][0]), only)
                begun = start
            else:
                begun, literals = self._own(windows, (start, end), takes_s[k], only)
                self.own[-1][k] = begun, literals
            span = (
                cp.new_fixed_size_interval_var(begun, takes_s[k], "")
                if alone
                else cp.new_optional_fixed_size_interval_var(begun, takes_s[k], chosen, "")
            )
            self.busy.setdefault(k, []).append(span)

    def _own(
        self, windows: Any, ends: tuple[Any, Any], takes_s: int, only: Any
    ) -> tuple[Any, list[tuple[int, Any, Any]]]:
        """Tie a step to the axis of one person, and return where it begins there."""
        cp, total = self.cp, sum(shuts - opens for opens, shuts in windows)
        begun = cp.new_int_var(0, max(total - takes_s, 0), "")
        literals: list[tuple[int, Any, Any]] = []
        starts, done, before = windows[0][0] + begun, windows[0][0] + begun + takes_s, 0
        for (opens, shuts), (again, _) in itertools.pairwise(windows):
            before += shuts - opens
            behind, over = cp.new_bool_var(""), cp.new_bool_var("")
            cp.add(begun >= before).only_enforce_if(behind)
            cp.add(begun < before).only_enforce_if(~behind)
            cp.add(begun + takes_s > before).only_enforce_if(over)
            cp.add(begun + takes_s <= before).only_enforce_if(~over)
            literals.append((before, behind, over))
            starts += (again - shuts) * behind
            done += (again - shuts) * over
        self._if(cp.add(ends[0] == starts), only)
        self._if(cp.add(ends[1] == done), only)
        return begun, literals

    @staticmethod
    def _if(constraint: Any, only: Any) -> None:
        if only is not None:
            constraint.only_enforce_if(only)

    def _stay(self, place: int, stays_s: int) -> None:
        """Say when a step is over that stays at its machine by itself; part of that may be night.

        A timetable that is to be worked leaves the whole time in the day; where the least is
        wanted it may be night if the work ends shortly before one.
        """
        end, cp = self.end[place], self.cp
        if not stays_s or not self.asked.least:
            self.over.append(end + stays_s)
            return
        over = cp.new_int_var(0, self.far + stays_s, "")
        cp.add(over >= end)
        saved: Any = 0
        for night in self.axis.nights():
            in_it = cp.new_bool_var("")
            cp.add(end > night - stays_s).only_enforce_if(in_it)
            cp.add(end <= night).only_enforce_if(in_it)
            saved += stays_s * in_it
        cp.add(over >= end + stays_s - saved)
        self.over.append(over)

    def aim_at(self, aim: str) -> Any:
        """Say what is to be as small as possible, and return it."""
        value = self._value(aim)
        self.cp.minimize(value)
        return value

    def _value(self, aim: str) -> Any:
        if aim == "late":
            return self._lateness()
        cp = self.cp
        end = cp.new_int_var(0, self.far, "end")
        for last in self.end:
            cp.add(end >= last)
        if aim == "end":
            return end
        changes, most = self._changes()
        return (self._lateness() * (most + 1) + changes) * (self.far + 1) + end

    def _lateness(self) -> Any:
        """Cost of lateness: one literal a day on which it grows."""
        cp, total = self.cp, 0
        for piece, cost in sorted(self.asked.late.items()):
            own = [k for k, step in enumerate(self.asked.steps) if step.piece == piece]
            last = set(own) - {b for k in own for b in self.asked.steps[k].after}
            total += cost[0]
            for day in range(1, len(cost)):
                if cost[day] == cost[day - 1]:
                    continue
                late = cp.new_bool_var("")
                evening = self.axis.place(day * DAY_S)
                for place in sorted(last):
                    cp.add(self.end[place] <= evening).only_enforce_if(~late)
                self.ends_by.append((late, evening, sorted(last)))
                total += (cost[day] - cost[day - 1]) * late
        return total

    def _changes(self) -> tuple[Any, int]:
        """Cost of changes of the welder's setting, and the most that it can be.

        The way through all steps that need a setting is a circuit whose arcs cost.
        """
        steps = self.asked.steps
        own = [k for k, step in enumerate(steps) if step.setting_before]
        kinds = {steps[k].setting_before for k in own} | {steps[k].setting_after for k in own}
        if len(kinds) < 2 or not 2 <= len(own) <= MOST_IN_CIRCUIT:
            return 0, 0
        if any(self.asked.machines.get(steps[k].machine, 1) > 1 for k in own):
            return 0, 0  # several welders: who keeps which setting shows when it is worked
        arcs: list[Any] = []
        total: Any = 0
        for one, place in enumerate(own, 1):
            arcs += [(0, one, self.cp.new_bool_var("")), (one, 0, self.cp.new_bool_var(""))]
            for two, other in enumerate(own, 1):
                if one == two:
                    continue
                next_ = self.cp.new_bool_var("")
                self.cp.add(self.start[other] >= self.over[place]).only_enforce_if(next_)
                arcs.append((one, two, next_))
                setting = steps[other].setting_before
                if steps[place].setting_after != setting:
                    total += (1 + self.asked.change_s.get(setting, 0)) * next_
        self.cp.add_circuit(arcs)
        self.arcs, self.at_welder = arcs, own
        return total, sum(1 + self.asked.change_s.get(steps[k].setting_before, 0) for k in own)

    def suggest(self, hint: Sequence[tuple[int, int]]) -> None:
        """Begin the search at a timetable that is known: start and worker of each step in order.

        The steps are laid on the axis in the order of their starts, each as early as it can; so
        what is suggested is a timetable of this model, whatever the rule saved beside it.
        """
        if not hint:
            return
        laid = Laying(self.asked, self.axis, self.windows).lay(hint)
        value = self.cp.add_hint
        for place, (start, end, worker) in enumerate(laid):
            value(self.start[place], start)
            value(self.end[place], end)
            for k, there in self.there[place].items():
                if not isinstance(there, int):
                    value(there, k == worker)
            for k, (begun, literals) in self.own[place].items():
                at = place_in(self.windows[k], start) if k == worker else 0
                takes_s = self.asked.steps[place].takes_s[k]
                value(begun, at)
                for before, behind, over in literals:
                    value(behind, at >= before)
                    value(over, at + takes_s > before)
        for late, evening, last in self.ends_by:
            value(late, any(laid[k][1] > evening for k in last))
        turn = sorted(range(len(self.at_welder)), key=lambda k: laid[self.at_welder[k]][0])
        way = [0, *(k + 1 for k in turn), 0]
        taken = set(itertools.pairwise(way))
        for one, two, literal in self.arcs:
            value(literal, (one, two) in taken)
