"""The text of the weld order's pages, sorted by piece."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

MOST_BYTES = 400_000_000
"""Of a PDF that is read: all tiles of a piece of a hundred thousand rings take a quarter of it."""
_FOOT = re.compile(r"^(.*) · page (\d+) of (\d+)$")
_BEGINS = re.compile(
    r"^(?:\d+ copies, each )?\d+ rings?, \d+ joins? to weld(?: in \d+ pass(?:es)?)?, about "
)
LOOSE_BEGINS = re.compile(
    r"^(?:FRONT|BACK|EDGE) (?:\d+ copies, each )?\d+ (?:rings?|posts?), \d+ hits? each, "
)
"""Below the name of a piece of loose joins, of which several share a page."""


@dataclass(frozen=True, slots=True)
class PrintedPage:
    """Lines of one page, its foot and what stands below the foot apart."""

    lines: tuple[str, ...]
    foot: str  # heading and job
    number: int
    of: int
    stamp: str


def read_pages(path: Path) -> list[PrintedPage]:
    """Read the text of every page.

    Raises
    ------
    ValueError
        If it is no PDF, or too large a file.
    """
    import pypdfium2

    if path.stat().st_size > MOST_BYTES:
        message = f"{path.stat().st_size} bytes"
        raise ValueError(message)
    try:
        document = pypdfium2.PdfDocument(path)
    except pypdfium2.PdfiumError as error:
        message = f"no PDF ({error})"
        raise ValueError(message) from error
    try:
        return [_page(page.get_textpage().get_text_range()) for page in document]
    finally:
        document.close()


def _page(text: str) -> PrintedPage:
    lines = [line.strip() for line in text.replace("\r", "\n").split("\n") if line.strip()]
    for k in reversed(range(len(lines))):
        found = _FOOT.match(lines[k])
        if found:
            stamp = lines[k + 1] if k + 1 < len(lines) else ""
            # A last line of a table may stand on the line of the foot.
            own = [found.group(1)] if " mm " in found.group(1) else []
            return PrintedPage(
                (*lines[:k], *own), found.group(1), int(found.group(2)), int(found.group(3)), stamp
            )
    return PrintedPage(tuple(lines), "", 0, 0, "")


def by_piece(pages: list[PrintedPage]) -> tuple[list[str], list[list[str]]]:
    """Lines of the cover, and lines of each piece: it begins with a sentence of its own."""
    cover: list[str] = []
    pieces: list[list[str]] = []
    for page in pages:
        loose = [k - 1 for k, line in enumerate(page.lines) if LOOSE_BEGINS.match(line)]
        if loose:
            ends = zip(loose, [*loose[1:], len(page.lines)], strict=True)
            pieces += [list(page.lines[begin:end]) for begin, end in ends]
            continue
        if page.lines and _BEGINS.match(page.lines[0]):
            pieces.append([])
        (pieces[-1] if pieces else cover).extend(page.lines)
    return cover, pieces


_BESIDE = re.compile(r"(?:(?:ring|pair|three|four|row|column|at|mm|·|[\d,]+)(?: |$))+")
"""A line of numbers beside a picture: of joins, and of what stands near them on the page."""


def numbers_alone(lines: list[str]) -> Iterator[int]:
    """Numbers in lines of numbers: those of the joins' boxes, and of axes, rows and columns."""
    for line in lines:
        if _BESIDE.fullmatch(line):
            yield from (int(text) for text in re.findall(r"\d+", line))


def bare(text: str) -> str:
    """Leave the letters and figures that every typeface has: names may hold any others.

    Examples
    --------
    >>> bare("12 °C, Perle (Süßwasser)")
    '12C,Perle(Swasser)'
    """
    return re.sub(r"[^!-~]", "", text)


def without_note(lines: list[str], note: str) -> list[str]:
    """Leave out the user's own note, which may say anything: its letters as far as they are shown.

    Examples
    --------
    >>> without_note(["2 rings", "Note: 3 waits", "in all · ok", "No waits"], "3 waits in all ✓ ok")
    ['2 rings', 'No waits']
    """
    letters = (
        r"\s*" if letter.isspace() else re.escape(letter) if "!" <= letter <= "~" else r"\s*\S{0,2}"
        for letter in note
    )
    text = re.sub("Note: " + "".join(letters) + r"\s*", "", "\n".join(lines), count=1)
    return text.split("\n")
