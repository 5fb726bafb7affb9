"""Tasks on the cores of this machine: the caller's own process works, and others beside it.

The others take long to start, nearly all of it imports, so whoever knows that there will be work
calls `get_ready_here` and goes on. They stay for a while, as one run of tasks follows another.
"""

from __future__ import annotations

import atexit
import os
import pickle
import subprocess
import sys
import threading
from collections import deque
from contextlib import contextmanager, suppress
from itertools import chain
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

from chainplan.workers import beside
from chainplan.workers.tasks import lost

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from chainplan.workers.tasks import Call

IDLE_S = 20.0
"""How long workers wait for more: from the plan of the pieces to the writing of their files. [s]"""
SWITCH_S = 0.0005
"""How long the caller's own task keeps others of its threads waiting, which hand answers and tasks
on: a tenth of Python's usual. [s]"""
LOOK_S = 0.2
"""Where Ctrl-C does not end waiting by itself (Windows), it is seen this soon. [s]"""
LIBRARIES = ("scipy.optimize", "threadpoolctl")
"""What every worker loads as it starts: nearly all tasks need them, and they take longest."""
THREADS = {
    f"{library}_NUM_THREADS": "1" for library in ("OMP", "OPENBLAS", "MKL", "BLIS", "NUMEXPR")
}
"""One thread of linear algebra a worker, told before any of the libraries is loaded."""


class OtherProcess:
    """One process beside this one."""

    def __init__(self) -> None:
        # Ctrl-C in a terminal reaches all of a session: this process ends the others itself.
        apart: dict[str, Any] = {"start_new_session": True}
        if os.name == "nt":
            apart = {"creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)}
        self._process = subprocess.Popen(
            beside.command(),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, **THREADS},
            **apart,
        )

    @property
    def lives(self) -> bool:
        """Whether it can be given anything."""
        return self._process.poll() is None

    def tell(self, message: object) -> None:
        """Send something that has no answer."""
        assert self._process.stdin is not None
        beside.send(self._process.stdin, message)

    def ask(self, message: beside.Do) -> Any:
        """Send a task and wait for its answer.

        Raises
        ------
        EOFError
            If the process has ended.
        """
        self.tell(message)
        assert self._process.stdout is not None
        content = beside.receive(self._process.stdout)
        if content is None:
            raise EOFError
        return pickle.loads(content)

    def end(self) -> None:
        """End it at once, whatever it does."""
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(OSError):
                if pipe is not None:
                    pipe.close()


_POOL: list[OtherProcess] = []
_OURS = threading.RLock()
"""The workers that there are, and who uses them."""
_LEAVE: list[threading.Timer] = []
"""What ends them when they have waited long enough."""


def _crew(count: int) -> list[OtherProcess]:
    """Return so many workers, those that there are first."""
    _stay()
    for worker in [worker for worker in _POOL if not worker.lives]:
        _POOL.remove(worker)
        worker.end()
    if not _POOL:
        atexit.register(send_home_here)  # once more does no harm
    while len(_POOL) < count:
        _POOL.append(OtherProcess())
        _POOL[-1].tell(beside.Load(LIBRARIES))
    return _POOL[:count]


def _stay() -> None:
    for timer in _LEAVE:
        timer.cancel()
    _LEAVE.clear()


def _leave_later() -> None:
    """Let workers go that have nothing to do for long."""
    _stay()
    timer = threading.Timer(IDLE_S, send_home_here)
    timer.daemon = True
    timer.start()
    _LEAVE.append(timer)


def get_ready_here(count: int, modules: Sequence[str]) -> None:
    """Start the workers beside this process, which load modules and wait for tasks."""
    with _OURS:
        for worker in _crew(count - 1):
            with suppress(OSError):  # one that has ended is told when there is work for it
                worker.tell(beside.Load(tuple(modules)))
        _leave_later()


def are_here() -> bool:
    """Whether there are workers beside this process."""
    return bool(_POOL)


def send_home_here() -> None:
    """End the workers beside this process at once, whatever they do."""
    with _OURS:
        _stay()
        while _POOL:
            _POOL.pop().end()


def work_here(
    call: Call,
    tasks: Sequence[Any],
    count: int,
    take: Callable[[int, Any], None],
    *,
    order: Sequence[int],
    own_from_end: bool,
    meanwhile: Callable[[], None] | None = None,
) -> None:
    """Run every task, some of them in this process.

    Parameters
    ----------
    call : Call
        What is run.
    tasks : sequence
        What it is given.
    count : int
        How many processes work, this one among them.
    take : callable
        Given number and answer of each task, in this thread, as they come.
    order : sequence of int
        Numbers of the tasks, as they are begun.
    own_from_end : bool
        This process begins at the end of that order, the others at its beginning.
    meanwhile : callable, optional
        What this process does first.
    """
    left = deque(order)
    answers: SimpleQueue[tuple[int, Any]] = SimpleQueue()
    done = 0
    with _OURS:
        crew = _crew(min(count, len(tasks)) - 1)
        begin = beside.packed(beside.Begin(call))  # before this process works on what all share
        threads = [
            threading.Thread(
                target=_hand_on, args=(worker, begin, tasks, left.popleft(), left, answers)
            )
            for worker in crew
        ]
        try:
            with _quick_to_hand_on():
                for thread in threads:
                    thread.daemon = True
                    thread.start()
                if meanwhile is not None:
                    meanwhile()
                for number in _own(left, from_end=own_from_end):
                    answers.put(call.run(number, tasks[number]))
                    while not answers.empty():
                        take(*_good(answers.get(), count))
                        done += 1
                while done < len(tasks):
                    with suppress(Empty):
                        take(*_good(answers.get(timeout=LOOK_S), count))
                        done += 1
        except BaseException:
            left.clear()
            send_home_here()
            raise
        for thread in threads:
            thread.join()
        _leave_later()


def _own(left: deque[int], *, from_end: bool) -> Iterator[int]:
    """Take one task after the other, as long as there are any."""
    with suppress(IndexError):
        while True:
            number = left.pop() if from_end else left.popleft()
            yield number


def _hand_on(
    worker: OtherProcess,
    begin: bytes,
    tasks: Sequence[Any],
    first: int,
    left: deque[int],
    answers: SimpleQueue[tuple[int, Any]],
) -> None:
    """Give one worker a task after the other, from a first one on, as long as there are any."""
    number = first
    try:
        worker.tell(begin)
        for number in chain([first], _own(left, from_end=False)):
            answer = worker.ask(beside.Do(number, tasks[number]))
            answers.put((number, answer) if isinstance(answer, beside.Broken) else answer)
    except (EOFError, OSError) as error:
        answers.put((number, beside.Broken(EOFError(repr(error)), "")))
    except Exception as error:
        answers.put((number, beside.told(error)))


def _good(answer: tuple[int, Any], count: int) -> tuple[int, Any]:
    """Pass an answer on.

    Raises
    ------
    InputError
        If the worker has ended at it, as for want of memory.
    """
    _, came = answer
    if isinstance(came, beside.Broken):
        if isinstance(came.error, EOFError) and not came.trace:
            where = f"{count} workers of this machine"
            raise lost(where)
        came.error.add_note(came.trace)
        raise came.error
    return answer


@contextmanager
def _quick_to_hand_on() -> Iterator[None]:
    """Let threads that hand on answers and tasks not wait for the caller's own task."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(min(SWITCH_S, before))
    try:
        yield
    finally:
        sys.setswitchinterval(before)
