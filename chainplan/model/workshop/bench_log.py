"""The bench log: what the bench sheet writes, row by row, and a later plan reads."""

from __future__ import annotations

LOG_COLUMNS = (
    ("plan", "the plan's mark: the first 12 digits of its input's hash"),
    ("piece", "name of the piece"),
    ("copy", "which copy of the piece, from 1"),
    ("step", "the join's number in the weld order of one copy, from 1; empty: welded before"),
    ("pass", "number of its pass, from 1; empty: welded before"),
    ("ring", "number of the ring, from 1 at the start of the piece"),
    (
        "result",
        "done; again: not good, welded once more; later: left for the end; note: a note only; "
        "broken: the ring broke and was replaced; good, bad: what a check of the join found; "
        "undo: an earlier event is taken back",
    ),
    ("note", "what was noted"),
    ("at", "when it was tapped: date, time and offset from UTC (ISO 8601)"),
    ("work_s", "seconds from when the join came up, without waits and pauses; empty: set apart"),
    ("waited_s", "seconds waited before it because the plan asked for that"),
    ("apart_s", "seconds set apart: the device slept, or nobody was there (in no pace)"),
    ("person", "who, by a label"),
    ("undoes", "with undo: id of the event that is taken back"),
    ("id", "the event's own id, by which it is known wherever it turns up"),
)
"""Columns of the log with their meaning, in this order.

The file is CSV as in RFC 4180, UTF-8 with a byte order mark, one row a tap in the order of the
taps. A cell whose text begins with ``=``, ``+``, ``-``, ``@``, a tab or an apostrophe has one
apostrophe put before it, so that no spreadsheet takes it for a formula; reading takes it away.
"""

BY_HAND_COLUMNS = (
    ("result", "what happened: done, again, later, broken, opened, note, cylinder …"),
    ("at", "when: 2027-03-01 14:05, or with seconds; empty: as in the row above"),
    ("person", "who, by a label"),
    ("piece", "name of the piece"),
    ("copy", "which copy, from 1; empty if there is only one"),
    ("ring", "number of the ring; several as 1-40, 45"),
    ("work_s", "seconds that the join took, if you timed it"),
    ("waited_s", "seconds waited before it because the plan asked for that"),
    (
        "station",
        "coil, cut, tumble, pre-close, weave, fitting, set up, rework, clean, inspect, finish, "
        "last fitting",
    ),
    ("minutes", "minutes at the station, with finished"),
    ("power_j", "power that the welder was set to, J"),
    ("hits", "pulses a join"),
    ("tip", "sharp or blunt"),
    ("bar", "what the cylinder's gauge shows"),
    ("metal", "metal of a wire lot or of a measured ring"),
    ("wire_mm", "its wire, mm"),
    ("mandrel_mm", "mandrel of a measured ring, mm"),
    ("lot", "the wire lot's number"),
    (
        "what",
        "what was measured (rings per cm, inner mm, temperature c, room c), or how a join was "
        "checked",
    ),
    ("value", "the value measured"),
    ("note", "any note"),
)
"""Columns of a log typed by hand; a bench log may have them too."""

STATIONS = (
    "coil", "cut", "tumble", "pre-close", "weave", "fitting", "set up", "weld", "rework", "clean",
    "inspect", "finish", "last fitting",
)  # fmt: skip
"""The stations of the workshop in the order in which a piece passes through them."""

LOG_RESULTS = ("done", "again", "later", "note", "broken", "good", "bad", "undo")

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
