"""Work done on a second core while the rest goes on, by a forked copy of this process."""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from multiprocessing.connection import Connection


@contextmanager
def beside(work: Callable[[], object]) -> Iterator[None]:
    """Do some work that only writes files while the block runs; its error is raised at the end.

    A fork shares what is in memory, so nothing has to be sent over. Where forking is not safe
    (systems other than Linux) or there is one core only, the work is done first, in this process.
    """
    if not sys.platform.startswith("linux") or (os.cpu_count() or 1) < 2:
        work()
        yield
        return
    import multiprocessing
    import warnings

    context = multiprocessing.get_context("fork")
    receiver, sender = context.Pipe(duplex=False)
    process = context.Process(target=_do_and_tell, args=(work, sender), daemon=True)
    with warnings.catch_warnings():
        # The threads that are warned of are those of the linear algebra, which minds forks itself.
        warnings.simplefilter("ignore", DeprecationWarning)
        process.start()
    sender.close()
    try:
        yield
    except BaseException:
        process.kill()
        raise
    try:
        said = receiver.recv()
    except EOFError:
        said = "it was ended from outside"
    process.join()
    if said:
        message = f"drawing the pages failed: {said}"
        raise RuntimeError(message)


def _do_and_tell(work: Callable[[], object], sender: Connection) -> None:
    """Do the work and send back an empty text, or what went wrong."""
    said = ""
    try:
        work()
    except Exception as error:
        said = f"{type(error).__name__}: {error}"
    sender.send(said)
    sender.close()
