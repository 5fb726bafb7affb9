"""A progress line on stderr, for a terminal and only when the work takes more than a second."""

from __future__ import annotations

import os
import sys
import time
from typing import TextIO

WIDTH = 24
PATIENCE_S = 1.0
INTERVAL_S = 0.1
"""Characters of the bar; seconds before it is shown at all, so that quick commands stay quiet; and
seconds between two writes, as quick as an eye reads."""


class ProgressLine:
    """Callable that the library is handed as ``on_step``; also a context manager that clears up."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream or sys.stderr
        self._started = time.monotonic()
        self._last = 0.0
        self._shown = False
        self._enabled = self._stream.isatty() and os.environ.get("TERM") != "dumb"
        self._marks = _marks_for(self._stream)

    def __call__(self, stage: str, done: int, total: int) -> None:
        """Show how far a stage is, unless it is too early or too soon after the last time."""
        now = time.monotonic()
        if not self._enabled or now - self._started < PATIENCE_S or now - self._last < INTERVAL_S:
            return
        filled = min(WIDTH * done // max(total, 1), WIDTH)
        full, empty = self._marks
        bar = full * filled + empty * (WIDTH - filled)
        self._stream.write(f"\r\x1b[K{stage:<12} {bar} {done}/{total}")
        self._stream.flush()
        self._shown, self._last = True, now

    def __enter__(self) -> ProgressLine:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown:
            self._stream.write("\r\x1b[K")
            self._stream.flush()


def _marks_for(stream: TextIO) -> tuple[str, str]:
    """Return the full and the empty mark of the bar, as far as the terminal has their letters."""
    try:
        "█·".encode(stream.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return "#", "."
    return "█", "·"
