"""Tasks on a cluster: the same ones, through joblib's backend for Dask."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError, Refusal
from chainplan.workers.tasks import lost

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from contextlib import AbstractContextManager

    from chainplan.workers.tasks import Call


def work_on_cluster(
    call: Call, tasks: Sequence[Any], address: str, take: Callable[[int, Any], None]
) -> None:
    """Run every task on the cluster; number and answer of each are taken as they come."""
    from joblib import Parallel, delayed

    calls = (delayed(call.run)(number, task) for number, task in enumerate(tasks))
    with _reach(address):
        every = Parallel(
            return_as="generator_unordered",
            batch_size=1,
            pre_dispatch="3*n_jobs",
            max_nbytes=None,  # arrays that are mapped could not be written to
        )
        for number, answer in _answers(every(calls), address):
            take(number, answer)


LOST = ("KilledWorker", "CommClosedError")
"""Errors of Dask that mean that workers ended, such as for want of memory."""


def _answers(every: Iterator[Any], address: str) -> Iterator[tuple[int, Any]]:
    """Hand answers on; say plainly when workers are lost for good."""
    try:
        yield from every
    except Exception as error:
        if type(error).__name__ not in LOST:
            raise
        raise lost(address) from error


def _reach(address: str) -> AbstractContextManager[None]:
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
