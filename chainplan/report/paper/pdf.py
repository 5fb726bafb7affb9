"""Sheets as one PDF: letters as a typeface of outlines with their text, no dates in it."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.paper.glyphs import (
    CLOSE,
    CURVE3,
    CURVE4,
    LINE,
    MM_A_POINT,
    MOVE,
    letter_outline,
)
from chainplan.report.paper.sheet import Path, Text
from chainplan.report.wire.axes import LIGHT_FROM, overlap_share

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.report.paper.sheet import Sheet, Stamp, WireDrawing


POINTS_A_MM = 1 / MM_A_POINT
LETTERS_A_FACE = 200
"""Letters in one typeface object; further letters go into a further object."""


class PdfFile:
    """Numbered objects of a PDF, written out with their table."""

    def __init__(self) -> None:
        self.objects: list[bytes] = []

    def reserve(self) -> int:
        """Take the next object number; its content comes later."""
        self.objects.append(b"")
        return len(self.objects)

    def put(self, content: str, number: int | None = None) -> int:
        """Store an object and return its number."""
        number = number or self.reserve()
        self.objects[number - 1] = content.encode("latin-1")
        return number

    def put_stream(self, data: str, entries: str = "") -> int:
        """Store a compressed stream and return its number."""
        packed = zlib.compress(data.encode("latin-1"), 6)
        head = f"<< {entries} /Filter /FlateDecode /Length {len(packed)} >>\nstream\n"
        self.objects.append(head.encode("latin-1") + packed + b"\nendstream")
        return len(self.objects)

    def written(self, root: int, info: int) -> bytes:
        """Return the whole file."""
        parts = [b"%PDF-1.5\n%\xe2\xe3\xcf\xd3\n"]
        at = len(parts[0])
        table = []
        for number, content in enumerate(self.objects, 1):
            table.append(at)
            part = b"%d 0 obj\n" % number + content + b"\nendobj\n"
            parts.append(part)
            at += len(part)
        count = len(self.objects) + 1
        parts.append(b"xref\n0 %d\n0000000000 65535 f \n" % count)
        parts += [b"%010d 00000 n \n" % place for place in table]
        parts.append(b"trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R >>\n" % (count, root, info))
        parts.append(b"startxref\n%d\n%%%%EOF\n" % at)
        return b"".join(parts)


class Letters:
    """The letters used so far, each with a code in one of a few typeface objects."""

    def __init__(self) -> None:
        self.code: dict[tuple[bool, str], tuple[int, int]] = {}
        self.faces: list[list[str]] = []
        self.bold: list[bool] = []
        self.open: dict[bool, int] = {}

    def place(self, letter: str, *, bold: bool) -> tuple[int, int]:
        """Return the face and the code of a letter, adding it if it is new."""
        found = self.code.get((bold, letter))
        if found is None:
            face = self.open.get(bold, -1)
            if face < 0 or len(self.faces[face]) >= LETTERS_A_FACE:
                face = len(self.faces)
                self.faces.append([])
                self.bold.append(bold)
                self.open[bold] = face
            self.faces[face].append(letter)
            found = face, 31 + len(self.faces[face])
            self.code[bold, letter] = found
        return found

    def shown(self, text: str, *, bold: bool, size: float) -> str:
        """Return the operators that show a line of text."""
        parts: list[str] = []
        now, codes = -1, ""
        for letter in text:
            face, code = self.place(letter, bold=bold)
            if face != now:
                if codes:
                    parts.append(f"<{codes}> Tj")
                parts.append(f"/F{face} {size:g} Tf")
                now, codes = face, ""
            codes += f"{code:02x}"
        parts.append(f"<{codes}> Tj")
        return " ".join(parts)

    def write(self, file: PdfFile) -> str:
        """Store the typefaces and return the font resources."""
        names = []
        for face, (letters, bold) in enumerate(zip(self.faces, self.bold, strict=True)):
            number = _put_face(file, letters, bold=bold)
            names.append(f"/F{face} {number} 0 R")
        return f"<< {' '.join(names)} >>"


def _put_face(file: PdfFile, letters: Sequence[str], *, bold: bool) -> int:
    shapes, widths, meanings = [], [], []
    for code, letter in enumerate(letters, 32):
        points, codes, width = letter_outline(letter, bold=bold)
        operators = f"{width:.0f} 0 -200 -400 2400 1300 d1\n{_outline(points, codes)}f"
        shapes.append(f"/c{code} {file.put_stream(operators)} 0 R")
        widths.append(f"{width:.0f}")
        meanings.append(f"<{code:02x}> <{letter.encode('utf-16-be').hex()}>")
    blocks = [meanings[at : at + 100] for at in range(0, len(meanings), 100)]
    mapping = "\n".join(
        f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar" for block in blocks
    )
    unicode = file.put_stream(
        "/CIDInit /ProcSet findresource begin 12 dict begin begincmap\n"
        "/CMapName /Letters def /CMapType 2 def\n"
        f"1 begincodespacerange <00> <ff> endcodespacerange\n{mapping}\n"
        "endcmap CMapName currentdict /CMap defineresource pop end end"
    )
    names = " ".join(f"/c{code}" for code in range(32, 32 + len(letters)))
    return file.put(
        "<< /Type /Font /Subtype /Type3 /FontBBox [-200 -400 2400 1300] "
        "/FontMatrix [0.001 0 0 0.001 0 0] /Resources << >> "
        f"/FirstChar 32 /LastChar {31 + len(letters)} /Widths [{' '.join(widths)}] "
        f"/Encoding << /Type /Encoding /Differences [32 {names}] >> "
        f"/CharProcs << {' '.join(shapes)} >> /ToUnicode {unicode} 0 R >>"
    )


def _outline(points: FloatArray, codes: npt.NDArray[np.uint8]) -> str:
    """Write a letter's outline; quadratic curves become cubic ones."""
    parts = []
    at = 0
    here = (0.0, 0.0)
    place = [(float(x), float(y)) for x, y in points]
    while at < len(codes):
        kind = codes[at]
        if kind == CLOSE:
            parts.append("h")
            at += 1
            continue
        if kind in (MOVE, LINE):
            parts.append(f"{place[at][0]:.0f} {place[at][1]:.0f} {'m' if kind == MOVE else 'l'}")
            here = place[at]
            at += 1
        elif kind == CURVE3:
            bend, end = place[at], place[at + 1]
            one = tuple(h + 2 / 3 * (b - h) for h, b in zip(here, bend, strict=True))
            two = tuple(e + 2 / 3 * (b - e) for e, b in zip(end, bend, strict=True))
            numbers = (*one, *two, *end)
            parts.append(" ".join(f"{number:.0f}" for number in numbers) + " c")
            here = end
            at += 2
        elif kind == CURVE4:
            numbers = (*place[at], *place[at + 1], *place[at + 2])
            parts.append(" ".join(f"{number:.0f}" for number in numbers) + " c")
            here = place[at + 2]
            at += 3
    return "\n".join(parts) + "\n" if parts else ""


