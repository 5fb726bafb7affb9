"""Weld-order diagrams: a cover, every piece's passes in one line each, and the passes drawn.

``weld-order.pdf`` holds all pages; the folder ``weld-order`` has an image of each if asked for.
"""

from __future__ import annotations

from copy import copy as copied
from typing import TYPE_CHECKING

from chainplan.model.said import said
from chainplan.reference.cautions import cautions
from chainplan.reference.texts import is_reviewed, texts_of
from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.diagram.frame.legend import add_legend
from chainplan.report.diagram.frame.pages import TEXT_PT, Pages
from chainplan.report.diagram.pass_pages import add_piece
from chainplan.report.paper.lettering import fold_text, shorten_text, text_width_mm
from chainplan.report.paper.sheet import GREY
from chainplan.report.text.instructions import say_joins, source_in, topic_key
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from chainplan.model.order import BatchOrder
    from chainplan.model.plan import Plan
    from chainplan.reference import Caution
    from chainplan.report.paper.sheet import Sheet

CAUTION_LINE_MM = 4.1
"""A line of the cautions: with the marks they fill the cover of one piece."""
PIECE_LINE_MM = 5.2
"""A line of the list of pieces."""
MOST_LINES_TOGETHER = 10
"""Lines of it that stay on one page."""
NAME_MM = 52.0
"""Room for a name of usual length beside its numbers."""
MOST_STINTS = 90
"""Turns of an interleaved batch that the cover lists: three columns of them fill a page."""
COLUMNS = 3
"""Columns of turns: a piece's name of usual length, its copy and its joins fit in one."""
TURN_LINE_MM = 4.4
"""From line to line of `SMALL_PT`."""


def draw_diagrams(plan: Plan, *, paper: str = "A4", tiles: bool = False) -> list[Sheet]:
    """Draw all pages of a plan's weld-order diagrams.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    paper : str
        "A4" or "Letter", both in landscape.
    tiles : bool
        Draw every tile of very large pieces too.
    """
    t = texts_of(plan.job.bench.sheet.language)
    pages = Pages(paper, plan.job.name, plan.stamp.of_work, t)
    ends = []
    for number, piece in enumerate(plan.pieces):
        before = len(pages.sheets)
        drawn = DrawnPiece(number=number, plan=piece, t=t)
        add_piece(pages, drawn, plan.job.bench.heat, tiles=tiles)
        # Loose joins go on below those of the piece before.
        ends.append(min(before + 1, len(pages.sheets)))
    names = set().union(*pages.keys)
    cover = _cover(plan, paper, names, ends)
    first = len(cover.sheets)
    return pages.finish(before=_cover(plan, paper, names, [first + page for page in ends]))


def _cover(plan: Plan, paper: str, names: set[str], at_page: Sequence[int]) -> Pages:
    """Draw the cover; ``at_page``: where each piece's pages begin."""
    t = texts_of(plan.job.bench.sheet.language)
    cover = Pages(paper, plan.job.name, plan.stamp.of_work, t)
    cover.turn_page(t("paper.title", job=plan.job.name))
    _add_cover(cover, plan, names, at_page)
    return cover


def write_diagrams(
    plan: Plan, folder: Path, *, paper: str = "A4", tiles: bool = False, images: str | None = None
) -> list[Path]:
    """Write ``weld-order.pdf`` and, if asked for, an image of every page; return the files written.

    The same plan gives the same bytes.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    folder : Path
        Where ``weld-order.pdf`` and the folder ``weld-order`` are to stand.
    paper : str
        "A4" or "Letter", both in landscape.
    tiles : bool
        Draw every tile of very large pieces too.
    images : str, optional
        "png" or "svg"; no images if not given.
    """
    from chainplan.report.paper.pdf import write_pdf

    sheets = draw_diagrams(plan, paper=paper, tiles=tiles)
    pdf = write_pdf(sheets, title=sheets[0].title)
    target = folder / "weld-order.pdf"
    target.write_bytes(pdf)
    if images is None:
        return [target]
    place = folder / "weld-order"
    place.mkdir(exist_ok=True)
    digits = max(2, len(str(len(sheets))))
    written = [target]
    for number, content in enumerate(_page_images(sheets, pdf, images), 1):
        written.append(place / f"page-{number:0{digits}d}.{images}")
        written[-1].write_bytes(content)
    return written


