"""Tasks side by side: the same answers from one worker and from two, and one end for all."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from chainplan.errors import InputError, JoinError
from chainplan.workers import Workers, cores, side_by_side

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[3]
SLEEPERS = """
import sys, time
from chainplan.workers import Workers, side_by_side
def main():
    side_by_side(time.sleep, [60.0] * 4, Workers(count=3))
if __name__ == "__main__":
    main()
"""


def square(number: int) -> int:
    """A task that cannot be done for 3, and for 5 in another way."""
    if number == 3:
        message = "three"
        raise JoinError(message)
    if number == 5:
        message = "five"
        raise InputError(message)
    return number * number


def test_results_come_in_the_order_of_the_tasks() -> None:
    """Whatever their number; told of each that is done."""
    told: list[tuple[int, int]] = []
    tasks = [1, 2, 4, 6]
    for count in (1, 2):
        told.clear()
        found = side_by_side(
            square, tasks, Workers(count=count), on_done=lambda *pair: told.append(pair)
        )
        assert found == [1, 4, 16, 36]
        assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


@pytest.mark.parametrize("count", [1, 2])
def test_the_first_task_that_fails_is_told(count: int) -> None:
    """With its own kind of error, however many fail and whichever is done first."""
    with pytest.raises(JoinError, match="three"):
        side_by_side(square, [1, 3, 5, 2], Workers(count=count))


def test_a_number_of_workers_that_makes_no_sense_is_refused() -> None:
    """None, or fewer."""
    for count in (0, -2):
        with pytest.raises(InputError, match="workers"):
            Workers(count=count)
    assert 1 <= cores() <= (os.cpu_count() or 1)


def die(caller: int) -> int:
    """A task whose worker is ended from outside, as for want of memory; not the caller's own."""
    if os.getpid() != caller:
        os.kill(os.getpid(), signal.SIGKILL)
    return caller


def test_workers_that_are_lost_are_one_message() -> None:
    """And no trace of a library."""
    with pytest.raises(InputError, match="lost while they worked"):
        side_by_side(die, [os.getpid()] * 3, Workers(count=2))


def test_a_program_changed_while_it_runs_is_told_as_that(monkeypatch) -> None:
    """Its workers begin with the changed files, as after an update: not a word of a cluster."""
    monkeypatch.setattr("chainplan.store.version.code_version", lambda: "as it was")
    with pytest.raises(InputError, match="files were changed while it ran") as told:
        side_by_side(square, [1, 2, 4], Workers(count=2))
    assert "start the command again" in str(told.value)
    assert "cluster" not in str(told.value)