def path_operators(points: FloatArray, first: BoolArray, *, closed: bool = False) -> str:
    """Write lines as PDF path operators, in hundredths of a mm."""
    whole = np.rint(points * 100).astype(np.int64)
    words = np.where(first, "%d %d m\n", "%d %d l\n").tolist()
    if closed:
        words = [f"h {word}" if word[-2] == "m" else word for word in words]
        words[0] = words[0][2:]
        words.append("h\n")
    return "".join(words) % tuple(whole.ravel().tolist())


def _colour(colour: str, operator: str) -> str:
    parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return " ".join(f"{part:.3g}" for part in parts) + f" {operator}\n"


def _put_drawing(file: PdfFile, drawing: WireDrawing) -> int:
    """Store a drawing of wire as an object to be shown again, in hundredths of a mm, y upwards."""
    parts = ["1 j 0 J\n"]
    levels = len(drawing.look)
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    for layer in drawing.layers:
        low = np.minimum(low, layer.points_mm.min(axis=0) - layer.wire_mm)
        high = np.maximum(high, layer.points_mm.max(axis=0) + layer.wire_mm)
        for level, stroke in enumerate(drawing.look):
            shift = np.array(LIGHT_FROM) * stroke.shift * layer.wire_mm
            points = layer.reaching(overlap_share(level, levels)) + shift
            parts.append(_colour(stroke.colour, "RG"))
            parts.append(f"{stroke.width * layer.wire_mm * 100:.0f} w\n")
            parts.append("1 J\n" if layer.cap(level) == "round" else "0 J\n")
            parts.append(path_operators(points, layer.first) + "S\n")
    box = " ".join(f"{edge * 100:.0f}" for edge in (*low, *high))
    return file.put_stream(
        "".join(parts), f"/Type /XObject /Subtype /Form /BBox [{box}] /Resources << >>"
    )


