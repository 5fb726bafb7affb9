"""How wide the columns are and how many lines a text takes: every measure of the sheets.

Widths count characters of the body's typeface, as the file format does. They were chosen on the
printed pages of the samples: a sheet of landscape A4 in 10 pt holds about 130 characters, and one
of 200 is still read without effort when it is scaled down to the page's width.
"""

from __future__ import annotations

NAME = 26
"""A piece's name. Names of the samples have up to 21 letters; longer ones wrap."""
KEYWORD = 15
"""One or two words: a station, a group of settings, a day with its date."""
SHORT = 8
"""One short word: a unit, a tip."""
LABEL = 22
"""A weave, a metal, a size: three or four words."""
ITEM = 38
"""A cost line, a figure, what a piece is: a line of five or six words."""
SENTENCE = 58
"""A remark. Ten words a line are read at a glance; narrower columns make tall rows, wider
ones shrink the whole page."""
DURATION = 14
"""A time such as "1 h 25 min"."""
TICK = 6
"""A box to tick by hand, and the word above it."""
PAPER_COLUMNS = 4
"""Columns of a sheet of sentences only; they are merged."""

_ROOM = {
    "int": 8, "sparse int": 8, "0.1": 9, "0.01": 9, "0.001": 10, "0.0001": 10, "%": 9,
    "0.01 %": 10, "sparse": 10, "general": 11, "g": 11, "j": 10, "c": 9, "min": 11, "date": 13,
    "right": 16, "chance": 18, "money": 12, "price": 14,
}  # fmt: skip
"""Room of a number by its kind: 99,999 with decimals, sign and unit; money up to 999,999.99, a
price with the currency's three letters; words among numbers up to "38.80 an hour". A larger number
shows as #### until the column is widened, so these are two characters more than the longest of the
samples."""

_GAP = 3.0
"""What a heading leaves free of its column, in characters: its indent, and bold words wider than
they were taken to be. With less, words break or run into the next heading."""

_SHORT_HEADING = 10
"""A heading of so many letters stays on one line: "weight, g" broken in two is read as two."""

_MOST_HEADING_LINES = 3
"""A column is widened until its heading takes no more lines: taller headers hide the table."""

SIGNS_A_UNIT = 1.12
"""Letters that fit into one unit of column width, even in a wide typeface."""

_BOLD_SHARE = 0.85
"""Of those letters, how many fit in bold: its letters are a tenth to a sixth wider."""


def lines_of(text: str, width: float, *, bold: bool = False) -> int:
    """Count the lines that a text takes in a column of some width.

    Examples
    --------
    >>> lines_of("short", 20), lines_of("so long that it must be wrapped", 20)
    (1, 2)
    """
    most = max(1.0, width * SIGNS_A_UNIT * (_BOLD_SHARE if bold else 1.0))
    count = 0
    for paragraph in text.split("\n"):
        room, lines = most, 1
        for word in paragraph.split(" "):
            if len(word) > room and room < most:
                lines, room = lines + 1, most
            while len(word) > most:
                word, lines = word[int(most) :], lines + 1
            room -= len(word) + 1
        count += lines
    return count


def number_width(title: str, kind: str) -> float:
    """Width of a column of numbers: its numbers fit, and so does every word of its heading.

    Examples
    --------
    >>> number_width("ring", "int"), number_width("temperature before the weld, low", "int")
    (8.0, 15.0)
    """
    longest = max(map(len, title.split()), default=0)
    if len(title) <= _SHORT_HEADING:
        longest = len(title)
    width = max(float(_ROOM[kind]), longest + _GAP)
    while lines_of(title, width - _GAP, bold=True) > _MOST_HEADING_LINES:
        width += 1
    return width
