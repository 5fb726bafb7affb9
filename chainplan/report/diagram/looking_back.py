"""A job looked back at on paper: planned against actual, the joins to check, a certificate."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from chainplan.report.paper.lettering import fold_text, shorten_text
from chainplan.report.paper.pdf import write_pdf
from chainplan.report.paper.sheet import GREY, INK, PALE, Sheet
from chainplan.report.text.terminal.workshop import learnt_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.record import JoinTrace, Review, ReviewLine, SampleDraw

WIDTH_MM, HEIGHT_MM, MARGIN_MM = 210.0, 297.0, 18.0
"""A4 upright, with a margin to punch holes into."""
FOOT_MM = 20.0
"""Room for the page number."""
BAR_MM = 62.0
"""Longest bar."""
MOST_TIMES = 2.0
"""Ratio of actual to planned at which a bar ends."""


class _UprightPages:
    """Portrait pages that fill from top to bottom."""

    def __init__(self, title: str, stamp: str) -> None:
        self.title, self.stamp = title, stamp
        self.sheets: list[Sheet] = []
        self.y_mm = 0.0
        self.turn()

    def turn(self) -> None:
        self.sheets.append(Sheet(width_mm=WIDTH_MM, height_mm=HEIGHT_MM, title=self.title))
        self.page.write(MARGIN_MM, HEIGHT_MM - 12, self.stamp, 7, colour=GREY)
        self.y_mm = MARGIN_MM + 6

    @property
    def page(self) -> Sheet:
        return self.sheets[-1]

    def need(self, height_mm: float) -> None:
        """Turn the page if there is no more room for so much."""
        if self.y_mm + height_mm > HEIGHT_MM - FOOT_MM:
            self.turn()

    def head(self, text: str, size_pt: float = 12) -> None:
        self.need(size_pt * 0.9)
        self.y_mm += size_pt * 0.35
        self.page.write(MARGIN_MM, self.y_mm, text, size_pt, bold=True)
        self.y_mm += size_pt * 0.5

    def say(self, text: str, size_pt: float = 10, *, colour: str = INK) -> None:
        for line in fold_text(text, size_pt, WIDTH_MM - 2 * MARGIN_MM):
            self.need(5)
            self.page.write(MARGIN_MM, self.y_mm, line, size_pt, colour=colour)
            self.y_mm += size_pt * 0.48

    def row(self, cells: Sequence[tuple[float, str, str]], *, bold: bool = False) -> None:
        """Write a row of cells: place, text, anchor."""
        self.need(6)
        for x_mm, text, anchor in cells:
            self.page.write(x_mm, self.y_mm, text, 9, bold=bold, anchor=anchor)
        self.y_mm += 5.6


def review_pdf(review: Review) -> bytes:
    """Draw planned against actual, where the plan was wrong, and the joins to check."""
    return write_pdf(_review_pages(review), title=f"Looking back: {review.job}")


def certificate_pdf(review: Review, traces: Sequence[JoinTrace]) -> bytes:
    """Draw one page a copy for the customer: what it is, how it was welded, what was checked."""
    return write_pdf(_certificate_pages(review, traces), title=f"Certificate: {review.job}")


def _review_pages(review: Review) -> list[Sheet]:
    pages = _UprightPages(f"Looking back: {review.job}", review.plan)
    pages.head(f"Planned against actual: {review.job}", 15)
    pages.say(f"{review.done} of {review.joins} joins done; planned is counted for what was done.")
    pages.y_mm += 3
    places = (MARGIN_MM, 82.0, 106.0, 112.0)
    pages.row(
        [(places[0], "what", "start"), (places[1], "planned", "end"), (places[2], "actual", "end"),
         (places[3], "actual over planned (line: as planned)", "start")], bold=True,
    )  # fmt: skip
    for line in review.lines:
        _review_row(pages, line, places)
    pages.head("Where the plan was wrong")
    for text in review.wrong or ("Nowhere by more than a tenth.",):
        pages.say(text)
    pages.head("What was learnt, from the record of all jobs")
    for item in review.learnt:
        pages.say(f"{learnt_text(item)}.")
    if not review.learnt:
        pages.say("Nothing yet: too little was timed.")
    pages.say("Take it over with: chainplan learn --write JOB.xlsx", colour=GREY)
    for sample in review.samples:
        _sample_page(pages, sample)
    return pages.sheets


def _review_row(pages: _UprightPages, line: ReviewLine, places: Sequence[float]) -> None:
    pages.need(7)
    unit = f", {line.unit}" if line.unit else ""
    if line.planned and line.actual is not None:
        share = min(line.actual / line.planned, MOST_TIMES) / MOST_TIMES
        pages.page.box(places[3], pages.y_mm - 3.2, BAR_MM * share, 3.6, fill=PALE, stroke=INK)
    middle = places[3] + BAR_MM / MOST_TIMES
    pages.page.line([(middle, pages.y_mm - 4.4), (middle, pages.y_mm + 1.2)])
    name = shorten_text(f"{line.what}{unit}", 9, places[1] - places[0] - 18)
    pages.row([(places[0], name, "start"), (places[1], _shown(line.planned), "end"),
               (places[2], _shown(line.actual), "end")])  # fmt: skip


def _shown(value: float | None) -> str:
    if value is None:
        return "–"
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"


def _sample_page(pages: _UprightPages, sample: SampleDraw) -> None:
    pages.head(f"Joins to check: {sample.lot}")
    pages.say(
        f"{sample.size} of {sample.joins} joins, quality limit {sample.aql_percent:g} %: "
        f"accepted with up to {sample.accept} bad, rejected from {sample.reject} on. "
        f"So far {sample.good} good, {sample.bad} bad: {sample.verdict}. Next: {sample.next_step}."
    )
    rings: dict[tuple[str, int], list[int]] = defaultdict(list)
    for piece, copy, ring in sample.drawn:
        rings[piece, copy].append(ring)
    for (piece, copy), numbers in rings.items():
        pages.say(f"{piece}, copy {copy}: rings {', '.join(map(str, numbers))}", 9)
    pages.say(f"Plan: {sample.source}", 7, colour=GREY)


def _certificate_pages(review: Review, traces: Sequence[JoinTrace]) -> list[Sheet]:
    """One page a copy: what it is made of, how it was welded, what was checked."""
    copies: dict[tuple[str, int], list[JoinTrace]] = defaultdict(list)
    for trace in traces:
        copies[trace.piece, trace.copy].append(trace)
    sheets: list[Sheet] = []
    for (piece, copy), joins in copies.items():
        pages = _UprightPages(f"Certificate: {piece}, copy {copy}", review.plan)
        _certificate(pages, review, piece, copy, joins)
        sheets += pages.sheets
    return sheets


def _certificate(
    pages: _UprightPages, review: Review, piece: str, copy: int, joins: Sequence[JoinTrace]
) -> None:
    done = [trace for trace in joins if trace.state == "done"]
    pages.head(f"{piece}, number {copy}", 18)
    if len(done) < len(joins):
        pages.say(
            f"Not finished: {len(done)} of {len(joins)} joins are welded. This page is a draft."
        )
    else:
        pages.say(f"Every one of its {len(joins)} joins in place was welded shut under argon.")
    pages.head("Material and welding")
    for metal, wire_mm in dict.fromkeys((trace.metal, trace.wire_mm) for trace in joins):
        of = [trace for trace in done if (trace.metal, trace.wire_mm) == (metal, wire_mm)]
        lots = ", ".join(dict.fromkeys(trace.lot for trace in of if trace.lot)) or "not recorded"
        pages.say(f"{metal}, {wire_mm:g} mm wire, wire lot: {lots}")
        settings = dict.fromkeys(
            f"{trace.power_j:g} J, {trace.hits} {'hit' if trace.hits == 1 else 'hits'}, "
            f"{trace.tip} tip" for trace in of
        )  # fmt: skip
        pages.say(f"welded at {'; '.join(settings) or 'not yet'}")
    people = ", ".join(sorted({trace.person for trace in done if trace.person}))
    if people:
        pages.say(f"welded by: {people}")
    days = sorted(trace.at[:10] for trace in done if trace.at)
    if days:
        pages.say(f"welded from {days[0]} to {days[-1]}")
    again = sum(trace.tries > 1 for trace in done)
    pages.say(f"welded a second time because the first was not good: {again} joins")
    pages.head("What was checked")
    checked = [trace for trace in joins if trace.checks]
    if not checked:
        pages.say("No check of single joins is recorded.")
    else:
        bad = sum(any(check.startswith("bad") for check in trace.checks) for trace in checked)
        pages.say(
            f"{len(checked)} of {len(joins)} joins were checked; {bad} were found bad at first and "
            "welded again."
        )
        numbers = ", ".join(str(trace.ring) for trace in checked[:200])
        pages.say(f"rings checked: {numbers}{' …' if len(checked) > 200 else ''}", 9)
    for sample in review.samples:
        if sample.verdict != "go on checking" and any(p == piece for p, _, _ in sample.drawn):
            pages.say(
                f"Sample of the lot {sample.lot}: {sample.size} joins, {sample.bad} bad, "
                f"{sample.verdict} (limit {sample.aql_percent:g} %, {sample.source})."
            )
    pages.say("What is not named here was not checked.", colour=GREY)
