"""Sheets as one PDF, written by reportlab: the typeface embedded, each drawing once, no dates.

Everything is written in whole hundredths of a mm, y upwards. Lines of thousands of points are put
into the page as operators made by numpy: point by point, through reportlab's path objects, the PDF
of a necklace took three times as long and was a third larger.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.report.paper.lettering import FACES, MM_A_POINT, printable, typeface
from chainplan.report.paper.sheet import Path

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from chainplan.arrays import FloatArray
    from chainplan.report.paper.sheet import Drawing, OwnPicture, Picture, Sheet, Text

UNITS_A_MM = 100
"""Whole hundredths of a mm: finer than a printer's dot at 1200 an inch, and short to write."""
POINTS_A_UNIT = 1 / MM_A_POINT / UNITS_A_MM
"""Points of a PDF in a unit of its streams."""
PACKING = 4
"""How closely streams are packed, 1 to 9. Measured on the sample fair: the usual 6 takes four times
as long and saves a fortieth."""


def write_pdf(sheets: Iterable[Sheet], *, title: str) -> bytes:
    """Return sheets as one PDF document; the same sheets give the same bytes."""
    for bold in FACES:
        typeface(bold=bold)
    with _quick_streams():
        return _written(sheets, title)


def _written(sheets: Iterable[Sheet], title: str) -> bytes:
    from io import BytesIO

    from reportlab.pdfgen.canvas import Canvas

    out = BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=1, lang="en", initialFontName=FACES[False])
    canvas.setTitle(printable(title))
    canvas.setViewerPreference("DisplayDocTitle", "true")
    known: set[str] = set()
    packed = 0
    for sheet in sheets:
        canvas.setPageSize((sheet.width_mm / MM_A_POINT, sheet.height_mm / MM_A_POINT))
        for picture in sheet.pictures:
            if picture.drawing.key not in known:
                _define(canvas, picture.drawing)
                known.add(picture.drawing.key)
        for stamp in sheet.stamps:
            _stamp(canvas, stamp, sheet.height_mm)
        canvas.scale(POINTS_A_UNIT, POINTS_A_UNIT)
        canvas.setLineJoin(1)
        for picture in sheet.pictures:
            _show(canvas, picture, sheet.height_mm)
        paths = [mark for mark in sheet.marks if isinstance(mark, Path)]
        operators = _operators([path.points_mm for path in paths], paths, sheet.height_mm)
        for mark in sheet.marks:
            if isinstance(mark, Path):
                canvas.addLiteral(_painted(mark, next(operators)))
            else:
                _write(canvas, mark, sheet.height_mm)
        canvas.showPage()
        packed = _pack_streams(canvas, packed)
    canvas.save()
    return out.getvalue()


class _Packed(bytes):
    """A stream that is packed already."""

    __slots__ = ()


def _pack_streams(canvas: Any, packed: int) -> int:
    """Pack the streams of objects beyond so many; reportlab would keep them whole until the end.

    The pages of two hundred pieces took four times their file's size in memory.
    """
    from reportlab.pdfbase.pdfdoc import PDFFormXObject, PDFStream, PDFZCompress

    objects = canvas._doc.idToObject
    for item in islice(reversed(objects.values()), len(objects) - packed):
        name = {PDFStream: "content", PDFFormXObject: "stream"}.get(type(item))
        if name is not None and isinstance(getattr(item, name), (str, bytes)):
            setattr(item, name, _Packed(PDFZCompress.encode(getattr(item, name))))
    return len(objects)


@contextmanager
def _quick_streams() -> Iterator[None]:
    """Pack streams quickly, and keep them as they are, not written in letters: a fifth smaller.

    Operators are ASCII, which reads the same in the encoding of PDF; to look each letter up there
    took as long as to draw them.
    """
    import zlib

    from reportlab import rl_config
    from reportlab.pdfbase import pdfdoc
    from reportlab.pdfbase.pdfdoc import PDFZCompress

    encode = pdfdoc.pdfdocEnc
    pdfdoc.pdfdocEnc = lambda text: (
        text.encode("ascii") if isinstance(text, str) and text.isascii() else encode(text)
    )

    before, rl_config.useA85 = rl_config.useA85, 0
    PDFZCompress.encode = lambda text: (
        bytes(text)
        if isinstance(text, _Packed)
        else zlib.compress(text.encode("utf8") if isinstance(text, str) else text, PACKING)
    )
    try:
        yield
    finally:
        rl_config.useA85, pdfdoc.pdfdocEnc = before, encode
        del PDFZCompress.encode  # the class has its own


@cache
def _colour(name: str) -> Any:
    """Read a colour once; reportlab would read it anew at every mark."""
    from reportlab.lib.colors import HexColor

    return HexColor(name)


@cache
def _shares(name: str) -> str:
    """Write a colour as its shares of red, green and blue."""
    return " ".join(f"{int(name[at : at + 2], 16) / 255:.6g}" for at in (1, 3, 5))


