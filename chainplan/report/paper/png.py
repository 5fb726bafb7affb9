"""Sheets as PNG: each view of the wire is drawn once and laid under the marks."""

from __future__ import annotations

import struct
import zlib
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.report.paper.glyphs import MM_A_POINT, text_outline
from chainplan.report.paper.sheet import Path, Sheet, Text
from chainplan.report.wire.axes import LIGHT_FROM, overlap_share

if TYPE_CHECKING:
    from concurrent.futures import Future
    from pathlib import Path as FilePath

    import numpy.typing as npt

    from chainplan.report.paper.sheet import Stamp

    Picture = npt.NDArray[np.uint8]

DOTS_AN_INCH = 90


def png_file(colours: Picture, dots_an_inch: int) -> bytes:
    """Write a picture, shape (rows, columns, 3), as the bytes of a PNG file.

    Rows are packed as they are, without the usual filters: drawings are mostly flat, for which
    that is both smaller and several times faster.
    """
    rows, columns, _ = colours.shape
    lines = np.zeros((rows, 3 * columns + 1), dtype=np.uint8)
    lines[:, 1:] = colours.reshape(rows, -1)
    dots_a_metre = round(dots_an_inch / 0.0254)
    parts = (
        (b"IHDR", struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0)),
        (b"pHYs", struct.pack(">IIB", dots_a_metre, dots_a_metre, 1)),
        (b"IDAT", zlib.compress(lines.tobytes(), 3)),
        (b"IEND", b""),
    )
    blocks = (
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in parts
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(blocks)


class PngWriter:
    """Packs and writes pictures on a second core while the next one is drawn.

    Packing leaves the interpreter free, so a thread is enough; few pictures wait at a time, so that
    a hundred pages do not fill the memory.
    """

    def __init__(self, painter: PngPainter, *, waiting: int = 4) -> None:
        self._painter = painter
        self._waiting = waiting
        self._threads = ThreadPoolExecutor(max_workers=1)
        self._jobs: deque[Future[int]] = deque()

    def __enter__(self) -> PngWriter:
        return self

    def __exit__(self, *_: object) -> None:
        with self._threads:
            while self._jobs:
                self._jobs.popleft().result()

    def write(self, sheet: Sheet, path: FilePath) -> None:
        """Draw a sheet now; its file is there when the writer is closed."""
        colours = self._painter.colours(sheet)
        if len(self._jobs) >= self._waiting:
            self._jobs.popleft().result()
        dots = self._painter.dots_an_inch
        pack = self._threads.submit(lambda: path.write_bytes(png_file(colours, dots)))
        self._jobs.append(pack)


class PngPainter:
    """Draws sheets at one resolution, keeping the pictures of wire for the next sheet."""

    def __init__(self, dots_an_inch: int = DOTS_AN_INCH) -> None:
        self.dots_an_inch = dots_an_inch
        self.dots_a_mm = dots_an_inch / 25.4
        self.kept: dict[tuple[object, ...], Picture] = {}

    def png(self, sheet: Sheet) -> bytes:
        """Return a sheet as the bytes of a PNG file."""
        return png_file(self.colours(sheet), self.dots_an_inch)

    def colours(self, sheet: Sheet) -> Picture:
        """Return a sheet as a picture of its own, shape (rows, columns, 3)."""
        width = round(sheet.width_mm * self.dots_a_mm)
        height = round(sheet.height_mm * self.dots_a_mm)
        agg = self._canvas(width, height)
        paper = np.asarray(agg.buffer_rgba())
        paper[:] = 255
        for stamp in sheet.stamps:
            self._lay(paper, stamp)
        for mark in sheet.marks:
            if isinstance(mark, Path):
                self._path(agg, mark, height)
            else:
                self._text(agg, mark, height)
        return paper[:, :, :3].copy()

    def _lay(self, paper: Picture, stamp: Stamp) -> None:
        """Put the picture of a strip of wire on the paper."""
        wide = max(1, round(stamp.width_mm * self.dots_a_mm))
        high = max(1, round(stamp.height_mm * self.dots_a_mm))
        key = (stamp.drawing.key, stamp.scale, stamp.window_mm)
        if key not in self.kept:
            self.kept[key] = self._draw_wire(stamp, wide, high)
        left, top = round(stamp.left_mm * self.dots_a_mm), round(stamp.top_mm * self.dots_a_mm)
        part = paper[max(top, 0) : top + high, max(left, 0) : left + wide]
        part[:] = self.kept[key][: part.shape[0], : part.shape[1]]

    def _draw_wire(self, stamp: Stamp, wide: int, high: int) -> Picture:
        from matplotlib.path import Path as Lines
        from matplotlib.transforms import Affine2D

        agg = self._canvas(wide, high)
        np.asarray(agg.buffer_rgba())[:] = 255
        scale = stamp.scale * self.dots_a_mm
        left, _, _, upper = stamp.window_mm
        to_dots = Affine2D().translate(-left, -upper).scale(scale).translate(0, high)
        look = stamp.drawing.look
        for layer in stamp.drawing.layers:
            codes = np.where(layer.first, Lines.MOVETO, Lines.LINETO).astype(np.uint8)
            for level, stroke in enumerate(look):
                shift = np.array(LIGHT_FROM) * stroke.shift * layer.wire_mm
                points = layer.reaching(overlap_share(level, len(look))) + shift
                gc = self._pen(agg, stroke.colour, stroke.width * layer.wire_mm * stamp.scale)
                gc.set_capstyle(layer.cap(level))
                agg.draw_path(gc, Lines(points, codes), to_dots, None)
        return np.array(agg.buffer_rgba())

    def _canvas(self, wide: int, high: int) -> Any:
        from matplotlib.backends import backend_agg

        painter: Any = backend_agg.RendererAgg
        return painter(wide, high, self.dots_an_inch)

    def _pen(self, agg: Any, colour: str, width_mm: float) -> Any:
        gc = agg.new_gc()
        gc.set_foreground(colour)
        gc.set_linewidth(width_mm / MM_A_POINT)
        gc.set_joinstyle("round")
        gc.set_capstyle("butt")
        gc.set_snap(False)
        return gc

    def _path(self, agg: Any, path: Path, height: int) -> None:
        from matplotlib.colors import to_rgb
        from matplotlib.path import Path as Lines
        from matplotlib.transforms import Affine2D

        points, first = path.points_mm, path.first
        codes = np.where(first, Lines.MOVETO, Lines.LINETO).astype(np.uint8)
        if path.closed:
            begin = np.flatnonzero(first)
            end = np.append(begin[1:], len(points))
            points = np.insert(points, end, points[begin], axis=0)
            codes = np.insert(codes, end, Lines.CLOSEPOLY)
        to_dots = Affine2D().scale(self.dots_a_mm, -self.dots_a_mm).translate(0, height)
        gc = self._pen(agg, path.stroke or "#ffffff", path.width_mm if path.stroke else 0.0)
        if path.dash_mm:
            gc.set_dashes(0, [dash / MM_A_POINT for dash in path.dash_mm])
        agg.draw_path(gc, Lines(points, codes), to_dots, to_rgb(path.fill) if path.fill else None)

    def _text(self, agg: Any, text: Text, height: int) -> None:
        from matplotlib.colors import to_rgb
        from matplotlib.path import Path as Lines
        from matplotlib.transforms import Affine2D

        points, codes, width = text_outline(text.text, bold=text.bold)
        if not len(points):
            return
        size = text.size_pt * MM_A_POINT / 1000
        shift = {"middle": 0.5, "end": 1.0}.get(text.anchor, 0.0) * width * size
        to_dots = (
            Affine2D()
            .scale(size * self.dots_a_mm)
            .translate((text.x_mm - shift) * self.dots_a_mm, height - text.y_mm * self.dots_a_mm)
        )
        gc = self._pen(agg, text.colour, 0.0)
        agg.draw_path(gc, Lines(points, codes), to_dots, to_rgb(text.colour))