def write_pdf(sheets: Iterable[Sheet], *, title: str) -> bytes:
    """Return sheets as one PDF document; the same sheets give the same bytes."""
    file = PdfFile()
    letters = Letters()
    tree, resources = file.reserve(), file.reserve()
    drawings: dict[str, int] = {}
    pages = []
    for sheet in sheets:
        for stamp in sheet.stamps:
            if stamp.drawing.key not in drawings:
                drawings[stamp.drawing.key] = _put_drawing(file, stamp.drawing)
        content = file.put_stream(_sheet_operators(sheet, letters))
        width, height = sheet.width_mm * POINTS_A_MM, sheet.height_mm * POINTS_A_MM
        pages.append(
            file.put(
                f"<< /Type /Page /Parent {tree} 0 R /MediaBox [0 0 {width:.2f} {height:.2f}] "
                f"/Resources {resources} 0 R /Contents {content} 0 R >>"
            )
        )
    shown = " ".join(f"/{key} {number} 0 R" for key, number in drawings.items())
    file.put(f"<< /Font {letters.write(file)} /XObject << {shown} >> >>", resources)
    kids = " ".join(f"{page} 0 R" for page in pages)
    file.put(f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>", tree)
    heading = ("\ufeff" + title).encode("utf-16-be", errors="replace").hex()
    info = file.put(f"<< /Title <{heading}> >>")
    root = file.put(
        f"<< /Type /Catalog /Pages {tree} 0 R /ViewerPreferences << /DisplayDocTitle true >> >>"
    )
    return file.written(root, info)


def _sheet_operators(sheet: Sheet, letters: Letters) -> str:
    scale = POINTS_A_MM / 100
    bottom = sheet.height_mm * POINTS_A_MM
    parts = [f"{scale:.6f} 0 0 -{scale:.6f} 0 {bottom:.3f} cm\n1 j\n"]
    parts += [_stamp_operators(stamp) for stamp in sheet.stamps]
    for mark in sheet.marks:
        parts.append(_path(mark) if isinstance(mark, Path) else _text(mark, letters))
    return "".join(parts)


def _stamp_operators(stamp: Stamp) -> str:
    x, y, w, h = (
        part * 100 for part in (stamp.left_mm, stamp.top_mm, stamp.width_mm, stamp.height_mm)
    )
    right = (stamp.left_mm - stamp.window_mm[0] * stamp.scale) * 100
    down = (stamp.top_mm + stamp.window_mm[3] * stamp.scale) * 100
    return (
        f"q {x:.0f} {y:.0f} {w:.0f} {h:.0f} re W n\n"
        f"{stamp.scale:.5g} 0 0 -{stamp.scale:.5g} {right:.0f} {down:.0f} cm "
        f"/{stamp.drawing.key} Do Q\n"
    )


def _path(path: Path) -> str:
    parts = []
    if path.fill:
        parts.append(_colour(path.fill, "rg"))
    if path.stroke:
        parts.append(_colour(path.stroke, "RG") + f"{path.width_mm * 100:.0f} w\n")
    if path.dash_mm:
        parts.append(f"[{' '.join(f'{dash * 100:.0f}' for dash in path.dash_mm)}] 0 d\n")
    parts.append(path_operators(path.points_mm, path.first, closed=path.closed))
    parts.append({(True, True): "B\n", (True, False): "f\n"}.get(
        (bool(path.fill), bool(path.stroke)), "S\n"))  # fmt: skip
    if path.dash_mm:
        parts.append("[] 0 d\n")
    return "".join(parts)


def _text(text: Text, letters: Letters) -> str:
    size = text.size_pt * MM_A_POINT * 100
    x = text.x_mm * 100
    if text.anchor != "start":
        width = sum(letter_outline(letter, bold=text.bold)[2] for letter in text.text)
        x -= width / 1000 * size * (0.5 if text.anchor == "middle" else 1.0)
    shown = letters.shown(text.text, bold=text.bold, size=round(size, 1))
    colour = _colour(text.colour, "rg")
    return f"BT {colour}1 0 0 -1 {x:.0f} {text.y_mm * 100:.0f} Tm {shown} ET\n"
