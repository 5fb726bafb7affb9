"""One task in a worker: what it returns or raises, and whether the worker has the same code."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chainplan.errors import ChainplanError, InputError, Refusal

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.workers.places import Workers


@dataclass(frozen=True, slots=True)
class Failed:
    """What a task raised: told when all before it are known to have gone well."""

    error: ChainplanError


@dataclass(frozen=True, slots=True, eq=False)
class Call:
    """What every task of a run has in common, as it travels to the workers."""

    function: Callable[[Any], Any]
    version: str  # of the caller's code
    otherwise: Refusal  # why a worker's code may not be the caller's

    def run(self, number: int, task: Any) -> tuple[int, Any]:
        """Run one task in a worker, which must have the same code."""
        from chainplan.store.version import code_version

        try:
            if self.version != code_version():
                raise InputError(self.otherwise)
            return number, self.function(task)
        except ChainplanError as error:
            return number, Failed(error)


def call_of(function: Callable[[Any], Any], workers: Workers) -> Call:
    """Put a function together with what its workers need to know."""
    from chainplan.store.version import code_version

    return Call(function, code_version(), _another_version(workers))


def _another_version(workers: Workers) -> Refusal:
    """Say why a worker's code is not the caller's: on one machine it can only have changed."""
    if workers.cluster is not None:
        message = "a worker of the cluster has another version of chainplan than this program"
        return Refusal(message, "install the same version on every worker")
    message = "chainplan's own files were changed while it ran (an update, or an edited file)"
    return Refusal(message, "start the command again")


def lost(where: str) -> InputError:
    """Say plainly that workers are lost for good."""
    message = f"{where}: lost while they worked (killed, or out of memory)"
    return InputError(Refusal(message, "fewer workers, or more memory for each"))
