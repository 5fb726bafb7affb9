"""How many processes work side by side, and where."""

from __future__ import annotations

from chainplan.errors import InputError, Refusal
from chainplan.frozen import frozen


@frozen
class Workers:
    """How many processes work side by side, and where; the first of them is the caller's own."""

    count: int = 1
    cluster: str | None = None  # "tcp://…" of a running Dask scheduler

    def __post_init__(self) -> None:
        if self.count < 1:
            message = f"workers: found {self.count}"
            raise InputError(Refusal(message, "a whole number of 1 or more"))

    def alone(self, tasks: int) -> bool:
        """Whether so many tasks are done in the caller's own process."""
        return self.cluster is None and (self.count == 1 or tasks < 2)


ALONE = Workers()
"""Everything in the caller's own process."""


def cores() -> int:
    """Count the cores that this process may use."""
    import os

    allowed = getattr(os, "sched_getaffinity", None)
    return len(allowed(0)) if allowed else os.cpu_count() or 1
