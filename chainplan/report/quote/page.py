"""Lays out a quote: one page a piece, upright, that prints well in grey."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.report.paper.lettering import fold_text, shorten_text
from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.sheet import GREY, INK, OwnPicture, Sheet
from chainplan.report.quote.kept import Drawn
from chainplan.report.quote.logo import Logo, make_logo
from chainplan.report.quote.words import (
    care_of,
    customer_of,
    hallmark_of,
    metal_for_customers,
    price_of,
    ready_by,
    size_of,
    valid_until,
    weight_of,
    what_it_is,
)
from chainplan.report.wire.metal_picture import draw_legend

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import PiecePlan, Plan

PAPER_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Sheets upright: width and height."""
MARGIN_MM = 18.0
"""To punch holes into, and for the thumb."""
BODY_PT, HEAD_PT, NAME_PT, PRICE_PT, SMALL_PT = 10.5, 9.0, 22.0, 16.0, 8.5
"""Sizes of type by what they write; the least is still read without glasses (judgement)."""
LINE_MM = 5.2
"""A line of the body."""
MOST_WHOLE = 100
"""Pieces up to which each is shown whole, however long. Judgement: every such picture takes about
half a megabyte, which of a catalogue nobody could send."""
LABEL_MM = 30.0
"""Column of what a value is called."""


def write_quotes(
    plan: Plan,
    file: Path,
    *,
    paper: str = "A4",
    logo: bytes = b"",
    drawn: Drawn | None = None,
) -> None:
    """Write ``quote.pdf``: one page a piece; ``drawn``: where pictures were drawn before."""
    head = make_logo(logo) if logo else None
    drawn = Drawn(work=plan) if drawn is None else drawn
    if len(plan.pieces) > MOST_WHOLE:
        drawn = replace(drawn, shared={})
    sheets = (
        _page(plan, piece, number, paper, head, drawn)
        for number, piece in enumerate(plan.pieces, 1)
    )
    file.write_bytes(write_pdf(sheets, title=f"Quote: {plan.job.name}"))


def _page(
    plan: Plan, piece: PiecePlan, number: int, paper: str, logo: Logo | None, drawn: Drawn
) -> Sheet:
    wide, high = PAPER_MM[paper]
    name = piece.piece.name
    sheet = Sheet(width_mm=wide, height_mm=high, title=f"Quote: {name}")
    own = plan.job.bench.quote
    left, right, y = MARGIN_MM, wide - MARGIN_MM, MARGIN_MM
    if logo is not None:
        stamp = OwnPicture(content=logo.content, left_mm=left, top_mm=y, width_mm=logo.wide_mm,
                      height_mm=logo.high_mm)  # fmt: skip
        sheet.stamps.append(stamp)
    column = left + logo.wide_mm + 6.0 if logo is not None else left
    at = y + 6.0
    if own.shop:
        sheet.write(column, at, shorten_text(own.shop, 15.0, right - column), 15.0, bold=True)
        at += 6.0
    for line in fold_text(own.contact, SMALL_PT, right - column)[:3] if own.contact else ():
        sheet.write(column, at, line, SMALL_PT, colour=GREY)
        at += 4.0
    y = max(y + (logo.high_mm + 4.0 if logo is not None else 0.0), at + 2.0)
    sheet.line([(left, y), (right, y)], width_mm=0.4, colour=INK)
    customer = customer_of(plan, piece)
    y += 6.0
    sheet.write(left, y, "Quote" + (f" for {customer}" if customer else ""), BODY_PT, colour=GREY)
    y += 10.0
    sheet.write(left, y, shorten_text(name, NAME_PT, right - left, bold=True), NAME_PT, bold=True)
    y += 7.0
    for text in what_it_is(plan, piece):
        for line in fold_text(text, BODY_PT, right - left)[:3]:
            sheet.write(left, y, line, BODY_PT)
            y += LINE_MM
    wide = right - left
    y = drawn.put_on(sheet, number, left_mm=left, top_mm=y + 2.0, width_mm=wide)
    metals = {item.metal for item in piece.layout.materials}
    names = {metal: metal_for_customers(metal, plan) for metal in metals}
    y = draw_legend(sheet, piece.layout, names, left_mm=left, top_mm=y, width_mm=wide) + 6.0
    y = _facts(sheet, plan, piece, number - 1, (left, y, right))
    _foot(sheet, plan, piece, (left, max(y + 4.0, high - 48.0), right, high - 12.0))
    return sheet


def _facts(
    sheet: Sheet, plan: Plan, piece: PiecePlan, number: int, at: tuple[float, float, float]
) -> float:
    """Write size, weight, hallmark, price and dates; return the lower edge. [mm]."""
    left, y, right = at
    price, notes = price_of(plan, plan.estimates.quotes[number])
    rows = [
        ("Size", size_of(piece)),
        ("Weight", weight_of(piece)),
        ("Hallmark", hallmark_of(plan, piece)),
    ]
    for label, text in rows:
        if text:
            y = _row(sheet, label, text, (left, y, right))
    y += 3.0
    sheet.write(left, y, "Price", HEAD_PT, colour=GREY)
    sheet.write(left + LABEL_MM, y, price, PRICE_PT, bold=True)
    y += LINE_MM + 0.6
    for note in notes:
        loud = note.startswith("NOT")
        for line in fold_text(note, BODY_PT, right - left - LABEL_MM, bold=loud):
            sheet.write(left + LABEL_MM, y, line, BODY_PT, bold=loud)
            y += LINE_MM
    y += 1.0
    y = _row(sheet, "This price holds", valid_until(plan), (left, y, right))
    return _row(sheet, "Ready by", ready_by(plan, piece), (left, y, right))


def _row(sheet: Sheet, label: str, text: str, at: tuple[float, float, float]) -> float:
    left, y, right = at
    sheet.write(left, y, label, HEAD_PT, colour=GREY)
    for line in fold_text(text, BODY_PT, right - left - LABEL_MM):
        sheet.write(left + LABEL_MM, y, line, BODY_PT)
        y += LINE_MM
    return y


def _foot(
    sheet: Sheet, plan: Plan, piece: PiecePlan, at: tuple[float, float, float, float]
) -> None:
    """Write care and terms at the foot of the page."""
    left, y, right, bottom = at
    sheet.line([(left, y - 4.5), (right, y - 4.5)], width_mm=0.2, colour=GREY)
    texts = [("Care", care_of(plan, piece))]
    if plan.job.bench.quote.terms:
        texts.append(("Terms", plan.job.bench.quote.terms))
    texts.append(("", "Made by hand: size and weight may differ a little from what is told here."))
    for label, text in texts:
        sheet.write(left, y, label, HEAD_PT, colour=GREY)
        for line in fold_text(text, SMALL_PT, right - left - LABEL_MM):
            if y > bottom:
                return
            sheet.write(left + LABEL_MM, y, line, SMALL_PT)
            y += 4.2
        y += 1.2
