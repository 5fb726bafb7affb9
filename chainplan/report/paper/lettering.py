"""Widths of text in the typeface of every page, and lines folded or cut to a width.

The typeface is DejaVu Sans, which comes with matplotlib and has the signs of many scripts; the
PDF embeds it. Text is laid letter by letter from left to right; that is enough for numbers, names
and short lines.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any

MM_A_POINT = 25.4 / 72
"""A point of type is a 72nd of an inch, in PDF as in print."""
CAP_HEIGHT = 0.73
"""Height of capitals and figures as a share of the type size, in DejaVu Sans."""

_BOUND = re.compile(
    r" (?=(?<=\d )(?:s|min|h|J|mm|°C|hits?)(?!\w)"  # a number and its unit
    r"|(?<=\d min )\d+ s(?!\w)|(?<=\d h )\d+ min(?!\w)"  # the parts of a time
    r"|(?<=(?:join|ring) )\d)"  # a join or ring and its number
)
NO_BREAK = "\u00a0"
_SPACE = re.compile(r"[^\S\u00a0]+")

FACES = {False: "DejaVuSans", True: "DejaVuSans-Bold"}
"""Names of the typefaces, plain and bold, in a PDF and as files."""


@cache
def typeface(*, bold: bool) -> Any:
    """Open a typeface and make it known to the writer of PDF; return its metrics."""
    from pathlib import Path

    import matplotlib
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    name = FACES[bold]
    font = TTFont(name, str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / f"{name}.ttf"))
    pdfmetrics.registerFont(font)
    return font.face


class _Letters(dict[str, float]):
    """Widths of the letters of a typeface, in thousandths of its size, each looked up once."""

    def __init__(self, face: Any) -> None:
        super().__init__()
        self._face = face

    def __missing__(self, letter: str) -> float:
        self[letter] = self._face.charWidths.get(ord(letter), self._face.defaultWidth)
        return self[letter]


@cache
def _letters(*, bold: bool) -> _Letters:
    return _Letters(typeface(bold=bold))


def text_width_mm(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Width of a line of text, in mm; a letter that the typeface lacks is an empty box."""
    thousandths = sum(map(_letters(bold=bold).__getitem__, text))
    return float(thousandths) / 1000 * size_pt * MM_A_POINT


def printable(text: str) -> str:
    """Put spaces for control signs and halves of signs, which neither PDF nor SVG can hold."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else " " for letter in text)


def bind_numbers(text: str) -> str:
    r"""Put spaces that no line is broken at between numbers and what they count.

    Examples
    --------
    >>> bind_numbers("wait 1 min 25 s before join 28").split(" ")
    ['wait', '1\xa0min\xa025\xa0s', 'before', 'join\xa028']
    """
    return _BOUND.sub(NO_BREAK, text)


def fold_text(text: str, size_pt: float, width_mm: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines that are at most so wide; a single longer word is cut.

    Numbers stay beside what they count: "2 min 40 s", "join 28". No line is broken at a no-break
    space.
    """
    lines: list[str] = []
    line = ""
    words: list[str] = []
    for bound in bind_numbers(_SPACE.sub(" ", text).strip()).split(" "):
        word = bound.replace(NO_BREAK, " ")
        whole = text_width_mm(word, size_pt, bold=bold) <= width_mm
        words += [word] if whole else word.split(" ")
    for word in words:
        longer = f"{line} {word}".strip()
        if text_width_mm(longer, size_pt, bold=bold) <= width_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while text_width_mm(line, size_pt, bold=bold) > width_mm and len(line) > 1:
            fits = len(line) - 1
            while fits > 1 and text_width_mm(line[:fits], size_pt, bold=bold) > width_mm:
                fits -= 1
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line] if line or not lines else lines


def shorten_text(text: str, size_pt: float, width_mm: float, *, bold: bool = False) -> str:
    """Cut a text that is too wide and end it with an ellipsis; control characters become spaces."""
    text = printable(text)
    if text_width_mm(text, size_pt, bold=bold) <= width_mm:
        return text
    while text and text_width_mm(text + "…", size_pt, bold=bold) > width_mm:
        text = text[:-1]
    return text + "…"
