"""What a check of the user's own weld order found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.model.order import Violation


@frozen
class OrderCheck:
    """A user's own order, simulated anew at the bad end of the uncertain numbers."""

    piece: str
    joins: int
    bench_time_s: float
    planned_s: float  # bench time of the plan's own order
    violations: tuple[Violation, ...]

    @property
    def ok(self) -> bool:
        """Whether every limit holds."""
        return not self.violations
