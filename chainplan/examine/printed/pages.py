"""The text of the weld order's pages, sorted by piece."""

from __future__ import annotations

import hashlib
import re
import zlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from chainplan.examine.printed.wording import wording
from chainplan.store import keeping, key_of
from chainplan.store.version import examining_version

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from chainplan.examine.printed.wording import Wording

PAPER = "weld-order.pdf"
MOST_BYTES = 400_000_000
"""Of a PDF that is read: all tiles of a piece of a hundred thousand rings take a quarter of it."""
_BOX_PT, _BOX_OFF_PT = 13.7, 0.05
"""Type size of the numbers at the joins."""
_DRAWING = re.compile(
    rb"/Filter \[ /FlateDecode \] /FormType 1 /Length ([0-9]+) [^()]{0,200}?"
    rb"/Resources <<([^<>()]*)>>\s*/Subtype /Form /Type /XObject\s+>>\s+stream\r?\n"
)
"""A drawing that is set on a page, as ours are stored: its length, and what it may use."""
_LETTERS = (b"BT", b"Do", b"BI")
_COULD_SET = (b"/Font", b"/XObject", b"/Pattern")
_NOTHING = zlib.compress(b"")
_AT_ONCE = 1_000_000
"""An empty drawing, packed; bytes of a drawing that are looked at at once."""
_UNSEEN = bytes([*range(33), 127])
"""Blanks and what has no shape, among the letters that every typeface has."""


@dataclass(frozen=True, slots=True)
class PrintedPage:
    """Lines of one page, its foot and what stands below the foot apart."""

    lines: tuple[str, ...]
    foot: str  # heading and job
    number: int
    of: int
    stamp: str
    boxes: tuple[int, ...] = ()  # numbers in boxes at the joins


@dataclass(frozen=True, slots=True)
class PiecePages:
    """What the pages of one piece hold: lines all together, and lines and boxes of each page."""

    lines: list[str]
    pages: list[PrintedPage]


def read_pages(path: Path, language: str = "en") -> list[PrintedPage]:
    """Read the text of every page, and the numbers in boxes.

    Raises
    ------
    ValueError
        If it is no PDF, or too large a file.
    """
    words = wording(language)
    return _read(path, f"pages, {language}", lambda page: _read_page(page, words))


def read_texts(path: Path) -> list[str]:
    """Read the text of every page, a line a line; raises as :func:`read_pages`."""
    return _read(
        path, "texts", lambda page: str(page.get_textpage().get_text_range()).replace("\r", "\n")
    )


_Read = TypeVar("_Read")


def _read(path: Path, what: str, read: Callable[[Any], _Read]) -> list[_Read]:
    """Read every page; of a file that was read before, to the last byte, what it said then."""
    if path.stat().st_size > MOST_BYTES:
        message = f"{path.stat().st_size} bytes"
        raise ValueError(message)
    content = path.read_bytes()
    if not keeping.is_keeping():
        return _pages_of(content, read)
    key = key_of("read", what, hashlib.sha256(content).hexdigest(), examining_version())
    found: list[_Read] | None = keeping.recall(key)
    if found is None:
        found = _pages_of(content, read)
        keeping.remember(key, found)
    return found


def _pages_of(content: bytes, read: Callable[[Any], _Read]) -> list[_Read]:
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(_without_drawings(content))
        try:
            return [read(page) for page in document]
        finally:
            document.close()
    except pypdfium2.PdfiumError as error:
        message = f"no whole PDF ({error})"
        raise ValueError(message) from error


def _without_drawings(document: bytes) -> bytes:
    """Empty the drawings in which no letter is set: of theirs nothing is read.

    Pictures of rings are most of all lines on paper, and what is set on many pages would be gone
    through on each. Nothing else is altered. One that has neither typefaces nor other drawings to
    use can set no letter, whatever it holds; into any other is looked.
    """
    whole = bytearray()
    done = 0
    for found in _DRAWING.finditer(document):
        begin, size = found.end(), int(found.group(1))
        bare = not any(word in found.group(2) for word in _COULD_SET)
        empty = size > len(_NOTHING)
        if empty and (bare or _holds_no_letter(document[begin : begin + size])):
            whole += document[done:begin] + _NOTHING.ljust(size, b"\0")
            done = begin + size
    return bytes(whole + document[done:]) if done else document


def _holds_no_letter(packed: bytes) -> bool:
    """Whether a drawing is whole, and begins no text and no other drawing."""
    unpack, last = zlib.decompressobj(), b""
    try:
        while not unpack.eof:
            part = unpack.decompress(packed, _AT_ONCE)
            packed = unpack.unconsumed_tail
            looked_at = last + part
            # Single letters are looked for ten times as fast, and hardly ever there.
            if any(word[:1] in looked_at and word in looked_at for word in _LETTERS):
                return False
            if not part and not packed:
                return False  # broken off
            last = part[-1:]
    except zlib.error:
        return False  # as it stands, for the reader to tell
    return True


