"""The bounds within which files of the user's are read: every one of them, with its reason.

Readers take them from here, the README's table is written from here, and messages name them. What
lies outside is refused as a whole with one short message; nothing is cut off or left out silently.
"""

from __future__ import annotations

from dataclasses import field, fields
from typing import Any

from chainplan.frozen import frozen

_MB = 1_000_000
"""Bytes, as makers of disks count them; people are told megabytes."""


def _bound(value: int, *, unit: str, what: str, why: str, factor: int = 1) -> Any:
    return field(default=value, metadata={"unit": unit, "what": what, "why": why, "as": factor})


@frozen
class Bounds:
    """How large, long and deep a file of the user's may be."""

    workbook_bytes: int = _bound(
        20 * _MB, unit="MB", factor=_MB, what="size of a workbook",
        why="a job of 20 000 pieces takes about 2 MB; pictures may stand beside it",
    )  # fmt: skip
    unpacked_bytes: int = _bound(
        64 * _MB, unit="MB", factor=_MB, what="what a workbook unpacks to",
        why="20 000 pieces with every column boxed unpack to about 30 MB; a packed file of some "
        "kB may otherwise fill the memory",
    )  # fmt: skip
    members: int = _bound(
        2000, unit="parts", what="parts inside a workbook",
        why="a workbook has about 20, and one a picture",
    )  # fmt: skip
    part_tags: int = _bound(
        50_000, unit="tags", what="XML tags in a part that is no sheet and no list of texts",
        why="styles of a much-edited workbook have some thousands; each costs about 30 µs",
    )  # fmt: skip
    text_bytes: int = _bound(
        8 * _MB, unit="MB", factor=_MB, what="size of a CSV or TOML job",
        why="20 000 pieces of 200 letters each take 4 MB",
    )  # fmt: skip
    rows: int = _bound(
        20_000, unit="rows", what="filled rows of a sheet, or tables of a kind in TOML",
        why="years of a workshop's pieces; they are read in a few seconds",
    )  # fmt: skip
    columns: int = _bound(
        200, unit="columns", what="columns of a sheet",
        why="no sheet of a job has more than 30 of its own",
    )  # fmt: skip
    cells: int = _bound(
        500_000, unit="cells", what="cells of a workbook, a CSV or values of a TOML file",
        why="20 000 rows of 22 boxed columns are 440 000",
    )  # fmt: skip
    lines: int = _bound(
        1_048_576, unit="lines", what="lines of a CSV, filled or not; last row of a sheet",
        why="the last row that spreadsheet programs have",
    )  # fmt: skip
    text_letters: int = _bound(
        32_767, unit="letters", what="one text in any file", why="what a spreadsheet's cell holds"
    )
    word_letters: int = _bound(
        200, unit="letters", what="a number or a key in TOML",
        why="the longest of ours has about 40, and long ones take their reader minutes",
    )  # fmt: skip
    digits: int = _bound(
        40, unit="digits", what="a number",
        why="a double has 17 that count; the rest is a slip of some program",
    )  # fmt: skip
    depth: int = _bound(
        16, unit="levels", what="tables within tables in TOML, and words in a dotted key",
        why="ours have 3",
    )  # fmt: skip
    note_letters: int = _bound(
        2000, unit="letters", what="a text that is kept, such as a note", why="a page of paper"
    )
    name_letters: int = _bound(
        60, unit="letters", what="a piece's name",
        why="it is the name of a folder and stands on every sheet of paper",
    )  # fmt: skip
    weave_bytes: int = _bound(
        1 * _MB, unit="MB", factor=_MB, what="size of a weave file",
        why="the largest of the library takes 4 kB",
    )  # fmt: skip
    weave_rings: int = _bound(
        100, unit="rings", what="rings in a weave's repeat",
        why="the library's have 12 at most; solving takes the cube of their number",
    )  # fmt: skip
    weave_links: int = _bound(
        1000, unit="links", what="links in a weave's repeat", why="10 for each of 100 rings"
    )
    design_cells: int = _bound(
        500_000, unit="letters", what="letters of a list or grid of a design",
        why="a letter a ring of the largest sheet that anybody draws by hand",
    )  # fmt: skip
    design_metals: int = _bound(
        20, unit="metals", what="metals in one rule of a design",
        why="more wire than a bench has at hand",
    )  # fmt: skip
    picture_bytes: int = _bound(
        10 * _MB, unit="MB", factor=_MB, what="size of a picture for a design or a quote",
        why="a picture has a few dots a ring, not a photograph's millions",
    )  # fmt: skip
    picture_dots: int = _bound(
        4_000_000, unit="dots", what="dots of a picture for a design or a quote",
        why="four dots a ring of a sheet of a million",
    )  # fmt: skip
    order_bytes: int = _bound(
        64 * _MB, unit="MB", factor=_MB, what="size of a weld order of your own",
        why="a million joins of 60 letters each",
    )  # fmt: skip
    order_rows: int = _bound(
        1_000_000, unit="rows", what="rows of a weld order of your own",
        why="more joins than anybody welds in a lifetime",
    )  # fmt: skip
    log_bytes: int = _bound(
        400 * _MB, unit="MB", factor=_MB, what="size of a bench log",
        why="some million taps; a row takes about 100 letters",
    )  # fmt: skip
    plan_bytes: int = _bound(
        400 * _MB, unit="MB", factor=_MB, what="size of a file of a finished plan",
        why="the weld order of four million joins",
    )  # fmt: skip
    faults: int = _bound(
        200, unit="faults", what="faults and notes told one by one; the rest is counted",
        why="a file with more of them has one cause",
    )  # fmt: skip
    shown_letters: int = _bound(
        40, unit="letters", what="what is shown of a text of yours in a message",
        why="enough to find it; the place says where it stands",
    )  # fmt: skip
    shown_words: int = _bound(
        60, unit="words", what="what is listed as known in a message",
        why="all weaves and all metals; not all pieces of a long job",
    )  # fmt: skip
    message_letters: int = _bound(
        1200, unit="letters", what="each part of a message", why="a list of all metals fits"
    )
    refused_within_s: int = _bound(
        2, unit="s", what="time in which a file outside these bounds is refused",
        why="nobody waits longer to be told no; held by the tests' hostile files",
    )  # fmt: skip
    refused_within_bytes: int = _bound(
        300 * _MB, unit="MB", factor=_MB, what="memory in which it is refused",
        why="a small computer at the bench has some GB for everything",
    )  # fmt: skip


BOUNDS = Bounds()


def bounds_markdown() -> str:
    """Write the bounds as a Markdown table for the README.

    Examples
    --------
    >>> print(bounds_markdown().splitlines()[2])
    | size of a workbook | 20 MB |
    """
    lines = ["| what | at most |", "|---|---|"]
    for item in fields(BOUNDS):
        told = getattr(BOUNDS, item.name) // item.metadata["as"]
        number = f"{told:,}".replace(",", " ")
        lines.append(f"| {item.metadata['what']} | {number} {item.metadata['unit']} |")
    return "\n".join(lines) + "\n"
