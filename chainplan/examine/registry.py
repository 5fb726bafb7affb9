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


def check(name: str) -> Callable[[Callable[[PlanFiles, Teller], None]], object]:
    """Enter a check into the list under a name that its findings carry."""

    def enter(run: Callable[[PlanFiles, Teller], None]) -> Callable[[PlanFiles, Teller], None]:
        CHECKS.append((name, run))
        return run

    return enter