def _read_page(page: Any, w: Wording) -> PrintedPage:
    text = page.get_textpage()
    return replace(_page(text.get_text_range(), w), boxes=tuple(_boxes(page.raw, text.raw)))


def _boxes(page: Any, text: Any) -> Iterator[int]:
    """Numbers at the joins: figures of 3.5 mm, a size that nothing else on the sheet has."""
    import ctypes

    import pypdfium2.raw as pdf

    size, matrix, letters = ctypes.c_float(), pdf.FS_MATRIX(), (ctypes.c_ushort * 16)()
    for number in range(pdf.FPDFPage_CountObjects(page)):
        item = pdf.FPDFPage_GetObject(page, number)
        if pdf.FPDFPageObj_GetType(item) != pdf.FPDF_PAGEOBJ_TEXT:
            continue
        pdf.FPDFTextObj_GetFontSize(item, size)
        pdf.FPDFPageObj_GetMatrix(item, matrix)
        if abs(size.value * abs(matrix.d) - _BOX_PT) > _BOX_OFF_PT:
            continue
        length = pdf.FPDFTextObj_GetText(item, text, letters, 32) // 2 - 1
        figures = "".join(map(chr, letters[: min(max(length, 0), 15)])).strip()
        yield int(figures) if figures.isascii() and figures.isdigit() else -1


def _page(text: str, w: Wording) -> PrintedPage:
    lines = [line.strip() for line in text.replace("\r", "\n").split("\n") if line.strip()]
    for k in reversed(range(len(lines))):
        found = w.pattern["foot"].match(lines[k])
        if found:
            stamp = lines[k + 1] if k + 1 < len(lines) else ""
            # A last line of a table may stand on the line of the foot.
            own = [found.group(1)] if " mm " in found.group(1) else []
            return PrintedPage(
                (*lines[:k], *own), found.group(1), int(found.group(2)), int(found.group(3)), stamp
            )
    return PrintedPage(tuple(lines), "", 0, 0, "")


def by_piece(pages: list[PrintedPage], language: str = "en") -> tuple[list[str], list[PiecePages]]:
    """Lines of the cover, and the pages of each piece: it begins with a sentence of its own."""
    pattern = wording(language).pattern
    cover: list[str] = []
    pieces: list[PiecePages] = []
    for page in pages:
        loose = [k - 1 for k, line in enumerate(page.lines) if pattern["loose_begins"].match(line)]
        if loose:
            ends = zip(loose, [*loose[1:], len(page.lines)], strict=True)
            numbers = _from_one(page.boxes, len(loose))
            for (begin, end), boxes in zip(ends, numbers, strict=True):
                lines = page.lines[begin:end]
                pieces.append(PiecePages(list(lines), [replace(page, lines=lines, boxes=boxes)]))
            continue
        if page.lines and pattern["begins"].match(page.lines[0]):
            pieces.append(PiecePages([], []))
        if pieces:
            pieces[-1].lines.extend(page.lines)
            pieces[-1].pages.append(page)
        else:
            cover.extend(page.lines)
    return cover, pieces


def _from_one(boxes: tuple[int, ...], pieces: int) -> list[tuple[int, ...]]:
    """Share out numbers of pieces that stand on one page: each begins with 1.

    Examples
    --------
    >>> _from_one((1, 2, 3, 1, 2), 2), _from_one((2, 3), 2)
    ([(1, 2, 3), (1, 2)], [(2, 3), ()])
    """
    found: list[list[int]] = []
    for number in boxes:
        if (number == 1 and len(found) < pieces) or not found:
            found.append([])
        found[-1].append(number)
    return [tuple(own) for own in found] + [()] * (pieces - len(found))


def numbers_alone(lines: list[str], w: Wording) -> Iterator[int]:
    """Numbers in lines of numbers: those of the joins' boxes, and of axes, rows and columns."""
    for line in lines:
        if w.pattern["beside"].fullmatch(line):
            yield from (int(text) for text in re.findall(r"\d+", line))


def bare(text: str) -> str:
    """Leave the letters and figures that every typeface has: names may hold any others.

    Examples
    --------
    >>> bare("12 °C, Perle (Süßwasser)")
    '12C,Perle(Swasser)'
    """
    return text.encode("ascii", "ignore").translate(None, _UNSEEN).decode("ascii")


def without_note(lines: list[str], note: str, language: str = "en") -> list[str]:
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
    begin = wording(language).pattern["note"].pattern
    text = re.sub(begin + "".join(letters) + r"\s*", "", "\n".join(lines), count=1)
    return text.split("\n")
