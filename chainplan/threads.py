"""Keeps the linear algebra to one thread, as long as a public function works.

The matrices are small: further threads only wait and spin. A plan of the sample necklace took 1.6 s
of processor time with one thread, and 6.6 to 16.9 s with two on a busy machine of two cores.
"""

from __future__ import annotations

from functools import cache, wraps
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import ParamSpec, TypeVar

    P = ParamSpec("P")
    R = TypeVar("R")


def one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """Let a function run with one thread of linear algebra, whatever the caller's own limit is."""
    return _limited(function, with_scipy=True)


def one_thread_of_numpy(function: Callable[P, R]) -> Callable[P, R]:
    """Do the same for a question, which loads no scipy, or asks nothing of its linear algebra.

    Loading that takes longer than many answers. What weaves use of scipy (linear programmes, sparse
    matrices as tables, trees of neighbours) has no threads.
    """
    return _limited(function, with_scipy=False)


def _limited(function: Callable[P, R], *, with_scipy: bool) -> Callable[P, R]:
    @wraps(function)
    def limited(*args: P.args, **kwargs: P.kwargs) -> R:
        with _controller(with_scipy=with_scipy).limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return limited


@cache
def _controller(*, with_scipy: bool) -> Any:
    """Find the libraries of linear algebra; those loaded later would not be found, so load them."""
    import numpy as np  # noqa: F401

    if with_scipy:
        import scipy.linalg  # noqa: F401
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController()
