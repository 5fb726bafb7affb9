"""Steps laid on the axis one after another, each as early as it can: where the solver begins."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.schedule.exact.axis import Axis, Window
    from chainplan.schedule.exact.timetable import Asked, Step


def place_in(windows: Sequence[Window], at: int) -> int:
    """Return the seconds of somebody's own work before a place on the axis."""
    return sum(min(shuts, at) - opens for opens, shuts in windows if opens < at)


class Laying:
    """One run over the steps."""

    def __init__(self, asked: Asked, axis: Axis, windows: Sequence[Sequence[Window]]) -> None:
        self.asked, self.axis, self.windows = asked, axis, windows
        self.free = [0] * len(windows)
        self.machine: dict[str, list[int]] = {}  # when each machine of a kind is free

    def lay(self, hint: Sequence[tuple[int, int]]) -> list[tuple[int, int, int]]:
        """Return start, end and worker of each step.

        Parameters
        ----------
        hint : sequence of pairs
            Start in seconds, which gives the order, and worker of each step.
        """
        steps = self.asked.steps
        laid = [(0, 0, 0)] * len(steps)
        left = sorted(range(len(steps)), key=lambda k: (hint[k][0], k))
        done: set[int] = set()
        while left:
            place = next(k for k in left if {*steps[k].after, *_twin(steps[k])} <= done)
            left.remove(place)
            done.add(place)
            step, worker = steps[place], hint[place][1]
            if worker not in step.takes_s:
                worker = min(step.takes_s)
            free = self.machine.setdefault(
                step.machine, [0] * self.asked.machines.get(step.machine, 1)
            )
            at = max(
                self.axis.place(step.from_s),
                self.free[worker],
                min(free) if step.machine else 0,
                *(laid[k][1] + steps[k].stays_s for k in step.after),
                *(laid[k][0] for k in _twin(step)),
            )
            start, end = self._work(worker, at, step.takes_s[worker])
            laid[place] = start, end, worker
            self.free[worker] = end
            free[free.index(min(free))] = end + step.stays_s
        return laid

    def _work(self, worker: int, at: int, takes_s: int) -> tuple[int, int]:
        """Return start and end of work in somebody's hours."""
        start, left = -1, takes_s
        for opens, shuts in self.windows[worker]:
            if shuts <= at:
                continue
            begin = max(opens, at)
            start = begin if start < 0 else start
            if begin + left <= shuts:
                return start, begin + left
            left -= shuts - begin
        return start, self.axis.long_s


def _twin(step: Step) -> tuple[int, ...]:
    return () if step.twin is None else (step.twin,)
