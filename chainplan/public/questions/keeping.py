"""Solved repeats kept in the user's cache folder: the next question has its answer sooner."""

from __future__ import annotations

from contextlib import contextmanager

TYPE_CHECKING = False  # as typing has it, without what importing typing takes
if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def keep_solved() -> Iterator[None]:
    """Take solved repeats from the user's cache folder inside a ``with``, and keep new ones there.

    Answers are the same with and without it, to the last digit; a folder that cannot be read or
    written only makes them take longer.

    Examples
    --------
    ::

        with chainplan.keep_solved():
            count = chainplan.count_rings(weave="byzantine", wire=1.0, inner=3.5, length=450)
    """
    from chainplan.store import ResultShelf, default_folder
    from chainplan.store.keeping import keeping

    with keeping(ResultShelf(folder=default_folder())):
        yield
