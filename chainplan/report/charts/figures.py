"""Figures for charts, by matplotlib's own objects: sizes in mm, one style, bytes that repeat.

Nothing here or in the charts goes through ``pyplot``, so nothing is kept behind and nothing of the
caller's is changed. Tones differ in lightness, and hatches or dashes tell the same without colour.
No text is ever taken for mathematics.
"""

from __future__ import annotations

import math
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.errors import InputError
from chainplan.report.paper.lettering import printable, shorten_text, text_width_mm

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.arrays import FloatArray

MM_AN_INCH = 25.4
"""By definition."""
WIDTH_MM = 210.0
"""A4 upright: a chart that is printed alone fills the sheet's width."""
MARGIN_MM = 6.0
"""Most printers leave 5 mm at the edge white."""
TITLE_PT, TEXT_PT, SMALL_PT = 10.0, 8.0, 7.0
"""Charts are read at the desk: smaller than the pages, which are read at arm's length."""
LINE_MM = 4.8
"""From line to line of text in `TEXT_PT`."""
NAME_MM = 48.0
"""Room for the names beside bars, at most: a name of about thirty letters."""
DOTS_AN_INCH = 110
"""Of a chart as PNG: A4 is then 909 dots wide, which a screen shows whole."""
PACKING = 3
"""How closely PNG are packed, 0 to 9. Measured on the sample fair: the usual 6 takes half as long
again and comes out no smaller."""
SVG = ".svg"
ENDINGS = (".png", SVG)

INK, GREY, PALE = "#14181d", "#6b7178", "#d9dcdf"
TONES = (
    "#6baed6", "#fde0a0", "#74c69d", "#d4d4d4", "#e07a7f", "#c6dbef",
    "#c9b037", "#c994c7", "#9e9ac8", "#fdae6b", "#f7f7f7",
)  # fmt: skip
HATCHES = ("", "///", "...", "xxx", "\\\\\\", "---", "+++", "|||", "", "///", "xxx")
INKS = ("#1f5a8a", "#b3541e", "#2f7d4f", "#6a3d9a")
# Dashes and gaps in line widths: each kind is told from the others in grey print.
DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (7, 2, 1.5, 2)))
STYLE: Any = {
    "axes.axisbelow": True, "axes.edgecolor": INK, "axes.labelcolor": INK,
    "axes.labelsize": TEXT_PT, "axes.linewidth": 0.7,
    "axes.spines.right": False, "axes.spines.top": False,
    "font.family": "DejaVu Sans", "font.size": TEXT_PT, "grid.color": PALE, "grid.linewidth": 0.35,
    "hatch.linewidth": 0.4, "lines.linewidth": 1.3, "patch.linewidth": 0.5,
    "svg.fonttype": "none", "svg.hashsalt": "chainplan", "text.color": INK,
    "text.hinting": "no_hinting",
    "text.parse_math": False, "xtick.color": INK, "xtick.labelsize": TEXT_PT,
    "xtick.major.size": 0.0, "ytick.color": INK, "ytick.labelsize": TEXT_PT,
    "ytick.major.size": 0.0,
}  # fmt: skip
"""What differs from matplotlib's own style; settings of the user's are left out. Without hinting
text is as wide as `text_width_mm` says, with it up to 6 % wider."""


_IN_STYLE = ContextVar("in style", default=False)


@contextmanager
def chart_style() -> Iterator[None]:
    """Draw in our style, whatever the user's settings; also a decorator. Within it: nothing new."""
    if _IN_STYLE.get():
        yield
        return
    import warnings

    import matplotlib as mpl

    entered = _IN_STYLE.set(True)
    with mpl.rc_context(), warnings.catch_warnings():
        # A name in a script that the typeface lacks is shown as boxes, as in every other file.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        mpl.rcdefaults()
        mpl.rcParams.update(STYLE)
        try:
            yield
        finally:
            _IN_STYLE.reset(entered)