def _operators(
    points_mm: Sequence[FloatArray], paths: Sequence[Path], up_mm: float | None = None
) -> Iterator[str]:
    """Write the lines of each path as PDF path operators, in hundredths of a mm.

    All paths are rounded together: one by one, numpy's calls took longer than the writing.
    """
    if not paths:
        return
    points = np.concatenate(points_mm)
    if up_mm is not None:
        points = points * (1, -1) + (0.0, up_mm)
    numbers = np.rint(points * UNITS_A_MM).astype(np.int64).ravel().tolist()
    begin = np.concatenate([path.first for path in paths]).tolist()
    words = ["%d %d m\n" if first else "%d %d l\n" for first in begin]
    end = 0
    for path in paths:
        start, end = end, end + len(path.first)
        own = words[start:end]
        if path.closed:
            own = [f"h {word}" if word[-2] == "m" else word for word in own]
            own[0] = own[0][2:]
            own.append("h\n")
        yield "".join(own) % tuple(numbers[2 * start : 2 * end])


def _define(canvas: Any, drawing: Drawing) -> None:
    """Store a drawing as a form, to be shown again."""
    written = with_operators(drawing)
    canvas.beginForm(written.key, *written.frame)
    canvas.setLineJoin(1)
    if written.operators:
        canvas.addLiteral(written.operators)
    canvas.endForm(Resources=_lines_alone())


def with_operators(drawing: Drawing) -> Drawing:
    """Write a drawing's paths as operators, so that it is drawn without them from there on."""
    if drawing.frame:
        return drawing
    points = np.concatenate([np.zeros((1, 2)), *(path.points_mm for path in drawing.paths)])
    edge = max((path.width_mm for path in drawing.paths), default=0.0)
    low, high = points.min(axis=0) - edge, points.max(axis=0) + edge
    own = [path.points_mm for path in drawing.paths]
    said = (
        f"{1 if path.round_ends else 0} J\n{_painted(path, operators)}"
        for path, operators in zip(drawing.paths, _operators(own, drawing.paths), strict=True)
    )
    return replace(
        drawing,
        paths=(),
        operators="\n".join(said),
        frame=tuple(round(part * UNITS_A_MM) for part in (*low, *high)),
    )


@cache
def _lines_alone() -> Any:
    """Say that a drawing takes no typeface and no picture, so that no letters are looked for."""
    from reportlab.pdfbase.pdfdoc import PDFName, PDFResourceDictionary

    return PDFResourceDictionary(ProcSet=[PDFName("PDF")])


def _stamp(canvas: Any, stamp: OwnPicture, height_mm: float) -> None:
    """Put a picture of the user's own into its frame, from the upper left."""
    from io import BytesIO

    from reportlab.lib.utils import ImageReader

    picture = ImageReader(BytesIO(stamp.content))
    across, up = picture.getSize()
    scale = min(stamp.width_mm / across, stamp.height_mm / up)
    wide, high = across * scale / MM_A_POINT, up * scale / MM_A_POINT
    bottom = (height_mm - stamp.top_mm) / MM_A_POINT - high
    canvas.drawImage(picture, stamp.left_mm / MM_A_POINT, bottom, wide, high, mask="auto")


def _show(canvas: Any, picture: Picture, height_mm: float) -> None:
    """Show the part of a drawing that lies in the picture's window."""
    canvas.saveState()
    left, bottom = picture.left_mm, height_mm - picture.top_mm - picture.height_mm
    frame = canvas.beginPath()
    frame.rect(*(part * UNITS_A_MM for part in (left, bottom, picture.width_mm, picture.height_mm)))
    canvas.clipPath(frame, stroke=0, fill=0)
    right = (left - picture.window_mm[0] * picture.scale) * UNITS_A_MM
    up = (bottom - picture.window_mm[1] * picture.scale) * UNITS_A_MM
    canvas.transform(picture.scale, 0, 0, picture.scale, right, up)
    canvas.doForm(picture.drawing.key)
    canvas.restoreState()


def _painted(path: Path, operators: str) -> str:
    """Put colours, width and dashes of a path before its operators, and what is painted after."""
    said = []
    if path.fill:
        said.append(f"{_shares(path.fill)} rg")
    if path.stroke:
        said.append(f"{_shares(path.stroke)} RG {path.width_mm * UNITS_A_MM:.5g} w")
    if path.dash_mm:
        said.append(f"[{' '.join(f'{dash * UNITS_A_MM:.5g}' for dash in path.dash_mm)}] 0 d")
    paint = {(True, True): "B", (True, False): "f"}.get((bool(path.fill), bool(path.stroke)), "S")
    said.append(operators + paint)
    if path.dash_mm:
        said.append("[] 0 d")
    return "\n".join(said)


def _write(canvas: Any, text: Text, height_mm: float) -> None:
    canvas.setFillColor(_colour(text.colour))
    canvas.setFont(FACES[text.bold], text.size_pt * MM_A_POINT * UNITS_A_MM)
    write = {"middle": canvas.drawCentredString, "end": canvas.drawRightString}.get(
        text.anchor, canvas.drawString
    )
    write(text.x_mm * UNITS_A_MM, (height_mm - text.y_mm) * UNITS_A_MM, printable(text.text))
