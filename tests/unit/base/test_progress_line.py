"""The progress line shows on a terminal alone, not for quick work, and leaves no trace."""

from __future__ import annotations

import io

import pytest

from chainplan import progress_line
from chainplan.progress_line import ProgressLine


class Terminal(io.StringIO):
    def __init__(self, encoding: str = "utf-8", *, is_terminal: bool = True) -> None:
        super().__init__()
        self._encoding = encoding
        self._is_terminal = is_terminal

    @property
    def encoding(self) -> str:  # type: ignore[override]
        return self._encoding

    def isatty(self) -> bool:
        return self._is_terminal


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """A clock that the test sets."""
    now = [100.0]
    monkeypatch.setattr(progress_line.time, "monotonic", lambda: now[0])
    monkeypatch.setenv("TERM", "xterm")
    return now


def test_the_line_tells_stage_and_share_and_is_wiped_at_the_end(clock: list[float]) -> None:
    """A bar, and what is done of how much."""
    terminal = Terminal()
    with ProgressLine(terminal) as line:
        clock[0] += progress_line.PATIENCE_S + 0.1
        line("weld order", 1, 4)
        shown = terminal.getvalue()
        assert shown.startswith("\r\x1b[Kweld order")
        assert shown.count("█") == progress_line.WIDTH // 4
        assert shown.count("·") == progress_line.WIDTH - progress_line.WIDTH // 4
        assert shown.endswith("1/4")
    assert terminal.getvalue() == f"{shown}\r\x1b[K"


def test_quick_work_shows_nothing(clock: list[float]) -> None:
    """Nor is there anything to wipe."""
    terminal = Terminal()
    with ProgressLine(terminal) as line:
        clock[0] += progress_line.PATIENCE_S - 0.1
        line("pieces", 0, 1)
    assert terminal.getvalue() == ""


def test_steps_that_follow_quickly_are_not_all_drawn(clock: list[float]) -> None:
    """A hundred thousand steps must not cost a hundred thousand lines."""
    terminal = Terminal()
    line = ProgressLine(terminal)
    clock[0] += progress_line.PATIENCE_S + 0.1
    for number in range(1000):
        clock[0] += progress_line.INTERVAL_S / 100
        line("weld order", number, 1000)
    assert 9 <= terminal.getvalue().count("\r") <= 12


@pytest.mark.parametrize("done", [0, 3, 5])
def test_a_stage_of_nothing_and_one_that_overruns_keep_the_width(
    clock: list[float], done: int
) -> None:
    """The library may count more than it announced."""
    terminal = Terminal()
    line = ProgressLine(terminal)
    for total in (0, 3):
        clock[0] += progress_line.PATIENCE_S + 0.1
        line("files", done, total)
    assert (
        terminal.getvalue().count("█") + terminal.getvalue().count("·") == 2 * progress_line.WIDTH
    )


@pytest.mark.parametrize("kind", ["a file", "a dumb terminal"])
def test_what_cannot_wipe_a_line_gets_none(
    clock: list[float], monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    """Logs stay readable."""
    if kind == "a dumb terminal":
        monkeypatch.setenv("TERM", "dumb")
    terminal = Terminal(is_terminal=kind != "a file")
    with ProgressLine(terminal) as line:
        clock[0] += progress_line.PATIENCE_S + 0.1
        line("weld order", 1, 4)
    assert terminal.getvalue() == ""


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "no-such-encoding"])
def test_a_terminal_without_the_marks_gets_plain_ones(clock: list[float], encoding: str) -> None:
    """The bar is drawn with letters that every terminal has."""
    terminal = Terminal(encoding)
    line = ProgressLine(terminal)
    clock[0] += progress_line.PATIENCE_S + 0.1
    line("weld order", 1, 4)
    assert terminal.getvalue().isascii()
    assert terminal.getvalue().count("#") == progress_line.WIDTH // 4