@dataclass(frozen=True, slots=True)
class Series:
    """How one kind of bar or line is shown, and what it is called in the legend."""

    label: str
    tone: str = ""
    hatch: str = ""
    ink: str = ""
    dash: Any = "-"

    @property
    def bar(self) -> dict[str, Any]:
        """What matplotlib is told of a bar."""
        return {"facecolor": self.tone, "hatch": self.hatch, "edgecolor": INK}

    @property
    def line(self) -> dict[str, Any]:
        """What matplotlib is told of a line."""
        return {"color": self.ink, "linestyle": self.dash}


def bar_series(number: int, label: str) -> Series:
    """Return the look of one kind of bar; looks repeat after eleven."""
    return Series(label, TONES[number % len(TONES)], HATCHES[number % len(HATCHES)])


def line_series(number: int, label: str) -> Series:
    """Return the look of one line; looks repeat after four."""
    return Series(label, ink=INKS[number % len(INKS)], dash=DASHES[number % len(DASHES)])


def say_number(value: float) -> str:
    """Write a number for a tick, without needless noughts.

    Examples
    --------
    >>> say_number(20.0), say_number(0.5), say_number(1500.0)
    ('20', '0.5', '1 500')
    """
    text = f"{value:,.6g}" if abs(value) < 1e6 else f"{value:.3g}"
    return text.replace(",", " ").replace("-", "−")


def new_figure(title: str, height_mm: float, *, width_mm: float = WIDTH_MM) -> Figure:
    """Begin a chart with its title."""
    from matplotlib.figure import Figure

    size = (width_mm / MM_AN_INCH, height_mm / MM_AN_INCH)
    figure = Figure(figsize=size, dpi=DOTS_AN_INCH)
    shown = shorten_text(title, TITLE_PT, width_mm - 2 * MARGIN_MM, bold=True)
    write(figure, MARGIN_MM, MARGIN_MM + 3.0, shown, TITLE_PT, fontweight="bold")
    return figure


def write(
    figure: Figure, x_mm: float, y_mm: float, text: str, size_pt: float = TEXT_PT, **looks: Any
) -> None:
    """Put a line of text; places in mm from the upper left corner, ``y_mm`` of its base line."""
    wide, high = figure.get_size_inches() * MM_AN_INCH
    figure.text(x_mm / wide, 1 - y_mm / high, printable(text), fontsize=size_pt, **looks)


def remark(figure: Figure, text: str) -> None:
    """Put a small grey remark at the foot."""
    high = float(figure.get_size_inches()[1]) * MM_AN_INCH
    write(figure, MARGIN_MM, high - 4.0, text, SMALL_PT, color=GREY)


