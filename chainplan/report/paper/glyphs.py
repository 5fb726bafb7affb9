"""Outlines and widths of letters, from the typeface that comes with matplotlib.

Widths and outlines are in thousandths of the type size, y upwards. Text is laid letter by letter
from left to right; that is enough for numbers, names and short lines.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray


MM_A_POINT = 25.4 / 72
CAP_HEIGHT = 0.73
"""Height of capitals and figures as a share of the type size."""

_BOUND = re.compile(
    r" (?=(?<=\d )(?:s|min|h|J|mm|°C|hits?)(?!\w)"  # a number and its unit
    r"|(?<=\d min )\d+ s(?!\w)|(?<=\d h )\d+ min(?!\w)"  # the parts of a time
    r"|(?<=(?:join|ring) )\d)"  # a join or ring and its number
)
NO_BREAK = "\u00a0"

FACES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
MOVE, LINE, CURVE3, CURVE4, CLOSE = 1, 2, 3, 4, 79

NO_OUTLINE = np.array(
    [(50, 0), (550, 0), (550, 700), (50, 700), (50, 0)]  # an empty box: its rim …
    * 2,
    dtype=float,
)
NO_OUTLINE[5:] = 300 + (NO_OUTLINE[4::-1] - 300) * 0.8  # … and its hollow
NO_OUTLINE_CODES = np.array([MOVE, LINE, LINE, LINE, CLOSE] * 2, dtype=np.uint8)


@lru_cache(maxsize=2)
def _face(*, bold: bool) -> tuple[Any, float, Any]:
    """Open a typeface: the face, its units a thousandth, and the flag for unscaled outlines."""
    from pathlib import Path

    import matplotlib
    from matplotlib import ft2font

    file = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / FACES[bold]
    face = ft2font.FT2Font(str(file))
    flags: Any = getattr(ft2font, "LoadFlags", None)  # matplotlib from 3.10 on
    unscaled = flags.NO_SCALE if flags else vars(ft2font)["LOAD_NO_SCALE"]
    return face, 1000 / face.units_per_EM, unscaled


@lru_cache(maxsize=4096)
def letter_outline(
    letter: str, *, bold: bool = False
) -> tuple[FloatArray, npt.NDArray[np.uint8], float]:
    """Return points, path codes and width of one letter, in thousandths of the type size.

    A letter that the typeface does not have becomes an empty box.
    """
    face, scale, unscaled = _face(bold=bold)
    if face.get_char_index(ord(letter)) == 0:
        return NO_OUTLINE, NO_OUTLINE_CODES, 600.0
    glyph = face.load_char(ord(letter), flags=unscaled)
    points, codes = face.get_path()  # always a 64th of what the unscaled outline says
    points = np.asarray(points, dtype=float).reshape(-1, 2) * 64 * scale
    return points, np.asarray(codes, dtype=np.uint8), float(glyph.horiAdvance) * scale


def text_width_mm(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Width of a line of text, in mm."""
    thousandths = sum(letter_outline(letter, bold=bold)[2] for letter in text)
    return thousandths / 1000 * size_pt * MM_A_POINT


def text_outline(
    text: str, *, bold: bool = False
) -> tuple[FloatArray, npt.NDArray[np.uint8], float]:
    """Return points, path codes and width of a line of text, in thousandths of the type size."""
    at = 0.0
    points, codes = [], []
    for letter in text:
        outline, kinds, width = letter_outline(letter, bold=bold)
        if len(outline):
            points.append(outline + np.array([at, 0.0]))
            codes.append(kinds)
        at += width
    if not points:
        return np.zeros((0, 2)), np.zeros(0, dtype=np.uint8), at
    return np.concatenate(points), np.concatenate(codes), at


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

    Numbers stay beside what they count: "2 min 40 s", "join 28".
    """
    lines: list[str] = []
    line = ""
    words: list[str] = []
    for bound in bind_numbers(" ".join(text.split())).split(" "):
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
    text = "".join(letter if letter.isprintable() else " " for letter in text)
    if text_width_mm(text, size_pt, bold=bold) <= width_mm:
        return text
    while text and text_width_mm(text + "…", size_pt, bold=bold) > width_mm:
        text = text[:-1]
    return text + "…"