def children(pid: int) -> set[int]:
    """Processes that a process has started, as the system lists them."""
    listed = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True, check=False
    )
    return {int(word) for word in listed.stdout.split()}


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="lists processes as Linux does")
@pytest.mark.parametrize("press", [os.killpg, os.kill], ids=["terminal", "program alone"])
def test_ctrl_c_ends_all_of_them_at_once(press: Callable[[int, int], None], tmp_path: Path) -> None:
    """Four tasks of a minute each: a few seconds after Ctrl-C nobody is left at work.

    A terminal sends it to all of its session, another program may not; the program ends the others
    in either case.
    """
    script = tmp_path / "sleepers.py"
    script.write_text(SLEEPERS)
    run = subprocess.Popen(
        [sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    deadline = time.monotonic() + 120
    while len(children(run.pid)) < 2 and time.monotonic() < deadline:
        time.sleep(0.2)
    time.sleep(1)
    workers = children(run.pid)
    assert len(workers) >= 2
    press(run.pid, signal.SIGINT)
    try:
        _, said = run.communicate(timeout=45)
    except subprocess.TimeoutExpired:
        os.killpg(run.pid, signal.SIGKILL)
        pytest.fail("still at work 45 s after Ctrl-C")
    assert run.returncode != 0
    assert said.count("KeyboardInterrupt") == 1  # of the script itself; the others say nothing
    deadline = time.monotonic() + 15
    while time.monotonic() < deadline and any(Path(f"/proc/{pid}").exists() for pid in workers):
        time.sleep(0.2)
    assert not [pid for pid in workers if Path(f"/proc/{pid}").exists()]


class Shared:
    """Something that all tasks share; counts how often it has come to a process."""

    came = 0

    def __setstate__(self, _state: object) -> None:
        Shared.came += 1

    def __getstate__(self) -> dict[str, int]:
        return {"size": 1}

    def seen(self, pause_s: float) -> tuple[int, int]:
        """Which process does the task, and how often this has come to it."""
        time.sleep(pause_s)
        return os.getpid(), Shared.came


def test_what_tasks_share_travels_once_and_processes_go_on_from_run_to_run() -> None:
    """Both the caller's process and the other have tasks, in the next run too."""
    Shared.came = 0
    tasks = [0.3] * 8
    first = side_by_side(Shared().seen, tasks, Workers(count=2))
    assert {pid for pid, _ in first} > {os.getpid()}
    assert {came for pid, came in first if pid != os.getpid()} == {1}
    second = side_by_side(Shared().seen, tasks, Workers(count=2))
    assert {pid for pid, _ in second} == {pid for pid, _ in first}
    assert {came for pid, came in second if pid != os.getpid()} == {2}
    (other,) = {pid for pid, _ in second} - {os.getpid()}
    os.kill(other, signal.SIGKILL)
    time.sleep(0.2)
    third = side_by_side(Shared().seen, tasks, Workers(count=2))  # another one is started
    assert other not in {pid for pid, _ in third}
    assert Shared.came == 0  # here it is as it was made


def test_this_process_does_something_of_its_own_first() -> None:
    """Only where others have tasks meanwhile."""
    done: list[str] = []
    for count, expected in ((1, []), (2, ["first"])):
        done.clear()
        side_by_side(square, [1, 2], Workers(count=count), meanwhile=lambda: done.append("first"))
        assert done == expected


def test_the_longest_are_begun_first_or_this_process_at_the_end() -> None:
    """Others have the first task of the order; this one the next, or the last."""
    tasks = [0.2, 0.9, 0.3, 0.25]
    found = side_by_side(Shared().seen, tasks, Workers(count=2), size=float)
    assert found[1][0] != os.getpid()
    assert found[2][0] == os.getpid()
    found = side_by_side(Shared().seen, [0.9, 0.1, 0.1, 0.2], Workers(count=2), own_from_end=True)
    assert found[0][0] != os.getpid()
    assert found[3][0] == os.getpid()


def divide(number: int) -> float:
    """A task with a fault of the program, in a process beside the caller's."""
    return 1 / (0 if number == os.getpid() else number)


def fail_beside(caller: int) -> float:
    """Divide by nothing anywhere but in the caller's process."""
    return 1.0 if os.getpid() == caller else divide(os.getpid())


def test_a_fault_of_the_program_is_told_with_its_place() -> None:
    """As it arose in the other process, which is ended with all others."""
    with pytest.raises(ZeroDivisionError) as told:
        side_by_side(fail_beside, [os.getpid()] * 4, Workers(count=2))
    assert any("in divide" in note for note in told.value.__notes__)


def test_a_task_that_cannot_be_sent_is_told() -> None:
    """Nobody waits for its answer for ever."""
    with pytest.raises((AttributeError, TypeError), match="pickle"):
        side_by_side(repr, [lambda: 1, lambda: 2], Workers(count=2))


def said_by_script(script: Path, text: str) -> tuple[str, str]:
    """What a script says on both streams, run by itself."""
    script.write_text(text)
    done = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return done.stdout, done.stderr


def test_a_script_is_not_run_again_by_its_workers(tmp_path: Path) -> None:
    """One that plans as it is read, without a main function: one word, not one a process."""
    said = said_by_script(
        tmp_path / "planning.py",
        "from chainplan.workers import Workers, side_by_side\n"
        "print('begun')\n"
        "print(sum(side_by_side(abs, [-1, -2, -3, -4], Workers(count=2))))\n",
    )
    assert said == ("begun\n10\n", "")


def test_more_workers_come_without_a_word(tmp_path: Path) -> None:
    """Though those that are there still load their modules, and a run before had fewer."""
    said = said_by_script(
        tmp_path / "growing.py",
        "from chainplan.workers import Workers, are_here, get_ready, send_home, side_by_side\n"
        "get_ready(Workers(count=2), ['pandas'])\n"
        "print(are_here(), side_by_side(abs, [-1, -2, -3, -4], Workers(count=4)))\n"
        "send_home()\n"
        "print(are_here(), side_by_side(abs, [-5, -6], Workers(count=3)))\n",
    )
    assert said == ("True [1, 2, 3, 4]\nFalse [5, 6]\n", "")


def test_memory_that_was_given_back_is_kept() -> None:
    """A large array that is made again takes no new pages, where the C library can be told so."""
    code = (
        "import resource, numpy as np\n"
        "from chainplan.workers.memory import keep_memory\n"
        "def pages():\n"
        "    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt\n"
        "    for _ in range(50):\n"
        "        np.ones(500_000)\n"
        "    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before\n"
        "first = pages()\n"
        "keep_memory()\n"
        "pages()\n"
        "print(first, pages())\n"
    )
    if not sys.platform.startswith("linux") or not os.confstr("CS_GNU_LIBC_VERSION"):
        pytest.skip("needs the GNU library")
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    first, then = map(int, done.stdout.split())
    assert then < 100 < first