def _page_images(sheets: list[Sheet], pdf: bytes, kind: str) -> Iterator[bytes]:
    """Make the content of one file a page."""
    from chainplan.report.paper.png import page_pngs
    from chainplan.report.paper.svg import sheet_svg

    if kind == "png":
        yield from page_pngs(pdf)
    else:
        definitions: dict[str, str] = {}
        for sheet in sheets:
            yield sheet_svg(sheet, definitions).encode()


def _add_cover(pages: Pages, plan: Plan, names: set[str], at_page: Sequence[int]) -> None:
    """Write the cautions, the pieces, in which order they are welded, and what each mark means."""
    t = pages.t
    if plan.news:
        pages.write_lines([t("sheet.news")], size_pt=12, bold=True, line_mm=6.5)
        for text in plan.news if t.language == "en" else (t("sheet.news_rest"),):
            pages.write_text(text)
        pages.y_mm += 2.0
    if not is_reviewed(t.language):
        pages.write_text(t("unreviewed"), size_pt=SMALL_PT)
    pages.write_lines([t("cautions.title")], size_pt=12, bold=True, line_mm=6.5)
    found = cautions(plan.metals)
    topics = list(dict.fromkeys(caution.topic for caution in found))
    for topic in topics:
        title = t(topic_key(topic))
        title = title[:1].upper() + title[1:]
        for caution in (item for item in found if item.topic == topic):
            _add_caution(pages, title, caution)
            title = ""
    pages.y_mm += 2.0
    trial = copied(pages)
    trial.sheets, trial.headings, trial.keys = [], [], []
    trial.turn_page(pages.headings[-1])
    trial.y_mm = pages.y_mm
    for part in (trial, pages):
        if part is pages and len(trial.sheets) > 1:  # so that no page holds the marks alone
            pages.turn_page(pages.headings[-1])
        _add_pieces(part, plan, at_page)
        _add_batch(part, plan)
        add_legend(part, names)


