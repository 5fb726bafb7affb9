"""Public functions that calculate keep the linear algebra to one thread and hand it back."""

from __future__ import annotations

import inspect
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

import pytest
import scipy.linalg  # noqa: F401 - so that its library is loaded too
from threadpoolctl import threadpool_info, threadpool_limits

import chainplan
from chainplan import threads

if TYPE_CHECKING:
    from collections.abc import Iterator

CALCULATING = [
    "calibrate", "check_job", "check_order", "check_weave", "compare_rings", "count_rings",
    "describe_weave", "examine_plan", "preview_designs",
    "draw_fit", "draw_weave", "draw_weave_chart", "draw_weaves", "fit_rings", "learn", "make_plan",
    "price_list", "quote_job", "replan", "substitute_rings", "what_if", "write_plan",
]  # fmt: skip
READING = {
    "check_folder", "check_prices", "draw_comparison", "keep_solved", "list_weaves", "plan_tables",
    "progress", "read_job", "record_logs", "review", "share_plan", "start_job", "trace",
    "write_calibrated", "write_learned",
}  # fmt: skip
"""Public functions that read, list or write and calculate nothing to speak of."""


def threads_now() -> set[int]:
    return {pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"}


def test_one_thread_inside_and_the_caller_s_number_again_afterwards() -> None:
    """Also after an error."""

    @threads.one_thread
    def fail() -> None:
        raise ZeroDivisionError

    with threadpool_limits(2, user_api="blas"):
        assert threads_now() == {2}
        assert threads.one_thread(threads_now)() == {1}
        assert threads_now() == {2}
        with pytest.raises(ZeroDivisionError):
            fail()
        assert threads_now() == {2}


def test_every_public_function_is_known_to_calculate_or_not() -> None:
    """One that is added has to be put into one list or the other."""
    functions = {n for n in chainplan.__all__ if inspect.isfunction(getattr(chainplan, n))}
    assert functions == {*CALCULATING, *READING}


@pytest.mark.parametrize("name", CALCULATING)
def test_a_public_function_that_calculates_is_kept_to_one_thread(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Called without what it needs it fails, but only after the limit is set."""
    entered = []

    class Controller:
        @contextmanager
        def limit(self, **said: object) -> Iterator[None]:
            entered.append(said)
            yield

    monkeypatch.setattr(threads, "_controller", lambda *, with_scipy: Controller())
    with suppress(TypeError, chainplan.InputError):
        getattr(chainplan, name)()
    assert {"limits": 1, "user_api": "blas"} in entered
