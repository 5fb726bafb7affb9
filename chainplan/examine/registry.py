"""The list of all checks: each enters itself under a name that its findings carry."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

Check = tuple[str, "Callable[[PlanFiles, Teller], None]"]
CHECKS: list[Check] = []
"""Every check: its name and what it runs."""


OF_WHOLE_ORDERS = frozenset(
    {
        "every join is welded once",
        "times are those of the hand",
        "passes are those of the table",
        "bench times and the bound",
        "the batch takes every piece once",
        "sentences say what the numbers are",
        "the bench sheet is the weld order",
        "what the estimates count is what was laid out",
        "the schedule can be worked",  # the schedule is of the whole job
        "times add up",  # estimates are of the whole job, the batch is of the rest
        "limits hold at the peaks",  # rows that were kept tell the warmer whole order
    }
)
"""Checks that rest on an order of all joins: the rest of a plan, made again while the work goes on,
has a check of its own instead."""


def check(name: str) -> Callable[[Callable[[PlanFiles, Teller], None]], object]:
    """Enter a check into the list under a name that its findings carry."""

    def enter(run: Callable[[PlanFiles, Teller], None]) -> Callable[[PlanFiles, Teller], None]:
        CHECKS.append((name, run))
        return run

    return enter
