"""What the plan takes, as figures with their range, and every value that it rests on."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from chainplan.model.bench.setting import settings_of
from chainplan.report.text.names import spoken_metal, spoken_property, spoken_unit
from chainplan.report.text.record import plain
from chainplan.report.workbook.calendar import LOAD
from chainplan.report.workbook.cells.page import FOLLOWS_NOT
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import ITEM, KEYWORD, NAME, SENTENCE, SHORT

if TYPE_CHECKING:
    from chainplan.model.estimate import Figure
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import PlanBook

_OWN = "set by the user"


def kind_of(value: float, unit: str = "") -> str:
    """Choose the number format that shows three digits or so.

    Examples
    --------
    >>> kind_of(47.71), kind_of(456.0), kind_of(0.104), kind_of(0.023, "1")
    ('0.1', 'int', '0.001', '%')
    """
    if unit == "1" and 0 <= value <= 1:
        return "%"
    size = abs(value)
    if size >= 100 or value == int(value):
        return "int"
    return "0.1" if size >= 10 else "0.01" if size >= 1 else "0.001" if size >= 0.02 else "0.0001"


def add_figures(book: PlanBook, plan: Plan) -> None:
    """Add what the batch and each piece take: gas, tips, wire, hours, each with range and basis."""
    page = book.page(
        "what it takes",
        "What it takes",
        "All copies of a piece. Low and high stand only where a figure has a range. " + FOLLOWS_NOT,
    )
    headings = [
        Heading("piece", "piece"),
        Heading("title", "figure", words=ITEM),
        Heading("low", "low", "general"),
        Heading("usual", "usual", "general"),
        Heading("high", "high", "general"),
        Heading("unit", "unit", words=SHORT),
        Heading("basis", "how it comes about", words=SENTENCE),
    ]
    rows = [
        {"piece": piece or "all pieces", "basis": figure.basis, **_values(figure)}
        for piece, figures in plan.estimates.figures.items()
        for figure in figures
        if not figure.key.startswith(LOAD)
    ]
    page.repeat(page.table(headings, rows), filters=True)
    page.close()


def _values(figure: Figure) -> dict[str, Any]:
    """Return title, unit and values of a figure; low and high only where they say something."""
    row: dict[str, Any] = {"title": figure.title, "usual": figure.usual}
    row["usual kind"] = kind_of(figure.usual, figure.unit)
    row["unit"] = "" if row["usual kind"] == "%" else spoken_unit(figure.unit)
    # Compared as plan.json has them: the last digits of sums are no range.
    if len({plain(value) for value in (figure.low, figure.usual, figure.high)}) > 1:
        kind = kind_of(max(abs(figure.low), abs(figure.high)), figure.unit)
        if row["usual kind"] == "int" and kind != "int" and figure.usual != 0:
            row["usual kind"] = kind
        for end in ("low", "high"):
            row[end], row[f"{end} kind"] = getattr(figure, end), row["usual kind"]
    return row


def add_sources(book: PlanBook, plan: Plan) -> None:
    """Add every value used: unit, range, where it comes from."""
    page = book.page(
        "sources",
        "Sources and assumptions",
        "Every value that the plan rests on. 'From memory' and 'no source' mean just that.",
    )
    headings = [
        Heading("about", "about", words=KEYWORD),
        Heading("title", "value", words=SENTENCE),
        Heading("low", "low", "general"),
        Heading("usual", "usual", "general"),
        Heading("high", "high", "general"),
        Heading("unit", "unit", words=KEYWORD),
        Heading("place", "on the job's sheets", words=NAME),
        Heading("source", "source", words=SENTENCE),
    ]
    rows = [_source_row(plan, figure) for figure in plan.estimates.sources]
    rows += _word_settings(plan)
    rows.sort(key=lambda row: _ABOUT.index(row["about"]) if row["about"] in _ABOUT else 0)
    rows += _heat_rows(plan)
    page.repeat(page.table(headings, rows), filters=True)
    page.close()


_ABOUT = (
    "price", "money", "stations", "calendar", "wire",
    "welder", "electrode", "pace", "lead", "heat", "metal", "quote", "sheet",
)  # fmt: skip


def _source_row(plan: Plan, figure: Figure) -> dict[str, Any]:
    group, _, rest = figure.key.partition(".")
    about = rest.partition(".")[0] if group == "bench" else group
    row: dict[str, Any] = {"about": about, **_general(figure), "source": figure.source}
    if group == "bench":
        row["place"] = _place(*rest.split("."))
    if group == "price":
        row["place"] = "prices"
        row["title"] = spoken_metal(rest, plan.job.metals)
        _, comma, date = figure.basis.partition(", ")
        row["source"] += f", {date}" if comma else ""
    if group == "metal":
        row["title"] = spoken_property(figure.title)
    return row


def _general(figure: Figure) -> dict[str, Any]:
    row = _values(figure)
    return {
        "title": row["title"],
        "usual": round(figure.usual, 6),
        "low": row.get("low"),
        "high": row.get("high"),
        "unit": spoken_unit(figure.unit),
    }


def _word_settings(plan: Plan) -> list[dict[str, Any]]:
    """List the settings that are words, such as the country."""
    rows = []
    for group in fields(plan.job.bench):
        settings = getattr(plan.job.bench, group.name)
        for info in settings_of(group.name, type(settings)):
            value = getattr(settings, info.name)
            if isinstance(value, str):
                source = info.source if value == info.default else _OWN
                rows.append(
                    {
                        "about": group.name,
                        "title": info.means,
                        "usual": value,
                        "source": source,
                        "place": _place(group.name, info.name),
                    }
                )
    return rows


def _place(group: str, name: str) -> str:
    """Say where a setting is changed, as the job's sheet calls it."""
    return f"bench: {group}, {name.replace('_', ' ')}"


def _heat_rows(plan: Plan) -> list[dict[str, Any]]:
    """List the uncertain numbers of the heat model, with the pieces they were worked out for."""
    found: dict[tuple[Any, ...], list[str]] = {}
    for piece in plan.pieces:
        for line in piece.heat.assumptions:
            found.setdefault(tuple(line), []).append(piece.piece.name)
    rows = []
    for (name, low, usual, high, unit, source), pieces in found.items():
        of = "" if len(pieces) == len(plan.pieces) else f" ({', '.join(pieces)})"
        spread = not low == usual == high
        rows.append(
            {
                "about": "heat",
                "title": f"{name}{of}",
                "usual": float(f"{usual:.4g}"),
                "low": float(f"{low:.4g}") if spread else None,
                "high": float(f"{high:.4g}") if spread else None,
                "unit": unit,
                "source": source,
            }
        )
    return rows