def axes_at(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Add axes at a place in mm from the upper left corner."""
    from matplotlib.ticker import MaxNLocator

    wide, high = figure.get_size_inches() * MM_AN_INCH
    ax = figure.add_axes((left / wide, 1 - (top + height) / high, width / wide, height / high))
    for axis, most in ((ax.xaxis, 7), (ax.yaxis, 6)):
        axis.set_major_formatter(lambda value, _: say_number(value))
        axis.set_major_locator(MaxNLocator(most, steps=[1, 2, 5, 10]))
    return ax


def bar_axes(
    figure: Figure, names: Sequence[str], place_mm: tuple[float, float, float], step_mm: float
) -> Axes:
    """Add axes for lying bars, one row a name from the top, without a frame at the left.

    Parameters
    ----------
    names : sequence of str
        One each row; row k stands at y = k.
    place_mm : (float, float, float)
        Left edge, upper edge and width.
    step_mm : float
        Height of a row.
    """
    left, top, width = place_mm
    rows = max(len(names), 1)
    ax = axes_at(figure, left, top, width, step_mm * rows)
    ax.set_ylim(rows - 0.5, -0.5)
    ax.spines.left.set_visible(False)
    ax.set_yticks(range(len(names)), [shorten_text(name, TEXT_PT, NAME_MM) for name in names])
    ax.grid(visible=True, axis="x")
    return ax


def name_room(names: Iterable[str]) -> float:
    """Width in mm that names beside bars need, within bounds."""
    return min(max((text_width_mm(name, TEXT_PT) for name in names), default=0.0), NAME_MM) + 2.0


def legend_columns(looks: Sequence[Series], width_mm: float) -> int:
    """Return the most columns in which a legend is no wider than this, at least one."""
    room = [_HANDLE_MM + text_width_mm(_short(look), TEXT_PT) for look in looks]
    for columns in range(len(looks), 1, -1):
        if sum(max(room[first::columns]) for first in range(columns)) <= width_mm:
            return columns
    return 1


_HANDLE_MM = 12.5
"""Sample, gap to its name and gap to the next one, as `add_legend` sets them."""


def _short(look: Series) -> str:
    return shorten_text(look.label, TEXT_PT, NAME_MM)


def legend_height(looks: Sequence[Series], width_mm: float) -> float:
    """Height that a legend takes, in mm."""
    return LINE_MM * -(-len(looks) // legend_columns(looks, width_mm)) if looks else 0.0


def add_legend(
    figure: Figure, looks: Sequence[Series], left: float, top: float, width: float
) -> None:
    """Draw a legend that is read line by line; places in mm from the upper left corner."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    if not looks:
        return
    columns = legend_columns(looks, width)
    # matplotlib fills column after column.
    looks = [looks[k] for first in range(columns) for k in range(first, len(looks), columns)]
    wide, high = figure.get_size_inches() * MM_AN_INCH
    figure.legend(
        [Patch(**look.bar) if look.tone else Line2D([], [], **look.line) for look in looks],
        [_short(look) for look in looks],
        loc="upper left", bbox_to_anchor=(left / wide, 1 - top / high), ncols=columns,
        frameon=False, borderpad=0.0, borderaxespad=0.0, handlelength=2.2, handleheight=1.1,
        handletextpad=0.6, columnspacing=1.4, labelspacing=0.55,
    )  # fmt: skip


def _ending(target: Path) -> str:
    ending = target.suffix.lower()
    if ending not in ENDINGS:
        message = f"{target}: a chart is written as .png or .svg"
        raise InputError(message)
    return ending


def write_chart(figure: Figure, target: Path) -> Path:
    """Write a chart as PNG or SVG, by the ending of the path; no date, no chance in its bytes.

    Raises
    ------
    InputError
        If the path ends in neither.
    """
    ending = _ending(target)
    options: dict[str, Any] = {"metadata": {"Date": None}}
    if ending == ".png":
        options = {"metadata": {"Software": None}, "pil_kwargs": {"compress_level": PACKING}}
    with chart_style():
        figure.savefig(target, format=ending[1:], **options)
    return target


def write_asked(figure: Figure, path: str | Path) -> Path:
    """Write a chart that somebody has asked for by the name of its file; make the folder for it.

    Raises
    ------
    InputError
        If the path ends in neither .png nor .svg, or cannot be written.
    """
    target = Path(path)
    _ending(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        return write_chart(figure, target)
    except OSError as error:
        message = f"{target}: cannot be written ({error.strerror})"
        raise InputError(message) from None


def write_figure(figure: Figure, paths: Iterable[Path]) -> None:
    """Write one figure in the formats of some paths; the bytes depend on its content only."""
    for path in paths:
        write_chart(figure, path)


def settle(values: Any, digits: int = 3) -> FloatArray:
    """Round away what differs from run to run with the number of threads, as the last digits do.

    An SVG has six decimals, so without it the same plan would not give the same bytes.
    """
    settled: FloatArray = np.round(np.asarray(values, dtype=float), digits)
    return settled


def thin_out(x: FloatArray, y: FloatArray, most: int) -> tuple[FloatArray, FloatArray]:
    """Keep highest and lowest of each stretch of a line, so that no peak and no gap is lost."""
    group = math.floor(len(x) / most)
    if group < 2:
        return x, y
    kept = len(x) // (2 * group) * 2 * group
    parts = y[:kept].reshape(-1, 2 * group)
    first, gap = np.arange(0, kept, 2 * group), np.isnan(parts)
    high, low = np.where(gap, -np.inf, parts), np.where(gap, np.inf, parts)
    both = np.stack([first + high.argmax(1), first + low.argmin(1)], axis=1)
    chosen = np.unique(np.concatenate([both.ravel(), np.flatnonzero(np.isnan(y)), [len(x) - 1]]))
    return x[chosen], y[chosen]
