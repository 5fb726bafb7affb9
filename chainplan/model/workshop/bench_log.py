"""The bench log: what the bench sheet writes, row by row, and a later plan reads."""

from __future__ import annotations

LOG_COLUMNS = (
    "plan", "piece", "copy", "step", "pass", "ring", "result", "note",
    "at", "work_s", "waited_s", "apart_s", "person", "undoes", "id",
)  # fmt: skip
"""Columns of the log, in this order; what each means is in the table of texts.

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
