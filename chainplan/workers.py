"""Runs tasks side by side: on the cores of this machine, or on a cluster.

Results do not depend on how many workers there are: each task is whole by itself, and results come
back in the order of the tasks. Everything that a task needs travels with it.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from chainplan.errors import ChainplanError, InputError, Refusal
from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from contextlib import AbstractContextManager

    Task = TypeVar("Task")
    Result = TypeVar("Result")


@frozen
class Workers:
    """How many processes work side by side, and where; one works in the caller's own process."""

    count: int = 1
    cluster: str | None = None  # "tcp://…" of a running Dask scheduler

    def __post_init__(self) -> None:
        if self.count < 1:
            message = f"workers: found {self.count}"
            raise InputError(Refusal(message, "a whole number of 1 or more"))

    def alone(self, tasks: int) -> bool:
        """Whether so many tasks are done in the caller's own process."""
        return self.cluster is None and (self.count == 1 or tasks < 2)


IDLE_S = 20
"""How long workers wait for more: from the plan of the pieces to the writing of their files. [s]"""
ALONE = Workers()
"""Everything in the caller's own process."""


def cores() -> int:
    """Count the cores that this process may use."""
    import os

    allowed = getattr(os, "sched_getaffinity", None)
    return len(allowed(0)) if allowed else os.cpu_count() or 1


def side_by_side(
    function: Callable[[Task], Result],
    tasks: Sequence[Task],
    workers: Workers = ALONE,
    *,
    on_done: Callable[[int, int], None] | None = None,
) -> list[Result]:
    """Run a function on every task.

    Parameters
    ----------
    function : callable
        A function of a module, which works with one thread of linear algebra by itself.
    tasks : sequence
        What it is given, one by one.
    workers : Workers
        One task, or one worker, runs in this process.
    on_done : callable, optional
        Told how many tasks are done, and how many there are.

    Returns
    -------
    list
        What it returned, in the order of the tasks.

    Raises
    ------
    ChainplanError
        Of the first task in their order that raised one.
    InputError
        If the cluster cannot be reached, one of its workers has another version, or the program's
        own files were changed while it ran.
    """
    from chainplan.store.version import code_version

    results: list[Any] = [None] * len(tasks)
    told = on_done or _tell_nobody
    if workers.alone(len(tasks)):
        for number, task in enumerate(tasks):
            results[number] = function(task)
            told(number + 1, len(tasks))
        return results

    from joblib import Parallel, delayed

    version = code_version()
    changed = _another_version(workers)
    calls = (
        delayed(_run)(version, changed, function, number, task) for number, task in enumerate(tasks)
    )
    with _place_of(workers), _quiet_end():
        every = Parallel(
            return_as="generator_unordered",
            batch_size=1,
            pre_dispatch="3*n_jobs",
            max_nbytes=None,  # arrays that are mapped could not be written to
        )
        for done, (number, result) in enumerate(_answers(every(calls), workers)):
            results[number] = result
            told(done + 1, len(tasks))
    for result in results:
        if isinstance(result, _Failed):
            raise result.error
    return results


_LOST = ("TerminatedWorkerError", "BrokenProcessPool", "KilledWorker", "CommClosedError")
"""Errors that mean that workers ended, such as for want of memory; of loky and of Dask."""


def _answers(every: Iterator[Any], workers: Workers) -> Iterator[Any]:
    """Hand answers on; say plainly when workers are lost for good."""
    try:
        yield from every
    except Exception as error:
        if type(error).__name__ not in _LOST:
            raise
        where = workers.cluster or f"{workers.count} workers of this machine"
        message = f"{where}: lost while they worked ({type(error).__name__})"
        raise InputError(Refusal(message, "fewer workers, or more memory for each")) from error


@dataclass(frozen=True, slots=True)
class _Failed:
    """What a task raised: told when all before it are known to have gone well."""

    error: ChainplanError


def _run(
    version: str, otherwise: Refusal, function: Callable[[Any], Any], number: int, task: Any
) -> tuple[int, Any]:
    """Run one task in a worker, which must have the same code."""
    from chainplan.store.version import code_version

    try:
        if version != code_version():
            raise InputError(otherwise)
        return number, function(task)
    except ChainplanError as error:
        return number, _Failed(error)


def _another_version(workers: Workers) -> Refusal:
    """Say why a worker's code is not the caller's: on one machine it can only have changed."""
    if workers.cluster is not None:
        message = "a worker of the cluster has another version of chainplan than this program"
        return Refusal(message, "install the same version on every worker")
    message = "chainplan's own files were changed while it ran (an update, or an edited file)"
    return Refusal(message, "start the command again")


def _place_of(workers: Workers) -> AbstractContextManager[Any]:
    """Let joblib work in processes of this machine, or on the cluster."""
    from joblib import parallel_config

    if workers.cluster is None:
        config: AbstractContextManager[Any] = parallel_config(
            backend="loky",
            n_jobs=workers.count,
            inner_max_num_threads=1,
            idle_worker_timeout=IDLE_S,
        )
        return config
    return _on_cluster(workers.cluster)


def _on_cluster(address: str) -> AbstractContextManager[Any]:
    """Reach a running scheduler, and leave it again afterwards."""
    try:
        from dask.distributed import Client
    except ImportError:
        message = "a cluster needs Dask, which is not installed"
        raise InputError(Refusal(message, "pip install 'chainplan[cluster]'")) from None
    from joblib import parallel_config

    @contextmanager
    def reached() -> Iterator[None]:
        try:
            client = Client(address, timeout=10)  # type: ignore[no-untyped-call]
        except (OSError, ValueError, TimeoutError):
            message = f"cluster: no scheduler answers at {address}"
            raise InputError(
                Refusal(message, "an address such as tcp://192.168.7.2:8786")
            ) from None
        with client, parallel_config(backend="dask", wait_for_workers_timeout=30):
            yield

    return reached()


@contextmanager
def _quiet_end() -> Iterator[None]:
    """Say nothing of workers that are exchanged, nor when Ctrl-C takes tasks from their thread."""
    import threading
    import warnings

    before = threading.excepthook

    def quiet(told: threading.ExceptHookArgs) -> None:
        thread = told.thread.name if told.thread else ""
        if not (thread == "ExecutorManagerThread" and told.exc_type is KeyError):
            before(told)

    threading.excepthook = quiet
    try:
        with warnings.catch_warnings():  # one that has grown by 300 MB is ended between two tasks
            warnings.filterwarnings("ignore", message="A worker stopped while some jobs were given")
            yield
    finally:
        threading.excepthook = before


def _tell_nobody(_done: int, _total: int) -> None:
    """Tell nobody."""
