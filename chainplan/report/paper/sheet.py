"""A sheet of paper as a list of things to draw; the writers turn it into PDF, SVG and PNG.

All places are in mm from the upper left corner of the sheet, y downwards.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.report.paper.lettering import CAP_HEIGHT, MM_A_POINT

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from chainplan.arrays import BoolArray, FloatArray


PAPER_MM = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}
"""Sheets in landscape: width and height."""

INK = "#14181d"
GREY = "#6b7178"
PALE = "#d9dcdf"
WHITE = "#ffffff"


@frozen
class Path:
    """Lines or areas of one look; ``first`` marks where a new line starts."""

    points_mm: FloatArray  # (n, 2)
    first: BoolArray  # (n,)
    closed: bool = False
    fill: str = ""
    stroke: str = ""
    width_mm: float = 0.0
    dash_mm: tuple[float, ...] = ()
    round_ends: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Lines in a frame of their own (right, up), drawn once and shown in many places."""

    key: str  # unique within a document
    paths: tuple[Path, ...]  # drawn one over the other
    operators: str = ""  # the paths as a PDF has them, once they were written; there are none then
    frame: tuple[int, ...] = ()  # their edges in hundredths of a mm: left, lower, right, upper


@frozen
class Picture:
    """A part of a drawing, shown at a place and scale."""

    drawing: Drawing
    left_mm: float  # on the sheet
    top_mm: float
    scale: float  # mm on the sheet per mm of the drawing
    window_mm: tuple[float, float, float, float]  # of the drawing: left, lower, right, upper

    @property
    def width_mm(self) -> float:
        """Width on the sheet."""
        return (self.window_mm[2] - self.window_mm[0]) * self.scale

    @property
    def height_mm(self) -> float:
        """Height on the sheet."""
        return (self.window_mm[3] - self.window_mm[1]) * self.scale

    def on_sheet(self, points_mm: FloatArray) -> FloatArray:
        """Turn points of the drawing (right, up) into places on the sheet, shape (n, 2)."""
        seen = np.atleast_2d(points_mm)
        return np.column_stack(
            [
                self.left_mm + (seen[:, 0] - self.window_mm[0]) * self.scale,
                self.top_mm + (self.window_mm[3] - seen[:, 1]) * self.scale,
            ]
        )


@frozen
class Text:
    """One line of text; ``anchor`` is "start", "middle" or "end" of the line at ``x_mm``."""

    x_mm: float
    y_mm: float  # of the base line
    text: str
    size_pt: float
    bold: bool = False
    anchor: str = "start"
    colour: str = INK


@frozen
class OwnPicture:
    """A picture of the user's own, within a frame, its own proportions kept."""

    content: bytes  # of a PNG or JPEG file
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


@dataclass(slots=True, kw_only=True)
class Sheet:
    """One page being drawn: first the pictures, then paths and texts in the order they came."""

    width_mm: float
    height_mm: float
    title: str  # for people who cannot see the page
    stamps: list[OwnPicture] = field(default_factory=list)
    pictures: list[Picture] = field(default_factory=list)
    marks: list[Path | Text] = field(default_factory=list)

    def line(
        self,
        points: Sequence[tuple[float, float]] | FloatArray,
        *,
        width_mm: float = 0.3,
        colour: str = INK,
        dash_mm: tuple[float, ...] = (),
    ) -> None:
        """Draw one line through points."""
        array = np.asarray(points, dtype=float).reshape(-1, 2)
        first = np.zeros(len(array), dtype=bool)
        first[:1] = True
        self.marks.append(
            Path(points_mm=array, first=first, stroke=colour, width_mm=width_mm, dash_mm=dash_mm)
        )

    def segments(self, ends: FloatArray, *, width_mm: float = 0.3, colour: str = INK) -> None:
        """Draw many straight lines, shape (n, 2, 2)."""
        if len(ends):
            points = np.asarray(ends, dtype=float).reshape(-1, 2)
            first = np.arange(len(points)) % 2 == 0
            self.marks.append(Path(points_mm=points, first=first, stroke=colour, width_mm=width_mm))

    def areas(
        self,
        corners: Iterable[FloatArray],
        *,
        fill: str = "",
        stroke: str = "",
        width_mm: float = 0.3,
    ) -> None:
        """Draw areas of one look, each an array of corners of shape (k, 2)."""
        shapes = [np.asarray(corner, dtype=float) for corner in corners]
        if shapes:
            first = np.zeros(sum(map(len, shapes)), dtype=bool)
            first[np.cumsum([0, *map(len, shapes[:-1])])] = True
            self.marks.append(
                Path(
                    points_mm=np.concatenate(shapes),
                    first=first,
                    closed=True,
                    fill=fill,
                    stroke=stroke,
                    width_mm=width_mm,
                )
            )

    def box(
        self,
        left: float,
        top: float,
        width: float,
        height: float,
        *,
        fill: str = "",
        stroke: str = "",
        line_mm: float = 0.3,
    ) -> None:
        """Draw one upright rectangle."""
        right, bottom = left + width, top + height
        corners = np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
        self.areas([corners], fill=fill, stroke=stroke, width_mm=line_mm)

    def discs(
        self, centres: FloatArray, radius_mm: float, *, fill: str = "", stroke: str = ""
    ) -> None:
        """Draw many discs, shape (n, 2)."""
        centres = np.asarray(centres, dtype=float).reshape(-1, 2)
        if len(centres):
            sides = 16 if radius_mm > 0.7 else 8  # a small dot looks round with few corners
            angle = np.linspace(0, 2 * np.pi, sides, endpoint=False)
            rim = radius_mm * np.column_stack([np.cos(angle), np.sin(angle)])
            points = (centres[:, None, :] + rim).reshape(-1, 2)
            first = np.arange(len(points)) % len(rim) == 0
            self.marks.append(
                Path(points_mm=points, first=first, closed=True, fill=fill, stroke=stroke,
                     width_mm=0.3)
            )  # fmt: skip

    def write(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        size_pt: float = 10,
        *,
        bold: bool = False,
        anchor: str = "start",
        colour: str = INK,
    ) -> None:
        """Put one line of text; ``y_mm`` is its base line."""
        self.marks.append(
            Text(x_mm=x_mm, y_mm=y_mm, text=text, size_pt=size_pt, bold=bold, anchor=anchor,
                 colour=colour)
        )  # fmt: skip

    def write_centred(
        self,
        x_mm: float,
        middle_mm: float,
        text: str,
        size_pt: float,
        *,
        bold: bool = True,
        colour: str = INK,
    ) -> None:
        """Put figures with their middle at a place."""
        base = middle_mm + CAP_HEIGHT * size_pt * MM_A_POINT / 2
        self.write(x_mm, base, text, size_pt, bold=bold, anchor="middle", colour=colour)