def _add_pieces(pages: Pages, plan: Plan, at_page: Sequence[int]) -> None:
    """List the pieces in two columns, with the pages that they begin on."""
    wide = pages.width_mm / 2
    lines = -(-len(plan.pieces) // 2)
    rest = min(lines, MOST_LINES_TOGETHER)
    if not pages.has_room(6.5 + rest * PIECE_LINE_MM):
        pages.turn_page(pages.headings[-1])
    pages.write_lines([pages.t("sheet.pieces")], size_pt=12, bold=True, line_mm=6.5)
    for first in range(0, lines, MOST_LINES_TOGETHER):
        count = min(MOST_LINES_TOGETHER, lines - first)
        if not pages.has_room(count * PIECE_LINE_MM):
            pages.turn_page(pages.headings[-1])
        for k in range(first, first + count):
            pages.y_mm += PIECE_LINE_MM
            for column, piece in enumerate(plan.pieces[2 * k : 2 * k + 2]):
                left = pages.left_mm + column * wide
                order = piece.order
                text = pages.t(
                    "sheet.piece",
                    rings=said("sheet.rings", n=piece.layout.rings),
                    joins=said("line.joins", n=order.ring.size),
                    time=show_duration(order.bench_time_s),
                    number=at_page[2 * k + column],
                )
                if piece.piece.quantity > 1:
                    text = f"{piece.piece.quantity} × {text}"
                right = text_width_mm(text, SMALL_PT) + 4.0
                name = shorten_text(piece.piece.name, TEXT_PT, wide - right - 4.0, bold=True)
                pages.sheet.write(left, pages.y_mm - 1.1, name, TEXT_PT, bold=True)
                at = left + max(NAME_MM, text_width_mm(name, TEXT_PT, bold=True) + 4.0)
                at = min(at, left + wide - right)
                pages.sheet.write(at, pages.y_mm - 1.1, text, SMALL_PT)


def _add_caution(pages: Pages, title: str, caution: Caution) -> None:
    """Write one caution with its source; the topic stands in front of the first of its kind."""
    lines = fold_text(pages.t(f"caution.{caution.key}"), SMALL_PT, pages.width_mm - 38.0)
    source = f"({source_in(caution, pages.t)})"
    beside = text_width_mm(lines[-1], SMALL_PT) + 3.0
    if 38.0 + beside + text_width_mm(source, 7) > pages.width_mm:
        beside = 0.0
    height = CAUTION_LINE_MM * len(lines) + (0.0 if beside else 3.6)
    if not pages.has_room(height):
        pages.turn_page(pages.headings[-1])
    if title:
        pages.sheet.write(pages.left_mm, pages.y_mm + 3.4, title, SMALL_PT, bold=True)
    pages.write_lines(lines, size_pt=SMALL_PT, indent_mm=38.0, line_mm=CAUTION_LINE_MM)
    if beside:
        left = pages.left_mm + 38.0 + beside
        pages.sheet.write(left, pages.y_mm - 1.1, source, 7, colour=GREY)
    else:
        pages.write_lines([source], size_pt=7, indent_mm=38.0, line_mm=3.6, colour=GREY)
    pages.y_mm += 0.6


def _add_batch(pages: Pages, plan: Plan) -> None:
    """Say in which order the pieces of a batch are welded, and in which turns if one cools."""
    batch = plan.batch
    if len(set(zip(batch.piece, batch.copy.tolist(), strict=True))) < 2:
        return
    turns = _turns(batch)
    lines = -(-min(len(turns), MOST_STINTS + 1) // COLUMNS)
    most = int((pages.height_mm - 20.0) / TURN_LINE_MM)
    if not pages.has_room(14.0 + min(lines, most) * TURN_LINE_MM):
        pages.turn_page(pages.headings[-1])
    pages.y_mm += 2.0
    t = pages.t
    pages.write_lines([t("sheet.turns")], size_pt=12, bold=True, line_mm=6.5)
    if batch.interleaved:
        saved = show_duration(max(batch.one_after_another_s - batch.bench_time_s, 0.0))
        pages.write_text(t("sheet.turns_saved", time=saved))
    copies = {piece.piece.name: piece.piece.quantity for piece in plan.pieces}
    lines_of = []
    for k, (name, copy, first, count) in enumerate(turns[:MOST_STINTS], 1):
        which = t("sheet.copy", name=name, copy=copy) if copies[name] > 1 else name
        lines_of.append(f"{k}. {which}: {say_joins(first + 1, count, t)}")
    if len(turns) > MOST_STINTS:
        lines_of.append(t("sheet.more_turns", n=len(turns) - MOST_STINTS))
    _write_columns(pages, lines_of)


def _turns(batch: BatchOrder) -> list[tuple[str, int, int, int]]:
    """Piece, copy, first step and steps of each turn of work; a piece that is kept on is one turn.

    Stints of one piece and copy that follow one another count as one.
    """
    turns: list[tuple[str, int, int, int]] = []
    rows = zip(batch.copy.tolist(), batch.first_step.tolist(), batch.steps.tolist(), strict=True)
    for name, (copy, first, steps) in zip(batch.piece, rows, strict=True):
        if turns and turns[-1][:2] == (name, copy) and sum(turns[-1][2:]) == first:
            turns[-1] = (name, copy, turns[-1][2], turns[-1][3] + steps)
        else:
            turns.append((name, copy, first, steps))
    return turns


def _write_columns(pages: Pages, lines: list[str]) -> None:
    """Write short lines in columns, read from top to bottom."""
    wide = pages.width_mm / COLUMNS
    while lines:
        room = int((pages.bottom_mm - pages.y_mm) / TURN_LINE_MM)
        if room < 1:
            pages.turn_page(pages.headings[-1])
            continue
        high = min(room, -(-len(lines) // COLUMNS))
        for k, line in enumerate(lines[: high * COLUMNS]):
            x = pages.left_mm + wide * (k // high)
            y = pages.y_mm + TURN_LINE_MM * (k % high + 1) - 1.1
            pages.sheet.write(x, y, shorten_text(line, SMALL_PT, wide - 3.0), SMALL_PT)
        pages.y_mm += TURN_LINE_MM * high
        lines = lines[high * COLUMNS :]
