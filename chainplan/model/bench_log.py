"""The bench log: what the bench sheet writes, row by row, and a later plan reads."""

from __future__ import annotations

LOG_COLUMNS = (
    ("plan", "the plan's mark: the first 12 digits of its input's hash"),
    ("piece", "name of the piece"),
    ("copy", "which copy of the piece, from 1"),
    ("step", "the join's number in the weld order of one copy, from 1"),
    ("pass", "number of its pass, from 1"),
    ("ring", "number of the ring, from 1 at the start of the piece"),
    (
        "result",
        "done; again: not good, welded once more; later: left for the end; note: a note only",
    ),
    ("note", "what was noted"),
    ("at", "when it was tapped: date, time and offset from UTC (ISO 8601)"),
    ("work_s", "seconds from when the join came up, without waits and pauses"),
    ("waited_s", "seconds waited before it because the plan asked for that"),
)
"""Columns of the log with their meaning, in this order.

The file is CSV as in RFC 4180, UTF-8 with a byte order mark, one row a tap in the order of the
taps. A cell whose text begins with ``=``, ``+``, ``-``, ``@``, a tab or an apostrophe has one
apostrophe put before it, so that no spreadsheet takes it for a formula; reading takes it away.
"""

LOG_RESULTS = ("done", "again", "later", "note")

GUARDED = ("=", "+", "-", "@", "\t", "\r", "'")
"""First letters that get an apostrophe put before them."""


def unguarded(cell: str) -> str:
    """Take away the apostrophe that guards a cell.

    Examples
    --------
    >>> unguarded("'=1+1"), unguarded("plain"), unguarded("'tis")
    ('=1+1', 'plain', "'tis")
    """
    return cell[1:] if cell[:1] == "'" and cell[1:2] in GUARDED and cell[1:2] else cell
