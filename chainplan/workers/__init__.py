"""Runs tasks side by side: on the cores of this machine, or on a cluster.

Results do not depend on how many workers there are: each task is whole by itself, and results come
back in the order of the tasks. Everything that a task needs travels with it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from chainplan.workers.places import ALONE, Workers, cores

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Task = TypeVar("Task")
    Result = TypeVar("Result")

__all__ = ["ALONE", "Workers", "are_here", "cores", "get_ready", "send_home", "side_by_side"]


def side_by_side(
    function: Callable[[Task], Result],
    tasks: Sequence[Task],
    workers: Workers = ALONE,
    *,
    size: Callable[[Task], float] | None = None,
    own_from_end: bool = False,
    meanwhile: Callable[[], None] | None = None,
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
        One task, or one worker, runs in this process; of several on this machine, one is this.
    size : callable, optional
        How long a task takes, in any measure: the longest are begun first. Without it they are
        begun as they stand.
    own_from_end : bool
        This process begins with the last of them, all others with the first: so that tasks of two
        kinds, which load different libraries, are each done where those are loaded.
    meanwhile : callable, optional
        What this process does before its first task, once others have theirs; nothing, if it is
        alone.
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
    results: list[Any] = [None] * len(tasks)
    told = on_done or _tell_nobody
    if workers.alone(len(tasks)):
        for number, task in enumerate(tasks):
            results[number] = function(task)
            told(number + 1, len(tasks))
        return results

    from chainplan.workers.tasks import Failed, call_of

    done = 0

    def take(number: int, answer: Any) -> None:
        nonlocal done
        results[number] = answer
        done += 1
        told(done, len(tasks))

    call = call_of(function, workers)
    if workers.cluster is not None:
        from chainplan.workers.cluster import work_on_cluster

        work_on_cluster(call, tasks, workers.cluster, take)
    else:
        from chainplan.workers.machine import work_here

        order = list(range(len(tasks)))
        if size is not None:
            sizes = [size(task) for task in tasks]
            order.sort(key=lambda number: -sizes[number])
        work_here(
            call,
            tasks,
            workers.count,
            take,
            order=order,
            own_from_end=own_from_end,
            meanwhile=meanwhile,
        )
    for result in results:
        if isinstance(result, Failed):
            raise result.error
    return results


def get_ready(workers: Workers, modules: Sequence[str] = ()) -> None:
    """Let workers of this machine start and load modules while their tasks are being prepared."""
    if workers.cluster is None and workers.count > 1:
        from chainplan.workers.machine import get_ready_here

        get_ready_here(workers.count, modules)


def are_here() -> bool:
    """Say whether workers were started beside this process, and are there still."""
    from chainplan.workers.machine import are_here as are

    return are()


def send_home() -> None:
    """End the workers of this machine at once, whatever they do."""
    from chainplan.workers.machine import send_home_here

    send_home_here()


def _tell_nobody(_done: int, _total: int) -> None:
    """Tell nobody."""
