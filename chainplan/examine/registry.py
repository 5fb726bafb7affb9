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
APART: set[str] = set()
"""Names of those that look at each piece for itself, and at nothing of all of them together."""


def check(
    name: str, *, apart: bool = False
) -> Callable[[Callable[[PlanFiles, Teller], None]], object]:
    """Enter a check into the list under a name that its findings carry.

    ``apart``: it takes long, and looks at each piece for itself; see ``parts.py``.
    """

    def enter(run: Callable[[PlanFiles, Teller], None]) -> Callable[[PlanFiles, Teller], None]:
        CHECKS.append((name, run))
        if apart:
            APART.add(name)
        return run

    return enter
